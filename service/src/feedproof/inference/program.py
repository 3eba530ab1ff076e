"""From a place and an arrangement of readings to the arrays that the forward model runs on."""

import math

import numpy as np
from msgspec import Struct

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
    ComplexArray,
    Program,
)
from feedproof.faults.places import Site
from feedproof.faults.priors import PRIORS, Priors
from feedproof.faults.severities import working
from feedproof.inference.branch import appliance, path, strays
from feedproof.inference.draft import METALWORK, S1, S2, X0, Draft, Node
from feedproof.inference.scene import Scene, SceneReading
from feedproof.inference.upstream import feeder, service
from feedproof.instruments.scatter import gain_spread, meter_admittance
from feedproof.interruption import go_on
from feedproof.readings import ClampAmmeter, Conductor, Ohmmeter, ProximityDetector, Voltmeter
from feedproof.remembered import remembered

KIND = {
    "voltage": VOLTAGE,
    "current": CURRENT,
    "resistance": RESISTANCE,
    "proximity": PROXIMITY,
    "neutral": VOLTAGE,
    "neutral_during": NEUTRAL_DURING,
    "earth": VOLTAGE,
}

Row = tuple[int, int, SceneReading]
"""Circuit, number among the readings asked for, and the reading."""


class Built(Struct, frozen=True, kw_only=True):
    """A program with the names of what is in it."""

    program: Program
    keys: tuple[str, ...]
    order: tuple[int, ...]
    """The program's reading r is number order[r] of those asked for."""
    series: dict[Conductor, tuple[tuple[str, int, float, int], ...]]
    """By conductor: (section, unknown or -1, sound resistance or its median, severity or -1), downstream order."""


def _supply(d: Draft) -> list[float]:
    p = d.p
    low, high = (math.log(x) for x in p.supply_range)
    if d.site.level == "low":
        return [LOW, -1.0, low, *working(d.site.spans[0]), 0.0]
    if d.site.level == "high":
        return [HIGH, -1.0, high, *working(d.site.spans[0]), 0.0]
    return [SOUND, d.unknown("supply"), low, high, *p.supply_logit]


_MOST_KEPT = 48 * 2**20
"""Programs that are kept for arrangements that come again [byte]."""


@remembered(_MOST_KEPT)
def build(site: Site, scene: Scene, readings: tuple[SceneReading, ...], priors: Priors = PRIORS) -> Built:
    """Arrays of one place on one arrangement of readings; nothing depends on what was read."""
    go_on()
    d = Draft(site, scene, readings, priors)
    supply = _supply(d)
    states = sorted({s for s, on, _ in d.circuits if on})
    lean = {s: d.unknown(f"lean {s}") for s in states}
    service(d)
    feeder(d)
    path(d)
    strays(d)
    appliance(d)
    if any("metalwork" in r.conductors for r in readings):
        # From bonded to the panel to hanging in the air: nobody knows.
        u = d.unknown("metalwork")
        median = complex(-math.log(priors.metalwork_resistance))
        d.element(METALWORK, ("P", "G"), d.all, median, (u, -priors.metalwork_spread))
    inject = [-1.0, 0.0, 0.0]
    sound_feeder = d.has_feeder and not any(b.section == "feeder" for b in site.breaks)
    if sound_feeder and any(set(r.conductors) & {"N", "G"} for r in readings):
        stated = scene.supply.fed_from != "unknown"
        volts, steep = (
            (priors.feeder_drop, priors.feeder_steepness)
            if stated
            else (priors.unknown_feeder_drop, priors.unknown_feeder_steepness)
        )
        if scene.supply.fed_from == "sub_panel_bonded":
            volts = priors.bonded_feeder_drop
        # Along the neutrals of feeder and service together.
        along = priors.feeder_resistance + priors.service_neutral_resistance
        inject = [float(d.unknown("feeder")), volts / along, steep]
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
    # Readings between the same nodes side by side: what a current there does is then found once.
    rows.sort(key=lambda row: (row[0], row[2].point, row[2].conductors, row[1]))
    return _assembled(d, supply, lean, inject, rows)


def _assembled(d: Draft, supply: list[float], lean: dict[int, int], inject: list[float], rows: list[Row]) -> Built:
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
        kinds.append(DEAD if dead else KIND[r.kind])
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
        position_spread=d.p.position_spread,
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
    return Built(
        program=program,
        keys=tuple(d.keys),
        order=tuple(row[1] for row in rows),
        series={c: tuple(t) for c, t in d.series.items()},
    )


def _reduced(constants: dict[tuple[Node, Node], complex], wanted: set[Node]) -> tuple[list[Node], ComplexArray]:
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
