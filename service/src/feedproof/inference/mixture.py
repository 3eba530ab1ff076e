"""The pieces of the proposal, compiled: Gaussians, drawn from, weighed, and fitted to draws.

A Gaussian of the proposal comes in copies, each of which keeps a part of what the readings tell there and leaves the
rest to the prior: precision I + share · (P − I). So a copy is wider only in the directions that the readings narrow;
where they say nothing, the posterior is the prior, and any width but one would be lost.
"""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled, counting_nothing
from feedproof.circuit.lanes import LANES, WIDE, every, exponential, get, load, put, room, store, wide_room
from feedproof.inference.arrays import IntArray
from feedproof.inference.factors import cholesky, invert_lower
from feedproof.inference.forward import FloatArray

#: Copies of each Gaussian: the part of what is told that each keeps, and its share. Readings scatter by Student's law
#: with four degrees of freedom, whose variance is 2.5 times what its curvature at the mode says.
_KEPT = np.array([0.65, 0.3, 0.1])
_SHARES = np.array([0.6, 0.28, 0.12])
COPIES = 3
"""How many there are of each [1]."""
_LLOYD_STEPS = 4
#: A density so much below another does not change their sum, as 2 ln 2^54 [1].
_UNSEEN = 75.0
#: A covariance fitted to few draws is too narrow where they happen to lie.
_WIDENED = 1.3


class Mixture(NamedTuple):
    """A proposal: K Gaussians over D coordinates."""

    centers: FloatArray
    """shape (K, D)."""
    spreads: FloatArray
    """What spreads standard-normal points, upper triangular; shape (K, D, D)."""
    whitens: FloatArray
    """What whitens draws, upper triangular; shape (K, D, D)."""
    share: FloatArray
    """They sum to 1; shape (K,)."""


@compiled
def take_precision(factor: FloatArray, scratch: FloatArray, spread: FloatArray, whiten: FloatArray, size: int) -> None:
    """From the Cholesky factor of a precision: what spreads standard-normal points, and what whitens draws.

    Parameters
    ----------
    factor : ndarray, shape (≥size, ≥size)
        Lower triangle [1].
    scratch : ndarray, shape (size, size)
        Scratch [1].
    spread, whiten : ndarray, shape (size, size)
        Filled, upper triangular: with ξ standard normal, spread ξ has that precision, and whiten undoes it [1].
    size : int
        Number of coordinates [1].
    """
    invert_lower(factor, scratch, size)
    for j in range(size):
        for k in range(size):
            spread[j, k] = scratch[k, j]
            whiten[j, k] = factor[k, j] if k >= j else 0.0


@compiled
def place_copies(precision: FloatArray, center: FloatArray, total: float, at: int, proposal: Mixture) -> None:
    """Put a Gaussian's copies into a proposal.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        Of the Gaussian; its lower triangle is read [1].
    center : ndarray, shape (D,)
        Its mean [1].
    total : float
        Share of the proposal that the copies have together [1].
    at : int
        Number of the first copy; `COPIES` are filled [1].
    proposal : Mixture
        Its components.
    """
    size = center.size
    relaxed, scratch = np.zeros((size, size)), np.zeros((size, size))
    for c in range(COPIES):
        for j in range(size):
            for k in range(j + 1):
                relaxed[j, k] = _KEPT[c] * precision[j, k] + (1.0 - _KEPT[c] if j == k else 0.0)
        cholesky(relaxed, size)
        take_precision(relaxed, scratch, proposal.spreads[at + c], proposal.whitens[at + c], size)
        proposal.centers[at + c] = center
        proposal.share[at + c] = total * _SHARES[c]


@compiled
def precision_of(spread: FloatArray, precision: FloatArray) -> None:
    """Precision of a Gaussian from the Cholesky factor of its covariance.

    Parameters
    ----------
    spread : ndarray, shape (D, D)
        Lower triangular [1].
    precision : ndarray, shape (D, D)
        Filled [1].
    """
    size = spread.shape[0]
    whiten = np.zeros((size, size))
    invert_lower(spread, whiten, size)
    for j in range(size):
        for k in range(j + 1):
            total = 0.0
            for n in range(j, size):
                total += whiten[n, j] * whiten[n, k]
            precision[j, k] = total
            precision[k, j] = total


