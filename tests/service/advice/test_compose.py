import math

import msgspec
import pytest

from feedproof.advice.compose import compose
from feedproof.advice.numbers import NonFiniteNumberError
from feedproof.contract.assessment import Assessment
from feedproof.inference import PathResistance
from support.outcomes import (
    ASSUMPTION,
    MODEL,
    candidate,
    interval,
    open_neutral_case,
    outcome,
    readings,
    speaking,
    volts,
)


def composed() -> Assessment:
    return compose(*open_neutral_case(), (ASSUMPTION,), MODEL)


def test_the_open_neutral_of_the_trade() -> None:
    answer = composed()
    assert answer.reference == "cabin-12/range"
    assert (answer.finding.fault, answer.finding.conductor) == ("open_neutral", "N")
    assert answer.finding.location == "upstream_of_receptacle"
    assert answer.determination == "established"
    assert answer.disposition == "stop_and_refer"
    assert {caution.code for caution in answer.cautions} >= {
        "licensed_work",
        "prove_the_tester",
        "live_contacts",
        "neutral_as_live",
        "frame_as_live",
        "never_substitute_neutral",
        "resistance_isolated_only",
    }
    assert answer.assumptions == [ASSUMPTION]
    assert answer.model == MODEL


def test_numbers_arrive_where_they_belong() -> None:
    answer = composed()
    (neutral,) = answer.neutral_to_ground
    assert (neutral.value, neutral.low, neutral.high, neutral.unit) == (119.7, 117.0, 122.0, "V")
    assert neutral.angle == 0.0
    assert [entry.bound for entry in answer.resistances] == ["at_most", "at_least"]
    assert answer.resistances[1].low == 9.0e3
    assert [limit.value for limit in answer.detection_limits] == [9.0e3, 9.0e3, 40.0]
    evidence = answer.evidence[1]
    assert (evidence.observed.value, evidence.observed.unit, evidence.bits) == (3.7, "V", 18.2)
    assert evidence.identity is not None
    assert evidence.identity.conductors == ["L1", "N"]
    assert evidence.identity.load_state_kind == "idle"
    # An established open neutral: whatever could be read next would be read beside it.
    assert (answer.next_readings, answer.next_reason) == ([], "stop_first")


def test_candidates_below_a_tenth_of_a_percent_are_left_out() -> None:
    answer = composed()
    assert [entry.fault for entry in answer.candidates] == [
        "open_neutral",
        "high_resistance_neutral",
        "leg_neutral_transposed",
    ]


def test_the_same_outcome_gives_the_same_bytes() -> None:
    assert msgspec.json.encode(composed()) == msgspec.json.encode(composed())


def test_the_last_bits_of_a_computation_do_not_show() -> None:
    reading_set, inferred = open_neutral_case()
    first = inferred.candidates[0]
    noisy = msgspec.structs.replace(
        inferred,
        candidates=(
            msgspec.structs.replace(first, probability=math.nextafter(first.probability, 1.0)),
            *inferred.candidates[1:],
        ),
    )
    exact = msgspec.json.encode(compose(reading_set, inferred, (), MODEL))
    assert msgspec.json.encode(compose(reading_set, noisy, (), MODEL)) == exact


def test_the_answer_survives_its_own_wire_format() -> None:
    answer = composed()
    assert msgspec.json.decode(msgspec.json.encode(answer), type=Assessment) == answer


def test_a_number_that_is_none_stops_the_answer() -> None:
    reading_set, inferred = open_neutral_case()
    bad = PathResistance(conductor="N", point="receptacle", interval=interval(math.inf, 1.0, 2.0), heat=None)
    with pytest.raises(NonFiniteNumberError, match=r"assessment.resistances\[0\].value"):
        compose(reading_set, msgspec.structs.replace(inferred, resistances=(bad,)), (), MODEL)


def test_heat_and_sound_range_go_through() -> None:
    reading_set, inferred = open_neutral_case()
    hot = PathResistance(
        conductor="L1",
        point="receptacle",
        interval=interval(0.16, 0.1, 0.2),
        heat=interval(35.0, 22.0, 45.0),
        sound=(0.02, 0.2),
    )
    (entry,) = compose(reading_set, msgspec.structs.replace(inferred, resistances=(hot,)), (), MODEL).resistances
    assert entry.heat is not None
    assert (entry.heat.value, entry.heat.unit) == (35.0, "W")
    assert entry.sound is not None
    assert (entry.sound.low, entry.sound.high) == (0.02, 0.2)


def test_contradictions_reach_checks_and_confidence() -> None:
    reading_set = readings(volts("L1", "L2", 247.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0))
    inferred = outcome(
        [candidate("none_found", 0.6), candidate("open_neutral", 0.4, "N")],
        evidence=[speaking(index, 0.0, 120.0) for index in range(3)],
    )
    answer = compose(reading_set, inferred, (), MODEL)
    assert [check.code for check in answer.checks] == ["sum_below_whole"]
    assert any("do not go together" in reason.text for reason in answer.confidence.reasons)
    assert answer.disposition == "take_more_readings"
    assert answer.determination == "undetermined"
