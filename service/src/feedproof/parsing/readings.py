"""Meters and readings of a request, in SI units, held against what they name: states, conductors, one another."""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from feedproof.contract import meters as instruments
from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.instruments import typical
from feedproof.parsing.circuit import check_exist, no_contact, read_pair
from feedproof.parsing.diagnostics import UNKNOWN, Diagnostics, escape
from feedproof.readings import (
    PANELS,
    SELF_NAMED_STATES,
    ClampAmmeter,
    CurrentReading,
    LoadState,
    Meter,
    Ohmmeter,
    Point,
    ProximityDetector,
    ProximityReading,
    Reading,
    ResistanceReading,
    Supply,
    VoltageReading,
    Voltmeter,
)


def _voltmeter(name: str, given: instruments.Voltmeter, at: str, diagnostics: Diagnostics) -> Voltmeter:
    impedance = diagnostics.optional(given.input_impedance, q.INPUT_IMPEDANCE, f"{at}/input_impedance")
    kind = typical.typical_voltmeter(impedance)
    words = "a " + kind.name.replace("_", "-", 1).replace("_", " ")

    def take(field: str, value: float | str | None, quantity: q.Quantity | None) -> float:
        return diagnostics.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)

    return Voltmeter(
        name=name,
        input_impedance=take("input_impedance", impedance, None),
        input_capacitance=take("input_capacitance", given.input_capacitance, q.INPUT_CAPACITANCE),
        accuracy_percent=take("accuracy_percent", given.accuracy_percent, None),
        accuracy_counts=take("accuracy_counts", given.accuracy_counts, None),
        resolution=take("resolution", given.resolution, q.VOLTAGE_RESOLUTION),
        proved=_proved(given.proved, at, diagnostics),
    )


def _proved(given: instruments.Proved | None, at: str, diagnostics: Diagnostics) -> bool:
    """Whether it was shown to work before and after; a proof on one side alone lets it have died between."""
    given = given or instruments.Proved()
    for field, value in (("before", given.before), ("after", given.after)):
        if value is None:
            diagnostics.assume(f"{at}/proved/{field}", False, None, "not stated; taken as not shown to work")  # noqa: FBT003
    return bool(given.before and given.after)


def read_meter(name: str, given: instruments.Meter, diagnostics: Diagnostics) -> Meter:
    """Make a meter; every typical figure that is taken is noted."""
    at = f"/meters/{escape(name)}"
    match given:
        case instruments.Voltmeter():
            return _voltmeter(name, given, at, diagnostics)
        case instruments.ProximityDetector():
            figure = typical.PROXIMITY_DETECTOR.figure("threshold")
            threshold = diagnostics.figure(
                given.threshold, q.THRESHOLD, f"{at}/threshold", figure, "a proximity detector"
            )
            return ProximityDetector(name=name, threshold=threshold, proved=_proved(given.proved, at, diagnostics))
    kind, step, words = (
        (typical.CLAMP_AMMETER, q.CURRENT_RESOLUTION, "a clamp ammeter")
        if isinstance(given, instruments.ClampAmmeter)
        else (typical.OHMMETER, q.RESISTANCE_RESOLUTION, "an ohmmeter")
    )
    percent, counts, resolution = (
        diagnostics.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)
        for field, value, quantity in (
            ("accuracy_percent", given.accuracy_percent, None),
            ("accuracy_counts", given.accuracy_counts, None),
            ("resolution", given.resolution, step),
        )
    )
    made = ClampAmmeter if isinstance(given, instruments.ClampAmmeter) else Ohmmeter
    return made(name=name, accuracy_percent=percent, accuracy_counts=counts, resolution=resolution)


_METER_FOR: dict[type[wire.Reading], tuple[str, str]] = {
    wire.VoltageReading: ("a voltmeter", "a voltage"),
    wire.ProximityReading: ("a proximity_detector", "a proximity reading"),
    wire.CurrentReading: ("a clamp_ammeter", "a current"),
    wire.ResistanceReading: ("an ohmmeter", "a resistance"),
}
_KIND_OF_METER: dict[type[instruments.Meter], str] = {
    instruments.Voltmeter: "a voltmeter",
    instruments.ProximityDetector: "a proximity_detector",
    instruments.ClampAmmeter: "a clamp_ammeter",
    instruments.Ohmmeter: "an ohmmeter",
}


def conductors_of(reading: wire.Reading | Reading) -> tuple[str, list[Any]]:
    """Give the field that names a reading's conductors, and the conductors."""
    match reading:
        case wire.ProximityReading() | ProximityReading():
            return "at", [reading.at]
        case wire.CurrentReading() | CurrentReading():
            return "through", [reading.through]
    return "between", list(reading.between)


