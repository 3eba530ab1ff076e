"""From a place and an arrangement of readings to the arrays that the forward model runs on."""

import math
from collections.abc import Sequence
from typing import NamedTuple

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
    IntArray,
    Program,
)
from feedproof.faults.places import Site
from feedproof.faults.priors import PRIORS
from feedproof.faults.severities import working
from feedproof.inference.branch import appliance, insulation, path, strays
from feedproof.inference.draft import METALWORK, S1, S2, X0, Draft, Node
from feedproof.inference.scene import Scene, SceneReading
from feedproof.inference.upstream import feeder, service
from feedproof.instruments.scatter import gain_spread, meter_admittance
from feedproof.interruption import go_on
from feedproof.readings import PANELS, ClampAmmeter, Conductor, Ohmmeter, ProximityDetector, Voltmeter
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


_Injection = tuple[list[float], tuple[Node, Node] | None]


def _injection(d: Draft) -> _Injection:
    """Unknown of the current in the feeder's neutral, or -1, and its law as `bounded` takes it [A, 1, 1]; its two ends.

    It returns by the service's neutral as well. Where that is bad, what the whole house takes from either leg decides
    what becomes of it, and the feeder's drop is left.
    """
    p, broken = d.p, {b.section for b in d.site.breaks if b.conductor == "N" or b.section == "feeder"}
    read = any(set(r.conductors) & {"N", "G"} for r in d.readings)
    if not d.has_feeder or "feeder" in broken or not read:
        return [-1.0, 0.0, 0.0, 0.0], None
    near = p.unknown_feeder_near if d.scene.supply.fed_from == "unknown" else p.feeder_near
    law = [p.feeder_most / p.feeder_resistance, p.feeder_bend**2, near * p.feeder_bend**2]
    return [float(d.unknown("feeder")), *law], (("Q", "N"), ("P", "N") if "service" in broken else X0)


_MOST_KEPT = 48 * 2**20
"""Programs that are kept for arrangements that come again [byte]."""


@remembered(_MOST_KEPT)
def build(site: Site, scene: Scene, readings: tuple[SceneReading, ...]) -> Built:
    """Arrays of one place on one arrangement of readings; nothing depends on what was read."""
    go_on()
    d = Draft(site, scene, readings)
    supply = _supply(d)
    # `draw` takes the name as its seed: called otherwise, every circuit drawn so far would be another.
    asymmetry = {s: d.unknown(f"lean {s}") for s in d.live}
    service(d)
    feeder(d)
    path(d)
    strays(d)
    insulation(d)
    appliance(d)
    if any("metalwork" in r.conductors for r in readings):
        # Anything from bonded at the panel to isolated.
        u = d.unknown("metalwork")
        median = complex(-math.log(PRIORS.metalwork_resistance))
        d.element(METALWORK, ("P", "G"), d.all, median, (u, -PRIORS.metalwork_spread))
    inject = _injection(d)
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
    # Readings between the same nodes are put together, so that the effect of a current there is computed once.
    rows.sort(key=lambda row: (row[0], row[2].point, row[2].conductors, row[1]))
    return _assembled(d, supply, asymmetry, inject, rows)


class _RowSpec(NamedTuple):
    """How one row of the program is read."""

    circuit: int
    ends: tuple[Node, Node]
    """Where the meter lies; of a current, the ends of the conductor."""
    asked: tuple[Node, Node]
    """What is asked for while a meter lies there."""
    edge: int
    """Variable element that the current flows in, or -1."""
    constant: complex
    """Constant admittance beside it [S]."""
    gain: int
    """Unknown of the meter's gain, or -1."""
    gain_scale: float
    kind: int
    meter: complex
    """Admittance of the meter [S]."""


def _ends(d: Draft, r: SceneReading) -> tuple[Node, Node]:
    if r.kind == "current":
        conductor = r.conductors[0]
        if r.point == "appliance_terminals" and d.scene.states[r.state].kind != "disconnected":
            down = d.node("appliance_terminals", conductor)
            return ("R", down[1]), down
        # At a panel one clamps a wire, wherever it lands; at the outlet what leads to a contact.
        wire = conductor if r.point in PANELS else d.node("receptacle", conductor)[1]
        return ("Q", wire), ("R", wire)
    if r.kind == "proximity":
        return d.node(r.point, r.conductors[0]), X0
    if r.kind == "neutral":
        return d.node(r.point, "N"), ("P", "G")
    if r.kind == "earth":
        return d.node(r.point, "N"), X0
    first, second = r.conductors
    return d.node(r.point, first), d.node(r.point, second)


