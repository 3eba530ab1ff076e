"""Supply, run, loads and load states of a request, in SI units."""

from typing import Any

from feedproof.circuit.conductors import conductor_size
from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract.structure import escape
from feedproof.door.ledger import UNKNOWN, Ledger
from feedproof.instruments import typical
from feedproof.readings import SELF_NAMED_STATES, Conductor, Load, LoadState, Run, Supply, SystemName

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


def read_supply(given: wire.Supply | None, ledger: Ledger) -> Supply:
    """Make the supply; every default is noted."""
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
        ledger.assume(f"{at}/equipment_ground", "unknown", None, UNKNOWN)
    if given.frame_bonded_to_neutral is None:
        ledger.assume(f"{at}/frame_bonded_to_neutral", "unknown", None, "not stated; cautions allow for a bonded frame")
    for name, value in (("size", run.size), ("material", run.material), ("length", run.length)):
        if value is None:
            ledger.assume(f"{at}/run/{name}", "unknown", None, UNKNOWN)
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


def check_exist(conductors: list[Any], system: SystemName, pointer: str, ledger: Ledger) -> None:
    """Refuse conductors that the supply system lacks."""
    there = SYSTEM_CONDUCTORS[system]
    for index, conductor in enumerate(conductors):
        if conductor not in there:
            below = f"{pointer}/{index}" if len(conductors) > 1 else pointer
            ledger.fault(
                below, "no_such_conductor", f"a {system} supply has no conductor {conductor}", there, conductor
            )


def read_pair(between: list[Any], system: SystemName, pointer: str, ledger: Ledger) -> tuple[Any, Any]:
    """Make a pair of two different conductors that exist."""
    if between[0] == between[1]:
        ledger.fault(
            pointer,
            "same_conductor",
            f"both ends on {between[0]}; give two different conductors",
            [c for c in SYSTEM_CONDUCTORS[system] if c != between[0]],
            between,
        )
    check_exist(between, system, pointer, ledger)
    return between[0], between[1]


def _load(given: wire.Load, system: SystemName, at: str, ledger: Ledger) -> Load:
    between = read_pair(list(given.between), system, f"{at}/between", ledger)
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


def read_load_state(name: str, given: wire.LoadState, system: SystemName, ledger: Ledger) -> LoadState:
    """Make a load state with its known loads."""
    at = f"/load_states/{escape(name)}"
    if name in SELF_NAMED_STATES and given.kind != name:
        ledger.fault(f"{at}/kind", "misleading_label", f"the label '{name}' always means that kind", [name], given.kind)
    if given.kind == "disconnected" and given.loads and not ledger.is_broken(f"{at}/kind"):
        ledger.fault(
            f"{at}/loads", "no_load_connected", "nothing is connected in a disconnected state", ["no loads"], None
        )
    if given.kind == "test_load" and not given.loads:
        ledger.assume(f"{at}/loads", "unknown", None, f"loads {UNKNOWN}")
    loads = (_load(load, system, f"{at}/loads/{index}", ledger) for index, load in enumerate(given.loads or ()))
    return LoadState(name=name, kind=given.kind, loads=tuple(loads))