@counting_nothing
def peaks(proposal: Mixture, peak: FloatArray) -> None:
    """Density of each component at its center, times its share, without (2π)^(-D/2).

    Parameters
    ----------
    proposal : Mixture
        The components.
    peak : ndarray, shape (K,)
        Filled [1].
    """
    whitens, share = proposal.whitens, proposal.share
    for m in range(share.size):
        peak[m] = share[m]
        for j in range(whitens.shape[1]):
            peak[m] *= abs(whitens[m, j, j])


@counting_nothing
def density_lanes(proposal: Mixture, peak: FloatArray, z: FloatArray, offset: FloatArray, density: FloatArray) -> None:
    """Density of a proposal at draws side by side, without (2π)^(-D/2).

    The prior is always the first of the components, so it vanishes nowhere.

    Parameters
    ----------
    proposal : Mixture
        The components.
    peak : ndarray, shape (K,)
        From `peaks` [1].
    z : ndarray, shape (D, lanes)
        Draws [1].
    offset : ndarray, shape (D, lanes)
        Scratch [1].
    density : ndarray, shape (1, lanes)
        Filled [1].
    """
    centers, whitens, share = proposal.centers, proposal.whitens, proposal.share
    size, total, beyond = centers.shape[1], 0.0, 0.0
    for m in range(share.size):
        if share[m] <= 0.0:
            continue
        for j in range(size):
            store(offset, j, load(z, j) - centers[m, j])
        # Against the prior, what is this far off does not change the last digit of the sum.
        far = beyond + 2.0 * math.log(peak[m] / peak[0])
        squared = 0.0
        for j in range(size):
            inner = 0.0
            for k in range(j, size):
                inner += whitens[m, j, k] * load(offset, k)
            squared += inner * inner
            if m > 0 and every(squared, far):
                break
        else:
            total += peak[m] * exponential(-0.5 * squared)
            if m == 0:
                beyond = squared + _UNSEEN
    store(density, 0, total)


@compiled
def draw_component(
    points: FloatArray, first: int, z: FloatArray, start: int, stop: int, center: FloatArray, spread: FloatArray
) -> None:
    """Fill draws start:stop from one component.

    Parameters
    ----------
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    first : int
        Offset into them [1].
    z : ndarray, shape (N, D)
        Filled in part: the draws [1].
    start, stop : int
        Which of them [1].
    center : ndarray, shape (D,)
        Of the component [1].
    spread : ndarray, shape (D, D)
        What spreads standard-normal points to its draws, upper triangular [1].
    """
    size = center.size
    along = wide_room(size)
    for beginning in range(start, stop, WIDE):
        count = min(WIDE, stop - beginning)
        for lane in range(count):
            row = (first + beginning + lane) % points.shape[0]
            for m in range(size):
                put(along, m, lane, points[row, m])
        # In place: a row needs the points of its own number and later ones.
        for j in range(size):
            total = 0.0
            for m in range(j, size):
                total += spread[j, m] * load(along, m)
            store(along, j, center[j] + total)
        for lane in range(count):
            for j in range(size):
                z[beginning + lane, j] = get(along, j, lane)


@counting_nothing
def _squared_distance(z: FloatArray, i: int, centers: FloatArray, c: int) -> float:
    total = 0.0
    for j in range(z.shape[1]):
        total += (z[i, j] - centers[c, j]) ** 2
    return total


@counting_nothing
def _cluster(
    z: FloatArray,
    w: FloatArray,
    centers: FloatArray,
    nearest: FloatArray,
    mass: FloatArray,
    total: FloatArray,
    member: IntArray,
) -> None:
    """As `cluster`, which makes the arrays."""
    (draws, size), count = z.shape, centers.shape[0]
    for c in range(count):
        best, most = 0, -1.0
        for i in range(draws):
            if c > 0:
                nearest[i] = min(nearest[i], _squared_distance(z, i, centers, c - 1))
            if w[i] * nearest[i] > most:
                best, most = i, w[i] * nearest[i]
        for j in range(size):
            centers[c, j] = z[best, j]
    for _ in range(_LLOYD_STEPS):
        for c in range(count):
            mass[c] = 0.0
            for j in range(size):
                total[c, j] = 0.0
        for i in range(draws):
            near = 1e300
            for c in range(count):
                distance = _squared_distance(z, i, centers, c)
                if distance < near:
                    near = distance
                    member[i] = c
            mass[member[i]] += w[i]
            for j in range(size):
                total[member[i], j] += w[i] * z[i, j]
        for c in range(count):
            if mass[c] > 0.0:
                for j in range(size):
                    centers[c, j] = total[c, j] / mass[c]


