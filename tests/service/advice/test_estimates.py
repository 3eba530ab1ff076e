import math

import msgspec
import pytest

from feedproof.advice import estimates
from feedproof.advice.compose import assessed_supply
from feedproof.advice.estimates import detection_limit, neutral_angle
from feedproof.advice.estimates import test_current as drawn_current
from feedproof.inference import Limit, NeutralVoltage
from feedproof.readings import Reading, ReadingSet, Supply, SystemName
from support.assessments import everything, open_neutral, plan, wye
from support.outcomes import interval, near, readings, speaking, volts


@pytest.mark.parametrize(
    ("value", "low", "high", "bound", "unit", "told_by", "words"),
    [
        (62.0, 41.0, 160.0, "two_sided", "ohm", "readings", "62 Ω (41 to 160 Ω)"),
        (2e6, 9e3, 9e8, "at_least", "ohm", "readings", "at least 9 kΩ"),
        (0.07, 0.02, 3.1, "at_most", "ohm", "readings", "at most 3.1 Ω"),
        (0.07, 0.02, 3.1, "at_most", "ohm", "prior", "not measured, usually at most 3.1 Ω"),
        (1.6e-6, 0.0, 0.001, "two_sided", "V", "readings", "below 0.1 V"),
        (1.6e-6, 0.0, 0.02, "at_most", "V", "readings", "below 0.1 V"),
        (24.1, 22.9, 25.4, "two_sided", "V", "readings", "24.1 V (22.9 to 25.4 V)"),
        (0.1, 0.0, 0.4, "two_sided", "m", "readings", "0.1 m (0 to 0.4 m)"),
    ],
)
def test_estimates_read_as_a_person_writes_them(
    value: float, low: float, high: float, bound: str, unit: str, told_by: str, words: str
) -> None:
    assert estimates.display(interval(value, low, high, bound), unit, told_by) == words


def test_a_one_sided_bound_has_one_figure() -> None:
    limits = {entry.bound: (entry.limit, entry.low, entry.high) for entry in open_neutral().resistances}
    assert limits["at_most"][0] == limits["at_most"][2]
    assert limits["at_least"][0] == limits["at_least"][1]
    assert all(entry.limit is None for entry in everything().resistances if entry.bound == "two_sided")


def test_a_resistance_that_only_the_finding_keeps_low_is_told_by_the_prior() -> None:
    entry = everything().resistances[1]
    assert entry.bound == "at_most"
    assert entry.told_by == "prior"
    assert entry.display == "not measured, usually at most 800 mΩ"


def test_before_any_reading_nothing_is_told_by_readings() -> None:
    told = plan()
    figures = [*told.neutral_to_ground, *told.neutral_to_earth]
    assert all(entry.told_by == "prior" and entry.display.startswith("not measured") for entry in figures)


def test_titles_name_meter_and_pair() -> None:
    titles = [entry.title for entry in everything().neutral_to_ground]
    assert titles[0] == "Neutral to ground, appliance connected, not started, no meter connected"
    assert titles[2] == "Neutral to ground, appliance running (heating), with loz on L1 to neutral"


def test_sides_name_the_leg_and_off_one_line_its_phase() -> None:
    answer = wye()
    assert answer.supply is not None
    value, legs = answer.neutral_to_ground[0].value, answer.supply.legs
    assert estimates.side_words(value, -120.0, legs) == "toward L2 (-120°)"
    assert estimates.side_words(value, None, legs) == "to which side is not known"
    assert estimates.side_words(2.0, 0.0, legs) == ""
    assert estimates.side_words(value, 0.0, ()) == ""
    assert answer.neutral_to_ground[0].display.endswith(" V), toward L1 (0°)")
    line = open_neutral()
    assert line.supply is not None
    assert estimates.side_words(value, 180.0, line.supply.legs) == "toward L2"


def test_a_path_upstream_is_not_told_as_the_branch() -> None:
    entry = msgspec.structs.replace(everything().resistances[0])
    assert entry.title == "L1, panel to receptacle"


def legs(reading_set: ReadingSet) -> list[tuple[str, float, float]]:
    return [(leg.conductor, round(leg.voltage, 3), leg.angle) for leg in assessed_supply(reading_set).legs]


def neutral(during: int | None = None) -> NeutralVoltage:
    return NeutralVoltage(load_state="idle", point="receptacle", during_reading=during, interval=interval(90, 80, 100))


def angle_of(*taken: Reading, during: int | None = None) -> float | None:
    reading_set = readings(*taken)
    return neutral_angle(neutral(during), reading_set.readings, assessed_supply(reading_set))


def test_legs_are_nominal_without_a_leg_to_leg_reading() -> None:
    assert legs(readings()) == [("L1", 120.0, 0.0), ("L2", 120.0, 180.0)]


