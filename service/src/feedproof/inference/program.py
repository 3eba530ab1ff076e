"""From a place and an arrangement of readings to the arrays that the forward model runs on."""

import cmath
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct
from numba.typed import List

from feedproof.circuit.forward import (
    CURRENT,
    DEAD,
    FIXED,
    HIGH,
    LOW,
    NEUTRAL_DURING,
    PROXIMITY,
    RESISTANCE,
    SOUND,
    VOLTAGE,
    Program,
)
from feedproof.faults.places import Site, working
from feedproof.faults.priors import PRIORS, Priors
from feedproof.inference.likelihood import Observations
from feedproof.inference.runs import sound_run
from feedproof.inference.scene import Scene, SceneReading
from feedproof.instruments.scatter import gain_spread, meter_admittance, scatter_floor, scatter_relative
from feedproof.readings import ClampAmmeter, Ohmmeter, ProximityDetector, Voltmeter

_KIND = {
    "voltage": VOLTAGE,
    "current": CURRENT,
    "resistance": RESISTANCE,
    "proximity": PROXIMITY,
    "neutral": VOLTAGE,
    "neutral_during": NEUTRAL_DURING,
    "earth": VOLTAGE,
}
_HEAVY = ("running", "test_load")
_PAIRS = (("L1", "L2"), ("L1", "N"), ("L1", "G"), ("L2", "N"), ("L2", "G"), ("N", "G"))
_POSITION_SPREAD = 4.0

Node = tuple[str, str]
"""(point, conductor): S source, P service panel, Q sub-panel, R receptacle, T terminals."""
X0: Node = ("S", "N")
S1: Node = ("S", "L1")
S2: Node = ("S", "L2")
_POINT = {"service_panel": "P", "sub_panel": "Q", "panel": "Q", "receptacle": "R", "appliance_terminals": "T"}


class Built(Struct, frozen=True, kw_only=True):
    """A program with the names of what is in it."""

    program: Program
    box: object
    """The program in a list that compiled code takes without unpacking."""
    keys: tuple[str, ...]
    order: tuple[int, ...]
    """The program's reading r is number order[r] of those asked for."""
    series: dict[str, tuple[tuple[str, int, float, int], ...]]
    """By conductor: (section, unknown or -1, sound resistance or its median, severity or -1), downstream order."""


