import msgspec
import pytest

from feedproof.advice import summary
from feedproof.contract.assessment import Assumption, Estimate
from feedproof.contract.next_reading import Hazard, NextReading
from support.assessments import everything, nothing_found, open_neutral, plan, wye


def estimate(value: float, low: float, high: float, bound: str = "two_sided", unit: str = "ohm") -> Estimate:
    return Estimate(value=value, low=low, high=high, unit=unit, bound=bound)  # type: ignore[arg-type]


def test_what_to_do_first_by_disposition() -> None:
    assert summary.heading(open_neutral()) == "Stop, and refer the supply"
    assert summary.steps(open_neutral())[-1].endswith("hand this to a licensed electrician.")
    assert summary.heading(plan()) == "Take more readings"
    assert summary.steps(plan())[-1].startswith(
        "Next: Voltage L1 to L2 at the receptacle, with a low-impedance voltmeter"
    )
    assert summary.heading(nothing_found()) == "No supply fault found in these readings"
    assert "every conductor still counts as live" in summary.steps(nothing_found())[-1]


def test_nothing_left_to_read_is_said() -> None:
    answer = msgspec.structs.replace(plan(), next_readings=[])
    assert "bring another kind of meter, or refer the job" in summary.steps(answer)[-1]


def test_contradicting_readings_are_taken_again() -> None:
    answer = plan()
    answer = msgspec.structs.replace(
        answer, finding=msgspec.structs.replace(answer.finding, fault="readings_inconsistent")
    )
    assert any("again, one by one" in step for step in summary.steps(answer))


def test_a_plan_reads_as_a_plan() -> None:
    assert summary.finding_line(plan()) == (
        "Nothing read yet. Before any reading, the most usual: no supply fault, 62 %"
    )
    assert summary.sureness(plan()) == "Not determined, no confidence: nothing has been read."


def test_dangers_are_the_first_sentences_of_the_cautions() -> None:
    answer = everything()
    lines = summary.dangers(answer)
    texts = [caution.text for caution in answer.cautions if caution.severity == "danger"]
    assert len(lines) == len(texts)
    assert all(text.startswith(line) for line, text in zip(lines, texts, strict=True))
    assert "Treat the neutral as live." in lines


def test_estimates_say_which_side_they_bound() -> None:
    assert summary.estimate_words(estimate(62.0, 41.0, 160.0)) == "62 Ω (41 to 160 Ω)"
    assert summary.estimate_words(estimate(2e6, 9e3, 9e8, "at_least")) == "at least 9 kΩ"
    assert summary.estimate_words(estimate(0.07, 0.02, 3.1, "at_most")) == "at most 3.1 Ω"
    assert summary.estimate_words(estimate(0.0, 0.0, 0.001, unit="V")) == "0 V"


def test_heat_is_told_where_it_is_worth_a_word() -> None:
    answer = everything()
    assert summary.resistance_words(answer.resistances[0], answer.detection_limits) == (
        "70 mΩ (30 to 200 mΩ); 27 W (11 to 77 W) of heat along it at the load current"
    )
    faint = msgspec.structs.replace(answer.resistances[0], heat=estimate(1e-5, 1e-6, 0.9, unit="W"))
    assert "heat" not in summary.resistance_words(faint, [])


def test_a_resistance_that_only_the_finding_keeps_low_says_so() -> None:
    answer = everything()
    assumed = answer.resistances[1]
    assert summary.resistance_words(assumed, answer.detection_limits) == (
        "taken as sound, at most 800 mΩ; too little for these readings to show"
    )
    fine = [msgspec.structs.replace(limit, value=0.5) for limit in answer.detection_limits]
    assert summary.resistance_words(assumed, fine) == "at most 800 mΩ"


def test_estimates_under_an_unproven_finding_say_so() -> None:
    assert summary.if_it_holds(open_neutral()) == ""
    assert summary.if_it_holds(wye()) == ", if the finding holds"


