"""One place fitted to one reading set: where it explains the readings best, and its mass over the severities."""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct, field

from feedproof.circuit.forward import FloatArray, IntArray
from feedproof.faults.places import Site
from feedproof.faults.severities import log_density, piece_array, working
from feedproof.inference.cells import cells
from feedproof.inference.grid import first_nodes, halve, integral, log_sum, merge, outward
from feedproof.inference.laplace import search
from feedproof.inference.likelihood import Observations, Readings
from feedproof.inference.predictions import linearized
from feedproof.inference.program import Built

_MOST_NODES, MOST_MODES, MOST_STARTS = 28, 3, 8
_ASIDE = 0.2
_ROUND = 4.0
"""A reading whose phasor turns round within so much may do so [1]."""
_STEPS_ROUND = np.array([-1.2, 1.2, -2.6, 2.6])
_NONE = np.zeros((0, 0))
_APART = 0.25
"""Modes nearer than this in every coordinate are one [1]."""
_STEPS = 10
_CLOSE = 0.01
"""A climb ends where less than this is to be gained [nat]."""


class Fit(Struct):
    """One place on one reading set."""

    site: Site
    built: Built
    readings: Readings
    peak: FloatArray
    """Where all unknowns, severities included, explain the readings best; (D + S,)."""
    spread: float
    """Of the (last) severity round the peak, in working units [1]."""
    log_mass: float
    """Logarithm of prior times evidence [nat]."""
    degrees: dict[str, float]
    """The same by fault."""
    nodes: FloatArray = field(default_factory=lambda: _NONE)
    """Severities [ln ohm]; (K, S)."""
    order: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    """Sorts the nodes of a single severity."""
    modes: int = 0
    """How many were found; 0: not refined."""
    rows: FloatArray = field(default_factory=lambda: _NONE)
    """Modes: node k of mode m is row m * most + k; (rows, D + S)."""
    mass: FloatArray = field(default_factory=lambda: np.zeros(0))
    """Logarithms of the mass at the rows, and over all modes by node [nat]."""
    whole: FloatArray = field(default_factory=lambda: np.zeros(0))
    x: FloatArray = field(default_factory=lambda: _NONE)
    """Draws; (N, D + S)."""
    log_weight: FloatArray = field(default_factory=lambda: np.zeros(0))
    wide: float = -math.inf
    """Of the readings blurred far [nat]."""

    @property
    def size(self) -> int:
        """Unknowns beside the severities [1]."""
        return int(self.built.program.size)

    def weights(self) -> FloatArray:
        """Of the draws; they sum to 1 [1]."""
        w = np.exp(self.log_weight - self.log_weight.max())
        return np.asarray(w / w.sum())

    def severities(self) -> FloatArray:
        """Of the draws [ln ohm]; (N, S)."""
        found = self.x[:, self.size :].copy()
        for k, spans in enumerate(self.site.spans):
            middle, scale = working(spans)
            found[:, k] = middle + scale * found[:, k]
        return found


def blur(o: Observations) -> Readings:
    """Readings as they are, and with more scatter and no misreads.

    They are blurred by 2 %, and by 15 % with a normal law, by which one climbs from afar.
    """
    contact = o.kind != 3
    scale = o.value.copy()
    for kind in (0, 1):
        own = o.kind == kind
        if own.any():
            scale[own] = np.maximum(scale[own], 0.7 * scale[own].max())

    def wider(share: float, times: float, misread: float) -> Observations:
        floor = np.sqrt(o.floor**2 * times + (share * scale) ** 2)
        return o._replace(floor=np.where(contact, floor, o.floor), misread=np.where(contact, misread, o.misread))

    return (o, wider(0.02, 2.0, 0.0), wider(0.15, 17.0, -1.0))


