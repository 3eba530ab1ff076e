"""A place's mass over the severities, with every mode that is found, from where it explains the readings best."""

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from feedproof.circuit.forward import FloatArray, IntArray
from feedproof.faults.severities import piece_array, working
from feedproof.inference.cells import cells
from feedproof.inference.fit import Fit
from feedproof.inference.grid import APART, first_nodes, halve, integral, log_sum, merge, outward
from feedproof.inference.laplace import search
from feedproof.inference.predictions import linearized

_MOST_NODES, MOST_MODES, MOST_STARTS = 28, 3, 8
_REVERSAL_REACH = 4.0
"""A reading whose phasor turns round within so much may do so [1]."""
_STEPS_ROUND = np.array([-1.2, 1.2, -2.6, 2.6])
_NONE = np.zeros((0, 0))
_WET = -2.0
"""Of the unknown of a run's insulation, where it is wet [1]."""
_STEPS, _HALVINGS = 10, 3
_CLOSE = 0.01
"""A climb ends where less than this is to be gained [nat]."""


class _Climbs(NamedTuple):
    """What the climbs of one refinement work on: as many rows for each mode, and some to start others from."""

    size: int
    """Unknowns beside the severities [1]."""
    most: int
    """Nodes there is room for [1]."""
    nodes: FloatArray
    order: IntArray
    rows: FloatArray
    value: FloatArray
    mass: FloatArray
    factor: FloatArray
    tasks: IntArray
    work: FloatArray

    @property
    def spare(self) -> int:
        """First row of the starts of other modes."""
        return MOST_MODES * self.most

    def hold(self, first: int, last: int) -> None:
        """Put the severities of nodes in the rows of each mode."""
        units = (self.nodes[first:last] - self.work[:, 0]) / self.work[:, 1]
        for m in range(MOST_MODES):
            self.rows[m * self.most + first : m * self.most + last, self.size :] = units

    def climb(self, fit: Fit, number: int) -> None:
        """Do the first so many tasks."""
        search(
            fit.built.program, fit.readings, self.tasks[:number], self.rows, self.value, self.mass, self.factor, _CLOSE,
            -np.inf,
        )  # fmt: skip


def _climbs(fit: Fit) -> _Climbs:
    size, severities = fit.size, len(fit.site.spans)
    most = {0: 1, 1: _MOST_NODES, 2: 49}[severities]
    count = MOST_MODES * most + MOST_STARTS
    tasks = np.zeros((count, 5), np.int64)
    tasks[:, 3] = _STEPS
    return _Climbs(
        size=size,
        most=most,
        nodes=np.zeros((most, severities)),
        order=np.arange(most),
        rows=np.zeros((count, size + severities)),
        value=np.full(count, -np.inf),
        mass=np.full(count, -np.inf),
        factor=np.empty((count, size, size)),
        tasks=tasks,
        work=np.array([working(spans) for spans in fit.site.spans]).reshape(severities, 2),
    )


def _other_modes(
    fit: Fit, c: _Climbs, count: int, origin: int, starts: Callable[[Fit, FloatArray], list[FloatArray]], modes: int
) -> int:
    """Look for other modes at one node, and follow each over all nodes; gives how many there are with those before."""
    spare, size = c.spare, fit.size
    others = starts(fit, c.rows[origin])[:MOST_STARTS]
    if not others:
        return modes
    last = spare + len(others)
    c.rows[spare:last, :size] = others
    c.rows[spare:last, size:] = c.rows[origin, size:]
    c.value[spare:last] = -np.inf
    c.tasks[: len(others), 0] = c.tasks[: len(others), 1] = range(spare, last)
    c.climb(fit, len(others))
    # There is room for few: those with most mass first.
    for r in sorted(range(spare, last), key=lambda r: -c.mass[r]):
        apart = all(np.abs(c.rows[r, :size] - c.rows[m * c.most + origin, :size]).max() > APART for m in range(modes))
        if apart and modes < MOST_MODES and c.value[r] > c.value[origin] - 6.0:
            c.climb(fit, outward(c.order, count, origin, modes * c.most, r, c.tasks))
            modes += 1
    return modes


def _over_one_severity(
    fit: Fit, c: _Climbs, own: FloatArray, count: int, modes: int, whole: FloatArray
) -> tuple[int, FloatArray, dict[str, float]]:
    """Halve where the mass is, and give nodes, masses by node and by fault."""
    for _ in range(_HALVINGS):
        more, number = halve(own, c.nodes, c.order, count, whole, c.most, modes, c.tasks)
        if more == count:
            break
        c.hold(count, more)
        c.climb(fit, number)
        count = more
        whole = merge(c.rows, c.mass, fit.size, c.most, count, modes)
    masses = np.empty(len(own))
    integral(own, c.nodes, c.order, count, whole, masses)
    degrees: dict[str, float] = {}
    for span, part in zip(fit.site.spans[0], masses.tolist(), strict=True):
        degrees[span.fault] = log_sum(degrees.get(span.fault, -math.inf), part + math.log(fit.site.rate))
    return count, whole, degrees


