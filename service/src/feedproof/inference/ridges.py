"""Draws along the thin bent surface that sharp readings leave, compiled.

A few readings to a part of a percent, a dozen unknowns over several decades: what is left of the prior is a
surface as thin as the readings are sharp, and as wide and bent as the prior allows. No few Gaussians cover it.
But as many coordinates as there are sharp readings can be *settled*: all others, the free ones, are drawn from a
smooth law fitted to their marginal posterior; then the sharp ones are moved by Gauss-Newton steps to where the
readings want them, and drawn from a narrow law around that place. Where they settle is a function of the free
coordinates alone, so the density of a draw is the product of the two laws, and the mean weight is the evidence.

References
----------
.. [1] A. J. Chorin, X. Tu, "Implicit sampling for particle filters", Proc. Natl. Acad. Sci. 106 (2009)
   17249-17254: draws by solving for the place of high probability.
"""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled, counting_nothing, within
from feedproof.circuit.lanes import LANES, ROWS, WIDE, absolute, get, larger, load, put, store, wide_room
from feedproof.inference.arrays import IntArray, Program, Work
from feedproof.inference.factors import cholesky, cholesky_lanes, solve_cholesky, solve_lanes, solve_transposed
from feedproof.inference.forward import PROXIMITY, UNIFORM, FloatArray, into_lanes, predict_lanes
from feedproof.inference.likelihood import Observations, slopes_and_weights, told_share

#: A coordinate is sharp where the readings tell this much more of it than the prior does [1]; at most so many.
_SHARP = 25.0
_MOST = 4
#: How much less a coordinate with ends is worth settling [1].
_RELUCTANCE = 0.01
#: Steps to settle, the longest of them, and what one must gain for another to be worth while [nat].
_STEPS = 6
_REACH = 1.5
_CLOSE = 0.02
#: How far out a coordinate may start, and settle.
_START, _END = 3.0, 5.0
#: Share of the readings' information that the law of the sharp coordinates keeps; its copies: width and share.
_TOLD = 0.5
_WIDTHS = np.array([1.0, 1.6, 3.0])
_SHARES = np.array([0.65, 0.25, 0.1])
#: Spreads the copies evenly over the draws: the golden section.
_GOLDEN = 0.6180339887498949
UNBOUND = 0.08
"""Share of draws from the prior in all coordinates: what lies beside the surface, a misread say, is seen too [1]."""


class Ridge(NamedTuple):
    """Which coordinates the readings settle, and from where to start."""

    sharp: IntArray
    """Coordinates that are settled; shape (S,)."""
    free: IntArray
    """The others; shape (F,)."""
    mode: FloatArray
    """A mode of the posterior; shape (D,)."""
    lead: FloatArray
    """Slope of the sharp coordinates by the free ones at the mode; shape (S, F)."""
    trust: FloatArray
    """Probability that a reading is no misread, at the mode; shape (R,) [1]."""
    element: IntArray
    """1 for elements that a sharp coordinate moves; shape (E,)."""


@compiled
def sharp_coordinates(precision: FloatArray, kind: IntArray) -> IntArray:
    """Coordinates to settle: each time the one that the readings tell most of, given those chosen before.

    A fault's resistance has ends that it cannot be settled beyond; it is chosen only where nothing else will do.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        At a mode, the prior's unit matrix included [1].
    kind : ndarray of int, shape (D,)
        Laws of the unknowns, as in `Program` [1].

    Returns
    -------
    ndarray of int
        Fewer than D of them, most told first [1].
    """
    size = precision.shape[0]
    told = precision.copy()
    for j in range(size):
        told[j, j] -= 1.0
    chosen = np.zeros(_MOST, np.int64)
    count = 0
    while count < min(_MOST, size - 1):
        best, most = -1, 0.0
        for j in range(size):
            worth = told[j, j] * (_RELUCTANCE if kind[j] == UNIFORM else 1.0)
            if told[j, j] > _SHARP and worth > most:
                best, most = j, worth
        if best < 0:
            break
        top = told[best, best]
        chosen[count] = best
        count += 1
        column = told[:, best].copy()
        for j in range(size):
            for k in range(size):
                told[j, k] -= column[j] * column[k] / (top + 1.0)
        told[:, best] = 0.0
        told[best, :] = 0.0
    return chosen[:count]


