import msgspec
import pytest

from feedproof.advice.candidates import merged
from feedproof.advice.confidence import judge
from feedproof.advice.determination import rule
from feedproof.assess import assess
from feedproof.contract.assessment import Check, Confidence, ConfidenceLevel
from feedproof.inference import Outcome
from feedproof.readings import Point, ReadingSet, Run, Supply
from support.outcomes import (
    amps,
    candidate,
    limits,
    near,
    open_neutral_case,
    outcome,
    readings,
    speaking,
    volts,
)
from support.proof_cases import visit

#: The finding gives no such reading.
CONTRADICTION = Check(code="sum_below_whole", readings=[0, 9], text="Short.")
#: The finding gives 1 to 40 V here, and 3.7 V were read.
EXPLAINED = Check(code="sum_below_whole", readings=[0], text="Short.")
LEG = volts("L1", "N", 3.7, state="idle")
OTHER_LEG = volts("L2", "N", 240.0, state="idle")


def told(confidence: Confidence) -> list[str]:
    return [reason.text for reason in confidence.reasons]


def judged(reading_set: ReadingSet, inferred: Outcome, checks: tuple[Check, ...] = ()) -> Confidence:
    named = merged(inferred.candidates)
    ruling = rule(inferred, reading_set)
    return judge(ruling, inferred, named, checks, reading_set)


def fault(probability: float, bits: tuple[float, ...]) -> tuple[ReadingSet, Outcome]:
    evidence = [speaking(index, value) for index, value in enumerate(bits)]
    return readings(LEG, OTHER_LEG), outcome(
        [
            candidate("open_neutral", probability, "N", log_evidence=0.0),
            candidate("none_found", 1.0 - probability, log_evidence=-20.0),
        ],
        evidence=evidence,
    )


@pytest.mark.parametrize(
    ("probability", "bits", "checks", "expected"),
    [
        (0.98, (5.0, 5.0), (), "high"),
        (0.98, (5.0, 0.5), (), "moderate"),
        (0.99, (5.0, 0.5), (), "high"),
        (0.98, (5.0, 5.0), (CONTRADICTION,), "moderate"),
        (0.98, (5.0, 0.5), (CONTRADICTION,), "low"),
        (0.98, (5.0, 5.0), (EXPLAINED,), "high"),
        (0.98, (5.0, 5.0), (EXPLAINED, CONTRADICTION), "moderate"),
        (0.80, (5.0, 5.0), (), "moderate"),
        (0.80, (5.0, 5.0), (CONTRADICTION,), "low"),
        (0.60, (5.0, 5.0), (), "low"),
        # Each says what the other says: none speaks by itself, and together they do.
        (0.99, (0.1, 0.1), (), "high"),
        (0.99, (0.1,), (), "low"),
    ],
)
def test_the_level_of_a_fault(
    probability: float, bits: tuple[float, ...], checks: tuple[Check, ...], expected: ConfidenceLevel
) -> None:
    assert judged(*fault(probability, bits), checks).level == expected


@pytest.mark.parametrize(
    ("neutral", "expected"),
    [
        (0.9, "high"),
        (1.0, "high"),
        (1.1, "moderate"),
        (5.0, "moderate"),
        (260.0, "moderate"),
        (1.1e3, "low"),
        (None, "low"),
    ],
)
def test_the_level_of_no_fault_found(neutral: float | None, expected: ConfidenceLevel) -> None:
    inferred = outcome([candidate("none_found", 0.97)], detection=limits(0.5, 0.5, neutral))
    assert judged(readings(volts("L1", "N", 120.0)), inferred).level == expected


def test_what_an_outlet_does_not_have_hides_no_joint() -> None:
    inferred = outcome([candidate("none_found", 0.97)], detection=limits(0.5, 0.5, None)[:2])
    without = judged(readings(volts("L1", "L2", 240.0), supply=Supply(neutral=False)), inferred)
    assert without.level == "high"
    assert not any("joint" in text for text in told(without))
    assert judged(readings(volts("L1", "L2", 240.0)), inferred).level != "high"


