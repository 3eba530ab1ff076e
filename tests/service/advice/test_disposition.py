import msgspec
import pytest

from feedproof.advice.determination import rule
from feedproof.advice.disposition import decide, refer
from feedproof.contract.assessment import Disposition
from feedproof.inference import Outcome
from feedproof.readings import ReadingSet
from support.outcomes import NO_HAZARD, candidate, limits, outcome, prospect, readings, speaking, volts

READINGS = readings(volts("L1", "N", 3.7, state="idle"), volts("L2", "N", 240.0, state="idle"))


def decided(inferred: Outcome, taken: ReadingSet = READINGS) -> Disposition:
    return decide(rule(inferred, taken), inferred, taken)


@pytest.mark.parametrize(
    ("probability", "bits", "expected"),
    [
        (0.97, 9.0, "stop_and_refer"),
        (0.75, 9.0, "stop_and_refer"),
        (0.74, 9.0, "take_more_readings"),
        (0.97, 0.5, "take_more_readings"),
    ],
)
def test_a_probable_fault_stops_the_job(probability: float, bits: float, expected: Disposition) -> None:
    inferred = outcome(
        [
            candidate("open_neutral", probability, "N", log_evidence=0.0),
            candidate("none_found", 1.0 - probability, log_evidence=-9.0),
        ],
        evidence=[speaking(0, bits)],
    )
    assert decided(inferred) == expected


def test_some_fault_for_certain_stops_the_job_though_not_known_which() -> None:
    inferred = outcome(
        [
            candidate("open_leg", 0.5, "L1", log_evidence=0.0),
            candidate("open_leg", 0.49, "L2", log_evidence=0.0),
            candidate("none_found", 0.01, log_evidence=-9.0),
        ],
        evidence=[speaking(0, 9.0)],
    )
    assert decided(inferred) == "stop_and_refer"


@pytest.mark.parametrize("hazard", ["frame_live", "heat_above_30_watts"])
@pytest.mark.parametrize(("probability", "expected"), [(0.5, "stop_and_refer"), (0.49, "take_more_readings")])
def test_a_hazard_more_likely_than_not_stops_the_job(hazard: str, probability: float, expected: Disposition) -> None:
    inferred = outcome(
        [candidate("none_found", 0.5), candidate("open_neutral", 0.5, "N")],
        evidence=[speaking(0, 0.0)],
        hazards=msgspec.structs.replace(NO_HAZARD, **{hazard: probability}),
    )
    assert decided(inferred) == expected


@pytest.mark.parametrize(
    ("probability", "neutral", "information", "expected"),
    [
        (0.97, 1.0, 0.5, "no_supply_fault_found"),
        (0.97, 260.0, 0.5, "no_supply_fault_found"),
        (0.97, 260.0, 0.0, "no_supply_fault_found"),
        (0.97, 2.0e3, 0.0, "take_more_readings"),
        (0.74, 1.0, 0.0, "take_more_readings"),
    ],
)
def test_no_supply_fault_found_is_hard_to_get(
    probability: float, neutral: float, information: float, expected: Disposition
) -> None:
    inferred = outcome(
        [
            candidate("none_found", probability, log_evidence=0.0),
            candidate("open_neutral", 1.0 - probability, "N", log_evidence=-9.0),
        ],
        evidence=[speaking(0, 0.0)],
        detection=limits(1.0, 1.0, neutral),
        prospects=[prospect(information=information)],
    )
    assert decided(inferred) == expected


@pytest.mark.parametrize("place", ["cord_leg", "cord_neutral"])
def test_cord_and_plug_are_the_technicians_own_part(place: str) -> None:
    own = msgspec.structs.replace(candidate("open_neutral", 0.97, "N"), place=place)
    inferred = outcome([own, candidate("none_found", 0.03, log_evidence=-30.0)], evidence=[speaking(0, 9.0)])
    assert decided(inferred) == "repair_and_retest"


def test_what_was_ruled_out_beforehand_was_not_proven_by_readings() -> None:
    """With base rates that leave no fault to weigh, a sound supply is certain whatever was read."""
    inferred = outcome([candidate("none_found", 1.0)], evidence=[speaking(0, 0.0)], detection=limits(1.0, 1.0, 1.0))
    assert decided(inferred) == "take_more_readings"


@pytest.mark.parametrize("fault", ["other_supply_system", "readings_inconsistent"])
def test_a_wrong_word_or_reading_is_put_right_first(fault: str) -> None:
    inferred = outcome([candidate(fault, 0.99)], evidence=[speaking(0, 9.0)])
    assert decided(inferred, readings(volts("L1", "L2", 208.0))) == "take_more_readings"


def test_another_supply_system_under_which_a_leg_stands_far_above_120_volts_is_no_wrong_word() -> None:
    """The high leg of a delta, ANSI C84.1, from memory: 208 V to neutral."""
    inferred = outcome([candidate("other_supply_system", 0.99)], evidence=[speaking(0, 9.0)])
    assert decided(inferred, readings(volts("L1", "N", 208.0))) == "stop_and_refer"


def test_a_plan_without_readings_reads_on() -> None:
    inferred = outcome([candidate("none_found", 1.0)], hazards=msgspec.structs.replace(NO_HAZARD, frame_live=0.9))
    assert decided(inferred) == "take_more_readings"


@pytest.mark.parametrize(
    ("shares", "expected"),
    [
        # Stopped without a place: whoever acts on any of 5 % or more.
        ({"legs_from_same_pole": 0.5, "voltage_low": 0.45, "none_found": 0.05}, ["utility", "electrician"]),
        ({"legs_from_same_pole": 0.91, "voltage_low": 0.04, "none_found": 0.05}, ["electrician"]),
        ({"voltage_low": 0.97, "leg_ground_transposed": 0.03}, ["utility", "electrician"]),
        ({"none_found": 0.9, "voltage_low": 0.1}, []),
    ],
)
def test_who_acts_goes_by_every_place_where_work_stops_undetermined(
    shares: dict[str, float], expected: list[str]
) -> None:
    named = [candidate(fault, share, log_evidence=0.0) for fault, share in shares.items()]
    inferred = outcome(named, evidence=[speaking(0, 9.0)])
    ruling = rule(inferred, READINGS)
    assert refer(ruling, decide(ruling, inferred, READINGS), inferred, READINGS) == expected