def test_legs_follow_the_leg_to_leg_reading() -> None:
    assert legs(readings(volts("L2", "L1", 247.0))) == [("L1", 123.5, 0.0), ("L2", 123.5, 180.0)]
    assert legs(readings(volts("L1", "L2", 3.0))) == [("L1", 120.0, 0.0), ("L2", 120.0, 180.0)]


@pytest.mark.parametrize(
    ("system", "between"),
    # ANSI C84.1 nominal systems, from memory.
    [("split_phase_120_240", 240.0), ("wye_120_208", 208.0), ("high_leg_delta_120_240", 240.0)],
)
def test_the_legs_of_each_system_stand_their_voltage_apart(system: SystemName, between: float) -> None:
    first, second = assessed_supply(readings(supply=Supply(system=system))).legs
    angle = math.radians(first.angle - second.angle)
    apart = math.sqrt(first.voltage**2 + second.voltage**2 - 2 * first.voltage * second.voltage * math.cos(angle))
    assert math.isclose(apart, between, abs_tol=0.2)


def test_a_single_phase_has_one_leg() -> None:
    assert legs(readings(volts("L1", "N", 110.0), supply=Supply(system="single_phase_120"))) == [("L1", 120.0, 0.0)]


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ([volts("L1", "N", 3.7, state="idle")], 0.0),
        ([volts("L1", "N", 240.0, state="idle")], 180.0),
        ([volts("N", "L2", 3.7, state="idle")], 180.0),
        ([volts("L1", "N", 85.0, state="idle"), volts("L2", "N", 155.0, state="idle")], 0.0),
        ([volts("L1", "N", 155.0, state="idle"), volts("L2", "N", 85.0, state="idle")], 180.0),
        ([volts("L1", "N", 121.0, state="idle"), volts("L2", "N", 122.0, state="idle")], None),
        ([volts("L1", "N", 118.0, state="idle")], None),
        ([volts("L1", "N", 3.7)], None),
        ([volts("L1", "L2", 247.0, state="idle"), near("N", detected=True)], None),
    ],
)
def test_the_side_follows_the_leg_readings_of_the_load_state(taken: list[Reading], expected: float | None) -> None:
    assert angle_of(*taken) == expected


def test_a_low_impedance_meter_pulls_the_neutral_to_its_leg() -> None:
    taken = (volts("L1", "N", 7.0, "loz", "idle"), volts("L2", "N", 7.0, "loz", "idle"), volts("L1", "L2", 247.0))
    assert angle_of(*taken, during=0) == 0.0
    assert angle_of(*taken, during=1) == 180.0
    assert angle_of(*taken, during=2) is None


TAKEN = readings(volts("L1", "N", 120.0, "loz"), volts("L2", "N", 119.0, "loz"), volts("L1", "L2", 243.0)).readings
EVIDENCE = (
    speaking(0, 0.0, 120.0, test_current=0.0400),
    speaking(1, 0.0, 119.0, test_current=0.0397),
    speaking(2, 0.0, 243.0),
)


def meaning(resistance: float | None, conductor: str = "G") -> str:
    return detection_limit(Limit(conductor=conductor, resistance=resistance), EVIDENCE, TAKEN).meaning  # type: ignore[arg-type]


def test_a_limit_in_words() -> None:
    assert meaning(None) == "These readings say nothing of the ground: even an open one would not have shown."
    assert meaning(2.34) == "The ground: less than about 2.34 Ω in series would not have shown in these readings."
    assert meaning(9.0e3) == "The ground may be open: up to about 9 kΩ in series would not have shown."
    assert meaning(1.0e6) == "The ground may be as good as open: only a clean break would have shown."


def test_before_any_reading_nothing_would_show() -> None:
    words = detection_limit(Limit(conductor="L1", resistance=None), (), ()).meaning
    assert words == "Nothing has been read yet: even if leg L1 were open, nothing would show it."


def test_the_largest_test_current_is_named_with_its_pair() -> None:
    assert meaning(260.0, "N").endswith("The low-impedance meter drew 40 mA (L1 to neutral).")
    assert meaning(260.0, "L2").endswith("The low-impedance meter drew 39.7 mA (L2 to neutral).")


def test_no_current_without_a_low_impedance_reading() -> None:
    assert drawn_current("N", EVIDENCE[2:], TAKEN) is None
    assert drawn_current("G", EVIDENCE, TAKEN) is None


def test_value_and_unit_go_through() -> None:
    entry = detection_limit(Limit(conductor="N", resistance=260.0), EVIDENCE, TAKEN)
    assert (entry.conductor, entry.value, entry.unit) == ("N", 260.0, "ohm")
