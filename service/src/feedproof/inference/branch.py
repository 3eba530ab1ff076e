"""The circuit from the panel to the appliance: run, strays, cord, loads."""

import cmath
import math

from feedproof.inference.draft import POINT, Draft
from feedproof.inference.runs import run_of, sound_law, sound_run
from feedproof.readings import CONDUCTORS

_PAIRS = (("L1", "L2"), ("L1", "N"), ("L1", "G"), ("L2", "N"), ("L2", "G"), ("N", "G"))
_NO_CONDUCTOR = 1e-9
"""Where there is none [S]: next to no conductance."""


def path(d: Draft) -> None:
    """Conductors of run and cord."""
    p, supply = d.p, d.scene.supply
    loaded = any(on and d.scene.states[s].loaded for s, on, _ in d.circuits)
    ohms = [r for r in d.readings if r.kind == "resistance"]
    touched = {d.node(r.point, c)[1] for r in ohms for c in r.conductors}
    if loaded:
        touched |= {"L1", "L2", "N"}
        if d.site.bridges or d.site.landing:
            touched.add("G")
    cord = p.cord_resistance, p.cord_spread, math.inf
    at_terminals = any(r.point == "appliance_terminals" for r in d.readings)
    for section, up, down in (("branch", "Q", "R"), ("cord", "R", "T")):
        breaks = {b.conductor: b for b in d.site.breaks if b.section == section}
        mask = d.all if section == "branch" else d.connected
        for c in CONDUCTORS:
            if (c == "N" and not supply.neutral) or (c == "G" and supply.equipment_ground == "absent"):
                d.wire((up, c), (down, c), _NO_CONDUCTOR, mask)
                continue
            run = run_of(supply.run, c)
            ohm, law = (sound_run(run)[0], sound_law(run)) if section == "branch" else (cord[0], cord)
            free = c in touched and (section == "branch" or at_terminals)
            d.stretch(section, c, (up, c), (down, c), ohm, mask, breaks.get(c), law if free else None)


def strays(d: Draft) -> None:
    """What floats behind an open conductor hangs on these."""
    p, site, run = d.p, d.site, d.scene.supply.run
    floats = "feeder" if site.idle_panel else "branch"
    free: set[str] = {b.conductor for b in site.breaks if b.section == floats}
    if site.unbonded and d.scene.supply.source == "generator":
        # How much wiring hangs on a ground that nothing holds is not known: a generator's cord may be all.
        free.add("G")
    cord = {b.conductor for b in site.breaks if b.section == "cord"}
    read = {d.node(r.point, c)[1] for r in d.readings for c in r.conductors}
    length = p.run_length if run.length is None else run.length
    spread = p.run_length_spread if run.length is None else p.stray_spread
    absent = {"N"} if not d.scene.supply.neutral else set()
    for where, point, mask, loose, size in (
        ("run", "R", d.all, free, d.omega * p.stray_capacitance * length),
        ("wiring", "T", d.connected, cord, d.omega * p.cord_stray_capacitance),
    ):
        vary = bool(loose & read)
        if vary and where == "run" and not site.idle_panel:
            d.position = d.unknown("position")
        for a, b in _PAIRS:
            if absent & {a, b}:
                continue
            first, second = (point, a), (point, b)
            if vary and loose & {a, b}:
                own = d.unknown(f"stray {a} {b}") if where == "run" else d.unknown(f"wiring {a} {b}")
                common = d.unknown(f"strays {where}")
                d.element(
                    first,
                    second,
                    mask & d.on,
                    cmath.log(1j * size),
                    (common, spread),
                    (own, p.pair_spread),
                    scaled=d.position >= 0 and where == "run",
                )
                d.element(
                    first,
                    second,
                    mask & d.on,
                    complex(-math.log(p.leakage_resistance)),
                    (d.unknown(f"damp {where}"), -p.leakage_spread),
                    (own, p.pair_spread),
                    scaled=d.position >= 0 and where == "run",
                )
                if where == "run":
                    d.wire(first, second, 1j * d.omega * p.contact_capacitance, mask & d.on)
            else:
                d.wire(first, second, 1j * size, mask & d.on)
                d.wire(first, second, 1.0 / p.leakage_resistance, mask & d.on)
    if {"L1", "L2"} & free & read and not site.idle_panel:
        # Across the open contact, and to whatever live wire runs beside the dead one.
        for leg in sorted({"L1", "L2"} & free):
            u = d.unknown("beside")
            d.element(
                ("Q", leg),
                ("R", leg),
                d.on,
                cmath.log(1j * d.omega * p.beside_capacitance),
                (u, p.beside_spread),
            )