class _Draft:
    """Collects unknowns, constants and elements."""

    def __init__(self, site: Site, scene: Scene, readings: Sequence[SceneReading], priors: Priors) -> None:
        self.site, self.scene, self.p, self.readings = site, scene, priors, readings
        self.keys: dict[str, int] = {}
        copies = 2 if site.intermittent else 1
        self.circuits = sorted({(r.state, r.kind != "resistance", k) for r in readings for k in range(copies)})
        self.constants: list[dict[tuple[Node, Node], complex]] = [{} for _ in self.circuits]
        self.elements: list[tuple[Node, Node, int, complex, float, list[tuple[int, complex]], bool]] = []
        self.landing = {"L1": "L1", "L2": "L2", "N": "N", "G": "G"} | dict(site.landing)
        self.omega = 2.0 * math.pi * scene.supply.frequency
        everything = range(len(self.circuits))
        self.all = (1 << len(self.circuits)) - 1
        self.on = sum(1 << c for c in everything if self.circuits[c][1])
        self.connected = sum(1 << c for c in everything if scene.states[self.circuits[c][0]].kind != "disconnected")
        self.second = sum(1 << c for c in everything if self.circuits[c][2] == 1)
        self.series: dict[str, list[tuple[str, int, float, int]]] = {"L1": [], "L2": [], "N": [], "G": []}
        self.has_feeder = scene.supply.fed_from != "service_panel"
        self.position = -1

    def unknown(self, key: str) -> int:
        return self.keys.setdefault(key, len(self.keys))

    def severity(self, k: int) -> int:
        return -1 - k

    def severe(self, a: Node, b: Node, mask: int, k: int, least: float = 0.0) -> None:
        middle, scale = working(self.site.spans[k])
        self.element(a, b, mask, complex(-middle), (self.severity(k), -scale), least=least)

    def wire(self, a: Node, b: Node, admittance: complex, mask: int) -> None:
        pair = (a, b) if a <= b else (b, a)
        for c in range(len(self.circuits)):
            if mask >> c & 1:
                self.constants[c][pair] = self.constants[c].get(pair, 0j) + admittance

    def element(
        self,
        a: Node,
        b: Node,
        mask: int,
        log: complex,
        *terms: tuple[int, complex],
        least: float = 0.0,
        scaled: bool = False,
    ) -> None:
        if mask:
            self.elements.append((a, b, mask, log, least, list(terms), scaled))

    # --- supply side ------------------------------------------------------------------------------------------

    def service(self) -> None:
        p = self.p
        breaks = {b.conductor: b for b in self.site.breaks if b.section == "service"}
        for leg, source in (("L1", S1), ("L2", S2)):
            self._stretch("service", leg, source, ("P", leg), p.service_leg_resistance, self.on, breaks.get(leg), None)
        self._stretch("service", "N", X0, ("P", "N"), p.service_neutral_resistance, self.all, breaks.get("N"), None)
        if self.site.unbonded:
            # The frame and all ground conductors hang on what strays the whole wiring has.
            for c in ("L1", "L2", "N"):
                self.element(
                    ("P", c), ("P", "G"), self.on, cmath.log(1j * self.omega * 2e-9), (self.unknown(f"ground {c}"), 1.2)
                )
                self.element(
                    ("P", c),
                    ("P", "G"),
                    self.all,
                    complex(-math.log(p.leakage_resistance)),
                    (self.unknown("damp ground"), -p.leakage_spread),
                )
        else:
            self.wire(("P", "N"), ("P", "G"), 1e3, self.all)
        house = bool(breaks)
        if "N" in breaks:
            self.element(("P", "G"), X0, self.all, complex(-math.log(20.0)), (self.unknown("electrode"), -1.3))
        elif not self.site.unbonded:
            self.wire(("P", "G"), X0, 1.0 / p.electrode_resistance, self.all)
        if house:
            own = "N" in breaks
            for leg in ("L1", "L2"):
                for state in sorted({s for s, on, _ in self.circuits if on}):
                    mask = self._of_state(state) & self.on
                    terms: list[tuple[int, complex]] = [(self.unknown(f"house {leg}"), -p.house_spread)]
                    if own and len({s for s, on, _ in self.circuits if on}) > 1:
                        terms.append((self.unknown(f"house {leg} {state}"), -0.12))
                    self.element(
                        ("P", leg), ("P", "N"), mask, complex(-math.log(p.house_resistance)), *terms, least=1.0
                    )
            if "N" not in breaks and self.scene.supply.system != "single_phase_120":
                self.element(
                    ("P", "L1"),
                    ("P", "L2"),
                    self.on,
                    complex(-math.log(80.0)),
                    (self.unknown("house L1 L2"), -1.8),
                    least=4.0,
                )

    def feeder(self) -> None:
        if not self.has_feeder:
            for c in ("L1", "L2", "N", "G"):
                self.wire(("P", c), ("Q", c), 1e5, self.all)
            return
        breaks = {b.conductor: b for b in self.site.breaks if b.section == "feeder"}
        bonded = self.scene.supply.fed_from == "sub_panel_bonded"
        for c, ohm in (("L1", 0.03), ("L2", 0.03), ("N", 0.03), ("G", 0.03)):
            if c == "G" and bonded:
                continue
            self._stretch("feeder", c, ("P", c), ("Q", c), ohm, self.all, breaks.get(c), None)
        if bonded:
            self.wire(("Q", "N"), ("Q", "G"), 1e3, self.all)
            self.element(("Q", "G"), X0, self.all, complex(-math.log(20.0)), (self.unknown("electrode"), -1.3))
        if breaks and not self.site.idle_panel:
            for leg in ("L1", "L2"):
                for state in sorted({s for s, on, _ in self.circuits if on}):
                    mask = self._of_state(state) & self.on
                    terms: list[tuple[int, complex]] = [(self.unknown(f"sub {leg}"), -1.1)]
                    if "N" in breaks and len({s for s, on, _ in self.circuits if on}) > 1:
                        terms.append((self.unknown(f"sub {leg} {state}"), -0.12))
                    self.element(("Q", leg), ("Q", "N"), mask, complex(-math.log(25.0)), *terms, least=1.0)
            if "N" not in breaks and self.scene.supply.system != "single_phase_120":
                self.element(
                    ("Q", "L1"),
                    ("Q", "L2"),
                    self.on,
                    complex(-math.log(150.0)),
                    (self.unknown("sub L1 L2"), -2.0),
                    least=4.0,
                )

    # --- the branch ---------------------------------------------------------------------------------------------

    def _of_state(self, state: int) -> int:
        return sum(1 << c for c, (s, _, _) in enumerate(self.circuits) if s == state)

    def _stretch(
        self, section: str, conductor: str, a: Node, b: Node, ohm: float, mask: int, broken, spread: float | None
    ) -> None:
        """One conductor of one section: sound, or with an extra resistance in series."""
        if broken is not None and broken.severity >= 0:
            where = mask & self.second if self.site.intermittent else mask
            self.severe(a, b, where, broken.severity, ohm)
            if self.site.intermittent:
                self.wire(a, b, 1.0 / ohm, mask & ~self.second)
            self.series[conductor].append((section, -1, ohm, broken.severity))
        elif broken is not None:
            self.wire(a, b, 1.0 / (ohm + broken.resistance), mask)
            self.series[conductor].append((section, -1, ohm + broken.resistance, -1))
        elif spread is not None:
            u = self.unknown(f"{section} {conductor}")
            self.element(a, b, mask, complex(-math.log(ohm)), (u, -spread))
            self.series[conductor].append((section, u, ohm, -1))
        else:
            self.wire(a, b, 1.0 / ohm, mask)
            self.series[conductor].append((section, -1, ohm, -1))

    def path(self) -> None:
        p, supply = self.p, self.scene.supply
        loaded = any(on and self.scene.states[s].kind in _HEAVY for s, on, _ in self.circuits)
        ohms = [r for r in self.readings if r.kind == "resistance"]
        touched = {self.landing[c] for r in ohms for c in r.conductors}
        if loaded:
            touched |= {"L1", "L2", "N"}
            if self.site.bridges or self.site.landing:
                touched.add("G")
        resistance, spread = sound_run(supply.run, p)
        at_terminals = any(r.point == "appliance_terminals" for r in self.readings)
        for section, up, down in (("branch", "Q", "R"), ("cord", "R", "T")):
            breaks = {b.conductor: b for b in self.site.breaks if b.section == section}
            ohm, own = (resistance, spread) if section == "branch" else (p.cord_resistance, p.cord_spread)
            mask = self.all if section == "branch" else self.connected
            for c in ("L1", "L2", "N", "G"):
                if (c == "N" and not supply.neutral) or (c == "G" and supply.equipment_ground == "absent"):
                    self.wire((up, c), (down, c), 1e-9, mask)
                    continue
                free = own if c in touched and (section == "branch" or at_terminals) else None
                self._stretch(section, c, (up, c), (down, c), ohm, mask, breaks.get(c), free)

    def strays(self) -> None:
        p, site, run = self.p, self.site, self.scene.supply.run
        floats = "feeder" if site.idle_panel else "branch"
        free = {b.conductor for b in site.breaks if b.section == floats}
        cord = {b.conductor for b in site.breaks if b.section == "cord"}
        read = {self.landing[c] for r in self.readings for c in r.conductors if c in self.landing}
        length = p.run_length if run.length is None else run.length
        spread = p.run_length_spread if run.length is None else p.stray_spread
        absent = {"N"} if not self.scene.supply.neutral else set()
        for where, point, mask, loose, size in (
            ("run", "R", self.all, free, self.omega * p.stray_capacitance * length),
            ("wiring", "T", self.connected, cord, self.omega * p.cord_stray_capacitance),
        ):
            vary = bool(loose & read)
            if vary and where == "run" and not site.idle_panel:
                self.position = self.unknown("position")
            for a, b in _PAIRS:
                if absent & {a, b}:
                    continue
                first, second = (point, a), (point, b)
                if vary and loose & {a, b}:
                    own = self.unknown(f"stray {a} {b}") if where == "run" else self.unknown(f"wiring {a} {b}")
                    common = self.unknown(f"strays {where}")
                    self.element(
                        first,
                        second,
                        mask & self.on,
                        cmath.log(1j * size),
                        (common, spread),
                        (own, p.pair_spread),
                        scaled=self.position >= 0 and where == "run",
                    )
                    self.element(
                        first,
                        second,
                        mask,
                        complex(-math.log(p.leakage_resistance)),
                        (self.unknown(f"damp {where}"), -p.leakage_spread),
                        (own, p.pair_spread),
                        scaled=self.position >= 0 and where == "run",
                    )
                    if where == "run":
                        self.wire(first, second, 1j * self.omega * 1e-12, mask & self.on)
                else:
                    self.wire(first, second, 1j * size, mask & self.on)
                    self.wire(first, second, 1.0 / p.leakage_resistance, mask)
        if {"L1", "L2"} & free & read and not site.idle_panel:
            # Across the open contact, and to whatever live wire runs beside the dead one.
            for leg in sorted({"L1", "L2"} & free):
                u = self.unknown("beside")
                self.element(("Q", leg), ("R", leg), self.on, cmath.log(1j * self.omega * 4e-12), (u, 1.8))

    def appliance(self) -> None:
        p, supply = self.p, self.scene.supply
        if supply.frame_bonded_to_neutral and supply.neutral:
            self._load("N", "G", self.connected, complex(-math.log(p.frame_bond_resistance)))
        for bridge in self.site.bridges:
            point = _POINT[bridge.point]
            mask = self.connected if point == "T" else self.all
            a, b = (point, self.landing[bridge.first]), (point, self.landing[bridge.second])
            if bridge.severity >= 0:
                self.severe(a, b, mask & self.on, bridge.severity)
            else:
                self.wire(a, b, 1.0 / bridge.resistance, mask)
        one_leg = supply.system == "single_phase_120"
        for state in sorted({s for s, _, _ in self.circuits}):
            condition = self.scene.states[state]
            if condition.kind == "disconnected":
                continue
            mask = self._of_state(state)
            for number, load in enumerate(condition.loads):
                u = self.unknown(f"load {state} {number}")
                tolerance = max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3)
                self._load(
                    load.between[0],
                    load.between[1],
                    mask,
                    -cmath.log(complex(load.resistance, load.reactance)),
                    (u, -tolerance),
                )
            if condition.kind == "test_load" and condition.loads:
                continue
            running, known = condition.kind in _HEAVY, bool(condition.loads)
            across = (
                (p.running_resistance, p.running_spread)
                if running
                else (p.idle_across_resistance, p.idle_across_spread)
            )
            side = (p.idle_resistance, p.idle_spread)
            if running:
                side = (
                    (p.running_beside_resistance, p.running_beside_spread)
                    if known
                    else (p.running_auxiliary_resistance, p.running_auxiliary_spread)
                )
            if supply.neutral:
                angle = self.unknown(f"angle {state}")
                for leg, turn in (("L1", 1j), ("L2", -1j))[: 1 if one_leg else 2]:
                    u = self.unknown(f"side {leg} {state}")
                    self._load(
                        leg,
                        "N",
                        mask,
                        complex(-math.log(side[0])),
                        (u, -side[1]),
                        (angle, turn * p.load_angle),
                        least=p.least_side_resistance,
                    )
            if not one_leg and not known:
                u = self.unknown(f"across {state}")
                self._load("L1", "L2", mask, complex(-math.log(across[0])), (u, -across[1]), least=4.8)

    def _load(
        self, first: str, second: str, mask: int, log: complex, *terms: tuple[int, complex], least: float = 0.0
    ) -> None:
        self.element(("T", self.landing[first]), ("T", self.landing[second]), mask, log, *terms, least=least)

    # --- readings -------------------------------------------------------------------------------------------------

    def node(self, point: str, conductor: str) -> Node:
        where = _POINT[point]
        return (where, conductor if where in "PQ" else self.landing[conductor])


