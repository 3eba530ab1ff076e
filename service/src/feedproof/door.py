"""The door: a request comes in as bytes and leaves as a reading set in SI units, or with all its faults.

Units are converted here and nowhere else. Every default that is filled in is noted as an assumption, so that
an answer says on what it rests.
"""

import json
import math
from typing import Any, NamedTuple, NoReturn, TypeVar

import msgspec

from feedproof import units
from feedproof.circuit.conductors import conductor_size
from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract.assessment import Assumption
from feedproof.contract.problem import RequestFault
from feedproof.contract.structure import MAX_FAULTS, Examined, echo, escape, examine
from feedproof.contract.structure import convert as convert_mended
from feedproof.errors import MalformedRequest, RefusedRequest
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.instruments import typical
from feedproof.readings import (
    SELF_NAMED_STATES,
    ClampAmmeter,
    Conductor,
    CurrentReading,
    Load,
    LoadState,
    Meter,
    Ohmmeter,
    Point,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Run,
    Supply,
    SystemName,
    VoltageReading,
    Voltmeter,
)

T = TypeVar("T")

SYSTEM_CONDUCTORS: dict[SystemName, tuple[Conductor, ...]] = {
    "split_phase_120_240": ("L1", "L2", "N", "G"),
    "wye_120_208": ("L1", "L2", "N", "G"),
    "single_phase_120": ("L1", "N", "G"),
    "high_leg_delta_120_240": ("L1", "L2", "N", "G"),
}
NOMINAL_TO_NEUTRAL = 120.0
"""[V]; what a load's rated power between a leg and the neutral refers to."""
NOMINAL_BETWEEN_LEGS: dict[SystemName, float] = {
    "split_phase_120_240": 240.0,
    "wye_120_208": 208.0,
    "high_leg_delta_120_240": 240.0,
}
"""[V]; what a load's rated power between the legs refers to."""

_UNKNOWN = "not stated; a broad prior stands for it"
_METER_FOR: dict[type[wire.Reading], tuple[str, str]] = {
    wire.VoltageReading: ("voltmeter", "a voltage"),
    wire.ProximityReading: ("proximity_detector", "a proximity reading"),
    wire.CurrentReading: ("clamp_ammeter", "a current"),
    wire.ResistanceReading: ("ohmmeter", "a resistance"),
}
_KIND_OF_METER: dict[type[wire.Meter], str] = {
    wire.Voltmeter: "voltmeter",
    wire.ProximityDetector: "proximity_detector",
    wire.ClampAmmeter: "clamp_ammeter",
    wire.Ohmmeter: "ohmmeter",
}
_DECODER = msgspec.json.Decoder(wire.AssessmentRequest, strict=True)


class Admitted(NamedTuple):
    """A request that passed the door."""

    reading_set: ReadingSet
    assumptions: tuple[Assumption, ...]


class Ledger:
    """Faults and assumptions, as they are met."""

    def __init__(self, faults: list[RequestFault] | None = None, broken: frozenset[str] = frozenset()) -> None:
        self.faults: list[RequestFault] = faults if faults is not None else []
        self.assumptions: list[Assumption] = []
        self._broken = broken

    def is_broken(self, pointer: str) -> bool:
        """Whether the value there is a stand-in, so that nothing can be said of it."""
        return any(pointer == b or pointer.startswith(b + "/") or b.startswith(pointer + "/") for b in self._broken)

    def fault(self, pointer: str, code: str, detail: str, accepted: tuple[str, ...] | list[str], value: object) -> None:
        """Note a fault, unless what is there is a stand-in already."""
        if not (self._broken and self.is_broken(pointer)):
            self.faults.append(
                RequestFault(pointer=pointer, code=code, detail=detail, accepted=list(accepted), value=echo(value))
            )

    def assume(self, pointer: str, value: float | str | bool, unit: str | None, basis: str) -> None:  # noqa: FBT001
        """Note a value that was filled in."""
        self.assumptions.append(Assumption(pointer=pointer, value=value, unit=unit, basis=basis))

    def quantity(self, value: float | str, kind: q.Quantity, pointer: str) -> float:
        """Convert; a faulty one is noted and stands as the lower bound."""
        result = units.convert(value, kind)
        if isinstance(result, float):
            return result
        self.fault(pointer, result.code, result.detail, result.accepted, value)
        return max(kind.low, 0.0)

    def optional(self, value: float | str | None, kind: q.Quantity, pointer: str) -> float | None:
        """Convert where there is a value."""
        return None if value is None else self.quantity(value, kind, pointer)

    def figure(
        self, value: float | str | None, kind: q.Quantity | None, pointer: str, figure: typical.Figure, kind_name: str
    ) -> float:
        """Convert, or take the typical figure and note that."""
        if value is None:
            self.assume(pointer, figure.value, figure.unit, f"typical of {kind_name} ({figure.basis})")
            return figure.value
        if kind is None:
            return float(value)
        return self.quantity(value, kind, pointer)

    def plain_text(self, text: str | None, pointer: str) -> None:
        """Refuse what the schema's pattern refuses but Python's `$` lets pass: a line end at the very end."""
        if text is not None and text.endswith("\n"):
            self.fault(pointer, "not_accepted", "control character", ["no control characters"], text)


