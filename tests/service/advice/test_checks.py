import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.checks import find
from feedproof.contract.assessment import Check
from feedproof.readings import Reading, ResistanceReading, Supply, Voltmeter
from support.outcomes import DMM, METERS, amps, near, ohms, readings, volts


def codes(*taken: Reading, supply: Supply | None = None) -> list[str]:
    return [check.code for check in find(readings(*taken, supply=supply))]


def one(*taken: Reading, supply: Supply | None = None) -> Check:
    (check,) = find(readings(*taken, supply=supply))
    return check


def test_seven_volts_short_are_noted_with_a_typical_meter() -> None:
    # Common practice, no source: 247 V leg to leg with 120 V from each leg to neutral passes as fine, and is not.
    check = one(volts("L1", "L2", 247.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0))
    assert check.code == "sum_below_whole"
    assert check.readings == [0, 1, 2]
    assert "7 V short" in check.text
    assert "Read them again with a low-impedance meter." in check.text


def test_low_impedance_readings_with_nothing_behind_the_neutral_are_noted() -> None:
    # Common practice, no source: 247 V leg to leg, 7 V from each leg to neutral on about 3 kΩ.
    check = one(volts("L1", "L2", 247.0, "loz"), volts("L1", "N", 7.0, "loz"), volts("L2", "N", 7.0, "loz"))
    assert check.code == "sum_below_whole"
    assert "233 V short" in check.text
    assert "how a conductor reads that has nothing behind it" in check.text


@pytest.mark.parametrize(
    ("whole", "first", "second"),
    [(243.0, 121.4, 121.7), (247.0, 123.5, 123.4), (240.0, 160.0, 80.0), (243.1, 243.0, 0.0), (0.0, 0.0, 0.0)],
)
def test_what_a_circuit_can_give_is_not_noted(whole: float, first: float, second: float) -> None:
    # 160 V and 80 V: 12 Ω against 6 Ω on 120 V legs with the neutral open, the textbook divider.
    assert not codes(volts("L1", "L2", whole), volts("L1", "N", first), volts("L2", "N", second))


def test_the_inequality_holds_at_one_point_and_in_one_load_state_only() -> None:
    taken = [volts("L1", "N", 100.0), volts("L2", "N", 100.0)]
    assert not codes(volts("L1", "L2", 247.0, state="idle"), *taken)
    assert not codes(volts("L1", "L2", 247.0, point="service_panel"), *taken)
    assert codes(volts("L1", "L2", 247.0), *taken) == ["sum_below_whole"]


def test_the_inequality_holds_for_every_three_conductors() -> None:
    check = one(volts("L1", "G", 122.0), volts("L1", "N", 60.0), volts("N", "G", 20.0))
    assert check.code == "sum_below_whole"
    assert check.readings == [0, 1, 2]


def test_a_coarse_meter_excuses_what_a_fine_one_does_not() -> None:
    coarse = Voltmeter(name="old", input_impedance=1e6, accuracy_percent=3.0, accuracy_counts=5, resolution=1.0)
    pairs = (("L1", "L2", 247.0), ("L1", "N", 120.0), ("L2", "N", 120.0))
    taken = [volts(a, b, value, "old") for a, b, value in pairs]  # type: ignore[arg-type]
    assert not find(readings(*taken, meters={"old": coarse}))
    fine = [volts(a, b, value) for a, b, value in pairs]  # type: ignore[arg-type]
    assert find(readings(*fine, meters={"dmm": DMM}))


def test_each_meter_is_judged_by_itself_where_it_read_all_three_sides() -> None:
    high = [volts("L1", "L2", 247.0), volts("L1", "N", 123.4), volts("L2", "N", 123.7)]
    low = [volts("L1", "L2", 246.0, "loz"), volts("L1", "N", 7.0, "loz"), volts("L2", "N", 7.0, "loz")]
    check = one(*high, *low)
    assert check.code == "sum_below_whole"
    assert check.readings == [3, 4, 5]


def test_the_order_of_the_readings_changes_nothing() -> None:
    taken = [volts("L1", "L2", 247.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0), volts("N", "G", 0.2)]
    texts = {find(readings(*order))[0].text for order in itertools.permutations(taken)}
    assert len(texts) == 1


def test_the_ends_of_a_pair_are_interchangeable() -> None:
    taken = [volts("L2", "L1", 247.0), volts("N", "L1", 120.0), volts("N", "L2", 120.0)]
    assert codes(*taken) == ["sum_below_whole"]