class Visit(NamedTuple):
    """What readings refer to."""

    supply: Supply
    meters: dict[str, instruments.Meter]
    states: dict[str, LoadState]


def _check_meter(given: wire.Reading, visit: Visit, at: str, diagnostics: Diagnostics) -> None:
    pointer = f"{at}/meter"
    wanted, words = _METER_FOR[type(given)]
    fitting = [name for name, meter in visit.meters.items() if _KIND_OF_METER[type(meter)] == wanted]
    meter = visit.meters.get(given.meter)
    if meter is None:
        if not diagnostics.is_broken(f"/meters/{escape(given.meter)}"):
            diagnostics.fault(pointer, "undefined_meter", "not in meters; define it there", fitting, given.meter)
    elif _KIND_OF_METER[type(meter)] != wanted:
        detail = f"{_KIND_OF_METER[type(meter)]} cannot take {words}; name {wanted}"
        diagnostics.fault(pointer, "wrong_kind_of_meter", detail, fitting, given.meter)


def _check_state(given: wire.Reading, visit: Visit, at: str, diagnostics: Diagnostics) -> None:
    label = given.load_state
    if label in visit.states:
        return
    match label:
        case "disconnected" | "idle" | "running" | "test_load":
            visit.states[label] = LoadState(name=label, kind=label)
            if label == "test_load":
                diagnostics.assume("/load_states/test_load/loads", "unknown", None, f"loads {UNKNOWN}")
        case _:
            if not diagnostics.is_broken(f"/load_states/{escape(label)}"):
                diagnostics.fault(
                    f"{at}/load_state",
                    "undefined_load_state",
                    "not in load_states and not a kind's own name; define it there",
                    [*visit.states, *(s for s in SELF_NAMED_STATES if s not in visit.states)],
                    label,
                )


def _check_point(given: wire.Reading, visit: Visit, point: Point, at: str, diagnostics: Diagnostics) -> None:
    state = visit.states.get(given.load_state)
    if point == "sub_panel" and visit.supply.fed_from == "service_panel":
        detail = "fed_from is service_panel: there is no sub-panel; read at the panel, or state another fed_from"
        diagnostics.fault(f"{at}/point", "contradiction", detail, ["service_panel"], point)
    if point != "appliance_terminals" or state is None or state.kind != "disconnected":
        return
    if not diagnostics.is_broken(f"/load_states/{escape(given.load_state)}/kind"):
        diagnostics.fault(
            f"{at}/point",
            "not_connected",
            "the appliance is disconnected, so its terminals are no part of this circuit; read at the receptacle",
            ["receptacle", "service_panel"],
            point,
        )


def _check_ground(conductors: list[Any], visit: Visit, point: Point, pointer: str, diagnostics: Diagnostics) -> None:
    """Refuse readings to a contact that a three-wire outlet does not have, and to metalwork where there is one."""
    grounded = visit.supply.equipment_ground != "absent"
    for index, conductor in enumerate(conductors):
        below = f"{pointer}/{index}" if len(conductors) > 1 else pointer
        if conductor == "G" and not grounded and point == "receptacle":
            detail = f"{no_contact(visit.supply, 'ground')}; read to {'N' if visit.supply.neutral else 'metalwork'}"
            there = [c for c in visit.supply.conductors if c != "G"]
            diagnostics.fault(below, "no_such_conductor", detail, there, conductor)
        if conductor == "metalwork" and (grounded or point in PANELS):
            where = "a panel's metal is joined to G" if point in PANELS else "equipment_ground is not absent"
            detail = f"{where}; read to G, or state equipment_ground absent and read at the outlet"
            diagnostics.fault(below, "contradiction", detail, visit.supply.conductors, conductor)


