"""The drawn cases of the trade, their judge and their technician: each held to what it promises."""

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema_rs
import numpy as np
import pytest

from support.trade import notes
from support.trade.figures import figures
from support.trade.first_contract import as_first_contract
from support.trade.judge import beside, calibration, judge, table
from support.trade.places import TREE, place_of_fault, who_acts
from support.trade.scene import Case
from support.trade.situations import NAMES, SITUATIONS, cases, scene, situations
from support.trade.technician import Technician, quantity
from support.trade.visits import ended, visits_table
from support.trade.walks import walk

_POINTS = {"service_panel", "sub_panel", "panel", "receptacle", "appliance_terminals"}


@pytest.fixture(scope="module")
def drawn() -> list[Case]:
    """Each variant of each situation once."""
    return cases([(name, seed) for name in NAMES for seed in range(len(SITUATIONS[name]))])


def test_every_request_is_one_that_the_first_contract_takes_once_projected(drawn: list[Case], root: Path) -> None:
    document = json.loads((root / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    schema = {"$ref": "#/components/schemas/AssessmentRequest", "components": document["components"]}
    validator = jsonschema_rs.validator_for(schema)
    for case in drawn:
        validator.validate(as_first_contract(case.request))


def test_what_is_new_in_a_request_is_what_the_contract_names(drawn: list[Case]) -> None:
    for case in drawn:
        assert set(case.request["supply"]) <= {
            "system",
            "equipment_ground",
            "frame_bonded_to_neutral",
            "run",
            "neutral",
            "fed_from",
            "source",
            "receptacle",
        }
        assert {r.get("point", "receptacle") for r in case.request["readings"]} <= _POINTS
        conductors = {c for r in case.request["readings"] for c in r.get("between", ())}
        assert "N" not in conductors or case.scene.site.neutral or "panel" in str(case.request["readings"])
        assert case.request["reference"].startswith("INVENTED ")
    assert any("fed_from" not in case.request["supply"] for case in drawn)
    assert {code for case in drawn for code in map(str, case.request.get("observations", ()))}


def test_volts_are_noted_as_a_person_does(drawn: list[Case]) -> None:
    values = [r["value"] for case in drawn for r in case.request["readings"] if r["kind"] == "voltage"]
    assert all(value == round(value) if value >= 10.0 else value == round(value, 1) for value in values)
    assert any(0.0 < value < 10.0 for value in values)


def test_the_same_seed_gives_the_same_case_alone_and_among_others(drawn: list[Case]) -> None:
    for case in drawn[::9]:
        assert situations(case.situation, case.seed).request == case.request
    assert situations("sub_panel", 0).request != situations("sub_panel", len(SITUATIONS["sub_panel"])).request


def test_truths_are_places_of_the_tree_and_name_who_acts(drawn: list[Case]) -> None:
    places = set(TREE) | {child for children in TREE.values() for child in children}
    for case in drawn:
        truth = case.truth
        assert {truth.place, *truth.also, *truth.accept, *truth.never} <= places
        assert truth.place in truth.right or truth.place in truth.never
        if truth.place == "none":
            assert truth.who == frozenset()
            assert not case.scene.site.house.joints
            assert not case.scene.site.house.run.lifted


def test_readings_of_one_sound_supply_obey_the_triangle_of_voltages(drawn: list[Case]) -> None:
    # |V(L1,L2)| <= |V(L1,N)| + |V(L2,N)| at one instant: within the meters' errors and what drifts.
    checked = 0
    for case in drawn:
        found = {
            tuple(r["between"]): r["value"]
            for r in case.request["readings"]
            if r["kind"] == "voltage" and (r["meter"], r["load_state"]) == ("dmm", "disconnected")
            if r.get("point", "receptacle") == "receptacle"
        }
        pairs = [("L1", "L2"), ("L1", "N"), ("L2", "N")]
        if case.truth.place == "none" and all(pair in found for pair in pairs):
            legs, first, second = (found[pair] for pair in pairs)
            assert legs == pytest.approx(first + second, rel=0.03, abs=3.0)
            checked += 1
    assert checked > 5


def answer(place: str, determination: str = "established", **more: Any) -> dict[str, Any]:
    return {
        "finding": {"place": place, "conductor": None, "probability": 0.97},
        "determination": determination,
        "candidates": [],
        "refer_to": sorted(who_acts(place)),
        "disposition": "stop_and_refer",
        **more,
    }


def case_of(name: str, variant: str) -> Case:
    """An unread case, by the beginning of its variant's name."""
    for seed in range(200):
        drawn = scene(name, seed)
        if drawn.variant.startswith(variant):
            return Case(name, drawn.variant, seed, drawn.truth, {}, drawn)
    raise LookupError(variant)


@pytest.mark.parametrize(
    ("name", "variant", "place", "determination", "outcome"),
    [
        ("sub_panel", "open feeder neutral", "feeder_neutral", "established", "right"),
        ("sub_panel", "open feeder neutral", "neutral", "established", "wider"),
        ("sub_panel", "open feeder neutral", "branch_neutral", "established", "wrong"),
        ("sub_panel", "open feeder neutral", "none", "established", "wrong"),
        ("sub_panel", "open feeder neutral", "neutral", "undetermined", "named"),
        ("sub_panel", "open feeder neutral", "none", "probable", "missed"),
        ("sub_panel", "sound, unplugged", "branch_neutral", "established", "wrong"),
        ("sub_panel", "sound, unplugged", "none", "established", "right"),
        ("sound", "unloaded", "none", "established", "wrong"),
        ("sound", "unloaded", "none", "undetermined", "named"),
        ("service_neutral", "water pipe", "none", "established", "hidden"),
        ("service_neutral", "water pipe", "branch_neutral", "established", "wrong"),
        ("tester", "dead tester against pen", "both_legs", "established", "wrong"),
        ("outside", "two feeders", "service_neutral", "established", "wrong"),
    ],
)
def test_the_judge_takes_what_is_so_or_holds_it_and_nothing_else(
    name: str, variant: str, place: str, determination: str, outcome: str
) -> None:
    assert judge(case_of(name, variant), answer(place, determination)).outcome == outcome


def test_the_judge_sees_the_wrong_leg_the_missing_referral_and_work_that_goes_on() -> None:
    case = case_of("service_leg", "open service leg")
    other = "L2" if case.truth.conductor == "L1" else "L1"
    right = answer("service_leg")
    wrong = {**right, "finding": {**right["finding"], "conductor": other}}
    assert judge(case, right).outcome == "right"
    assert judge(case, wrong).outcome == "wrong"
    assert judge(case, right).referred
    assert not judge(case, {**right, "refer_to": ["electrician"]}).referred
    assert judge(case, right).stopped
    assert not judge(case, {**right, "disposition": "take_more_readings"}).stopped
    assert judge(case, {"status": 422}).outcome == "refused"
    rows = table([judge(case, right), judge(case, wrong)]).splitlines()
    assert rows[-1].split(" | ")[1:5] == ["2", rows[-1].split(" | ")[2], "1/2", "1"]


def test_answers_without_a_place_are_judged_by_fault_and_location() -> None:
    assert place_of_fault("open_neutral", "upstream_of_receptacle") == "branch_neutral"
    assert place_of_fault("open_neutral", "between_receptacle_and_appliance_terminals") == "cord_neutral"
    assert place_of_fault("open_leg", "upstream_of_service_panel") == "service_leg"
    assert place_of_fault("open_leg", "between_service_panel_and_receptacle") == "branch_leg"
    assert place_of_fault("open_leg", "upstream_of_receptacle") == "leg"


def test_a_technician_reads_only_what_can_be_read() -> None:
    technician = Technician(scene("sub_panel", 1), 3, ("dmm", "clamp"), frozenset({"sub_panel"}))
    voltage = {"kind": "voltage", "between": ["L1", "N"], "meter": "dmm"}
    assert technician.take({**voltage, "load_state": "disconnected"}).reading is not None
    covered = technician.take({**voltage, "load_state": "idle"})
    assert (covered.reading, covered.why_not) == (None, "the plug covers the contacts")
    assert technician.take({**voltage, "load_state": "idle", "point": "appliance_terminals"}).reading is not None
    for wanted, why in (
        ({**voltage, "load_state": "disconnected", "point": "panel"}, "cannot reach the sub_panel"),
        ({**voltage, "load_state": "disconnected", "meter": "loz"}, "no meter loz"),
        ({**voltage, "load_state": "disconnected", "point": "appliance_terminals"}, "nothing is connected"),
        ({"kind": "resistance", "between": ["N", "G"], "meter": "dmm", "load_state": "disconnected"}, "isolated"),
    ):
        assert why in technician.take(wanted).why_not
    assert len(technician.request()["readings"]) == 2


def test_a_technician_switches_a_stated_load_and_keeps_it() -> None:
    technician = Technician(scene("known_faults", 1), 3)  # a weak branch neutral
    wanted = {
        "kind": "voltage",
        "between": ["N", "G"],
        "meter": "dmm",
        "load_state": "heater",
        "point": "appliance_terminals",
    }
    heater = {"kind": "test_load", "loads": [{"between": ["L1", "N"], "power": "1.5 kW"}]}
    first, second = (technician.take(wanted, heater).reading for _ in range(2))
    assert first is not None
    assert second is not None
    assert first["value"] > 5.0
    assert second["value"] == pytest.approx(first["value"], rel=0.04)
    assert technician.request()["load_states"]["heater"] == heater


def test_mistypes_come_at_the_rate_that_was_asked_for() -> None:
    rng = np.random.default_rng(3)
    changed = [notes.mistyped(121.0, rng) for _ in range(200)]
    assert all(0.0 <= value < 1000.0 for value in changed)
    assert sum(value != 121.0 for value in changed) > 180
    technician = Technician(scene("sub_panel", 1), 3, mistypes=0.3)
    wanted = {"kind": "voltage", "between": ["L1", "N"], "meter": "dmm", "load_state": "disconnected"}
    wrong = Counter(technician.take(wanted).wrong for _ in range(60))
    assert 8 <= wrong[True] <= 30


@pytest.mark.parametrize(
    ("name", "variant", "code", "expected"),
    [
        ("service_neutral", "open service neutral", "lights_brighten_and_dim", True),
        ("known_faults", "branch neutral", "lights_brighten_and_dim", False),
        ("breaker", "both poles", "other_circuits_live", True),
        ("breaker", "both poles", "breaker_found_tripped", True),
        ("service_leg", "open service leg", "other_circuits_dead", True),
        ("tester", "dead tester", "other_circuits_dead", False),
    ],
)
def test_a_technician_sees_what_the_circuit_does_elsewhere(
    name: str, variant: str, code: str, *, expected: bool
) -> None:
    technician = Technician(case_of(name, variant).scene, 1)
    assert technician.observe(code) is expected
    assert (code in json.dumps(technician.request())) is expected


def test_a_guided_visit_ends_by_itself_or_is_said_to_ask_for_ever() -> None:
    wanted = {"kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected"}

    def stops_after_two(request: dict[str, Any]) -> dict[str, Any]:
        more = [{"reading": wanted}] if len(request["readings"]) < 2 else []
        return answer("none", next_readings=more, next_reason=None if more else "enough")

    def never_stops(_request: dict[str, Any]) -> dict[str, Any]:
        return answer("none", next_readings=[{"reading": {**wanted, "meter": "none"}}, {"reading": wanted}])

    ended = walk(Technician(scene("sound", 0), 1), stops_after_two)
    assert (ended.end, ended.readings, ended.refused) == ("enough", 2, ())
    for_ever = walk(Technician(scene("sound", 0), 1), never_stops, most=4)
    assert (for_ever.end, for_ever.readings) == ("asked for ever", 4)
    assert set(for_ever.refused) == {"no meter none"}


def honest(name: str, seed: int) -> Any:
    """An engine that knows: it asks for two readings, and says what is so."""
    wanted = {"kind": "voltage", "between": ["L1", "L2"], "meter": "dmm", "load_state": "disconnected"}
    truth = scene(name, seed).truth

    def assess(request: dict[str, Any]) -> dict[str, Any]:
        more = [{"reading": wanted}] if len(request["readings"]) < 2 else []
        return answer(truth.place, next_readings=more, next_reason=None if more else "enough")

    return assess


def blind(request: dict[str, Any]) -> dict[str, Any]:
    """An engine that finds nothing before everything has been read."""
    everything = len(request["readings"]) > 20
    if everything:
        return answer("neutral")
    return answer("none", disposition="no_supply_fault_found", next_readings=[], next_reason="enough")


def test_visits_end_right_with_an_engine_that_knows_and_wrong_with_one_that_is_blind() -> None:
    known = [ended(name, seed, honest(name, seed), hampered=False) for name, seed in (("sub_panel", 1), ("sound", 0))]
    assert [(e.right, e.sound_though_faulty, e.walk.readings) for e in known] == [(True, False, 2), (True, False, 2)]
    lost = ended("service_neutral", 0, blind, hampered=False)
    assert (lost.right, lost.sound_though_faulty) == (False, True)
    assert ended("sound", 0, blind, hampered=False).right
    rows = visits_table([*known, lost]).splitlines()
    assert rows[-1] == "| all | 3 | 2 (67%) | 1 | 2 | 0 | 0 |"


def test_two_engines_on_the_same_cases_stand_side_by_side() -> None:
    case = case_of("service_leg", "open service leg")
    before, after = judge(case, answer("branch_neutral")), judge(case, answer("service_leg", "established"))
    assert beside([before], [after]).splitlines()[-1] == "| all | 1 | 0 / 1 | 1 / 0 | 0 / 1 | 1 of 1 |"
    with pytest.raises(ValueError, match="different"):
        beside([before], [judge(case_of("sound", "proven"), answer("none"))])
    assert calibration([before, after]).splitlines()[-1] == "| 0.95 to 0.99 | 2 | 0.970 | 0.500 |"


def test_the_interval_of_a_breaks_position_is_held_against_the_metres() -> None:
    case = case_of("break_position", "neutral, panel end")
    metres = case.truth.break_metres
    assert metres is not None
    held = {"low": metres - 1.0, "high": metres + 1.0, "told_by": "readings"}
    assert judge(case, answer("branch_neutral", break_position=held)).position_held is True
    assert judge(case, answer("branch_neutral", break_position={**held, "high": metres - 0.5})).position_held is False
    assert judge(case, answer("branch_neutral")).position_held is None


def test_a_guide_that_plugs_in_with_the_service_neutral_in_doubt_is_caught() -> None:
    wanted = {"kind": "voltage", "between": ["L1", "N"], "meter": "dmm", "load_state": "disconnected"}
    plugged = {**wanted, "load_state": "idle", "point": "appliance_terminals"}
    doubt = [{"place": "service_neutral", "fault": "open_service_neutral", "probability": 0.2}]

    def reckless(request: dict[str, Any]) -> dict[str, Any]:
        steps = [wanted, plugged][len(request["readings"]) :][:1]
        return answer("none", "probable", candidates=doubt, next_readings=[{"reading": s} for s in steps])

    assert walk(Technician(scene("sound", 0), 1), reckless).forbidden == ("plugging in with service_neutral in doubt",)


def test_true_figures_are_those_of_the_circuit() -> None:
    found = figures(case_of("service_neutral", "open service neutral").scene)
    assert found.neutral_to_earth is not None
    assert found.neutral_to_earth > 5.0
    assert found.neutral_to_ground == pytest.approx(0.0, abs=0.3)
    assert figures(case_of("generator", "bonded").scene).neutral_to_earth is None
    sound = case_of("sound", "proven").scene
    ordinary = figures(replace(sound, site=replace(sound.site, house=replace(sound.site.house, loads=()))))
    assert ordinary.neutral_to_earth is not None
    assert ordinary.neutral_to_earth < 2.0


@pytest.mark.parametrize(
    ("given", "plain"), [("1.5 kW", 1500.0), ("10 Mohm", 1e7), ("19.2 ohm", 19.2), ("240 V", 240.0), (12, 12.0)]
)
def test_quantities_are_read_in_plain_units(given: object, plain: float) -> None:
    assert quantity(given) == pytest.approx(plain)