def test_legs_of_a_three_phase_supply_are_off_the_line_of_a_split_phase() -> None:
    taken = [volts("L1", "L2", 208.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0)]
    check = one(*taken)
    assert check.code == "off_the_line"
    assert "three-phase" in check.text
    assert not codes(*taken, supply=Supply(system="wye_120_208"))


def test_off_the_line_is_no_check_with_the_appliance_connected() -> None:
    taken = [
        volts("L1", "L2", 208.0, state="idle"),
        volts("L1", "N", 120.0, state="idle"),
        volts("L2", "N", 120.0, state="idle"),
    ]
    assert not codes(*taken)


def test_both_legs_from_one_pole_are_on_the_line() -> None:
    assert not codes(volts("L1", "L2", 0.3), volts("L1", "N", 121.0), volts("L2", "N", 121.2))


@given(
    middle=st.floats(0.0, 1.0),
    gain=st.floats(-0.008, 0.008),
    drift=st.tuples(*[st.floats(-0.003, 0.003)] * 3),
)
def test_honest_readings_of_any_split_phase_neutral_are_not_noted(
    middle: float, gain: float, drift: tuple[float, float, float]
) -> None:
    true = (246.0, 246.0 * middle, 246.0 * (1.0 - middle))
    shown = [round(value * (1.0 + gain) * (1.0 + moved), 1) for value, moved in zip(true, drift, strict=True)]
    assert not codes(volts("L1", "L2", shown[0]), volts("L1", "N", shown[1]), volts("L2", "N", shown[2]))


def test_the_same_pair_read_twice_must_agree() -> None:
    check = one(volts("L1", "N", 121.0), volts("N", "L1", 96.0))
    assert check.code == "repeat_disagrees"
    assert check.readings == [0, 1]
    assert not codes(volts("L1", "N", 121.0), volts("L1", "N", 121.6))
    assert not codes(volts("L1", "N", 121.0), volts("L1", "N", 96.0, state="idle"))


def test_meters_of_unlike_impedance_may_differ() -> None:
    assert not codes(volts("L1", "N", 119.0), volts("L1", "N", 7.0, "loz"))


def test_currents_and_resistances_read_twice_must_agree() -> None:
    assert codes(amps("L1", 20.1), amps("L1", 12.0)) == ["repeat_disagrees"]
    assert codes(ohms("N", "G", 0.3), ohms("N", "G", 8.0)) == ["repeat_disagrees"]
    assert not codes(amps("L1", 20.1), amps("L1", 20.4))


def test_an_over_range_is_no_figure_to_compare() -> None:
    over = ResistanceReading(between=("N", "G"), value=4.0e7, meter="ohms", load_state="disconnected", over_range=True)
    assert not codes(over, ohms("N", "G", 0.3))


def test_a_detector_that_contradicts_itself_is_noted() -> None:
    check = one(near("N", detected=True), near("L1", detected=True), near("N", detected=False))
    assert check.code == "proximity_disagrees"
    assert check.readings == [0, 2]


def test_currents_that_do_not_close_are_noted() -> None:
    check = one(amps("L1", 20.0), amps("L2", 4.0), amps("N", 3.0))
    assert check.code == "currents_do_not_close"
    assert "13 A" in check.text
    assert not codes(amps("L1", 20.0), amps("L2", 15.0), amps("N", 5.0))
    assert not codes(amps("L1", 20.0), amps("L2", 4.0), amps("N", 3.0), amps("G", 13.0))
    assert not codes(amps("L1", 20.0), amps("N", 3.0))


def test_current_with_nothing_connected_is_noted() -> None:
    assert codes(amps("L1", 3.0, state="disconnected")) == ["current_with_nothing_connected"]
    assert not codes(amps("L1", 0.02, state="disconnected"))
    assert not codes(amps("L1", 3.0, state="disconnected", point="service_panel"))
    assert not codes(amps("L1", 3.0))


def test_an_ohmmeter_on_the_live_side_of_the_panel_is_noted() -> None:
    live = volts("L1", "N", 121.0, point="service_panel")
    check = one(live, ohms("L1", "N", 30.0, point="service_panel"))
    assert check.code == "resistance_on_live_conductor"
    assert check.readings == [0, 1]
    assert not codes(live, ohms("N", "G", 0.1, point="service_panel"))
    # At the receptacle the breaker isolates: voltages there were read before it was opened.
    assert not codes(volts("L1", "N", 121.0), ohms("L1", "N", 30.0))


def test_no_readings_no_checks() -> None:
    assert not find(readings(meters=METERS))
