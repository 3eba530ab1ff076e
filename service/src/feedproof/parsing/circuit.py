"""Supply, loads and load states of a request, in SI units, with what its receptacle says of its conductors."""

from collections.abc import Sequence
from typing import Any, Literal

from feedproof.circuit.conductors import conductor_size
from feedproof.circuit.receptacles import HARDWIRED, RECEPTACLES, Receptacle
from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract import supply as wire_supply
from feedproof.instruments import typical
from feedproof.parsing.diagnostics import UNKNOWN, Diagnostics, escape
from feedproof.readings import (
    LEG_ANGLES,
    NOMINAL_BETWEEN_LEGS,
    NOMINAL_TO_NEUTRAL,
    SELF_NAMED_STATES,
    Load,
    LoadState,
    Presence,
    Run,
    Supply,
    SystemName,
)

_ONE_LEG: SystemName = "single_phase_120"
_ON_TWO_LEGS = {"water_heater", "air_conditioner", "heat_pump", "pump"}
"""Usually wired with two legs and ground alone, where no receptacle says otherwise; common practice, no source."""


def read_supply(
    given: wire_supply.Supply | None, diagnostics: Diagnostics, *, appliance: str = "other", uses_neutral: bool = True
) -> Supply:
    """Make the supply; every default is noted, and so is what contradicts the receptacle.

    Parameters
    ----------
    given : contract.supply.Supply or None
        As it was stated.
    diagnostics : Diagnostics
        Where faults and defaults are noted.
    appliance : str
        Its kind.
    uses_neutral : bool
        Whether a reading or a load of the request is to the outlet's neutral.
    """
    given = given or wire_supply.Supply()
    at = "/supply"
    receptacle = RECEPTACLES.get(given.receptacle or "")
    system = _system(given.system, receptacle, diagnostics)
    frequency = diagnostics.optional(given.frequency, q.LINE_FREQUENCY, f"{at}/frequency")
    if frequency is None:
        frequency = 60.0
        diagnostics.assume(f"{at}/frequency", frequency, "Hz", "the frequency where these supply systems are in use")
    ground = _equipment_ground(given.equipment_ground, receptacle, diagnostics)
    without = appliance if appliance in _ON_TWO_LEGS and not (uses_neutral or given.frame_bonded_to_neutral) else None
    neutral = _neutral(given.neutral, system, receptacle, without, diagnostics)
    if given.frame_bonded_to_neutral and not neutral:
        detail = "there is no neutral at this outlet that the frame could be bonded to"
        diagnostics.fault(
            f"{at}/frame_bonded_to_neutral", "contradiction", detail, ["false"], given.frame_bonded_to_neutral
        )
    if given.frame_bonded_to_neutral is None:
        basis = "not stated; cautions allow for a bonded frame" if neutral else "there is no neutral to bond it to"
        diagnostics.assume(f"{at}/frame_bonded_to_neutral", "unknown" if neutral else False, None, basis)
    if given.fed_from is None:
        diagnostics.assume(
            f"{at}/fed_from", "unknown", None, "not stated; it may hang on a service panel or a sub-panel"
        )
    if given.source is None:
        diagnostics.assume(f"{at}/source", "utility", None, "the usual source; common practice, no source")
    return Supply(
        system=system,
        frequency=frequency,
        equipment_ground=ground,
        frame_bonded_to_neutral=given.frame_bonded_to_neutral if neutral else False,
        neutral=neutral,
        fed_from=given.fed_from or "unknown",
        source=given.source or "utility",
        receptacle=given.receptacle,
        run=_run(given.run or wire_supply.Run(), diagnostics),
    )


def _contradicts(
    field: str, value: str, receptacle: Receptacle, words: str, accepted: Sequence[str], diagnostics: Diagnostics
) -> None:
    detail = f"{value}, but a {receptacle.name} {words}; leave it out, or state another receptacle"
    diagnostics.fault(f"/supply/{field}", "contradiction", detail, accepted, value)


