"""What could be read next on an arrangement."""

import msgspec
import pytest

from feedproof.inference.next_readings import COMMON_METERS, Askable, askable, extended
from feedproof.inference.scene import Scene, canonical_form, without_values
from feedproof.instruments.typical import TYPICAL_METERS
from feedproof.readings import Meter, ReadingSet, Supply, meter_kind
from support.outcomes import CLAMP, DMM, LOZ, OHMS, PEN, volts
from support.proof_cases import CASES, FOUR_WIRE, of_system, visit

PANELS = {"service_panel", "sub_panel", "panel"}


def scene(readings: ReadingSet) -> Scene:
    return without_values(canonical_form(readings).scene)


def asked(readings: ReadingSet) -> Askable:
    return askable(scene(readings))


def with_meters(*meters: Meter, supply: Supply = FOUR_WIRE) -> ReadingSet:
    readings = visit(volts("L1", "L2", 242.0), supply=supply)
    return msgspec.structs.replace(readings, meters={"dmm": DMM, **{m.name: m for m in meters}})


def states_of(found: Askable, kind: str) -> set[str]:
    return {found.scene.states[r.state].kind for r in found.readings if r.kind == kind}


def test_kinds_by_the_trades_names() -> None:
    assert [meter_kind(m) for m in (DMM, LOZ, PEN, CLAMP, OHMS)] == [
        "high_impedance_voltmeter",
        "low_impedance_voltmeter",
        "proximity_detector",
        "clamp_ammeter",
        "ohmmeter",
    ]


def test_meters_that_are_not_at_hand_are_marked() -> None:
    found = asked(with_meters())
    kinds = {meter_kind(found.scene.meters[q.reading.meter]): q.at_hand for q in found.questions}
    assert kinds == {"high_impedance_voltmeter": True, "low_impedance_voltmeter": False, "clamp_ammeter": False}
    full = asked(with_meters(LOZ, CLAMP))
    assert all(q.at_hand for q in full.questions)


def test_the_meters_that_stand_in_are_typical() -> None:
    by_name = {typical.name: typical for typical in TYPICAL_METERS}
    for meter in COMMON_METERS:
        for figure in by_name[meter_kind(meter)].figures:
            if figure.field != "input_capacitance":
                assert getattr(meter, figure.field) == figure.value


def test_every_appliance_can_be_unplugged_idle_running_or_stood_in_for_by_a_known_load() -> None:
    kinds = [s.kind for s in extended(scene(visit(volts("L1", "N", 120.0, state="heating")))).states]
    assert sorted(kinds) == ["disconnected", "idle", "running", "test_load"]
    load = extended(scene(ReadingSet())).states[-1].loads[0]
    assert 1400.0 < 120.0**2 / load.resistance < 1600.0


def test_both_ends_of_the_circuit_are_asked_for() -> None:
    """A good panel leads to the outlet, a bad outlet to the panel: the step that parts what is upstream."""
    at_outlet = asked(with_meters())
    assert {r.point for r in at_outlet.readings} & PANELS
    at_panel = visit(volts("L1", "L2", 242.0, point="service_panel"), supply=FOUR_WIRE)
    assert {r.point for r in asked(at_panel).readings} >= {"service_panel", "receptacle", "appliance_terminals"}


@pytest.mark.parametrize(
    ("fed_from", "panel"),
    [("service_panel", "service_panel"), ("sub_panel", "sub_panel"), ("unknown", "panel")],
)
def test_the_panel_is_called_as_it_is_known(fed_from: str, panel: str) -> None:
    supply = msgspec.structs.replace(FOUR_WIRE, fed_from=fed_from)
    assert {r.point for r in asked(with_meters(supply=supply)).readings} & PANELS == {panel}


def test_a_plug_covers_the_contacts() -> None:
    for name in CASES:
        found = asked(CASES[name])
        for r in found.readings:
            connected = found.scene.states[r.state].kind != "disconnected"
            if r.point == "receptacle":
                assert not connected
            if r.point == "appliance_terminals":
                assert connected


def test_every_pair_to_ground_and_neutral_where_there_is_one() -> None:
    found = asked(with_meters())
    pairs = {r.conductors for r in found.readings if r.kind == "voltage"}
    assert pairs == {("L1", "L2"), ("L1", "N"), ("L2", "N"), ("L1", "G"), ("L2", "G"), ("N", "G")}
    none = asked(with_meters(CLAMP, supply=msgspec.structs.replace(FOUR_WIRE, neutral=False)))
    assert not [r for r in none.readings if "N" in r.conductors and r.point not in PANELS]
    assert not [s for s in none.scene.states if s.kind == "test_load"]
    bare = asked(with_meters(OHMS, supply=Supply(equipment_ground="absent")))
    assert not [r for r in bare.readings if "G" in r.conductors and r.point not in PANELS]
    one = asked(with_meters(PEN, supply=of_system("single_phase_120")))
    assert not [r for r in one.readings if "L2" in r.conductors]


def test_an_ohmmeter_goes_on_an_unplugged_circuit_only_and_a_clamp_needs_a_current() -> None:
    assert states_of(asked(with_meters(OHMS)), "resistance") == {"disconnected"}
    found = asked(with_meters(CLAMP))
    assert states_of(found, "current") == {"running", "test_load"}
    assert {r.conductors[0] for r in found.readings if r.kind == "current"} == {"L1", "L2", "N", "G"}


def test_what_was_read_can_be_read_once_more_and_no_more() -> None:
    once = asked(visit(volts("L1", "L2", 242.0)))
    again = [q for q in once.questions if q.repeats >= 0]
    assert [q.reading.conductors for q in again] == [("L1", "L2")]
    twice = asked(visit(volts("L1", "L2", 242.0), volts("L1", "L2", 241.0)))
    assert not [q for q in twice.questions if q.repeats >= 0]


def test_going_elsewhere_costs_more_than_staying() -> None:
    found = asked(with_meters(LOZ))
    effort = {(q.reading.point, found.scene.states[q.reading.state].kind): q.effort for q in found.questions}
    assert effort["receptacle", "disconnected"] == 1.0
    assert effort["receptacle", "disconnected"] < effort["appliance_terminals", "running"]
    assert effort["appliance_terminals", "running"] < effort["appliance_terminals", "test_load"]


def test_a_hardwired_appliance_is_not_unplugged() -> None:
    supply = msgspec.structs.replace(FOUR_WIRE, receptacle="hardwired")
    readings = visit(volts("L1", "L2", 242.0, state="idle", point="appliance_terminals"), supply=supply)
    assert {s.kind for s in asked(readings).scene.states} == {"idle", "running"}