@lru_cache(maxsize=4096)
def _starts(keys: tuple[str, ...], severities: int, position: int) -> tuple[FloatArray, IntArray]:
    """Where to start, and the climbs that find the peak."""
    size = len(keys)
    by_count: dict[int, list[tuple[float, ...]]] = {
        0: [()],
        1: [(-0.9,), (0.0,), (0.9,)],
        2: [(-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7)],
    }
    places = by_count[severities]
    starts = np.zeros((len(places), size + severities))
    # Legs that are loaded just alike let a neutral read 0, from where nothing tells which way to go.
    starts[:, :size] = [_ASIDE * (("L1" in k.split()) - ("L2" in k.split()) + k.startswith("angle")) for k in keys]
    for row, place in zip(starts, places, strict=True):
        row[size:] = place
    if position >= 0:
        # A bare contact: next to nothing floats.
        starts[-1, position] = -1.6
    m = len(places)
    tasks = [*([k, k, 2, 4, 1] for k in range(m)), [-1, m, 1, 20, 1], [m, m + 1, 0, 20, 1]]
    return starts, np.array(tasks)


def locate(site: Site, built: Built, readings: Readings, stop: float = -math.inf) -> Fit:
    """Where a place explains the readings best, and roughly its mass.

    Parameters
    ----------
    site : Site
        The place.
    built : Built
        Its program.
    readings : Readings
        In the program's order.
    stop : float, optional
        Logarithm of the likelihood of the readings blurred far below which a place is not looked at again [nat].

    Returns
    -------
    Fit
        Without nodes and draws.
    """
    size, severities = int(built.program.size), len(site.spans)
    starts, tasks = _starts(built.keys, severities, built.program.position)
    m, n = starts.shape
    x = np.zeros((m + 2, n))
    x[:m] = starts
    value, mass = np.full(m + 2, -np.inf), np.full(m + 2, -np.inf)
    factor = np.zeros((m + 2, n, n))
    search(built.program, readings, tasks, x, value, mass, factor, 0.02, stop)
    wide = float(value[:m].max()) + math.log(site.rate)
    if mass[m + 1] == -np.inf:
        return Fit(site, built, readings, x[0], 0.0, -math.inf, {site.fault: -math.inf}, wide=wide)
    peak, rough = x[m + 1], float(mass[m + 1])
    log_mass = rough + math.log(site.rate)
    if severities:
        at = []
        for spans, u in zip(site.spans, peak[size:].tolist(), strict=True):
            middle, scale = working(spans)
            at.append(min(max(middle + scale * u, spans[0].low), spans[-1].high))
            # The working prior of the severity out, its own in.
            log_mass += 0.5 * u * u + math.log(scale) + 0.5 * math.log(2.0 * math.pi)
        log_mass += log_density(site.spans, at)
    spread = 1.0 / float(factor[m + 1][-1, -1]) if n else 0.0
    degrees = {site.fault: log_mass}
    if severities == 1 and spread > 0.999 and abs(peak[-1]) < 1e-3:
        # Nothing that was read depends on the severity: the mass is the prior's over all of it.
        log_mass = rough + math.log(site.rate * sum(s.share for s in site.spans[0]))
        degrees = {}
        for s in site.spans[0]:
            if s.share <= 0.0:
                # Ruled out by the caller.
                continue
            degrees[s.fault] = float(
                np.logaddexp(degrees.get(s.fault, -math.inf), rough + math.log(site.rate * s.share))
            )
        spread = math.inf
    return Fit(site, built, readings, peak, spread, log_mass, degrees, wide=wide)


