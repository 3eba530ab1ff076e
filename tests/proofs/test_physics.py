"""What a supply's physics demands of any answer, whoever's circuit it is. One test for each demand."""

import itertools
import math

import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.readings import Load, LoadState, ReadingSet, Supply
from support.answers import draws_current, limit, named, neutral, probability
from support.outcomes import METERS, amps, volts
from support.proof_cases import CASES, FOUR_WIRE, THREE_WIRE, UNKNOWN, visit


@pytest.mark.parametrize(
    ("across", "first", "second"),
    [(243.1, 121.8, 121.4), (240.0, 120.0, 120.0), (247.0, 120.0, 120.0), (236.0, 117.0, 118.0)],
)
@pytest.mark.parametrize("supply", [FOUR_WIRE, UNKNOWN, THREE_WIRE])
def test_1_three_plausible_unloaded_readings_prove_nothing_of_the_neutral(
    across: float, first: float, second: float, supply: Supply
) -> None:
    found = assess(visit(volts("L1", "L2", across), volts("L1", "N", first), volts("L2", "N", second), supply=supply))
    assert not (found.finding.fault == "none_found" and found.determination == "established")
    assert found.disposition != "no_supply_fault_found"
    assert limit(found, "N") >= 1e3
    assert any(draws_current(step) for step in found.next_readings[:3])
    assert ("open_neutral", "N") in named(found, 0.001)


def test_2_a_shortfall_of_the_sum_is_a_check_and_evidence() -> None:
    """|V(L1,L2)| <= |V(L1,N)| + |V(L2,N)| at one instant; the meter that moves a soft node breaks it."""
    found = assess(visit(volts("L1", "L2", 242.0), volts("L1", "N", 101.0), volts("L2", "N", 104.0)))
    assert [check.code for check in found.checks] == ["sum_below_whole"]
    assert probability(found, "open_neutral") > 0.7
    whole = assess(visit(volts("L1", "L2", 242.0), volts("L1", "N", 121.0), volts("L2", "N", 121.0)))
    assert whole.checks == []
    assert probability(whole, "open_neutral") < 0.3


def test_3_a_neutral_near_a_leg_or_behind_nothing_is_live_meanwhile() -> None:
    pulled = assess(visit(volts("L1", "L2", 244.0, state="idle"), volts("L1", "N", 2.5, state="idle")))
    assert pulled.finding.fault == "open_neutral"
    assert neutral(pulled).value == pytest.approx(122.0 - 2.5, abs=3.0)
    assert neutral(pulled).angle == 0.0
    behind = (volts("L1", "N", 4.0, "loz"), volts("L2", "N", 4.0, "loz"))
    nothing = assess(visit(volts("L1", "L2", 244.0), *behind))
    assert nothing.finding.fault == "open_neutral"
    for index in (1, 2):
        # The neutral conductor is live to within those few volts of a leg while the meter is connected.
        assert neutral(nothing, during=index).value == pytest.approx(122.0 - 4.0, abs=4.0)
    both = assess(visit(volts("L1", "L2", 244.0), *behind, volts("L1", "N", 2.5, state="idle")))
    assert both.determination == "established"
    codes = {caution.code for caution in both.cautions}
    assert codes >= {"neutral_as_live", "never_substitute_neutral"}


def test_4_a_low_impedance_test_says_nothing_of_a_few_ohms() -> None:
    """At 3 kohm it draws 40 mA: 5 ohm take 0.2 V."""
    found = assess(CASES["low impedance, all as it should be"])
    for conductor in ("L1", "L2", "N"):
        assert 5.0 < limit(found, conductor) < 1e3
    assert found.determination != "established"
    drawn = [entry.test_current for entry in found.evidence if entry.test_current is not None]
    assert drawn == pytest.approx([121.0 / 3e3] * 2, rel=1e-3)
    assert "40.3 mA" in next(x.meaning for x in found.detection_limits if x.conductor == "N")


def test_5_legs_first_and_ground_only_as_far_as_it_is_proven() -> None:
    plan = assess(visit(meters={}))
    first = next(step.reading for step in plan.next_readings if step.reading is not None)
    assert first.between == ["L1", "L2"]
    # A neutral that stands off "ground" while both legs stand alike to it: it is the ground that is not proven.
    alike = (volts("L1", "L2", 242.0, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 121.0, "loz"))
    found = assess(visit(*alike, volts("N", "G", 35.0), supply=FOUR_WIRE))
    assert found.finding.fault == "open_ground"
    assert probability(found, "open_neutral", "high_resistance_neutral") < 0.05


def test_6_a_mirrored_request_gets_the_mirrored_answer() -> None:
    """In short; `test_symmetries` asks for more."""
    plain = assess(visit(volts("L1", "L2", 244.0, state="idle"), volts("L1", "N", 2.5, state="idle")))
    turned = assess(visit(volts("L1", "L2", 244.0, state="idle"), volts("L2", "N", 2.5, state="idle")))
    assert [c.probability for c in plain.candidates] == [c.probability for c in turned.candidates]
    assert (neutral(plain).value, neutral(plain).angle) == (neutral(turned).value, 0.0)
    assert neutral(turned).angle == 180.0