def insulation(d: Draft) -> None:
    """What an ohmmeter finds between the conductors of run and appliance, together, on the circuit that is off."""
    p, off = d.p, d.all & ~d.on
    read = {d.node(r.point, c)[1] for r in d.readings if r.kind == "resistance" for c in r.conductors}
    bonded = not d.site.unbonded and not any(b.conductor in ("N", "G") for b in d.site.breaks)
    # Neutral and ground that are joined at the panel are one to an ohmmeter: only what a leg has to them then counts.
    vary = bool(read) if not bonded else bool(read & {"L1", "L2"})
    for a, b in _PAIRS:
        if "N" in (a, b) and not d.scene.supply.neutral:
            continue
        ends = ("R", a), ("R", b)
        if vary and not (bonded and (a, b) == ("N", "G")):
            log = complex(-math.log(p.insulation_resistance))
            terms: list[tuple[int, complex]] = [(d.unknown("insulation"), -p.insulation_spread)]
            if a != "N" and b != "L2":
                terms.append((d.unknown(f"insulation {a}"), -p.insulation_leg_spread))
            d.element(*ends, off, log, *terms, least=p.insulation_least)
        else:
            d.wire(*ends, 1.0 / (p.insulation_resistance + p.insulation_least), off)


def appliance(d: Draft) -> None:
    """Loads, bridges and the frame."""
    p, supply = d.p, d.scene.supply
    # A test load stands in the appliance's place: what leaks or is strapped there is not in the circuit.
    there = d.connected & ~sum(d.of_state(s) for s, state in enumerate(d.scene.states) if state.kind == "test_load")
    if supply.frame_bonded_to_neutral and supply.neutral and d.site.strapped:
        d.load("N", "G", there, complex(-math.log(p.frame_bond_resistance)))
    for bridge in d.site.bridges:
        point = POINT[bridge.point]
        mask = there if point == "T" else d.all
        a, b = d.node(bridge.point, bridge.first), d.node(bridge.point, bridge.second)
        if bridge.severity >= 0:
            d.severe(a, b, mask, bridge.severity)
        else:
            d.wire(a, b, 1.0 / bridge.resistance, mask)
    for state in sorted({s for s, _, _ in d.circuits}):
        condition = d.scene.states[state]
        if condition.kind == "disconnected":
            continue
        mask = d.of_state(state)
        # Voltage across what is stated and a current tell whether it draws; without both it is believed to.
        read = [r for r in d.readings if r.state == state]
        doubted = condition.kind == "running" and any(r.kind == "current" for r in read)
        for number, load in enumerate(condition.loads):
            u = d.unknown(f"load {state} {number}")
            tolerance = max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3)
            impedance = complex(load.resistance, load.reactance)
            if doubted and any(r.kind == "voltage" and {*r.conductors} == {*load.between} for r in read):
                d.bends[u] = math.log(p.unconnected_resistance / abs(impedance)) / tolerance
            d.load(load.between[0], load.between[1], mask, -cmath.log(impedance), (u, -tolerance))
        if condition.kind == "test_load" and condition.loads:
            continue
        _unknown_loads(d, state, mask)


def _unknown_loads(d: Draft, state: int, mask: int) -> None:
    """What an appliance has beside the loads that are stated, from each leg to neutral and across the legs."""
    p, supply, condition = d.p, d.scene.supply, d.scene.states[state]
    if condition.kind == "idle" and d.site.contacts_open:
        return
    running, known = condition.loaded, bool(condition.loads)
    across = (p.running_resistance, p.running_spread) if running else (p.idle_across_resistance, p.idle_across_spread)
    side, least = (p.idle_resistance, p.idle_spread), p.least_side_resistance
    if running and known:
        side = (p.running_beside_resistance, p.running_beside_spread)
    elif running and supply.one_leg:
        side, least = (p.running_alone_resistance, p.running_alone_spread), p.running_alone_least
    elif running:
        side = (p.running_auxiliary_resistance, p.running_auxiliary_spread)
    if supply.neutral:
        angle = d.unknown(f"angle {state}")
        for leg, turn in zip(supply.legs, (1j, -1j), strict=False):
            u = d.unknown(f"side {leg} {state}")
            log, turned = complex(-math.log(side[0])), (angle, turn * p.load_angle)
            d.load(leg, "N", mask, log, (u, -side[1]), turned, least=least)
    if not supply.one_leg and not known:
        u = d.unknown(f"across {state}")
        if running:
            d.bends[u] = math.log(p.unconnected_resistance / across[0]) / across[1]
        d.load("L1", "L2", mask, complex(-math.log(across[0])), (u, -across[1]), least=p.least_across_resistance)