@within
def nothing_settled(size: int) -> Ridge:
    """A ridge without sharp coordinates: all are free."""
    none, empty = np.zeros(0, np.int64), np.zeros(0)
    return Ridge(none, np.arange(size), empty, np.zeros((0, size)), empty, none)


@within
def ridge_at(
    program: Program, observations: Observations, work: Work, mode: FloatArray, precision: FloatArray
) -> Ridge:
    """Split the coordinates at a mode.

    Parameters
    ----------
    program, observations, work : Program, Observations, Work
        Hypothesis, readings and scratch.
    mode : ndarray, shape (D,)
        A mode of the posterior [1].
    precision : ndarray, shape (D, D)
        There [1].

    Returns
    -------
    Ridge
        Without sharp coordinates where the readings tell little of each.
    """
    size = mode.size
    sharp = sharp_coordinates(precision, program.coordinate_kind)
    is_sharp = np.zeros(size, np.int64)
    for j in sharp:
        is_sharp[j] = 1
    free = np.flatnonzero(is_sharp == 0)
    element = np.zeros(program.element_edge.size, np.int64)
    for e in range(element.size):
        for k in range(program.term_start[e], program.term_start[e + 1]):
            element[e] = max(element[e], is_sharp[program.term_coordinate[k]])
    into_lanes(mode.reshape(1, size), 0, work.coordinate)
    predict_lanes(program, work.coordinate, work, work.shown, work.jacobian, element, False)
    trust = np.ones(observations.kind.size)
    for r in range(trust.size):
        if observations.kind[r] != PROXIMITY and not observations.over_range[r]:
            trust[r] = told_share(observations, r, get(work.shown, r, 0))
    return Ridge(sharp, free, mode.copy(), led_by_free(precision, sharp, free), trust, element)


@within
def led_by_free(precision: FloatArray, sharp: IntArray, free: IntArray) -> FloatArray:
    """Slope of the sharp coordinates' conditional mean by the free ones.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        Of all coordinates [1].
    sharp, free : ndarray of int, shapes (S,), (F,)
        The two parts [1].

    Returns
    -------
    ndarray, shape (S, F)
        [1]
    """
    inner, lead = np.zeros((sharp.size, sharp.size)), np.zeros((sharp.size, free.size))
    for a in range(sharp.size):
        for b in range(sharp.size):
            inner[a, b] = precision[sharp[a], sharp[b]]
    cholesky(inner, sharp.size)
    column = np.zeros(sharp.size)
    for f in range(free.size):
        for a in range(sharp.size):
            column[a] = -precision[sharp[a], free[f]]
        solve_cholesky(inner, sharp.size, column)
        lead[:, f] = column
    return lead


@compiled
def marginal_precision(precision: FloatArray, ridge: Ridge) -> FloatArray:
    """Precision of the free coordinates when the sharp ones follow.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        Of all coordinates [1].
    ridge : Ridge
        Which are free.

    Returns
    -------
    ndarray, shape (F, F)
        [1]
    """
    sharp, free = ridge.sharp, ridge.free
    lead = led_by_free(precision, sharp, free)
    marginal = np.zeros((free.size, free.size))
    for f in range(free.size):
        for g in range(free.size):
            marginal[f, g] = precision[free[f], free[g]]
            for a in range(sharp.size):
                marginal[f, g] += precision[free[f], sharp[a]] * lead[a, g]
    return marginal


class Settling(NamedTuple):
    """Scratch of what settles: D coordinates, S of them sharp, R readings."""

    here: FloatArray
    """Where the draws are; shape (D, lanes)."""
    factor: FloatArray
    """Cholesky factors of the precisions of the sharp coordinates; shape (S, S, lanes)."""
    step: FloatArray
    """shape (S, lanes)."""
    slope: FloatArray
    """shape (R, lanes)."""
    weight: FloatArray
    """shape (R, lanes)."""
    length: FloatArray
    """shape (1, lanes)."""
    gain: FloatArray
    """shape (1, lanes)."""
    told: FloatArray
    """shape (S, S)."""
    offset: FloatArray
    """shape (S,)."""
    who: IntArray
    """Which draw each lane holds, −1 for none; shape (lanes,)."""
    taken: IntArray
    """Steps that it has taken; shape (lanes,)."""