def test_no_readings_no_confidence() -> None:
    inferred = outcome([candidate("none_found", 0.99)], detection=limits(None, None, None))
    confidence = judged(readings(), inferred)
    assert confidence.level == "none"
    assert told(confidence) == ["There are no readings yet: this is only what is usual."]


def test_a_detector_alone_gives_no_confidence_and_says_why() -> None:
    inferred = outcome([candidate("open_neutral", 0.99, "N")], evidence=[speaking(0, 9.0, 1.0, "1")])
    confidence = judged(readings(near("N", detected=True)), inferred)
    assert confidence.level == "none"
    assert any("Only a proximity detector speaks for it" in reason for reason in told(confidence))


def test_contradiction_as_the_finding_gives_no_confidence() -> None:
    inferred = outcome([candidate("readings_inconsistent", 0.99)], evidence=[speaking(0, 9.0)])
    assert judged(readings(LEG), inferred).level == "none"


def test_the_carrying_reading_is_named_with_what_it_should_have_been() -> None:
    confidence = judged(*open_neutral_case())
    assert told(confidence)[0] == (
        "3.7 V L1 to neutral (appliance connected, not started) speaks for it: on a sound supply it should be "
        "118 to 126 V."
    )
    assert "One reading alone carries the finding: repeat it if you can." in told(confidence)


def test_faults_that_explain_alike_are_both_named() -> None:
    inferred = outcome(
        [candidate("open_leg", 0.5, "L1"), candidate("open_leg", 0.5, "L2")], evidence=[speaking(0, 9.0)]
    )
    reasons = told(judged(readings(LEG), inferred))
    assert "These readings cannot tell apart: open leg L1 (50 %) and open leg L2 (50 %)." in reasons


def test_three_unloaded_high_impedance_readings_prove_nothing_of_the_neutral() -> None:
    # Common practice, no source: such readings look right across an open neutral.
    reading_set = readings(volts("L1", "L2", 243.0), volts("L1", "N", 121.4), volts("L2", "N", 121.7))
    inferred = outcome(
        [candidate("none_found", 0.93, log_evidence=0.0), candidate("open_neutral", 0.07, "N", log_evidence=-0.3)],
        evidence=[speaking(index, 0.0) for index in range(3)],
        detection=limits(9.0e4, 9.0e4, 3.0e6),
    )
    confidence = judged(reading_set, inferred)
    assert confidence.level == "low"
    text = " ".join(told(confidence))
    assert "Leg L1, leg L2 and the neutral could be open and these readings would look the same" in text
    assert "strays alone can give such readings" in text
    assert "The equipment ground was not read" in text


def test_the_drawn_current_is_said_and_what_it_could_show() -> None:
    reading_set = readings(volts("L1", "N", 120.0, "loz"), volts("L2", "N", 120.0, "loz"))
    inferred = outcome(
        [candidate("none_found", 0.97)],
        evidence=[speaking(0, 0.0, 120.0, test_current=0.04), speaking(1, 0.0, 120.0, test_current=0.04)],
        detection=limits(240.0, 240.0, 260.0),
    )
    text = " ".join(told(judged(reading_set, inferred)))
    assert "The low-impedance meter drew 40 mA: enough to show 260 Ω in the neutral, not less." in text
    assert "only a reading under load shows 5 Ω" in text


def test_an_unstated_run_is_a_reason_where_a_bad_joint_is_found() -> None:
    inferred = outcome([candidate("high_resistance_neutral", 0.97, "N")], evidence=[speaking(0, 9.0)])
    assert any("run's size or length is not stated" in reason for reason in told(judged(readings(LEG), inferred)))
    known = readings(LEG, supply=Supply(run=Run(size="6 AWG", material="copper", length=18.0)))
    assert not any("is not stated" in reason for reason in told(judged(known, inferred)))


