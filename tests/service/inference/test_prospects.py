"""What to read next: what is allowed, what it is worth, and what is put first."""

import msgspec
import pytest

from feedproof.inference import Prospect, infer
from feedproof.inference.prospects import COMMON_METERS, _order, allowed_readings, extended, meter_kind
from feedproof.inference.scene import Scene, canonical_form, without_values
from feedproof.instruments.typical import TYPICAL_METERS
from feedproof.readings import Meter, ReadingSet, Supply
from support.outcomes import CLAMP, DMM, LOZ, METERS, OHMS, PEN, volts
from support.proof_cases import CASES, FOUR_WIRE, of_system, visit

HAZARD = {"resistance": 0, "proximity": 1, "voltage": 3, "current": 4}


def scene(readings: ReadingSet) -> Scene:
    return without_values(canonical_form(readings).scene)


def with_meters(*meters: Meter, supply: Supply = FOUR_WIRE) -> ReadingSet:
    taken = volts("L1", "L2", 242.0)
    readings = visit(taken, supply=supply)
    return msgspec.structs.replace(readings, meters={"dmm": DMM, **{m.name: m for m in meters}})


def test_kinds_by_the_trades_names() -> None:
    assert [meter_kind(m) for m in (DMM, LOZ, PEN, CLAMP, OHMS)] == [
        "high_impedance_voltmeter",
        "low_impedance_voltmeter",
        "proximity_detector",
        "clamp_ammeter",
        "ohmmeter",
    ]


def test_without_meters_the_common_ones_stand_in() -> None:
    assert extended(scene(ReadingSet())).meters == COMMON_METERS
    assert extended(scene(with_meters())).meters != COMMON_METERS


def test_any_appliance_can_be_unplugged_and_idle() -> None:
    kinds = [s.kind for s in extended(scene(visit(volts("L1", "N", 120.0, state="heating")))).states]
    assert sorted(kinds) == ["disconnected", "idle", "running"]
    assert [s.kind for s in extended(scene(ReadingSet())).states] == ["disconnected", "idle"]


@pytest.mark.parametrize("name", CASES)
def test_what_was_taken_is_not_asked_for_again(name: str) -> None:
    full = extended(scene(CASES[name]))
    taken = {(r.kind, r.conductors, r.point, r.state, r.meter) for r in full.readings}
    asked = [(r.kind, r.conductors, r.point, r.state, r.meter) for r in allowed_readings(full)]
    assert not taken & set(asked)
    assert len(asked) == len(set(asked))


def test_an_ohmmeter_goes_on_an_unplugged_circuit_only() -> None:
    full = extended(scene(with_meters(OHMS)))
    states = {full.states[r.state].kind for r in allowed_readings(full) if r.kind == "resistance"}
    assert states == {"disconnected"}


def test_a_clamp_needs_a_current() -> None:
    idle = extended(scene(with_meters(CLAMP)))
    assert not [r for r in allowed_readings(idle) if r.kind == "current"]
    readings = visit(volts("L1", "N", 120.0, state="heating"), supply=FOUR_WIRE)
    loaded = extended(scene(msgspec.structs.replace(readings, meters={"dmm": DMM, "clamp": CLAMP})))
    asked = [r for r in allowed_readings(loaded) if r.kind == "current"]
    assert {loaded.states[r.state].kind for r in asked} == {"running"}


def test_a_supply_of_one_leg_has_no_second_and_without_ground_none_is_read() -> None:
    one = extended(scene(with_meters(PEN, supply=of_system("single_phase_120"))))
    assert not [r for r in allowed_readings(one) if "L2" in r.conductors]
    bare = extended(scene(with_meters(OHMS, supply=Supply(equipment_ground="absent"))))
    assert not [r for r in allowed_readings(bare) if "G" in r.conductors]


def test_at_the_terminals_nothing_is_read_unplugged() -> None:
    readings = visit(volts("L1", "L2", 240.0, state="idle", point="appliance_terminals"), supply=FOUR_WIRE)
    full = extended(scene(readings))
    assert all(
        full.states[r.state].kind != "disconnected" for r in allowed_readings(full) if r.point == "appliance_terminals"
    )


@pytest.mark.parametrize("name", ["unloaded, high impedance, all plausible", "lost leg seen through an element"])
def test_prospects_are_worth_something_and_can_be_taken(name: str) -> None:
    found = infer(CASES[name]).prospects
    assert 0 < len(found) <= 8
    for p in found:
        assert p.information >= 1e-3
        assert p.meter in CASES[name].meters
        assert p.separates is None or p.separates[0] != p.separates[1]
    assert len({(p.kind, p.conductors, p.point, p.meter, p.load_state) for p in found}) == len(found)


def hazard(p: Prospect) -> int:
    return HAZARD[p.kind]


def test_the_less_hazardous_comes_first_among_near_equals() -> None:
    """Information within a tenth: proximity before voltage before a clamp."""
    readings = visit(volts("L1", "L2", 242.0, state="heating"), volts("L1", "N", 121.0, state="heating"))
    full = extended(scene(msgspec.structs.replace(readings, meters={m.name: m for m in (DMM, PEN, CLAMP)})))
    questions = allowed_readings(full)
    order = _order(full, questions, [0.5] * len(questions))
    ranks = [HAZARD[questions[q].kind] for q in order]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == 3


def test_more_information_comes_first_otherwise() -> None:
    readings = visit(volts("L1", "L2", 242.0), volts("L1", "N", 121.0))
    full = extended(scene(msgspec.structs.replace(readings, meters={m.name: m for m in (DMM, PEN)})))
    questions = allowed_readings(full)
    gain = [0.01 * 1.5**q for q in range(len(questions))]
    assert _order(full, questions, gain) == list(reversed(range(len(questions))))
    assert _order(full, questions, [0.0] * len(questions)) == []


def test_the_legs_come_first_until_they_are_proven() -> None:
    plan = extended(scene(ReadingSet(supply=FOUR_WIRE)))
    questions = allowed_readings(plan)
    gain = [0.5 if q.conductors == ("L1", "L2") else 2.0 for q in questions]
    first = [questions[q].conductors for q in _order(plan, questions, gain)]
    legs = sum(c == ("L1", "L2") for c in first)
    assert first[:legs] == [("L1", "L2")] * legs
    proven = extended(scene(visit(volts("L1", "L2", 242.0))))
    questions = allowed_readings(proven)
    gain = [0.5 if q.conductors == ("L1", "L2") else 2.0 for q in questions]
    assert questions[_order(proven, questions, gain)[0]].conductors != ("L1", "L2")


def test_the_callers_labels_are_used() -> None:
    readings = visit(volts("L1", "L2", 242.0), volts("L1", "N", 121.0), volts("L2", "N", 121.0))
    renamed = msgspec.structs.replace(readings, meters={"dmm": DMM, "loz": METERS["loz"]})
    names = {p.meter for p in infer(renamed).prospects}
    assert "loz" in names
    assert names <= {"dmm", "loz"}
    assert all(p.meter is None for p in infer(ReadingSet()).prospects)


def test_the_meters_that_stand_in_are_typical() -> None:
    by_name = {typical.name: typical for typical in TYPICAL_METERS}
    assert [meter_kind(meter) for meter in COMMON_METERS] == [
        "high_impedance_voltmeter",
        "low_impedance_voltmeter",
        "proximity_detector",
    ]
    for meter in COMMON_METERS:
        for figure in by_name[meter_kind(meter)].figures:
            if figure.field != "input_capacitance":
                assert getattr(meter, figure.field) == figure.value
