"""What is weighed, how often it is met before any reading, and what it does to the circuit."""

import itertools
import math
from collections import defaultdict

import pytest

from feedproof.faults.hypotheses import Hypothesis, hypotheses, spans
from feedproof.faults.priors import BASE_RATES, PAIR_SHARE
from feedproof.readings import POINTS, Point, Presence, SystemName

SYSTEMS: tuple[SystemName, ...] = (
    "split_phase_120_240",
    "wye_120_208",
    "single_phase_120",
    "high_leg_delta_120_240",
)
POINT_SETS: tuple[frozenset[Point], ...] = tuple(
    frozenset(chosen) for size in range(4) for chosen in itertools.combinations(POINTS, size)
)
GROUNDS: tuple[Presence, ...] = ("present", "absent", "unknown")
EVERYWHERE = list(itertools.product(SYSTEMS, POINT_SETS, GROUNDS))
AT_RECEPTACLE: frozenset[Point] = frozenset({"receptacle"})


def usual(system: SystemName = "split_phase_120_240", ground: Presence = "present") -> tuple[Hypothesis, ...]:
    return hypotheses(system, AT_RECEPTACLE, ground)


def named(fault: str, states: tuple[Hypothesis, ...]) -> list[Hypothesis]:
    return [h for h in states if h.fault == fault]


@pytest.mark.parametrize(("system", "points", "ground"), EVERYWHERE)
def test_base_rates_sum_to_one(system: SystemName, points: frozenset[Point], ground: Presence) -> None:
    states = hypotheses(system, points, ground)
    assert sum(h.base_rate for h in states) == pytest.approx(1.0, abs=1e-12)
    assert all(h.base_rate > 0.0 for h in states)


@pytest.mark.parametrize(("system", "points", "ground"), EVERYWHERE)
def test_each_fault_keeps_its_share(system: SystemName, points: frozenset[Point], ground: Presence) -> None:
    """However many places and partners a fault has here, together they have its base rate."""
    share: dict[str, float] = defaultdict(float)
    for h in hypotheses(system, points, ground):
        share[h.fault] += h.base_rate
    whole = sum(BASE_RATES[fault] for fault in share)
    for fault, found in share.items():
        assert found == pytest.approx(BASE_RATES[fault] / whole, rel=1e-12), fault


@pytest.mark.parametrize(("system", "points", "ground"), EVERYWHERE)
def test_no_two_states_are_the_same(system: SystemName, points: frozenset[Point], ground: Presence) -> None:
    states = hypotheses(system, points, ground)
    effects = [(h.mirrored, h.series, h.band, h.phasors, h.landing, h.inconsistent) for h in states]
    assert len(set(effects)) == len(states)


@pytest.mark.parametrize("system", [s for s in SYSTEMS if s != "single_phase_120"])
def test_both_legs_are_alike_before_any_reading(system: SystemName) -> None:
    """Every state of one leg has its twin on the other, at the same rate, weighed on the mirrored readings."""
    by_leg: dict[bool, dict[object, float]] = {False: {}, True: {}}
    for h in usual(system):
        if h.conductor in {"L1", "L2"} and ("high_resistance_leg", "L2") not in h.also:
            assert h.mirrored == (h.conductor == "L2")
            key = (h.fault, h.location, h.also, h.series, h.landing, frozenset(h.phasors))
            by_leg[h.mirrored][key] = by_leg[h.mirrored].get(key, 0.0) + h.base_rate
    assert by_leg[False]
    assert by_leg[False] == pytest.approx(by_leg[True])


def test_one_leg_has_no_second() -> None:
    for h in usual("single_phase_120"):
        assert h.conductor != "L2"
        assert not h.mirrored
        assert h.phasors[1] == 0.0
    absent = {"legs_from_same_pole", "other_supply_system"}
    assert not absent & {h.fault for h in usual("single_phase_120")}


def test_without_a_ground_its_faults_are_left_out() -> None:
    gone = {h.fault for h in usual()} - {h.fault for h in usual(ground="absent")}
    assert gone == {"open_ground", "leg_ground_transposed"}
    assert all(s.conductor != "G" for h in usual(ground="absent") for s in h.series)
    assert {h.fault for h in usual(ground="unknown")} == {h.fault for h in usual()}