def _supply(given: wire.Supply | None, ledger: Ledger) -> Supply:
    given = given or wire.Supply()
    run = given.run or wire.Run()
    at = "/supply"
    system: SystemName = given.system or "split_phase_120_240"
    if given.system is None:
        ledger.assume(f"{at}/system", system, None, "the usual supply of a 240 V appliance; common practice, no source")
    frequency = ledger.optional(given.frequency, q.LINE_FREQUENCY, f"{at}/frequency")
    if frequency is None:
        frequency = 60.0
        ledger.assume(f"{at}/frequency", frequency, "Hz", "the frequency where these supply systems are in use")
    if given.equipment_ground is None:
        ledger.assume(f"{at}/equipment_ground", "unknown", None, _UNKNOWN)
    if given.frame_bonded_to_neutral is None:
        ledger.assume(f"{at}/frame_bonded_to_neutral", "unknown", None, "not stated; cautions allow for a bonded frame")
    for name, value in (("size", run.size), ("material", run.material), ("length", run.length)):
        if value is None:
            ledger.assume(f"{at}/run/{name}", "unknown", None, _UNKNOWN)
    return Supply(
        system=system,
        frequency=frequency,
        equipment_ground=given.equipment_ground or "unknown",
        frame_bonded_to_neutral=given.frame_bonded_to_neutral,
        run=Run(
            size=_size(run.size, f"{at}/run/size", ledger),
            material=run.material,
            length=ledger.optional(run.length, q.RUN_LENGTH, f"{at}/run/length"),
            temperature=ledger.optional(run.temperature, q.RUN_TEMPERATURE, f"{at}/run/temperature"),
        ),
    )


def _size(text: str | None, pointer: str, ledger: Ledger) -> str | None:
    """Bring a conductor size into the catalogue's spelling."""
    if text is None:
        return None
    try:
        return conductor_size(text).name
    except ValueError as error:
        ledger.fault(pointer, "not_accepted", str(error), [str(wire.SIZE_FORM["accepted"])], text)
        return None


def _voltmeter(name: str, given: wire.Voltmeter, at: str, ledger: Ledger) -> Voltmeter:
    impedance = ledger.optional(given.input_impedance, q.INPUT_IMPEDANCE, f"{at}/input_impedance")
    kind = typical.typical_voltmeter(impedance)
    words = "a " + kind.name.replace("_", "-", 1).replace("_", " ")

    def take(field: str, value: float | str | None, quantity: q.Quantity | None) -> float:
        return ledger.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)

    return Voltmeter(
        name=name,
        input_impedance=take("input_impedance", impedance, None),
        input_capacitance=take("input_capacitance", given.input_capacitance, q.INPUT_CAPACITANCE),
        accuracy_percent=take("accuracy_percent", given.accuracy_percent, None),
        accuracy_counts=take("accuracy_counts", given.accuracy_counts, None),
        resolution=take("resolution", given.resolution, q.VOLTAGE_RESOLUTION),
    )