@within
def room_to_settle(ridge: Ridge, readings: int) -> Settling:
    """Scratch for `settle`.

    Parameters
    ----------
    ridge : Ridge
        Which coordinates are sharp.
    readings : int
        How many readings there are [1].

    Returns
    -------
    Settling
        Zeros.
    """
    size = ridge.sharp.size
    factor = wide_room(size * size).reshape(size, size, ROWS, LANES)
    vectors = wide_room(size), wide_room(readings), wide_room(readings), wide_room(1), wide_room(1)
    lists = np.zeros(WIDE, np.int64), np.zeros(WIDE, np.int64)
    here = wide_room(size + ridge.free.size)
    return Settling(here, factor, *vectors, np.zeros((size, size)), np.zeros(size), *lists)


@counting_nothing
def _enter(ridge: Ridge, u: FloatArray, i: int, here: FloatArray, lane: int) -> None:
    """Put a draw into a lane: its free coordinates, and the sharp ones where the mode's slopes lead them."""
    sharp, free, mode, lead = ridge.sharp, ridge.free, ridge.mode, ridge.lead
    for f in range(free.size):
        put(here, free[f], lane, u[i, f])
    for a in range(sharp.size):
        start = mode[sharp[a]]
        for f in range(free.size):
            start += lead[a, f] * (u[i, f] - mode[free[f]])
        put(here, sharp[a], lane, min(max(start, -_START), _START))


@counting_nothing
def _aim(observations: Observations, work: Work, ridge: Ridge, scratch: Settling) -> None:
    """Step of the sharp coordinates to where the readings want them; fills all but `here` of the scratch's lanes."""
    sharp, trust, here = ridge.sharp, ridge.trust, scratch.here
    kind, over_range, value = observations.kind, observations.over_range, observations.value
    floors, relatives = observations.floor, observations.relative
    size, shown, jacobian = sharp.size, work.shown, work.jacobian
    factor, step, slope, weight = scratch.factor, scratch.step, scratch.slope, scratch.weight
    for r in range(kind.size):
        if kind[r] == PROXIMITY or over_range[r]:
            slopes_and_weights(observations, r, shown, slope, weight)
        else:
            # A squared misfit pulls from everywhere, Student's law would let go far off.
            seen, floor, relative = load(shown, r), floors[r], relatives[r]
            found = trust[r] / (floor * floor + relative * relative * seen * seen)
            store(weight, r, found)
            store(slope, r, found * (value[r] - seen))
    for a in range(size):
        total = -load(here, sharp[a])
        for r in range(kind.size):
            total += load(slope, r) * load(jacobian, (r, sharp[a]))
        store(step, a, total)
        for b in range(a + 1):
            total = 1.0 if a == b else 0.0
            for r in range(kind.size):
                total += load(weight, r) * load(jacobian, (r, sharp[a])) * load(jacobian, (r, sharp[b]))
            store(factor, (a, b), total)
    cholesky_lanes(factor)
    solve_lanes(factor, step)
    longest, doubled = _REACH, 0.0
    for a in range(size):
        longest = larger(longest, absolute(load(step, a)))
        along = 0.0
        for b in range(a, size):
            along += load(factor, (b, a)) * load(step, b)
        doubled += along * along
    store(scratch.length, 0, _REACH / longest)
    store(scratch.gain, 0, 0.5 * doubled)