def _other_starts(fit: Fit, x: FloatArray) -> list[FloatArray]:
    """Starts for other modes than one that was found.

    The legs' unknowns exchanged, angles turned round, pushed to either side of where it could sit on a saddle, and each
    reading's phasor turned round where that is not far.
    """
    keys, size = fit.built.keys, fit.size
    z = x[:size]
    angles = np.array([k.startswith("angle") for k in keys], bool)
    found = [z[_exchange(keys)], np.where(angles, -z if np.abs(z[angles]).max(initial=0.0) > APART else z + 1.2, z)]
    if fit.site.saddle and all(k in keys for k in fit.site.saddle):
        a, b = (keys.index(k) for k in fit.site.saddle)
        for push in (1.2, -1.2):
            pushed = z.copy()
            pushed[a] += push
            pushed[b] -= push
            found.append(pushed)
    if "feeder" in keys:
        for much in (2.0, -2.0):
            carried = z.copy()
            carried[keys.index("feeder")] = much
            found.append(carried)
    shown, jacobian = np.zeros(len(fit.built.order)), np.zeros((len(fit.built.order), size))
    linearized(fit.built.program, x, shown, jacobian)
    for own, row in zip(shown.tolist(), jacobian, strict=True):
        square = float(row @ row)
        if 0.25 < 4.0 * own * own / max(square, 1e-12) < _REVERSAL_REACH**2:
            found.append(z - 2.0 * own / square * row)
    return [other for other in found if size and np.abs(other - z).max() > APART]


def _wet_starts(fit: Fit, x: FloatArray) -> list[FloatArray]:
    """A damp run: behind an open conductor the insulation may be what carries, far from where dry strays do."""
    z = x[: fit.size].copy()
    damp = [d for d, key in enumerate(fit.built.keys) if key.startswith("damp")]
    z[damp] = _WET
    return [z] if damp else []


@lru_cache(maxsize=2048)
def _exchange(keys: tuple[str, ...]) -> IntArray:
    def other(key: str) -> str:
        legs = {"L1": "L2", "L2": "L1"}
        words = key.split()
        return key if {"L1", "L2"} <= set(words) else " ".join(legs.get(w, w) for w in words)

    return np.array([keys.index(other(k)) if other(k) in keys else i for i, k in enumerate(keys)], np.int64)


def _log_sum(logs: Sequence[float]) -> float:
    top = max(logs)
    return top if top == -math.inf else top + math.log(sum(math.exp(v - top) for v in logs))


def _pair_nodes(fit: Fit) -> tuple[FloatArray, int]:
    """Nodes of two severities, row by row, there and back; and the one nearest to the peak."""
    axes, at = [], []
    for spans, u in zip(fit.site.spans, fit.peak[fit.size :], strict=True):
        middle, scale = working(spans)
        low, high = spans[0].low, spans[-1].high
        s = min(max(middle + scale * u, low), high)
        at.append(s)
        axes.append(sorted({low, high, *(v for v in (s - 2.0, s - 0.6, s, s + 0.6, s + 2.0) if low < v < high)}))
    nodes = np.array([(a, b) for i, a in enumerate(axes[0]) for b in (axes[1] if i % 2 == 0 else axes[1][::-1])])
    return nodes, int(np.argmin(((nodes - np.array(at)) ** 2).sum(axis=1)))


def refine(fit: Fit) -> None:
    """Mass over the severities, with every mode that is found."""
    site, c = fit.site, _climbs(fit)
    severities, count, origin, own = len(site.spans), 1, 0, _NONE
    if severities == 1:
        own, (middle, scale) = piece_array(site.spans[0]), c.work[0]
        at = min(max(middle + scale * fit.peak[fit.size], own[0, 0]), own[-1, 1])
        count, origin = first_nodes(own, at, min(fit.spread * scale, 4.0), _STEPS_ROUND, c.nodes, c.order)
    elif severities == 2:
        found, origin = _pair_nodes(fit)
        count = len(found)
        c.nodes[:count] = found
    c.hold(0, count)
    c.rows[c.spare, : fit.size] = fit.peak[: fit.size]
    c.climb(fit, outward(c.order, count, origin, 0, c.spare, c.tasks))
    modes = _other_modes(fit, c, count, origin, _other_starts, 1)
    if severities == 1:
        modes = _other_modes(fit, c, count, int(c.order[count - 1]), _wet_starts, modes)
    whole = merge(c.rows, c.mass, fit.size, c.most, count, modes)
    if severities == 1:
        count, whole, fit.degrees = _over_one_severity(fit, c, own, count, modes, whole)
    elif severities == 2:
        fit.degrees = {site.fault: _log_sum(cells(site, c.nodes[:count], whole)[1])}
    else:
        fit.degrees = {site.fault: math.log(site.rate) + float(whole[0])}
    fit.nodes, fit.order, fit.modes = c.nodes[:count], c.order[:count], modes
    fit.rows, fit.mass, fit.whole = c.rows, c.mass, whole
    fit.log_mass = _log_sum(list(fit.degrees.values()))


def rows_of(fit: Fit) -> IntArray:
    """Numbers of the rows of every mode at every node of a refined place [1]; shape (M, K)."""
    most = (len(fit.rows) - MOST_STARTS) // MOST_MODES
    return np.asarray(np.arange(fit.modes)[:, None] * most + np.arange(len(fit.nodes)))


def begin_mild(fit: Fit, sound: Fit) -> None:
    """Put a place's peak where its trouble is least and all else is as a sound supply explains the readings best."""
    there = dict(zip(sound.built.keys, sound.peak.tolist(), strict=False))
    middle, scale = working(fit.site.spans[0])
    mildest = (fit.site.spans[0][0].low - middle) / scale
    fit.peak = np.array([*(there.get(key, 0.0) for key in fit.built.keys), mildest])
    fit.spread = 1.0


def again(fit: Fit) -> None:
    """Refine from the draw that outweighs all others, and forget the draws."""
    fit.peak = fit.x[int(np.argmax(fit.log_weight))]
    fit.spread = min(fit.spread, 1.0)
    fit.x, fit.log_weight = fit.x[:0], fit.log_weight[:0]
    refine(fit)