def _meter(name: str, given: wire.Meter, ledger: Ledger) -> Meter:
    at = f"/meters/{escape(name)}"
    match given:
        case wire.Voltmeter():
            return _voltmeter(name, given, at, ledger)
        case wire.ProximityDetector():
            figure = typical.PROXIMITY_DETECTOR.figure("threshold")
            threshold = ledger.figure(given.threshold, q.THRESHOLD, f"{at}/threshold", figure, "a proximity detector")
            return ProximityDetector(name=name, threshold=threshold)
    kind, step, words = (
        (typical.CLAMP_AMMETER, q.CURRENT_RESOLUTION, "a clamp ammeter")
        if isinstance(given, wire.ClampAmmeter)
        else (typical.OHMMETER, q.RESISTANCE_RESOLUTION, "an ohmmeter")
    )
    percent, counts, resolution = (
        ledger.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)
        for field, value, quantity in (
            ("accuracy_percent", given.accuracy_percent, None),
            ("accuracy_counts", given.accuracy_counts, None),
            ("resolution", given.resolution, step),
        )
    )
    made = ClampAmmeter if isinstance(given, wire.ClampAmmeter) else Ohmmeter
    return made(name=name, accuracy_percent=percent, accuracy_counts=counts, resolution=resolution)


def _exist(conductors: list[Any], system: SystemName, pointer: str, ledger: Ledger) -> None:
    there = SYSTEM_CONDUCTORS[system]
    for index, conductor in enumerate(conductors):
        if conductor not in there:
            below = f"{pointer}/{index}" if len(conductors) > 1 else pointer
            ledger.fault(
                below, "no_such_conductor", f"a {system} supply has no conductor {conductor}", there, conductor
            )


def _pair(between: list[Any], system: SystemName, pointer: str, ledger: Ledger) -> tuple[Any, Any]:
    if between[0] == between[1]:
        ledger.fault(
            pointer,
            "same_conductor",
            f"both ends on {between[0]}; give two different conductors",
            [c for c in SYSTEM_CONDUCTORS[system] if c != between[0]],
            between,
        )
    _exist(between, system, pointer, ledger)
    return between[0], between[1]


def _load(given: wire.Load, system: SystemName, at: str, ledger: Ledger) -> Load:
    between = _pair(list(given.between), system, f"{at}/between", ledger)
    power = ledger.optional(given.power, q.LOAD_POWER, f"{at}/power")
    resistance = ledger.optional(given.resistance, q.LOAD_RESISTANCE, f"{at}/resistance")
    reactance = ledger.optional(given.reactance, q.LOAD_REACTANCE, f"{at}/reactance")
    if (power is None) == (resistance is None):
        state = "neither" if power is None else "both"
        ledger.fault(
            at, "one_of", f"{state} of power and resistance given; give one of them", ["power", "resistance"], None
        )
    if power is not None and reactance is not None:
        ledger.fault(f"{at}/reactance", "one_of", "a reactance goes with a resistance", ["resistance"], given.reactance)
    figure = typical.LOAD_TOLERANCE_FROM_RESISTANCE if power is None else typical.LOAD_TOLERANCE_FROM_POWER
    tolerance = given.tolerance_percent
    if tolerance is None:
        tolerance = figure.value
        ledger.assume(f"{at}/tolerance_percent", figure.value, figure.unit, figure.basis)
    if power is not None:
        nominal = NOMINAL_TO_NEUTRAL if "N" in between else NOMINAL_BETWEEN_LEGS.get(system, NOMINAL_TO_NEUTRAL)
        resistance = nominal**2 / max(power, q.LOAD_POWER.low)
    return Load(
        between=between,
        resistance=1.0 if resistance is None else resistance,
        reactance=reactance or 0.0,
        tolerance_percent=tolerance,
    )


def _load_state(name: str, given: wire.LoadState, system: SystemName, ledger: Ledger) -> LoadState:
    at = f"/load_states/{escape(name)}"
    if name in SELF_NAMED_STATES and given.kind != name:
        ledger.fault(f"{at}/kind", "misleading_label", f"the label '{name}' always means that kind", [name], given.kind)
    if given.kind == "disconnected" and given.loads and not ledger.is_broken(f"{at}/kind"):
        ledger.fault(
            f"{at}/loads", "no_load_connected", "nothing is connected in a disconnected state", ["no loads"], None
        )
    if given.kind == "test_load" and not given.loads:
        ledger.assume(f"{at}/loads", "unknown", None, f"loads {_UNKNOWN}")
    loads = (_load(load, system, f"{at}/loads/{index}", ledger) for index, load in enumerate(given.loads or ()))
    return LoadState(name=name, kind=given.kind, loads=tuple(loads))


