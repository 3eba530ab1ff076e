import msgspec
import pytest

from feedproof.advice import estimates
from support.assessments import everything, open_neutral, plan, wye
from support.outcomes import interval


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
    assert estimates.side_words(value, -38.0, legs) == "at -38° from L1"
    assert estimates.side_words(value, -120.0, legs) == "toward L2 (-120°)"
    assert estimates.side_words(value, None, legs) == "to which side is not known"
    assert estimates.side_words(2.0, -38.0, legs) == ""
    assert estimates.side_words(value, -38.0, ()) == ""
    assert answer.neutral_to_ground[0].display.endswith(" V), at -38° from L1")
    line = open_neutral()
    assert line.supply is not None
    assert estimates.side_words(value, 180.0, line.supply.legs) == "toward L2"


def test_a_path_upstream_is_not_told_as_the_branch() -> None:
    entry = msgspec.structs.replace(everything().resistances[0])
    assert entry.title == "L1, panel to receptacle"
