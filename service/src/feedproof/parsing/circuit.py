"""Conductors, loads and load states of a request, in SI units."""

from typing import Any

from feedproof.circuit.receptacles import HARDWIRED
from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract.structure import escape
from feedproof.instruments import typical
from feedproof.parsing.diagnostics import UNKNOWN, Diagnostics
from feedproof.readings import (
    NOMINAL_BETWEEN_LEGS,
    NOMINAL_TO_NEUTRAL,
    SELF_NAMED_STATES,
    Load,
    LoadState,
    Supply,
)


def check_exist(
    conductors: list[Any], supply: Supply, pointer: str, diagnostics: Diagnostics, *, at_outlet: bool
) -> None:
    """Refuse conductors that the supply system lacks, or the outlet; a metalwork is no conductor."""
    there = supply.conductors
    why = f"a {supply.system} supply has no conductor"
    if at_outlet and not supply.neutral:
        there = tuple(c for c in there if c != "N")
    for index, conductor in enumerate(conductors):
        if conductor in there or conductor == "metalwork":
            continue
        below = f"{pointer}/{index}" if len(conductors) > 1 else pointer
        if conductor == "N":
            detail = f"{no_contact(supply, 'neutral')}; read to G, or to N at a panel"
            diagnostics.fault(below, "no_such_conductor", detail, there, conductor)
        else:
            diagnostics.fault(below, "no_such_conductor", f"{why} {conductor}", there, conductor)


def no_contact(supply: Supply, contact: str) -> str:
    """Why the outlet lacks a contact."""
    if supply.receptacle in {None, HARDWIRED}:
        field = "neutral" if contact == "neutral" else "equipment_ground"
        return f"{field} is absent: the outlet has no {contact} contact"
    return f"a {supply.receptacle} has no {contact} contact"


def read_pair(
    between: list[Any], supply: Supply, pointer: str, diagnostics: Diagnostics, *, at_outlet: bool = True
) -> tuple[Any, Any]:
    """Make a pair of two different conductors that exist."""
    if between[0] == between[1]:
        diagnostics.fault(
            pointer,
            "same_conductor",
            f"both ends on {between[0]}; give two different conductors",
            [c for c in supply.conductors if c != between[0]],
            between,
        )
    check_exist(between, supply, pointer, diagnostics, at_outlet=at_outlet)
    return between[0], between[1]


def _check_leak(between: tuple[Any, Any], supply: Supply, pointer: str, diagnostics: Diagnostics) -> None:
    """Hold a load to ground against what can leak, and whereto."""
    if "G" not in between:
        return
    if supply.equipment_ground == "absent":
        detail = f"{no_contact(supply, 'ground')}, so nothing leaks to it"
        diagnostics.fault(pointer, "no_such_conductor", detail, ["L1", "L2", "N"], list(between))
    elif "N" in between:
        diagnostics.fault(pointer, "contradiction", "a leak to ground is from a leg", ["a leg and G"], list(between))


def _load(given: wire.Load, supply: Supply, at: str, diagnostics: Diagnostics) -> Load:
    between = read_pair(list(given.between), supply, f"{at}/between", diagnostics)
    _check_leak(between, supply, f"{at}/between", diagnostics)
    power = diagnostics.optional(given.power, q.LOAD_POWER, f"{at}/power")
    voltage = diagnostics.optional(given.voltage, q.LOAD_VOLTAGE, f"{at}/voltage")
    resistance = diagnostics.optional(given.resistance, q.LOAD_RESISTANCE, f"{at}/resistance")
    reactance = diagnostics.optional(given.reactance, q.LOAD_REACTANCE, f"{at}/reactance")
    if (power is None) == (resistance is None):
        state = "neither" if power is None else "both"
        diagnostics.fault(
            at, "one_of", f"{state} of power and resistance given; give one of them", ["power", "resistance"], None
        )
    if power is not None and reactance is not None:
        diagnostics.fault(
            f"{at}/reactance", "one_of", "a reactance goes with a resistance", ["resistance"], given.reactance
        )
    if power is None and voltage is not None:
        diagnostics.fault(f"{at}/voltage", "one_of", "a rated voltage goes with a power", ["power"], given.voltage)
    figure = typical.LOAD_TOLERANCE_FROM_RESISTANCE if power is None else typical.LOAD_TOLERANCE_FROM_POWER
    tolerance = given.tolerance_percent
    if tolerance is None:
        tolerance = figure.value
        diagnostics.assume(f"{at}/tolerance_percent", figure.value, figure.unit, figure.basis)
    if power is not None:
        to_neutral = "N" in between or "G" in between
        nominal = NOMINAL_TO_NEUTRAL if to_neutral else NOMINAL_BETWEEN_LEGS.get(supply.system, NOMINAL_TO_NEUTRAL)
        resistance = (voltage or nominal) ** 2 / max(power, q.LOAD_POWER.low)
    return Load(
        between=between,
        resistance=1.0 if resistance is None else resistance,
        reactance=reactance or 0.0,
        tolerance_percent=tolerance,
    )


def read_load_state(name: str, given: wire.LoadState, supply: Supply, diagnostics: Diagnostics) -> LoadState:
    """Make a load state with its known loads."""
    at = f"/load_states/{escape(name)}"
    if name in SELF_NAMED_STATES and given.kind != name:
        diagnostics.fault(
            f"{at}/kind", "misleading_label", f"the label '{name}' always means that kind", [name], given.kind
        )
    if given.kind == "disconnected" and given.loads and not diagnostics.is_broken(f"{at}/kind"):
        diagnostics.fault(
            f"{at}/loads", "no_load_connected", "nothing is connected in a disconnected state", ["no loads"], None
        )
    if given.kind == "test_load" and not given.loads:
        diagnostics.assume(f"{at}/loads", "unknown", None, f"loads {UNKNOWN}")
    loads = (_load(load, supply, f"{at}/loads/{index}", diagnostics) for index, load in enumerate(given.loads or ()))
    return LoadState(name=name, kind=given.kind, loads=tuple(loads))