def test_7_one_meter_at_a_time() -> None:
    """Three readings are three circuits. At 3 kohm on a floating neutral, each near 0, yet the legs are whole.

    With all three meters connected at once the two of the neutral would divide the legs, and read 122 V each.
    """
    found = assess(visit(volts("L1", "L2", 244.0, "loz"), volts("L1", "N", 1.0, "loz"), volts("L2", "N", 1.0, "loz")))
    assert found.finding.fault == "open_neutral"
    for entry in found.evidence[1:]:
        assert entry.expected_under_finding.high < 60.0
        assert entry.expected_if_sound.low > 100.0


def test_8_what_reads_alike_is_not_told_apart() -> None:
    # 0 / 120 / 120 with the appliance connected: a lost leg behind the element, or both legs from one pole.
    found = assess(CASES["lost leg seen through an element"])
    assert named(found, 0.01) >= {("open_leg", "L1"), ("open_leg", "L2"), ("legs_from_same_pole", None)}
    assert found.determination == "undetermined"
    # Unplugged, only one pole still gives it.
    apart = assess(visit(volts("L1", "L2", 0.3, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 121.0, "loz")))
    assert apart.finding.fault == "legs_from_same_pole"
    # 12 ohm against 6 ohm on 120 V legs: a 25 ohm rod leaves 34.5 V of 40 (NEC 250.53(A)(2) lets one such rod do).
    volts_on_legs = [120.0 + 34.5, 120.0 - 34.5]
    shifted = assess(
        visit(
            volts("L1", "L2", 240.0, state="running"),
            volts("L1", "N", volts_on_legs[0], state="running"),
            volts("L2", "N", volts_on_legs[1], state="running"),
            volts("N", "G", 0.1, state="running"),
            supply=FOUR_WIRE,
        )
    )
    assert probability(shifted, "open_service_neutral", "high_resistance_service_neutral") > 0.95
    assert ("open_service_neutral", "N") in named(shifted, 0.05)
    assert "service_neutral" in {caution.code for caution in shifted.cautions}


def joint(watts: float, amperes: float, supply: Supply) -> Assessment:
    """Leg L1 read before and after a joint that gets so warm at so much current, with a known load behind it."""
    before, after = 121.0, round(121.0 - watts / amperes, 1)
    load = Load(between=("L1", "L2"), resistance=(before + after) / amperes, tolerance_percent=5.0)
    taken = (
        amps("L1", amperes, state="loaded"),
        volts("L1", "N", before, state="loaded", point="service_panel"),
        volts("L1", "N", after, state="loaded"),
        volts("L2", "N", before, state="loaded"),
        volts("L1", "L2", round(before + after, 1), state="loaded"),
        volts("L1", "L2", 2.0 * before, state="loaded", point="service_panel"),
    )
    return assess(
        ReadingSet(
            supply=supply,
            meters={name: METERS[name] for name in ("dmm", "clamp")},
            load_states={"loaded": LoadState(name="loaded", kind="test_load", loads=(load,))},
            readings=taken,
        )
    )


# NBSIR 76-1011 (Meese and Beausoliel, 1976), abstract: up to 35 W at 15 A and 5 W at 0.8 A at a glowing connection; as
# resistances 0.156 and 7.8 ohm.
@pytest.mark.parametrize("supply", [FOUR_WIRE, UNKNOWN])
def test_9_two_percent_of_drop_read_once_is_not_passed_as_sound(supply: Supply) -> None:
    """It is weaker than the base rate of a sound run, whose own resistance may be as large; it is to be read again."""
    found = joint(35.0, 15.0, supply)
    assert found.determination != "established"
    assert found.disposition == "take_more_readings"
    assert found.next_readings


@pytest.mark.parametrize("supply", [FOUR_WIRE, UNKNOWN])
def test_9_an_estimate_of_a_joint_holds_for_the_current_it_was_read_at(supply: Supply) -> None:
    watts, amperes = 5.0, 0.8
    found = joint(watts, amperes, supply)
    estimate = next(r for r in found.resistances if r.conductor == "L1")
    assert estimate.heat is not None
    assert estimate.low <= watts / amperes**2 <= estimate.high
    assert estimate.heat.low <= watts <= estimate.heat.high
    assert {"heat_at_joint", "heat_at_joint_urgent"} & {caution.code for caution in found.cautions}


def test_9_the_same_joint_at_two_currents_is_two_resistances() -> None:
    """The laboratory figures themselves: no constant resistance gives both."""
    ohms = [35.0 / 15.0**2, 5.0 / 0.8**2]
    assert ohms == pytest.approx([0.156, 7.81], rel=0.01)
    assert all(math.isclose(a, b, rel_tol=0.5) is False for a, b in itertools.combinations(ohms, 2))
