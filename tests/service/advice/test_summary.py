import msgspec
import pytest

from feedproof.advice import summary
from feedproof.contract.assessment import Assumption, NeutralToEarth
from feedproof.contract.next_reading import Hazard, NextReading
from support.assessments import everything, open_neutral, plan, wye

EARTH = NeutralToEarth(
    value=24.0,
    low=23.0,
    high=25.0,
    unit="V",
    bound="two_sided",
    limit=None,
    told_by="readings",
    display="24 V (23 to 25 V)",
    title="Neutral and grounded frames to earth, appliance disconnected",
    load_state="disconnected",
)


def test_a_plan_reads_as_a_plan() -> None:
    assert summary.sureness(plan()) == "Not determined, no confidence: nothing has been read."


def test_every_danger_and_the_first_two_of_all_stand_at_the_top() -> None:
    answer = everything()
    shown = summary.warnings_first(answer)
    assert [caution.rank for caution in shown] == sorted(
        {1, 2, *(c.rank for c in answer.cautions if c.severity == "danger")}
    )


def test_heat_is_told_where_it_is_worth_a_word() -> None:
    entry = everything().resistances[0]
    assert summary.resistance_words(entry) == (
        "70 mΩ (30 to 200 mΩ); 27 W (11 to 77 W) of heat along it at the load current"
    )
    assert entry.heat is not None
    faint = msgspec.structs.replace(entry.heat, value=1e-5, low=1e-6, high=0.9)
    assert "heat" not in summary.resistance_words(msgspec.structs.replace(entry, heat=faint))


@pytest.mark.parametrize(("place", "shown"), [("service_neutral", True), ("feeder_neutral", True), ("none", False)])
def test_the_voltage_to_earth_is_told_where_a_neutral_upstream_is_in_question(place: str, shown: bool) -> None:
    answer = open_neutral()
    rival = msgspec.structs.replace(answer.candidates[-1], place=place, probability=0.01)
    asked = msgspec.structs.replace(answer, candidates=[answer.candidates[0], rival])
    asked = msgspec.structs.replace(asked, neutral_to_earth=[EARTH])
    assert ((EARTH.title, EARTH.display) in summary.figure_rows(asked)) is shown


def test_every_figure_stands_once_with_its_title() -> None:
    rows = summary.figure_rows(everything())
    assert len(dict(rows)) == len(rows)
    assert ("In series: Neutral, panel to receptacle", summary.resistance_words(everything().resistances[2])) in rows
    assert not any(title.startswith("In series") for title, _ in summary.figure_rows(plan()))


def test_estimates_under_an_unproven_finding_say_so() -> None:
    assert summary.if_it_holds(open_neutral()) == ""
    assert summary.if_it_holds(wye()) == ", if the finding holds"


def test_a_signal_has_a_chance_not_a_span() -> None:
    entry = everything().evidence[4]
    assert summary.expected_words(entry, sound=True) == "signals in 3 %"


def test_a_meter_that_moves_nothing_is_not_told_of() -> None:
    answer = open_neutral()
    alone = next(entry for entry in answer.neutral_to_ground if entry.during_reading is None)
    replace = msgspec.structs.replace
    same, moved = (replace(alone, during_reading=0, value=alone.value + by) for by in (0.04, 0.06))
    turned = replace(same, angle=90.0)
    answer = replace(answer, neutral_to_ground=[alone, same, moved, turned])
    assert summary.neutral_entries(answer) == [alone, moved, turned]
    lone = replace(answer, neutral_to_ground=[same])
    assert summary.neutral_entries(lone) == [same]


def test_a_note_looks_ahead_by_disposition() -> None:
    reading = plan().next_readings[0]
    many = [msgspec.structs.replace(reading, information=bits) for bits in (0.5, 0.4, 0.3, 0.2)]
    going_on = msgspec.structs.replace(plan(), next_readings=many)
    assert [item.information for item in summary.ahead(going_on)] == [0.5, 0.4, 0.3]
    stopping = msgspec.structs.replace(open_neutral(), next_readings=many)
    assert [item.information for item in summary.ahead(stopping)] == [0.5]


def test_an_assumed_value_is_in_words() -> None:
    assert summary.assumed_words(Assumption(pointer="/b", value=1e-10, unit="F", basis="b")) == "100 pF"
    assert summary.assumed_words(Assumption(pointer="/d", value="x", unit=None, basis="b")) == "x"
    assert summary.assumed_words(Assumption(pointer="/e", value=True, unit=None, basis="b")) == "yes"


def test_hazards_said_once_are_pointed_back_to() -> None:
    def reading(*hazards: str) -> NextReading:
        first = plan().next_readings[0]
        return msgspec.structs.replace(first, hazards=[Hazard(code=text, text=text) for text in hazards])

    ahead = [reading("a", "b"), reading("c"), reading("a", "b")]
    assert [summary.hazards_words(ahead, index) for index in range(3)] == [
        ["a", "b"],
        ["c"],
        ["Hazards as for 1."],
    ]