class _Visit(NamedTuple):
    """What readings refer to."""

    system: SystemName
    meters: dict[str, wire.Meter]
    states: dict[str, LoadState]


def _check_meter(given: wire.Reading, visit: _Visit, at: str, ledger: Ledger) -> None:
    pointer = f"{at}/meter"
    wanted, words = _METER_FOR[type(given)]
    fitting = [name for name, meter in visit.meters.items() if _KIND_OF_METER[type(meter)] == wanted]
    meter = visit.meters.get(given.meter)
    if meter is None:
        if not ledger.is_broken(f"/meters/{escape(given.meter)}"):
            ledger.fault(pointer, "undefined_meter", "not in meters; define it there", fitting, given.meter)
    elif _KIND_OF_METER[type(meter)] != wanted:
        detail = f"a {_KIND_OF_METER[type(meter)]} cannot take {words}; name a {wanted}"
        ledger.fault(pointer, "wrong_kind_of_meter", detail, fitting, given.meter)


def _check_state(given: wire.Reading, visit: _Visit, at: str, ledger: Ledger) -> None:
    label = given.load_state
    if label in visit.states:
        return
    match label:
        case "disconnected" | "idle" | "running" | "test_load":
            visit.states[label] = LoadState(name=label, kind=label)
            if label == "test_load":
                ledger.assume("/load_states/test_load/loads", "unknown", None, f"loads {_UNKNOWN}")
        case _:
            if not ledger.is_broken(f"/load_states/{escape(label)}"):
                ledger.fault(
                    f"{at}/load_state",
                    "undefined_load_state",
                    "not in load_states and not a kind's own name; define it there",
                    [*visit.states, *(s for s in SELF_NAMED_STATES if s not in visit.states)],
                    label,
                )


def _reading(given: wire.Reading, visit: _Visit, at: str, ledger: Ledger) -> Reading:
    _check_meter(given, visit, at, ledger)
    _check_state(given, visit, at, ledger)
    point: Point = given.point or "receptacle"
    if given.point is None:
        ledger.assume(f"{at}/point", point, None, "the usual point of reading; common practice, no source")
    match given:
        case wire.VoltageReading():
            return VoltageReading(
                between=_pair(list(given.between), visit.system, f"{at}/between", ledger),
                value=ledger.quantity(given.value, q.READ_VOLTAGE, f"{at}/value"),
                meter=given.meter,
                load_state=given.load_state,
                point=point,
            )
        case wire.ProximityReading():
            _exist([given.at], visit.system, f"{at}/at", ledger)
            return ProximityReading(
                at=given.at, detected=given.detected, meter=given.meter, load_state=given.load_state, point=point
            )
        case wire.CurrentReading():
            _exist([given.through], visit.system, f"{at}/through", ledger)
            return CurrentReading(
                through=given.through,
                value=ledger.quantity(given.value, q.READ_CURRENT, f"{at}/value"),
                meter=given.meter,
                load_state=given.load_state,
                point=point,
            )
    return ResistanceReading(
        between=_pair(list(given.between), visit.system, f"{at}/between", ledger),
        value=ledger.quantity(given.value, q.READ_RESISTANCE, f"{at}/value"),
        meter=given.meter,
        load_state=given.load_state,
        point=point,
        over_range=bool(given.over_range),
    )


def _base_rates(given: dict[str, float] | None, ledger: Ledger) -> dict[str, float] | None:
    if given is None:
        return None
    for name in given.keys() - FAULT_NAMES:
        ledger.fault(f"/base_rates/{escape(name)}", "unknown_fault", "no such fault", sorted(FAULT_NAMES), name)
    for name, rate in given.items():
        if 0.0 < rate < q.SMALLEST:
            detail = f"below {q.SMALLEST:g}; give 0"
            ledger.fault(
                f"/base_rates/{escape(name)}", "out_of_bounds", detail, [f"0, or {q.SMALLEST:g} to 1e+09"], rate
            )
    if not sum(given.values()) > 0.0:
        ledger.fault(
            "/base_rates", "out_of_bounds", "at least one base rate must be above 0", ["a number above 0"], None
        )
    return given