def _row_spec(d: Draft, circuit: int, r: SceneReading) -> _RowSpec:
    meter = d.scene.meters[r.meter] if r.meter >= 0 else None
    a, b = ends = _ends(d, r)
    edge, constant = -1, 0j
    if r.kind == "current":
        flows = (e for e, (x, y, mask, *_) in enumerate(d.elements) if {x, y} == {a, b} and mask >> circuit & 1)
        edge = next((e for e in flows if not d.elements[e][6]), -1)
        constant = d.constants[circuit].get((a, b) if a <= b else (b, a), 0j)
    gain, scale, loading = -1, 0.0, 0j
    if isinstance(meter, Voltmeter | ClampAmmeter | Ohmmeter) and r.kind in ("voltage", "current", "resistance"):
        gain, scale = d.keys.get(f"gain {r.meter}", -1), gain_spread(meter)
    if isinstance(meter, Voltmeter) and r.kind in ("voltage", "neutral_during"):
        loading = meter_admittance(meter, d.scene.supply.frequency)
    dead = d.site.dead_meter >= 0 and r.meter == d.site.dead_meter and r.kind == "voltage"
    return _RowSpec(
        circuit=circuit,
        ends=ends,
        asked=(d.node(r.point, "N"), ("P", "G")) if r.kind == "neutral_during" else (X0, X0),
        edge=edge,
        constant=constant,
        gain=gain,
        gain_scale=scale,
        kind=DEAD if dead else KIND[r.kind],
        meter=loading,
    )


def _networks(d: Draft, taken: Sequence[_RowSpec], extra: set[Node]) -> tuple[list[list[Node]], ComplexArray]:
    """Of each circuit the nodes that stay, and the constant admittances between them, padded to one size [S]."""
    kept, bases = [], []
    for c in range(len(d.circuits)):
        asked = {n for t in taken if t.circuit == c for n in (*t.ends, *t.asked)}
        varied = {n for a, b, mask, *_ in d.elements if mask >> c & 1 for n in (a, b)}
        nodes, own = _reduced(d.constants[c], asked | varied | extra)
        kept.append(nodes)
        bases.append(own)
    most = max((len(n) for n in kept), default=FIXED)
    base = np.zeros((len(kept), most, most), np.complex128)
    for c, own in enumerate(bases):
        base[c, : own.shape[0], : own.shape[0]] = own
    return kept, base


def _nodes_of(d: Draft, node: Node | None, place: list[dict[Node, int]]) -> IntArray:
    """Number of a node in each circuit that is on [1]; -1: there is none."""
    on = [live and node is not None for _, live, _ in d.circuits]
    return np.array([own[node] if live and node else -1 for own, live in zip(place, on, strict=True)], np.int64)


def _assembled(d: Draft, supply: list[float], asymmetry: dict[int, int], inject: _Injection, rows: list[Row]) -> Built:
    size, (law, ends) = len(d.keys), inject

    def index(u: int) -> int:
        return u if u >= 0 else size + (-1 - u)

    taken = [_row_spec(d, c, r) for c, _, r in rows]
    kept, base = _networks(d, taken, set(ends or ()))
    place = [{n: k for k, n in enumerate(nodes)} for nodes in kept]
    at = [
        (c, *sorted((place[c][a], place[c][b])), e)
        for c in range(len(kept))
        for e, (a, b, mask, *_) in enumerate(d.elements)
        if mask >> c & 1 and place[c][a] != place[c][b]
    ]
    terms = [t for e in d.elements for t in e[5]]
    ints, cplx = np.int64, np.complex128
    program = Program(
        size=size,
        element_log=np.array([e[3] for e in d.elements], cplx),
        element_least=np.array([e[4] for e in d.elements], float),
        element_scaled=np.array([e[6] for e in d.elements], ints),
        term_start=np.concatenate(([0], np.cumsum([len(e[5]) for e in d.elements]))).astype(ints),
        term_unknown=np.array([index(t[0]) for t in terms], ints),
        term_factor=np.array([t[1] for t in terms], cplx),
        term_bend=np.array([d.bends.get(t[0], 0.0) for t in terms], float),
        bend_law=np.array([d.p.unconnected_from, d.p.unconnected_within]),
        position=d.position,
        position_spread=d.p.position_spread,
        nodes=np.array([len(n) for n in kept], ints),
        base=base,
        at_start=np.searchsorted([x[0] for x in at], range(len(kept) + 1)).astype(ints),
        at_low=np.array([x[1] for x in at], ints),
        at_high=np.array([x[2] for x in at], ints),
        at_element=np.array([x[3] for x in at], ints),
        phasor=np.array(d.site.phasors, cplx),
        supply=np.array([supply[0], index(int(supply[1])), *supply[2:]], float),
        asymmetry=np.array([asymmetry.get(s, -1) if on else -1 for s, on, _ in d.circuits], ints),
        asymmetry_scale=d.p.leg_asymmetry,
        inject_node=_nodes_of(d, ends and ends[0], place),
        return_node=_nodes_of(d, ends and ends[1], place),
        inject=np.array(law, float),
        reading_start=np.searchsorted([t.circuit for t in taken], range(len(kept) + 1)).astype(ints),
        reading_kind=np.array([t.kind for t in taken], ints),
        node_a=np.array([place[t.circuit][t.ends[0]] for t in taken], ints),
        node_b=np.array([place[t.circuit][t.ends[1]] for t in taken], ints),
        meter=np.array([t.meter for t in taken], cplx),
        edge_element=np.array([t.edge for t in taken], ints),
        edge_constant=np.array([t.constant for t in taken], cplx),
        asked_a=np.array([place[t.circuit][t.asked[0]] for t in taken], ints),
        asked_b=np.array([place[t.circuit][t.asked[1]] for t in taken], ints),
        gain=np.array([t.gain for t in taken], ints),
        gain_scale=np.array([t.gain_scale for t in taken], float),
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