def test_pairs_have_their_shares() -> None:
    states = usual()
    for (first, second), share in PAIR_SHARE.items():
        found = sum(h.base_rate for h in named(first, states) if h.also and h.also[0][0] == second)
        assert found == pytest.approx(share * BASE_RATES[first], rel=1e-12)
    assert all(len(h.series) == 1 + len(h.also) for h in states if h.series)


def test_phasors_are_those_of_the_systems() -> None:
    """Leg to leg in volts on 120 V legs: 240, 208, and 0 from one pole; the high leg stands at 208 to neutral."""

    def across(h: Hypothesis) -> float:
        return abs(h.phasors[0] - h.phasors[1]) * 120.0

    assert across(named("none_found", usual())[0]) == 240.0
    assert across(named("none_found", usual("wye_120_208"))[0]) == pytest.approx(207.85, abs=0.01)
    assert across(named("legs_from_same_pole", usual())[0]) == 0.0
    other = named("other_supply_system", usual())
    assert sorted(across(h) for h in other) == pytest.approx([207.85, 240.0, 240.0], abs=0.01)
    high = [max(abs(leg) for leg in h.phasors) for h in other]
    assert sorted(high) == pytest.approx([1.0, math.sqrt(3.0), math.sqrt(3.0)])
    delta = named("none_found", usual("high_leg_delta_120_240"))
    assert {tuple(round(abs(leg), 3) for leg in h.phasors) for h in delta} == {
        (1.0, 1.0),
        (1.732, 1.0),
        (1.0, 1.732),
    }


def test_transposed_wires_exchange_two_ends() -> None:
    for fault, other in (("leg_neutral_transposed", "N"), ("leg_ground_transposed", "G")):
        for h in named(fault, usual()):
            assert dict(h.landing) == {"L1": other, other: "L1"}


@pytest.mark.parametrize("points", POINT_SETS)
def test_the_path_is_cut_where_it_was_read(points: frozenset[Point]) -> None:
    found = spans(points)
    assert found[0].location.startswith("upstream_of_")
    assert all(s.location.startswith("between_") for s in found[1:])
    sections = [s.section for s in found]
    assert sections == [s for s in ("service", "branch", "cord") if s in sections]
    assert "branch" in sections
    assert ("service" in sections) == ("service_panel" in points)
    assert ("cord" in sections) == ({"receptacle", "appliance_terminals"} <= points)


def test_spans_by_name() -> None:
    assert [s.location for s in spans(frozenset())] == ["upstream_of_receptacle"]
    assert [s.location for s in spans(frozenset({"appliance_terminals"}))] == ["upstream_of_appliance_terminals"]
    every: frozenset[Point] = frozenset({"service_panel", "receptacle", "appliance_terminals"})
    assert [s.location for s in spans(every)] == [
        "upstream_of_service_panel",
        "between_service_panel_and_receptacle",
        "between_receptacle_and_appliance_terminals",
    ]


def test_stated_base_rates_are_scaled_to_one() -> None:
    rates = {"none_found": 3.0, "open_neutral": 1.0}
    states = hypotheses("split_phase_120_240", AT_RECEPTACLE, "present", rates)
    assert {h.fault for h in states} == {"none_found", "open_neutral"}
    assert sum(h.base_rate for h in named("none_found", states)) == pytest.approx(0.75)
    assert sum(h.base_rate for h in states) == pytest.approx(1.0)


def test_a_fault_of_rate_zero_is_left_out() -> None:
    states = hypotheses("split_phase_120_240", AT_RECEPTACLE, "present", BASE_RATES | {"open_leg": 0.0})
    assert not named("open_leg", states)
    assert named("high_resistance_leg", states)


def test_stated_rates_equal_to_the_published_change_nothing() -> None:
    assert hypotheses("split_phase_120_240", AT_RECEPTACLE, "unknown", dict(BASE_RATES)) == hypotheses(
        "split_phase_120_240", AT_RECEPTACLE, "unknown"
    )