def read_reading(given: wire.Reading, visit: Visit, at: str, diagnostics: Diagnostics) -> Reading:
    """Make a reading; a load state that it names by its kind is added to the visit."""
    _check_meter(given, visit, at, diagnostics)
    _check_state(given, visit, at, diagnostics)
    point: Point = given.point or "receptacle"
    if given.point is None:
        diagnostics.assume(f"{at}/point", point, None, "the usual point of reading; common practice, no source")
    _check_point(given, visit, point, at, diagnostics)
    if not diagnostics.is_broken(f"{at}/point"):
        field, conductors = conductors_of(given)
        _check_ground(conductors, visit, point, f"{at}/{field}", diagnostics)
    supply, at_outlet = visit.supply, point not in PANELS
    taken: dict[str, Any] = {name: getattr(given, name) for name in ("meter", "load_state", "id", "repeats")}
    taken["point"] = point
    match given:
        case wire.VoltageReading():
            return VoltageReading(
                between=read_pair(list(given.between), supply, f"{at}/between", diagnostics, at_outlet=at_outlet),
                value=diagnostics.quantity(given.value, q.READ_VOLTAGE, f"{at}/value"),
                **taken,
            )
        case wire.ProximityReading():
            check_exist([given.at], supply, f"{at}/at", diagnostics, at_outlet=at_outlet)
            return ProximityReading(at=given.at, detected=given.detected, **taken)
        case wire.CurrentReading():
            check_exist([given.through], supply, f"{at}/through", diagnostics, at_outlet=at_outlet)
            return CurrentReading(
                through=given.through, value=diagnostics.quantity(given.value, q.READ_CURRENT, f"{at}/value"), **taken
            )
    value, over_range, range_stated = _resistance(given, f"{at}/value", diagnostics)
    return ResistanceReading(
        between=read_pair(list(given.between), supply, f"{at}/between", diagnostics, at_outlet=at_outlet),
        value=value,
        over_range=over_range,
        range_stated=range_stated,
        **taken,
    )


def _resistance(given: wire.ResistanceReading, pointer: str, diagnostics: Diagnostics) -> tuple[float, bool, bool]:
    """Give what the ohmmeter showed, whether it was over range, and whether its range was stated.

    An over-range reading has the end of its range for a value, or the least that this may have been.
    """
    value = diagnostics.quantity(given.value, q.READ_RESISTANCE, pointer)
    if math.isfinite(value):
        return value, bool(given.over_range), True
    if given.over_range is False:
        diagnostics.fault(
            pointer, "contradiction", "OL is over range, and over_range is false", ["a number"], given.value
        )
    figure = typical.OHMMETER_SHORTEST_RANGE
    diagnostics.assume(pointer, figure.value, figure.unit, figure.basis)
    return figure.value, True, False


def _measured(reading: Reading) -> dict[str, object]:
    """What was measured, by the field that says it: readings of the same have all of it in common."""
    field, conductors = conductors_of(reading)
    return {"kind": type(reading), field: {*conductors}, "point": reading.point, "load_state": reading.load_state}


def check_repeats(readings: Sequence[Reading], diagnostics: Diagnostics) -> None:
    """Hold ids and repeats against each other: each id once, a repeat of what reads the same, and never in a circle."""
    named: dict[str, int] = {}
    for index, reading in enumerate(readings):
        if reading.id is not None and named.setdefault(reading.id, index) != index:
            detail = f"another reading has the id '{reading.id}'; give each its own"
            diagnostics.fault(f"/readings/{index}/id", "given_twice", detail, ["an id of its own"], reading.id)
    before = [None if reading.repeats is None else named.get(reading.repeats) for reading in readings]
    for index, reading in enumerate(readings):
        if reading.repeats is not None:
            _check(readings, index, before, sorted(set(named) - {reading.id}), diagnostics)


def _check(
    readings: Sequence[Reading], index: int, before: Sequence[int | None], ids: list[str], diagnostics: Diagnostics
) -> None:
    pointer, first, repeats = f"/readings/{index}/repeats", before[index], readings[index].repeats
    if first is None:
        # A reading that could not be parsed may have had that id.
        if not diagnostics.is_broken("/readings"):
            diagnostics.fault(pointer, "undefined_reading", "no reading has this id", ids, repeats)
        return
    if _goes_round(index, before):
        detail = "the reading repeats itself" if first == index else "they repeat each other, so none was the first"
        diagnostics.fault(pointer, "contradiction", detail, ["the id of an earlier reading"], repeats)
        return
    ours, theirs = _measured(readings[index]), _measured(readings[first])
    other = [field for field in ours if ours[field] != theirs.get(field)]
    if other and not any(diagnostics.is_broken(f"/readings/{i}") for i in (index, first)):
        detail = f"'{repeats}' has another {' and '.join(other)}; only what reads the same again repeats it"
        diagnostics.fault(pointer, "contradiction", detail, ["the id of a reading of the same"], repeats)


def _goes_round(index: int, before: Sequence[int | None]) -> bool:
    """Whether going from repeat to repeat leads back to where it began."""
    at = before[index]
    for _ in before:
        if at is None or at == index:
            break
        at = before[at]
    return at == index
