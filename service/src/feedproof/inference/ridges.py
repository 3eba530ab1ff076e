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
.. [2] J.-M. Cornuet, J.-M. Marin, A. Mira, C. P. Robert, "Adaptive multiple importance sampling", Scand. J.
   Stat. 39 (2012) 798-812.
"""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.forward import PROXIMITY, UNIFORM, FloatArray, IntArray, Program, Work, predict
from feedproof.inference.laplace import cholesky, solve_cholesky, solve_transposed
from feedproof.inference.likelihood import Observations, slope_and_weight, told_share, total_log_likelihood
from feedproof.inference.mixture import add_to_proposal, draw_component, fit_cluster, invert_lower, take_precision
from feedproof.inference.normal import half_square
from feedproof.inference.weights import effective_number, flattened, next_batch

#: A coordinate is sharp where the readings tell this much more of it than the prior does [1]; at most so many.
_SHARP = 25.0
_MOST = 4
#: How much less a coordinate with ends is worth settling [1].
_RELUCTANCE = 0.01
#: Steps to settle, the longest of them, and the shortest that is worth another.
_STEPS = 6
_REACH = 1.5
_CLOSE = 0.03
#: How far out a coordinate may start, and settle.
_START, _END = 3.0, 5.0
#: Share of the readings' information that the law of the sharp coordinates keeps; its copies: width and share.
_TOLD = 0.5
_WIDTHS = np.array([1.0, 1.6, 3.0])
_SHARES = np.array([0.65, 0.25, 0.1])
#: Spreads the copies evenly over the draws: the golden section.
_GOLDEN = 0.6180339887498949
#: Share of the prior in the law of the free coordinates, at first and once it is fitted.
_PRIOR_FIRST = 0.5
_PRIOR_SHARE = 0.25
#: Share of draws from the prior in all coordinates: what lies beside the surface, a misread perhaps, is seen too.
_UNBOUND = 0.08
#: Batches: the first, and how much each later one grows; fits at most, and the effective share of an even batch.
_FIRST_BATCH = 256
_GROWTH = 1.4
_FITS = 4
_EVEN = 0.3
#: A fit needs this many effective draws per coordinate; with fewer the weights are flattened first.
_DRAWS_PER_COORDINATE = 4.0
#: Below these effective shares after so many fits, and after all of them, the surface is not what was taken for it.
_TRIES = 2
_HOPELESS = 0.02
_MISFIT = 0.08


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


@compiled
def _ridge(
    program: Program, observations: Observations, work: Work, mode: FloatArray, factor: FloatArray, marginal: FloatArray
) -> Ridge:
    """Split the coordinates at a mode; fills the Cholesky factor of the free ones' marginal precision."""
    size = mode.size
    precision = np.zeros((size, size))
    for j in range(size):
        for k in range(j + 1):
            for n in range(k + 1):
                precision[j, k] += factor[j, n] * factor[k, n]
            precision[k, j] = precision[j, k]
    sharp = sharp_coordinates(precision, program.coordinate_kind)
    is_sharp = np.zeros(size, np.int64)
    for j in sharp:
        is_sharp[j] = 1
    free = np.flatnonzero(is_sharp == 0)
    inner = np.zeros((sharp.size, sharp.size))
    for a in range(sharp.size):
        for b in range(sharp.size):
            inner[a, b] = precision[sharp[a], sharp[b]]
    cholesky(inner, sharp.size)
    lead = np.zeros((sharp.size, free.size))
    column = np.zeros(sharp.size)
    for f in range(free.size):
        for a in range(sharp.size):
            column[a] = -precision[sharp[a], free[f]]
        solve_cholesky(inner, sharp.size, column)
        lead[:, f] = column
    for f in range(free.size):
        for g in range(free.size):
            marginal[f, g] = precision[free[f], free[g]]
            for a in range(sharp.size):
                marginal[f, g] += precision[free[f], sharp[a]] * lead[a, g]
    cholesky(marginal, free.size)
    here, shown = mode.copy().reshape(1, size), np.zeros((1, observations.kind.size))
    predict(program, here, work, shown, np.zeros((0, 0)))
    trust = np.ones(observations.kind.size)
    for r in range(trust.size):
        if observations.kind[r] != PROXIMITY and not observations.over_range[r]:
            trust[r] = told_share(observations, r, shown[0, r])
    return Ridge(sharp, free, mode.copy(), lead, trust)


