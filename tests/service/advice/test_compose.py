import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.compose import NonFiniteNumberError, compose, finished
from feedproof.contract.assessment import AssessedSupply, Assessment, Estimate, LegVoltage
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
    with pytest.raises(NonFiniteNumberError, match=r"ConductorResistance\.value is not"):
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


def estimate(value: float) -> Estimate:
    return Estimate(
        value=value, low=-1.0, high=1.0, unit="V", bound="two_sided", limit=None, told_by="readings", display=""
    )


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_no_number_leaves_that_is_not_finite(bad: float) -> None:
    with pytest.raises(NonFiniteNumberError, match=r"Estimate\.value is not a finite number"):
        finished(estimate(bad))


def test_the_field_is_named_however_deep() -> None:
    legs = [LegVoltage(conductor="L1", voltage=120.0, angle=0.0, unit="V")]
    legs += [LegVoltage(conductor="L2", voltage=math.nan, angle=180.0, unit="V")]
    with pytest.raises(NonFiniteNumberError) as caught:
        finished(AssessedSupply(system="split_phase_120_240", frequency=60.0, legs=legs))
    assert str(caught.value) == "LegVoltage.voltage is not a finite number"


def test_six_significant_digits_and_no_negative_zero() -> None:
    assert finished(estimate(123.4567891)).value == 123.457
    assert finished(estimate(1.23456789e-9)).value == 1.23457e-9
    assert math.copysign(1.0, finished(estimate(-0.0)).value) == 1.0


@given(st.floats(allow_nan=False, allow_infinity=False), st.floats(allow_nan=False, allow_infinity=False))
def test_rounding_keeps_order_and_settles(first: float, second: float) -> None:
    low, high = sorted((first, second))
    try:
        rounded = finished(estimate(low)).value, finished(estimate(high)).value
    except NonFiniteNumberError:
        return
    assert rounded[0] <= rounded[1]
    assert finished(estimate(rounded[0])).value == rounded[0]
    assert math.isclose(rounded[1], high, rel_tol=5.1e-6, abs_tol=1e-300)