def test_neutral_conditions_name_meter_and_pair() -> None:
    answer = everything()
    words = [summary.neutral_condition(entry, answer.evidence) for entry in answer.neutral_to_ground]
    assert words[0] == "appliance connected, not started, no meter connected"
    assert words[2] == "appliance running (heating), with loz on L1 to neutral"
    unknown = summary.neutral_condition(answer.neutral_to_ground[2], [])
    assert unknown == "heating, while reading 4 is taken"


def test_a_signal_has_a_chance_not_a_span() -> None:
    entry = everything().evidence[4]
    assert summary.evidence_words(entry) == "signal at neutral (appliance connected, not started)"
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


def test_sides_name_the_leg_and_off_one_line_its_phase() -> None:
    answer = wye()
    assert answer.supply is not None
    entry, legs = answer.neutral_to_ground[0], answer.supply.legs
    assert summary.side_words(entry, legs) == "at -38° from L1"
    assert summary.side_words(msgspec.structs.replace(entry, angle=-120.0), legs) == "toward L2 (-120°)"
    assert summary.side_words(msgspec.structs.replace(entry, angle=None), legs) == "to which side is not known"
    assert summary.side_words(msgspec.structs.replace(entry, value=2.0), legs) == ""
    assert summary.side_words(entry, ()) == ""
    assert summary.neutral_words(entry, answer).endswith(" V), at -38° from L1")
    line = open_neutral()
    assert line.supply is not None
    beside = msgspec.structs.replace(entry, angle=180.0)
    assert summary.side_words(beside, line.supply.legs) == "toward L2"


@pytest.mark.parametrize(
    ("bits", "words"), [(-0.04, "0.0 bit"), (0.04, "0.0 bit"), (13.06, "+13.1 bit"), (-1.4, "-1.4 bit")]
)
def test_a_weight_that_rounds_to_nothing_has_no_sign(bits: float, words: str) -> None:
    assert summary.bits_words(bits) == words


def test_a_note_looks_ahead_by_disposition() -> None:
    reading = plan().next_readings[0]
    many = [msgspec.structs.replace(reading, information=bits) for bits in (0.5, 0.4, 0.3, 0.2)]
    going_on = msgspec.structs.replace(plan(), next_readings=many)
    assert [item.information for item in summary.ahead(going_on)] == [0.5, 0.4, 0.3]
    stopping = msgspec.structs.replace(open_neutral(), next_readings=many)
    assert [item.information for item in summary.ahead(stopping)] == [0.5]
    idle = msgspec.structs.replace(going_on, next_readings=[])
    assert "bring another kind of meter" in summary.steps(idle)[-1]


def test_one_field_of_many_readings_is_one_pointer() -> None:
    def lines(*pointers: str) -> list[str]:
        taken = [Assumption(pointer=p, value="receptacle", unit=None, basis="typical") for p in pointers]
        return summary.assumed_lines(msgspec.structs.replace(plan(), assumptions=taken))

    points = [f"/readings/{index}/point" for index in range(10)]
    assert lines(*points) == ["/readings/0 to 9/point: receptacle. Typical."]
    assert lines(points[0], points[1]) == ["/readings/0/point, /readings/1/point: receptacle. Typical."]
    assert lines("/x", points[1], points[2], points[4]) == [
        "/x, /readings/1/point, /readings/2/point, /readings/4/point: receptacle. Typical."
    ]


def test_equal_assumptions_share_a_line() -> None:
    def assumed(pointer: str, value: float | str) -> Assumption:
        unit = None if isinstance(value, str) else "F"
        return Assumption(pointer=pointer, value=value, unit=unit, basis="typical")

    answer = msgspec.structs.replace(
        plan(), assumptions=[assumed("/a", "receptacle"), assumed("/b", 1e-10), assumed("/c", "receptacle")]
    )
    assert summary.assumed_lines(answer) == ["/a, /c: receptacle. Typical.", "/b: 100 pF. Typical."]
    assert summary.assumed_words(assumed("/d", "x")) == "x"
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