@compiled
def cluster(z: FloatArray, w: FloatArray, count: int) -> IntArray:
    """Sort weighted draws into clusters: far-apart seeds, then a few of Lloyd's steps.

    Parameters
    ----------
    z : ndarray, shape (N, D)
        Draws [1].
    w : ndarray, shape (N,)
        Their weights [1].
    count : int
        How many clusters [1].

    Returns
    -------
    ndarray of int, shape (N,)
        Cluster of each draw [1].

    References
    ----------
    .. [1] S. P. Lloyd, "Least squares quantization in PCM", IEEE Trans. Inf. Theory 28 (1982) 129-137.
    """
    draws, size = z.shape
    centers = np.zeros((count, size))
    nearest = np.full(draws, 1e300)
    member = np.zeros(draws, np.int64)
    mass, total = np.zeros(count), np.zeros((count, size))
    _cluster(z, w, centers, nearest, mass, total, member)
    return member


@counting_nothing
def _spread_out(
    z: FloatArray, i: int, center: FloatArray, weight: float, offset: FloatArray, covariance: FloatArray
) -> None:
    """Add one draw to a covariance; shape (D, columns, lanes), its lower triangle."""
    for j in range(center.size):
        put(offset, j // LANES, j % LANES, z[i, j] - center[j])
    for j in range(center.size):
        scaled = weight * get(offset, j // LANES, j % LANES)
        for column in range(j // LANES + 1):
            store(covariance, (j, column), load(covariance, (j, column)) + scaled * load(offset, column))


@compiled
def fit_cluster(
    z: FloatArray,
    w: FloatArray,
    member: IntArray,
    wanted: int,
    fallback: FloatArray,
    center: FloatArray,
    spread: FloatArray,
) -> float:
    """Mean, and Cholesky factor of the covariance, of one cluster of weighted draws.

    The fewer effective draws it has, the more it leans on the best mode's covariance.

    Parameters
    ----------
    z : ndarray, shape (N, D)
        Draws [1].
    w : ndarray, shape (N,)
        Their weights [1].
    member : ndarray of int, shape (≥N,)
        Cluster of each draw [1].
    wanted : int
        Which cluster [1].
    fallback : ndarray, shape (D, D)
        What spreads points at the best mode [1].
    center : ndarray, shape (D,)
        Filled [1].
    spread : ndarray, shape (D, D)
        Filled, lower triangular [1].

    Returns
    -------
    float
        The cluster's share of the weights [1].
    """
    count, size = z.shape
    mass, squares = 0.0, 0.0
    center[:] = 0.0
    for i in range(count):
        if member[i] == wanted:
            mass += w[i]
            squares += w[i] * w[i]
            for j in range(size):
                center[j] += w[i] * z[i, j]
    if mass <= 0.0:
        return 0.0
    center /= mass
    lean = size / (size + mass * mass / squares)
    # Here the lanes are coordinates, eight of one draw at a time.
    columns = (size + LANES - 1) // LANES
    covariance, offset = room(size * columns).reshape(size, columns, LANES), room(columns)
    for i in range(count):
        if member[i] == wanted and w[i] >= 1e-9:
            _spread_out(z, i, center, w[i] / mass, offset, covariance)
    for j in range(size):
        for k in range(j + 1):
            ours = 0.0
            for m in range(size):
                ours += fallback[j, m] * fallback[k, m]
            found = covariance[j, k // LANES, k % LANES]
            spread[j, k] = _WIDENED * ((1.0 - lean) * found + lean * ours)
    cholesky(spread, size)
    for j in range(size):
        for k in range(j + 1, size):
            spread[j, k] = 0.0
    return mass