def _supply(d: _Draft) -> list[float]:
    p = d.p
    low, high = (math.log(x) for x in p.supply_range)
    if d.site.level == "low":
        return [LOW, -1.0, low, *working(d.site.spans[0]), 0.0]
    if d.site.level == "high":
        return [HIGH, -1.0, high, *working(d.site.spans[0]), 0.0]
    # Logistic-normal between the ends of range A, about 121 V with a spread of some 2.3 V.
    return [SOUND, d.unknown("supply"), low, high, 0.34, 0.85]


@lru_cache(maxsize=8192)
def build(site: Site, scene: Scene, readings: tuple[SceneReading, ...], priors: Priors = PRIORS) -> Built:
    """Arrays of one place on one arrangement of readings; nothing depends on what was read."""
    d = _Draft(site, scene, readings, priors)
    supply = _supply(d)
    states = sorted({s for s, on, _ in d.circuits if on})
    lean = {s: d.unknown(f"lean {s}") for s in states}
    d.service()
    d.feeder()
    d.path()
    d.strays()
    d.appliance()
    inject = [-1.0, 0.0, 0.0]
    sound_feeder = d.has_feeder and not any(b.section == "feeder" for b in site.breaks)
    if sound_feeder and any(set(r.conductors) & {"N", "G"} for r in readings):
        stated = scene.supply.fed_from != "unknown"
        volts, steep = (0.5, 1.15) if stated else (0.04, 2.0)
        if scene.supply.fed_from == "sub_panel_bonded":
            volts = 0.1
        inject = [float(d.unknown("feeder")), volts / 0.06, steep]
    for r in readings:
        if (
            r.meter >= 0
            and r.kind in ("voltage", "current", "resistance")
            and not isinstance(scene.meters[r.meter], ProximityDetector)
        ):
            d.unknown(f"gain {r.meter}")
    copies = 2 if site.intermittent else 1
    rows = []
    circuit_of = {key: c for c, key in enumerate(d.circuits)}
    for copy in range(copies):
        for i, r in enumerate(readings):
            rows.append((circuit_of[r.state, r.kind != "resistance", copy], copy * len(readings) + i, r))
    rows.sort(key=lambda row: row[:2])
    return _assembled(d, supply, lean, inject, rows)