@counting_nothing
def _scatter_sharp(
    ridge: Ridge,
    scratch: Settling,
    points: FloatArray,
    row: int,
    turn: float,
    unbound: bool,
    lane: int,
) -> float:
    """Draw the sharp coordinates of one lane around where they settled, or unbound from the prior.

    Returns the density of the law around where they settled, without (2π)^(-S/2).
    """
    sharp, here, factor, told, offset = ridge.sharp, scratch.here, scratch.factor, scratch.told, scratch.offset
    size, free = sharp.size, ridge.free.size
    for a in range(size):
        for b in range(a + 1):
            told[a, b] = 0.0
            for n in range(b + 1):
                told[a, b] += _TOLD * get(factor, (a, n), lane) * get(factor, (b, n), lane)
        told[a, a] += 1.0 - _TOLD
    cholesky(told, size)
    copy, edge = 0, _SHARES[0]
    while turn > edge and copy < _SHARES.size - 1:
        copy += 1
        edge += _SHARES[copy]
    squared, scale = 0.0, 1.0
    for a in range(size):
        point = points[row, free + a]
        offset[a] = point - get(here, sharp[a], lane) if unbound else _WIDTHS[copy] * point
        scale *= told[a, a]
    for a in range(size):
        white = offset[a]
        if unbound:
            white = 0.0
            for n in range(a, size):
                white += told[n, a] * offset[n]
        squared += white * white
    if not unbound:
        solve_transposed(told, size, offset)
    for a in range(size):
        put(here, sharp[a], lane, get(here, sharp[a], lane) + offset[a])
    density = 0.0
    for c in range(_WIDTHS.size):
        density += _SHARES[c] * math.exp(-0.5 * squared / _WIDTHS[c] ** 2) / _WIDTHS[c] ** size
    return density * scale


@counting_nothing
def settle(
    program: Program,
    observations: Observations,
    work: Work,
    ridge: Ridge,
    points: FloatArray,
    used: int,
    unbound: int,
    u: FloatArray,
    z: FloatArray,
    narrow: FloatArray,
    scratch: Settling,
) -> None:
    """Draw the sharp coordinates of draws whose free ones are drawn already.

    Where a draw settles depends on its own free coordinates alone. A lane whose draw has settled takes the next one, so
    that none waits for the slowest beside it.

    Parameters
    ----------
    program, observations, work : Program, Observations, Work
        Hypothesis, readings and scratch.
    ridge : Ridge
        Which coordinates are sharp.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    used : int
        How many points were used before this batch [1].
    unbound : int
        So many of the draws are unbound: their sharp coordinates come from the prior [1].
    u : ndarray, shape (N, F)
        Free coordinates of the draws [1].
    z : ndarray, shape (N, D)
        Filled: the draws [1].
    narrow : ndarray, shape (N,)
        Filled: density of the law around where the sharp coordinates settled, without (2π)^(-S/2) [1].
    scratch : Settling
        From `room_to_settle`.
    """
    here, who, taken, sharp = scratch.here, scratch.who, scratch.taken, ridge.sharp
    step, length, gain = scratch.step, scratch.length, scratch.gain
    count, size = z.shape
    waiting = min(WIDE, count)
    left = waiting
    for lane in range(WIDE):
        # A lane without a draw needs a place to be at all the same.
        _enter(ridge, u, min(lane, count - 1), here, lane)
        who[lane], taken[lane] = lane if lane < count else -1, 0
    while left > 0:
        predict_lanes(program, here, work, work.shown, work.jacobian, ridge.element, True)
        _aim(observations, work, ridge, scratch)
        for lane in range(WIDE):
            i = who[lane]
            if i < 0:
                continue
            for a in range(sharp.size):
                place = get(here, sharp[a], lane) + get(length, 0, lane) * get(step, a, lane)
                put(here, sharp[a], lane, min(max(place, -_END), _END))
            taken[lane] += 1
            if get(gain, 0, lane) >= _CLOSE and taken[lane] < _STEPS:
                continue
            row = (used + i) % points.shape[0]
            narrow[i] = _scatter_sharp(ridge, scratch, points, row, (i * _GOLDEN) % 1.0, i < unbound, lane)
            for d in range(size):
                z[i, d] = get(here, d, lane)
            who[lane] = -1
            left -= 1
            if waiting < count:
                _enter(ridge, u, waiting, here, lane)
                who[lane], taken[lane] = waiting, 0
                waiting += 1
                left += 1