def admit(request: wire.AssessmentRequest, examined: Examined | None = None) -> Admitted:
    """Make the reading set of a typed request.

    Parameters
    ----------
    request : AssessmentRequest
        Structurally sound, or mended.
    examined : Examined, optional
        What was found on mending; its faults are told with the door's own.

    Returns
    -------
    Admitted
        The reading set in SI units, and the assumptions made for it.

    Raises
    ------
    RefusedRequest
        With every fault of the request.
    """
    ledger = Ledger() if examined is None else Ledger(examined.faults, examined.broken)
    ledger.plain_text(request.reference, "/reference")
    supply = _supply(request.supply, ledger)
    meters = request.meters or {}
    for group, names in (("meters", meters), ("load_states", request.load_states or {})):
        for name in names:
            ledger.plain_text(name, f"/{group}/{escape(name)}")
    made_meters = {name: _meter(name, meter, ledger) for name, meter in meters.items()}
    states = {
        name: _load_state(name, state, supply.system, ledger) for name, state in (request.load_states or {}).items()
    }
    visit = _Visit(supply.system, meters, states)
    readings = tuple(
        _reading(reading, visit, f"/readings/{index}", ledger) for index, reading in enumerate(request.readings)
    )
    base_rates = _base_rates(request.base_rates, ledger)
    if ledger.faults:
        raise RefusedRequest(sorted(ledger.faults, key=_document_order)[:MAX_FAULTS])
    return Admitted(
        ReadingSet(
            reference=request.reference,
            supply=supply,
            meters=made_meters,
            load_states=states,
            readings=readings,
            base_rates=base_rates,
        ),
        tuple(ledger.assumptions),
    )


_SECTIONS = {name: rank for rank, name in enumerate(wire.AssessmentRequest.__struct_fields__)}


def _document_order(fault: RequestFault) -> tuple[int, str, int, str]:
    _, section, item, *_rest = [*fault.pointer.split("/"), "", ""]
    return (_SECTIONS.get(section, len(_SECTIONS)), section, int(item) if item.isdigit() else 0, fault.pointer)


def _refuse_constant(_name: str) -> NoReturn:
    raise ValueError


def _integer(digits: str) -> float:
    # No quantity has so many digits, and converting them takes time that grows with their square.
    return int(digits) if len(digits) <= 64 else math.inf  # noqa: PLR2004


def parse_document(raw: bytes) -> object:
    """Decode JSON into plain values, numbers out of range included.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8, or nested too deep.
    """
    try:
        return json.loads(raw.decode(), parse_constant=_refuse_constant, parse_int=_integer)
    except RecursionError:
        raise MalformedRequest("the document is nested too deep") from None
    except UnicodeDecodeError:
        raise MalformedRequest("the body is not UTF-8") from None
    except ValueError as error:
        where = f" at byte {error.pos}" if isinstance(error, json.JSONDecodeError) else ""
        raise MalformedRequest(f"the body is not a JSON document{where}") from None


def decode(raw: bytes, decoder: "msgspec.json.Decoder[T]") -> tuple[T, Examined | None]:
    """Decode a request; where the typed decoder refuses, list every structural fault and mend a copy.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8.
    """
    try:
        return decoder.decode(raw), None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        document = parse_document(raw)
    examined = examine(document, decoder.type)
    if not examined.faults:
        raise MalformedRequest("the body is not a JSON document of the published form")
    return convert_mended(examined, decoder.type), examined


def read_request(raw: bytes) -> Admitted:
    """Read a reading set from the bytes of a request.

    Parameters
    ----------
    raw : bytes
        A JSON document in UTF-8.

    Returns
    -------
    Admitted
        The reading set in SI units, and the assumptions made for it.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8.
    RefusedRequest
        If it is no valid request; with every fault.
    """
    request, examined = decode(raw, _DECODER)
    return admit(request, examined)