def _assembled(d: _Draft, supply: list[float], lean: dict[int, int], inject: list[float], rows) -> Built:
    site, scene = d.site, d.scene
    size = len(d.keys)

    def index(u: int) -> int:
        return u if u >= 0 else size + (-1 - u)

    specs = []
    asked: list[set[Node]] = [set() for _ in d.circuits]
    for c, _, r in rows:
        a, b, qa, qb = X0, X0, X0, X0
        if r.kind == "current":
            up, down = d.node("panel", r.conductors[0]), d.node("receptacle", r.conductors[0])
            if r.point == "appliance_terminals" and scene.states[r.state].kind != "disconnected":
                up, down = d.node("receptacle", r.conductors[0]), d.node("appliance_terminals", r.conductors[0])
            else:
                up = ("Q", down[1])
            a, b = up, down
        elif r.kind == "proximity":
            a = d.node(r.point, r.conductors[0])
        elif r.kind == "neutral":
            a, b = d.node(r.point, "N"), ("P", "G")
        elif r.kind == "earth":
            a, b = d.node(r.point, "N"), X0
        else:
            a, b = (d.node(r.point, x) for x in r.conductors)
            if r.kind == "neutral_during":
                qa, qb = d.node(r.point, "N"), ("P", "G")
        specs.append((a, b, qa, qb))
        asked[c] |= {a, b, qa, qb}
    kept: list[list[Node]] = []
    bases = []
    for c in range(len(d.circuits)):
        ends = {n for a, b, mask, *_ in d.elements if mask >> c & 1 for n in (a, b)}
        extra = {("Q", "N")} if inject[0] >= 0.0 else set()
        nodes, base = _reduced(d.constants[c], asked[c] | ends | extra)
        kept.append(nodes)
        bases.append(base)
    most = max((len(n) for n in kept), default=FIXED)
    base = np.zeros((len(kept), most, most), np.complex128)
    for c, own in enumerate(bases):
        base[c, : own.shape[0], : own.shape[0]] = own
    place = [{n: k for k, n in enumerate(nodes)} for nodes in kept]
    at = [
        (c, *sorted((place[c][a], place[c][b])), e)
        for c in range(len(kept))
        for e, (a, b, mask, *_) in enumerate(d.elements)
        if mask >> c & 1 and place[c][a] != place[c][b]
    ]
    terms = [t for e in d.elements for t in e[5]]
    edges, constants, gains, scales, kinds, meters = [], [], [], [], [], []
    for (c, _, r), (a, b, _, _) in zip(rows, specs, strict=True):
        meter = scene.meters[r.meter] if r.meter >= 0 else None
        edge, constant = -1, 0j
        if r.kind == "current":
            edge = next(
                (
                    e
                    for e, (x, y, mask, *_) in enumerate(d.elements)
                    if {x, y} == {a, b} and mask >> c & 1 and not d.elements[e][6]
                ),
                -1,
            )
            constant = d.constants[c].get((a, b) if a <= b else (b, a), 0j)
        edges.append(edge)
        constants.append(constant)
        gain, scale = -1, 0.0
        if isinstance(meter, Voltmeter | ClampAmmeter | Ohmmeter) and r.kind in ("voltage", "current", "resistance"):
            gain, scale = d.keys.get(f"gain {r.meter}", -1), gain_spread(meter)
        gains.append(gain)
        scales.append(scale)
        dead = site.dead_meter >= 0 and r.meter == site.dead_meter and r.kind == "voltage"
        kinds.append(DEAD if dead else _KIND[r.kind])
        meters.append(
            meter_admittance(meter, scene.supply.frequency)
            if isinstance(meter, Voltmeter) and r.kind in ("voltage", "neutral_during")
            else 0j
        )
    ints, cplx = np.int64, np.complex128
    where = [row[0] for row in rows]
    program = Program(
        size=size,
        element_log=np.array([e[3] for e in d.elements], cplx),
        element_least=np.array([e[4] for e in d.elements], float),
        element_scaled=np.array([e[6] for e in d.elements], ints),
        term_start=np.concatenate(([0], np.cumsum([len(e[5]) for e in d.elements]))).astype(ints),
        term_unknown=np.array([index(t[0]) for t in terms], ints),
        term_factor=np.array([t[1] for t in terms], cplx),
        position=d.position,
        position_spread=_POSITION_SPREAD,
        nodes=np.array([len(n) for n in kept], ints),
        base=base,
        at_start=np.searchsorted([x[0] for x in at], range(len(kept) + 1)).astype(ints),
        at_low=np.array([x[1] for x in at], ints),
        at_high=np.array([x[2] for x in at], ints),
        at_element=np.array([x[3] for x in at], ints),
        phasor=np.array(site.phasors, cplx),
        supply=np.array([supply[0], index(int(supply[1])), *supply[2:]], float),
        lean=np.array([lean.get(s, -1) if on else -1 for s, on, _ in d.circuits], ints),
        lean_scale=d.p.leg_asymmetry,
        inject_node=np.array(
            [place[c][("Q", "N")] if inject[0] >= 0.0 and d.circuits[c][1] else -1 for c in range(len(kept))], ints
        ),
        inject=np.array(inject, float),
        reading_start=np.searchsorted(where, range(len(kept) + 1)).astype(ints),
        reading_kind=np.array(kinds, ints),
        node_a=np.array([place[c][s[0]] for c, s in zip(where, specs, strict=True)], ints),
        node_b=np.array([place[c][s[1]] for c, s in zip(where, specs, strict=True)], ints),
        meter=np.array(meters, cplx),
        edge_element=np.array(edges, ints),
        edge_constant=np.array(constants, cplx),
        asked_a=np.array([place[c][s[2]] for c, s in zip(where, specs, strict=True)], ints),
        asked_b=np.array([place[c][s[3]] for c, s in zip(where, specs, strict=True)], ints),
        gain=np.array(gains, ints),
        gain_scale=np.array(scales, float),
    )
    box = List()
    box.append(program)
    return Built(
        program=program,
        box=box,
        keys=tuple(d.keys),
        order=tuple(row[1] for row in rows),
        series={c: tuple(t) for c, t in d.series.items()},
    )


