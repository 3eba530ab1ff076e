"""Readings of a request, in SI units, held against the meters, states and conductors that they name."""

from typing import Any, NamedTuple

from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract.structure import escape
from feedproof.door.circuit import SYSTEM_CONDUCTORS, check_exist, read_pair
from feedproof.door.ledger import UNKNOWN, Ledger
from feedproof.readings import (
    SELF_NAMED_STATES,
    CurrentReading,
    LoadState,
    Point,
    Presence,
    ProximityReading,
    Reading,
    ResistanceReading,
    SystemName,
    VoltageReading,
)

_METER_FOR: dict[type[wire.Reading], tuple[str, str]] = {
    wire.VoltageReading: ("a voltmeter", "a voltage"),
    wire.ProximityReading: ("a proximity_detector", "a proximity reading"),
    wire.CurrentReading: ("a clamp_ammeter", "a current"),
    wire.ResistanceReading: ("an ohmmeter", "a resistance"),
}
_KIND_OF_METER: dict[type[wire.Meter], str] = {
    wire.Voltmeter: "a voltmeter",
    wire.ProximityDetector: "a proximity_detector",
    wire.ClampAmmeter: "a clamp_ammeter",
    wire.Ohmmeter: "an ohmmeter",
}


def _conductors_of(given: wire.Reading) -> tuple[str, list[Any]]:
    """Give the field that names a reading's conductors, and the conductors."""
    match given:
        case wire.ProximityReading():
            return "at", [given.at]
        case wire.CurrentReading():
            return "through", [given.through]
    return "between", list(given.between)


class Visit(NamedTuple):
    """What readings refer to."""

    system: SystemName
    equipment_ground: Presence
    meters: dict[str, wire.Meter]
    states: dict[str, LoadState]


def _check_meter(given: wire.Reading, visit: Visit, at: str, ledger: Ledger) -> None:
    pointer = f"{at}/meter"
    wanted, words = _METER_FOR[type(given)]
    fitting = [name for name, meter in visit.meters.items() if _KIND_OF_METER[type(meter)] == wanted]
    meter = visit.meters.get(given.meter)
    if meter is None:
        if not ledger.is_broken(f"/meters/{escape(given.meter)}"):
            ledger.fault(pointer, "undefined_meter", "not in meters; define it there", fitting, given.meter)
    elif _KIND_OF_METER[type(meter)] != wanted:
        detail = f"{_KIND_OF_METER[type(meter)]} cannot take {words}; name {wanted}"
        ledger.fault(pointer, "wrong_kind_of_meter", detail, fitting, given.meter)


def _check_state(given: wire.Reading, visit: Visit, at: str, ledger: Ledger) -> None:
    label = given.load_state
    if label in visit.states:
        return
    match label:
        case "disconnected" | "idle" | "running" | "test_load":
            visit.states[label] = LoadState(name=label, kind=label)
            if label == "test_load":
                ledger.assume("/load_states/test_load/loads", "unknown", None, f"loads {UNKNOWN}")
        case _:
            if not ledger.is_broken(f"/load_states/{escape(label)}"):
                ledger.fault(
                    f"{at}/load_state",
                    "undefined_load_state",
                    "not in load_states and not a kind's own name; define it there",
                    [*visit.states, *(s for s in SELF_NAMED_STATES if s not in visit.states)],
                    label,
                )


def _check_point(given: wire.Reading, visit: Visit, point: Point, at: str, ledger: Ledger) -> None:
    state = visit.states.get(given.load_state)
    if point != "appliance_terminals" or state is None or state.kind != "disconnected":
        return
    if not ledger.is_broken(f"/load_states/{escape(given.load_state)}/kind"):
        ledger.fault(
            f"{at}/point",
            "not_connected",
            "the appliance is disconnected, so its terminals are no part of this circuit; read at the receptacle",
            ["receptacle", "service_panel"],
            point,
        )


def _check_ground(conductors: list[Any], visit: Visit, point: Point, pointer: str, ledger: Ledger) -> None:
    """Refuse readings to a contact that a three-wire outlet does not have."""
    if point != "receptacle" or visit.equipment_ground != "absent":
        return
    for index, conductor in enumerate(conductors):
        if conductor == "G":
            ledger.fault(
                f"{pointer}/{index}" if len(conductors) > 1 else pointer,
                "no_such_conductor",
                "equipment_ground is absent: the outlet has no ground contact;"
                " read to N, or state another equipment_ground",
                [c for c in SYSTEM_CONDUCTORS[visit.system] if c != "G"],
                conductor,
            )


def read_reading(given: wire.Reading, visit: Visit, at: str, ledger: Ledger) -> Reading:
    """Make a reading; a load state that it names by its kind is added to the visit."""
    _check_meter(given, visit, at, ledger)
    _check_state(given, visit, at, ledger)
    point: Point = given.point or "receptacle"
    if given.point is None:
        ledger.assume(f"{at}/point", point, None, "the usual point of reading; common practice, no source")
    _check_point(given, visit, point, at, ledger)
    if not ledger.is_broken(f"{at}/point"):
        field, conductors = _conductors_of(given)
        _check_ground(conductors, visit, point, f"{at}/{field}", ledger)
    match given:
        case wire.VoltageReading():
            return VoltageReading(
                between=read_pair(list(given.between), visit.system, f"{at}/between", ledger),
                value=ledger.quantity(given.value, q.READ_VOLTAGE, f"{at}/value"),
                meter=given.meter,
                load_state=given.load_state,
                point=point,
            )
        case wire.ProximityReading():
            check_exist([given.at], visit.system, f"{at}/at", ledger)
            return ProximityReading(
                at=given.at, detected=given.detected, meter=given.meter, load_state=given.load_state, point=point
            )
        case wire.CurrentReading():
            check_exist([given.through], visit.system, f"{at}/through", ledger)
            return CurrentReading(
                through=given.through,
                value=ledger.quantity(given.value, q.READ_CURRENT, f"{at}/value"),
                meter=given.meter,
                load_state=given.load_state,
                point=point,
            )
    return ResistanceReading(
        between=read_pair(list(given.between), visit.system, f"{at}/between", ledger),
        value=ledger.quantity(given.value, q.READ_RESISTANCE, f"{at}/value"),
        meter=given.meter,
        load_state=given.load_state,
        point=point,
        over_range=bool(given.over_range),
    )
