import math

from feedproof.advice.uncertainty import gain, independent, is_number, of_sum
from feedproof.readings import ResistanceReading, Voltmeter
from support.outcomes import METERS, PEN, amps, ohms, volts

#: Reading specification ±(1.0 % + 3 counts of 0.1 V).
METER = Voltmeter(name="m", input_impedance=1e7, accuracy_percent=1.0, accuracy_counts=3, resolution=0.1)


def test_bounds_are_a_rectangular_distribution() -> None:
    # JCGM 100:2008 (GUM) 4.3.7, u = a/√3 (clause number from memory); ±1.5 V gives 0.866 V at 120 V.
    counts = independent(volts("L1", "N", 0.0), METER)
    percentage = 120.0 * gain(METER)
    assert math.isclose(counts, 0.3 / math.sqrt(3.0))
    assert math.isclose(percentage, 1.2 / math.sqrt(3.0))
    assert math.isclose(counts + percentage, 0.8660, abs_tol=1e-4)


def test_a_common_gain_error_cancels_in_a_difference_and_adds_in_a_sum() -> None:
    meters = {"dmm": METER}
    first, second = volts("L1", "N", 120.4), volts("L2", "N", 120.4)
    apart = math.hypot(independent(first, METER), independent(second, METER))
    assert math.isclose(of_sum([(1.0, first), (-1.0, second)], meters), 2.0 * apart)
    together = 240.8 * gain(METER)
    assert math.isclose(of_sum([(1.0, first), (1.0, second)], meters), 2.0 * math.hypot(apart, together))


def test_a_person_who_drops_the_decimals_is_half_a_unit_off() -> None:
    whole, tenth = independent(volts("L1", "N", 120.0), METER), independent(volts("L1", "N", 120.1), METER)
    assert whole > tenth
    assert math.isclose(whole**2 - (0.005 * 120.0) ** 2, (0.3**2 + 0.5**2) / 3.0)


def test_a_clamp_errs_anew_each_time_and_an_ohmmeter_does_not_drift() -> None:
    assert gain(METERS["clamp"]) == 0.0
    assert independent(amps("L1", 20.1), METERS["clamp"]) > 0.02 * 20.1 / math.sqrt(3.0)
    assert math.isclose(independent(ohms("N", "G", 500.1), METERS["ohms"]), 0.3 / math.sqrt(3.0))


def test_a_detector_has_no_figure() -> None:
    assert gain(PEN) == independent(volts("L1", "N", 1.0), PEN) == 0.0
    over = ResistanceReading(between=("N", "G"), value=4e7, meter="ohms", load_state="idle", over_range=True)
    assert not is_number(over)
    assert is_number(ohms("N", "G", 0.3))