def _reduced(constants: dict[tuple[Node, Node], complex], wanted: set[Node]) -> tuple[list[Node], np.ndarray]:
    """Star-mesh elimination of every node that nothing variable touches and nobody asks for."""
    net: dict[Node, dict[Node, complex]] = {n: {} for n in (X0, S1, S2, *wanted)}
    for (a, b), y in constants.items():
        for one, other in ((a, b), (b, a)):
            around = net.setdefault(one, {})
            around[other] = around.get(other, 0j) + y
    fixed = [X0, S1, S2]
    inner = sorted(n for n in net if n not in wanted and n not in fixed)
    for n in sorted(inner, key=lambda n: ("TRQP".index(n[0]), n)):
        around = net.pop(n)
        total = sum(around.values())
        others = list(around)
        for a in others:
            del net[a][n]
        for i, a in enumerate(others):
            for b in others[:i]:
                y = around[a] * around[b] / total
                net[a][b] = net[a].get(b, 0j) + y
                net[b][a] = net[b].get(a, 0j) + y
    # Sources first, then downstream: elimination goes from the end.
    nodes = fixed + sorted((n for n in net if n not in fixed), key=lambda n: ("PQRT".index(n[0]), n))
    base = np.zeros((len(nodes), len(nodes)), np.complex128)
    for i, a in enumerate(nodes):
        for j in range(i):
            base[i, j] = net[a].get(nodes[j], 0j)
    return nodes, base