def _other_starts(fit: Fit, x: FloatArray) -> list[FloatArray]:
    """Starts for other modes than one that was found.

    The legs' unknowns exchanged, angles turned round, pushed to either side of where it could sit on a saddle, and each
    reading's phasor turned round where that is not far.
    """
    keys, size = fit.built.keys, fit.size
    z = x[:size]
    angles = np.array([k.startswith("angle") for k in keys], bool)
    found = [z[_exchange(keys)], np.where(angles, -z if np.abs(z[angles]).max(initial=0.0) > _APART else z + 1.2, z)]
    if fit.site.saddle and all(k in keys for k in fit.site.saddle):
        a, b = (keys.index(k) for k in fit.site.saddle)
        for push in (1.2, -1.2):
            pushed = z.copy()
            pushed[a] += push
            pushed[b] -= push
            found.append(pushed)
    shown, jacobian = np.zeros(len(fit.built.order)), np.zeros((len(fit.built.order), size))
    linearized(fit.built.program, x, shown, jacobian)
    for own, row in zip(shown.tolist(), jacobian, strict=True):
        square = float(row @ row)
        if 0.25 < 4.0 * own * own / max(square, 1e-12) < _ROUND**2:
            found.append(z - 2.0 * own / square * row)
    return [other for other in found if size and np.abs(other - z).max() > _APART]


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
    site, size = fit.site, fit.size
    severities = len(site.spans)
    work = np.array([working(spans) for spans in site.spans]).reshape(severities, 2)
    most = {0: 1, 1: _MOST_NODES, 2: 49}[severities]
    nodes, order = np.zeros((most, severities)), np.arange(most)
    own = piece_array(site.spans[0]) if severities == 1 else _NONE
    if severities == 1:
        at = min(max(work[0, 0] + work[0, 1] * fit.peak[size], own[0, 0]), own[-1, 1])
        count, origin = first_nodes(own, at, min(fit.spread * work[0, 1], 4.0), _STEPS_ROUND, nodes, order)
    elif severities == 2:
        found, origin = _pair_nodes(fit)
        count = len(found)
        nodes[:count] = found
    else:
        count, origin = 1, 0
    rows = np.zeros((MOST_MODES * most + MOST_STARTS, size + severities))
    value, mass = np.full(len(rows), -np.inf), np.full(len(rows), -np.inf)
    factor = np.empty((len(rows), size, size))
    tasks = np.zeros((MOST_MODES * most + MOST_STARTS, 5), np.int64)
    tasks[:, 3] = _STEPS

    def place(first: int, last: int) -> None:
        units = (nodes[first:last] - work[:, 0]) / work[:, 1]
        for m in range(MOST_MODES):
            rows[m * most + first : m * most + last, size:] = units

    def climb(number: int) -> None:
        search(fit.built.program, fit.readings, tasks[:number], rows, value, mass, factor, _CLOSE, -np.inf)

    place(0, count)
    spare = MOST_MODES * most
    rows[spare, :size] = fit.peak[:size]
    climb(outward(order, count, origin, 0, spare, tasks))
    modes = 1
    others = _other_starts(fit, rows[origin])[:MOST_STARTS]
    if others:
        rows[spare : spare + len(others), :size] = others
        rows[spare : spare + len(others), size:] = rows[origin, size:]
        tasks[: len(others), 0] = tasks[: len(others), 1] = range(spare, spare + len(others))
        climb(len(others))
        for r in range(spare, spare + len(others)):
            apart = all(np.abs(rows[r, :size] - rows[m * most + origin, :size]).max() > _APART for m in range(modes))
            if apart and modes < MOST_MODES and value[r] > value[origin] - 6.0:
                climb(outward(order, count, origin, modes * most, r, tasks))
                modes += 1
    whole = merge(rows, mass, size, most, count, modes)
    rate = math.log(site.rate)
    if severities == 1:
        for _ in range(3):
            more, number = halve(own, nodes, order, count, whole, most, modes, tasks)
            if more == count:
                break
            place(count, more)
            climb(number)
            count = more
            whole = merge(rows, mass, size, most, count, modes)
        masses = np.empty(len(own))
        integral(own, nodes, order, count, whole, masses)
        degrees: dict[str, float] = {}
        for span, part in zip(site.spans[0], masses.tolist(), strict=True):
            degrees[span.fault] = log_sum(degrees.get(span.fault, -math.inf), part + rate)
        fit.degrees = degrees
    fit.nodes, fit.order, fit.modes, fit.rows, fit.mass, fit.whole = (
        nodes[:count],
        order[:count],
        modes,
        rows,
        mass,
        whole,
    )
    if severities == 0:
        fit.degrees = {site.fault: rate + float(whole[0])}
    elif severities == 2:
        fit.degrees = {site.fault: _log_sum(cells(site, fit.nodes, whole)[1])}
    fit.log_mass = _log_sum(list(fit.degrees.values()))


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