@compiled
def _settle(
    program: Program,
    observations: Observations,
    work: Work,
    ridge: Ridge,
    z: FloatArray,
    shown: FloatArray,
    jacobian: FloatArray,
    factor: FloatArray,
) -> None:
    """Move the sharp coordinates of the one draw `z`; fills the Cholesky factor of their precision there."""
    sharp, free, mode, lead = ridge.sharp, ridge.free, ridge.mode, ridge.lead
    step = np.zeros(sharp.size)
    for a in range(sharp.size):
        start = mode[sharp[a]]
        for f in range(free.size):
            start += lead[a, f] * (z[0, free[f]] - mode[free[f]])
        z[0, sharp[a]] = min(max(start, -_START), _START)
    for _ in range(_STEPS):
        predict(program, z, work, shown, jacobian)
        for a in range(sharp.size):
            step[a] = -z[0, sharp[a]]
            for b in range(a + 1):
                factor[a, b] = 1.0 if a == b else 0.0
        for r in range(observations.kind.size):
            if observations.kind[r] == PROXIMITY or observations.over_range[r]:
                slope, weight = slope_and_weight(observations, r, shown[0, r])
            else:
                # A squared misfit pulls from everywhere, Student's law would let go far off.
                weight = ridge.trust[r] / (observations.floor[r] ** 2 + (observations.relative[r] * shown[0, r]) ** 2)
                slope = weight * (observations.value[r] - shown[0, r])
            for a in range(sharp.size):
                step[a] += slope * jacobian[r, sharp[a]]
                for b in range(a + 1):
                    factor[a, b] += weight * jacobian[r, sharp[a]] * jacobian[r, sharp[b]]
        cholesky(factor, sharp.size)
        solve_cholesky(factor, sharp.size, step)
        longest = np.max(np.abs(step))
        length = 1.0 if longest < _REACH else _REACH / longest
        for a in range(sharp.size):
            z[0, sharp[a]] = min(max(z[0, sharp[a]] + length * step[a], -_END), _END)
        if longest < _CLOSE:
            break


@compiled
def _scatter_sharp(
    ridge: Ridge, factor: FloatArray, point: FloatArray, turn: float, unbound: bool, z: FloatArray
) -> float:
    """Draw the sharp coordinates around where they settled, or unbound from the prior.

    Returns the density of the law around where they settled, without (2π)^(-S/2).
    """
    sharp = ridge.sharp
    size = sharp.size
    told = np.zeros((size, size))
    for a in range(size):
        for b in range(a + 1):
            for n in range(b + 1):
                told[a, b] += _TOLD * factor[a, n] * factor[b, n]
        told[a, a] += 1.0 - _TOLD
    cholesky(told, size)
    copy, edge = 0, _SHARES[0]
    while turn > edge and copy < _SHARES.size - 1:
        copy += 1
        edge += _SHARES[copy]
    offset = np.zeros(size)
    squared, root = 0.0, 1.0
    for a in range(size):
        offset[a] = point[a] - z[0, sharp[a]] if unbound else _WIDTHS[copy] * point[a]
        root *= told[a, a]
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
        z[0, sharp[a]] += offset[a]
    density = 0.0
    for c in range(_WIDTHS.size):
        density += _SHARES[c] * math.exp(-0.5 * squared / _WIDTHS[c] ** 2) / _WIDTHS[c] ** size
    return density * root