def scatter_of(scene: Scene, questions: Sequence[SceneReading]) -> Observations:
    """How readings that could be taken would scatter, in the order of the questions."""
    return _observed(scene, questions, range(len(questions)), PRIORS.misread_share, PRIORS)


def observe(
    scene: Scene, readings: Sequence[SceneReading], built: Built, site: Site, priors: Priors = PRIORS
) -> Observations:
    """What was read, in the program's order."""
    misread = priors.inconsistent_share if site.inconsistent else priors.misread_share
    return _observed(scene, readings, built.order, misread, priors)


def _observed(
    scene: Scene, readings: Sequence[SceneReading], order: Sequence[int], misread: float, priors: Priors
) -> Observations:
    count, total = len(readings), len(order)
    o = Observations(
        kind=np.zeros(total, np.int64),
        value=np.zeros(total),
        floor=np.ones(total),
        relative=np.zeros(total),
        over_range=np.zeros(total, np.int64),
        misread=np.zeros(total),
        misread_density=np.zeros(total),
        twin=np.full(total, -1, np.int64),
    )
    row_of = {number: row for row, number in enumerate(order)}
    for row, number in enumerate(order):
        r = readings[number % count]
        if total > count:
            o.twin[row] = row_of[number + count] if number < count else -2
        meter = scene.meters[r.meter]
        value = 0.0 if r.value is None else r.value
        o.kind[row], o.value[row] = _KIND[r.kind], value
        if isinstance(meter, ProximityDetector):
            o.floor[row], o.relative[row] = meter.threshold, priors.proximity_steepness
            o.misread[row], o.misread_density[row] = priors.proximity_false_signal, priors.proximity_missed_signal
            if misread == priors.inconsistent_share:
                o.misread[row] = o.misread_density[row] = 0.4
            continue
        o.floor[row], o.relative[row] = scatter_floor(meter), scatter_relative(meter)
        o.over_range[row] = int(r.over_range)
        o.misread[row] = misread
        if r.kind == "voltage":
            o.misread_density[row] = 1.0 / priors.misread_range_volts
        elif r.kind == "current":
            o.misread_density[row] = 1.0 / priors.misread_range_amperes
        else:
            o.misread_density[row] = 1.0 / (max(value, 0.1) * math.log(10.0) * priors.misread_decades_ohms)
    return o