def _system(stated: SystemName | None, receptacle: Receptacle | None, diagnostics: Diagnostics) -> SystemName:
    one_leg = receptacle is not None and receptacle.legs == 1
    if stated is None:
        system: SystemName = _ONE_LEG if one_leg else "split_phase_120_240"
        basis = (
            _has(receptacle, "one leg")
            if one_leg
            else "the usual supply of a 240 V appliance; common practice, no source"
        )
        diagnostics.assume("/supply/system", system, None, basis)
        return system
    if receptacle is not None and one_leg != (stated == _ONE_LEG):
        accepted = [s for s in LEG_ANGLES if one_leg == (s == _ONE_LEG)]
        _contradicts("system", stated, receptacle, "has one leg" if one_leg else "has two legs", accepted, diagnostics)
    return stated


def _has(receptacle: Receptacle | None, words: str) -> str:
    return f"a {receptacle.name} has {words} ({receptacle.source})" if receptacle is not None else ""


def _equipment_ground(stated: Presence | None, receptacle: Receptacle | None, diagnostics: Diagnostics) -> Presence:
    if receptacle is None:
        if stated is None:
            diagnostics.assume("/supply/equipment_ground", "unknown", None, UNKNOWN)
        return stated or "unknown"
    grounding = "G" in receptacle.conductors
    if stated == ("absent" if grounding else "present"):
        words = "has a ground contact: read to it, whether or not a conductor lands there" if grounding else "has none"
        _contradicts(
            "equipment_ground",
            stated,
            receptacle,
            words,
            ["present", "unknown"] if grounding else ["absent"],
            diagnostics,
        )
        return stated
    if stated is None:
        found: Presence = "present" if grounding else "absent"
        basis = _has(receptacle, "a ground contact" if grounding else "no ground contact")
        diagnostics.assume("/supply/equipment_ground", found, None, basis)
        return found
    return stated if grounding else "absent"


def _neutral(
    stated: Literal["present", "absent"] | None,
    system: SystemName,
    receptacle: Receptacle | None,
    without: str | None,
    diagnostics: Diagnostics,
) -> bool:
    pointer = "/supply/neutral"
    if receptacle is not None:
        there = "N" in receptacle.conductors
        found = "present" if there else "absent"
        if stated is None:
            diagnostics.assume(
                pointer, found, None, _has(receptacle, "a neutral contact" if there else "no neutral contact")
            )
        elif stated != found:
            words = "has a neutral contact: read to it, whether or not a conductor lands there" if there else "has none"
            _contradicts("neutral", stated, receptacle, words, [found], diagnostics)
        return (stated or found) == "present"
    if stated is None and without is not None and system != _ONE_LEG:
        basis = f"not stated; a {without.replace('_', ' ')} usually has two legs and ground; state `present` of another"
        diagnostics.assume(pointer, "absent", None, basis)
        return False
    if stated is None:
        diagnostics.assume(
            pointer, "present", None, "not stated; state `absent` of an appliance on two legs and ground"
        )
    elif stated == "absent" and system == _ONE_LEG:
        detail = "absent, but a single_phase_120 supply is one leg and the neutral"
        diagnostics.fault(pointer, "contradiction", detail, ["present"], stated)
    return stated != "absent"


def _run(run: wire_supply.Run, diagnostics: Diagnostics) -> Run:
    at = "/supply/run"
    for name, value in (("size", run.size), ("material", run.material), ("length", run.length)):
        if value is None:
            diagnostics.assume(f"{at}/{name}", "unknown", None, UNKNOWN)
    return Run(
        size=_size(run.size, f"{at}/size", diagnostics),
        material=run.material,
        length=diagnostics.optional(run.length, q.RUN_LENGTH, f"{at}/length"),
        temperature=diagnostics.optional(run.temperature, q.RUN_TEMPERATURE, f"{at}/temperature"),
    )


def _size(text: str | None, pointer: str, diagnostics: Diagnostics) -> str | None:
    """Bring a conductor size into the catalogue's spelling."""
    if text is None:
        return None
    try:
        return conductor_size(text).name
    except ValueError as error:
        diagnostics.fault(pointer, "not_accepted", str(error), [str(wire_supply.SIZE_FORM["accepted"])], text)
        return None


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