@compiled
def sample_ridge(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    mode: FloatArray,
    factor: FloatArray,
    enough: float,
    z: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> int:
    """Draw along the surface through a mode until the weights are even enough.

    Parameters
    ----------
    program, observations, work : Program, Observations, Work
        Hypothesis, readings and scratch.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    mode, factor : ndarray, shape (D,), (D, D)
        A mode and the Cholesky factor of the precision there, from `find_modes` [1].
    enough : float
        Effective number of draws at which to stop [1].
    z : ndarray, shape (N, D)
        Filled: the draws. N bounds their number [1].
    shown : ndarray, shape (N, R)
        Filled: expected readings [V, A, ohm].
    log_weight : ndarray, shape (N,)
        Filled: logarithm of likelihood × prior / proposal [nat]. Its log-mean-exp is the log evidence.

    Returns
    -------
    int
        Number of draws made; 0 where no coordinate is sharp, or the weights stay so uneven that the surface is
        not what it was taken for.
    """
    limit, size = z.shape
    marginal = np.zeros((size, size))
    ridge = _ridge(program, observations, work, mode, factor, marginal)
    free, loose = ridge.free, ridge.free.size
    if ridge.sharp.size == 0:
        return 0
    centers, spreads, whitens = np.zeros((2, loose)), np.zeros((2, loose, loose)), np.zeros((2, loose, loose))
    spreads[0] = np.eye(loose)
    whitens[0] = np.eye(loose)
    take_precision(marginal, np.zeros((loose, loose)), spreads[1], whitens[1], loose)
    for f in range(loose):
        centers[1, f] = mode[free[f]]
    share = np.array([_PRIOR_FIRST, 1.0 - _PRIOR_FIRST])
    u, density = np.zeros((limit, loose)), np.zeros(limit)
    here, nothing = np.zeros((1, size)), np.zeros((0, 0))
    seen, jacobian = np.zeros((1, observations.kind.size)), np.zeros((observations.kind.size, size))
    settled = np.zeros((ridge.sharp.size, ridge.sharp.size))
    made, used, fits = 0, 0, 0
    batch = min(_FIRST_BATCH, limit)
    while True:
        stop = made + batch
        unbound_until = int(_UNBOUND * batch)
        of_prior = unbound_until + int(share[0] * (batch - unbound_until))
        draw_component(points, used, u[made:stop], 0, of_prior, centers[0], spreads[0])
        draw_component(points, used, u[made:stop], of_prior, batch, centers[1], spreads[1])
        density[made:stop] = 0.0
        for m in range(2):
            add_to_proposal(u, made, stop, centers[m], whitens[m], share[m], density)
        for i in range(made, stop):
            for f in range(loose):
                here[0, free[f]] = u[i, f]
            _settle(program, observations, work, ridge, here, seen, jacobian, settled)
            point = points[(used + i - made) % points.shape[0], loose:size]
            unbound = i - made < unbound_until
            narrow = _scatter_sharp(ridge, settled, point, (i * _GOLDEN) % 1.0, unbound, here)
            z[i] = here[0]
            predict(program, here, work, shown[i : i + 1], nothing)
            prior = math.exp(-half_square(z[i]))
            both = _UNBOUND * prior + (1.0 - _UNBOUND) * density[i] * narrow
            log_weight[i] = total_log_likelihood(observations, shown[i]) - half_square(z[i]) - math.log(both)
        used += batch
        made = stop
        effective = effective_number(log_weight[:made], 1.0)
        if effective >= enough:
            return made
        if fits >= _TRIES and effective < _HOPELESS * made:
            return 0
        if effective < _EVEN * made and fits < _FITS and used < limit:
            w = flattened(log_weight[:made], _DRAWS_PER_COORDINATE * loose)
            before = spreads[1].copy()
            fit_cluster(u[:made], w, np.zeros(made, np.int64), 0, before, centers[1], spreads[1])
            invert_lower(spreads[1], whitens[1], loose)
            share[0], share[1] = _PRIOR_SHARE, 1.0 - _PRIOR_SHARE
            fits += 1
            made = 0
            batch = min(int(_FIRST_BATCH * _GROWTH**fits), limit)
            continue
        if effective < _MISFIT * made:
            return 0
        if made >= limit or used >= 2 * limit:
            return made
        batch = next_batch(made, effective, enough, limit)