def test_an_absent_ground_is_not_missed() -> None:
    inferred = outcome([candidate("open_neutral", 0.97, "N")], evidence=[speaking(0, 9.0)])
    without = readings(LEG, supply=Supply(equipment_ground="absent"))
    assert not any("ground" in reason for reason in told(judged(without, inferred)))
    with_it = readings(LEG, volts("L1", "G", 120.0))
    assert not any("ground was not read" in reason for reason in told(judged(with_it, inferred)))


def test_contradictions_are_pointed_to() -> None:
    reasons = told(judged(*fault(0.98, (5.0, 5.0)), (CONTRADICTION,)))
    assert any("Settle those first" in reason for reason in reasons)


def test_contradictions_that_the_finding_explains_unsettle_nothing() -> None:
    reasons = told(judged(*fault(0.98, (5.0, 5.0)), (EXPLAINED,)))
    assert any("under the finding they do" in reason for reason in reasons)
    assert not any("Settle those first" in reason for reason in reasons)


def test_where_readings_contradict_the_one_that_stands_out_is_named() -> None:
    inferred = outcome([candidate("readings_inconsistent", 0.9)], evidence=[speaking(0, 6.0)])
    reasons = told(judged(readings(LEG), inferred))
    assert "3.7 V L1 to neutral (appliance connected, not started) stands out: expected was 118 to 126 V." in reasons


def test_what_a_sound_supply_would_have_given_never_speaks_for_a_fault() -> None:
    """Whatever it weighs beside the others: 120 V lies inside 118 to 126 V."""
    evidence = [speaking(0, 9.0), speaking(1, 8.0, 120.0)]
    job = readings(LEG, volts("L2", "N", 120.0, state="idle"))
    confidence = judged(job, outcome([candidate("open_neutral", 0.97, "N")], evidence=evidence))
    speaks = [reason for reason in confidence.reasons if reason.code == "speaks_for_it"]
    assert [reason.readings for reason in speaks] == [[0]]


def test_where_all_lie_inside_what_is_sound_no_single_reading_speaks() -> None:
    evidence = [speaking(0, 9.0, 119.0), speaking(1, 8.0, 120.0)]
    job = readings(volts("L1", "N", 119.0), volts("L2", "N", 120.0))
    confidence = judged(job, outcome([candidate("open_neutral", 0.97, "N")], evidence=evidence))
    assert "No single reading speaks clearly for it." in told(confidence)


def test_the_same_read_twice_is_said_once() -> None:
    inferred = outcome([candidate("open_neutral", 0.97, "N")], evidence=[speaking(0, 9.0), speaking(1, 9.0)])
    speaks = [r for r in judged(readings(LEG, LEG), inferred).reasons if r.code == "speaks_for_it"]
    assert [reason.readings for reason in speaks] == [[0, 1]]


def test_a_reading_that_the_finding_does_not_explain_stands_first() -> None:
    inferred = outcome([candidate("open_neutral", 0.97, "N")], evidence=[speaking(0, 9.0), speaking(1, -3.0, 119.0)])
    inferred = msgspec.structs.replace(inferred, unexplained=(1,))
    job = readings(LEG, volts("L2", "N", 119.0))
    first = judged(job, inferred).reasons[0]
    assert (first.code, first.readings) == ("not_explained", [1])
    assert "1 to 40 V" in first.text


def test_the_same_place_on_the_other_leg_is_no_next_most_probable() -> None:
    """Amperes on the ground of a running appliance: either leg may leak, and both are the one place of the headline."""
    point: Point = "appliance_terminals"
    found = assess(
        visit(
            volts("L1", "L2", 238.0, state="running", point=point),
            volts("L1", "N", 119.0, state="running", point=point),
            volts("L2", "N", 119.0, state="running", point=point),
            volts("N", "G", 0.1, state="running", point=point),
            amps("G", 4.2, state="running", point=point),
            amps("N", 1.1, state="running", point=point),
        )
    )
    assert found.finding.place == "leak_to_ground"
    told = [reason.text for reason in found.confidence.reasons if reason.code == "next_most_probable"]
    assert told
    assert not any("leak" in text for text in told)
