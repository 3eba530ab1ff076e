"""Evidence and posterior of one hypothesis, compiled: modes first, then adaptive importance sampling.

The proposal is a mixture: Gaussians at the modes found, the prior itself as a safeguard, and, round by round,
a Gaussian fitted to the weighted draws so far. Every Gaussian has two wider copies, so that the tails are
covered. All draws of all rounds are weighed against the whole mixture; their mean weight is the evidence.

References
----------
.. [1] J.-M. Cornuet, J.-M. Marin, A. Mira, C. P. Robert, "Adaptive multiple importance sampling", Scand. J.
   Stat. 39 (2012) 798-812.
.. [2] A. Owen, Y. Zhou, "Safe and effective importance sampling", J. Am. Stat. Assoc. 95 (2000) 135-143:
   mixtures with the balance heuristic, the prior as one component.
"""

import math

import numpy as np

from feedproof.circuit.kernel import compiled
from feedproof.inference.forward import PROXIMITY, UNIFORM, FloatArray, IntArray, Program, Work, predict
from feedproof.inference.laplace import cholesky, climb, log_determinant
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.normal import half_square

#: Two modes closer than this (mean square per coordinate) are one.
_SAME_PLACE = 0.02
#: Copies of each Gaussian: width and share.
_WIDTHS = np.array([1.0, 1.6, 2.6])
_SHARES = np.array([0.7, 0.22, 0.08])
_PRIOR_SHARE = 0.1
#: Exponents below this add nothing that matters beside the prior.
_VANISHING = -300.0
#: Clusters that uneven draws are sorted into, and the share of effective draws below which they are uneven.
_CLUSTERS = 3
_UNEVEN = 0.25
_LLOYD_STEPS = 4
#: Scatter of blurred readings, as a share of the reading, and the share of misreads among them.
_BLUR = 0.15
_HARDLY = 1e-9
#: Draws in the first round; later ones grow with what has been drawn.
_FIRST_ROUND = 128
#: A fit needs this many effective draws per coordinate; with fewer the weights are flattened first.
_DRAWS_PER_COORDINATE = 4.0


@compiled
def log_mean_exp(values: FloatArray) -> float:
    """Logarithm of the mean of the exponentials [nat]."""
    top = np.max(values)
    return top + math.log(np.mean(np.exp(values - top)))


@compiled
def blurred(observations: Observations) -> Observations:
    """The same readings, seen less sharply and never taken for misread.

    A misread reading pulls on nothing, so a start far from a mode may feel no pull from any reading. Blurred
    readings pull from everywhere.

    Parameters
    ----------
    observations : Observations
        The readings.

    Returns
    -------
    Observations
        With a scatter of some tens of percent.
    """
    count = observations.kind.size
    floor, misread = observations.floor.copy(), observations.misread.copy()
    for r in range(count):
        if observations.kind[r] != PROXIMITY:
            floor[r] = math.hypot(floor[r], _BLUR * (observations.value[r] + 100.0 * floor[r]))
            misread[r] = _HARDLY
    return Observations(
        observations.kind,
        observations.value,
        floor,
        observations.relative,
        observations.over_range,
        misread,
        observations.misread_density,
    )


@compiled
def find_modes(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    scouts: int,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
) -> tuple[int, float]:
    """Climb from the origin and from the best of a few scouted points.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work : Work
        Scratch.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    scouts : int
        How many of them to try [1].
    modes : ndarray, shape (M, D)
        Filled; M is the number of climbs [1].
    factors : ndarray, shape (M, D, D)
        Filled: Cholesky factors of the precisions [1].
    log_mass : ndarray, shape (M,)
        Filled: Laplace's approximation of each mode's share of the evidence [nat].

    Returns
    -------
    tuple of int and float
        Number of different modes [1], and the evidence as the scouts alone have it [nat].
    """
    size, count = program.location.size, observations.kind.size
    soft = blurred(observations)
    jacobian = np.zeros((count, size))
    first = np.zeros((scouts + 1, size))
    first[1:] = points[:scouts, :size]
    seen = np.zeros((scouts + 1, count))
    predict(program, first, work, seen, np.zeros((0, 0)))
    height, soft_height = np.zeros(scouts + 1), np.zeros(scouts + 1)
    for i in range(scouts + 1):
        height[i] = total_log_likelihood(observations, seen[i])
        soft_height[i] = total_log_likelihood(soft, seen[i])
    scouted = log_mean_exp(height[1:])
    shown = np.zeros((1, count))
    found = 0
    for start in range(modes.shape[0]):
        # The origin first, then by turns the best scout of the blurred readings and of the sharp ones.
        if start == 0:
            modes[found] = 0.0
        elif start % 2 == 1:
            best = np.argmax(soft_height)
            soft_height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        else:
            best = np.argmax(height)
            height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        if start == 0 or start % 2 == 1:
            climb(program, soft, work, modes[found], factors[found], shown, jacobian)
        top = climb(program, observations, work, modes[found], factors[found], shown, jacobian)
        mass = top - 0.5 * log_determinant(factors[found], size)
        same = False
        for m in range(found):
            if np.mean((modes[m] - modes[found]) ** 2) < _SAME_PLACE:
                same = True
                if mass > log_mass[m]:
                    modes[m] = modes[found]
                    factors[m] = factors[found]
                    log_mass[m] = mass
                break
        if not same:
            log_mass[found] = mass
            found += 1
    return found, scouted


@compiled
def _invert_lower(factor: FloatArray, inverse: FloatArray, size: int) -> None:
    """Inverse of a lower triangular matrix."""
    inverse[:, :] = 0.0
    for j in range(size):
        inverse[j, j] = 1.0 / factor[j, j]
        for i in range(j + 1, size):
            total = 0.0
            for k in range(j, i):
                total -= factor[i, k] * inverse[k, j]
            inverse[i, j] = total / factor[i, i]


@compiled
def _take_precision(factor: FloatArray, scratch: FloatArray, spread: FloatArray, whiten: FloatArray, size: int) -> None:
    """From the Cholesky factor of a precision: what spreads standard-normal points, and what whitens draws."""
    _invert_lower(factor, scratch, size)
    for j in range(size):
        for k in range(size):
            spread[j, k] = scratch[k, j]
            whiten[j, k] = factor[k, j] if k >= j else 0.0


@compiled
def _add_to_proposal(
    z: FloatArray, start: int, stop: int, center: FloatArray, whiten: FloatArray, share: float, proposal: FloatArray
) -> None:
    """Add one component, with its wider copies, to the proposal's density at draws start:stop.

    Densities are without (2π)^(-D/2). The prior is always one of the components, so none vanishes.
    """
    size = center.size
    # What whitens a fitted component is lower triangular, for a mode it is upper triangular.
    lower = False
    scale = share
    for j in range(size):
        scale *= abs(whiten[j, j])
        for k in range(j):
            lower = lower or whiten[j, k] != 0.0
    factor, exponent = np.zeros(_WIDTHS.size), np.zeros(_WIDTHS.size)
    for k in range(_WIDTHS.size):
        factor[k] = scale * _SHARES[k] / _WIDTHS[k] ** size
        exponent[k] = -0.5 / _WIDTHS[k] ** 2
    offset = np.zeros(size)
    for i in range(start, stop):
        for j in range(size):
            offset[j] = z[i, j] - center[j]
        squared = 0.0
        for j in range(size):
            inner = 0.0
            for k in range(0 if lower else j, j + 1 if lower else size):
                inner += whiten[j, k] * offset[k]
            squared += inner * inner
        for k in range(_WIDTHS.size):
            if exponent[k] * squared > _VANISHING:
                proposal[i] += factor[k] * math.exp(exponent[k] * squared)


@compiled
def _draw_component(
    points: FloatArray, first: int, z: FloatArray, start: int, stop: int, center: FloatArray, spread: FloatArray
) -> None:
    """Fill draws start:stop from one component."""
    size = center.size
    for i in range(start, stop):
        where = ((i - start) + 0.5) / (stop - start)
        width = _WIDTHS[0]
        edge = _SHARES[0]
        k = 0
        while where > edge and k < _WIDTHS.size - 1:
            k += 1
            edge += _SHARES[k]
            width = _WIDTHS[k]
        row = (first + i) % points.shape[0]
        for j in range(size):
            total = 0.0
            for m in range(size):
                total += spread[j, m] * points[row, m]
            z[i, j] = center[j] + width * total


@compiled
def effective_number(log_weight: FloatArray, power: float) -> float:
    """Effective number of draws, (Σw)² / Σw².

    Parameters
    ----------
    log_weight : ndarray, shape (N,)
        Logarithms of the weights [nat].
    power : float
        That the weights are raised to [1].

    Returns
    -------
    float
        Between 1 and N [1].

    References
    ----------
    .. [1] L. Kish, "Survey Sampling" (1965): effective sample size (from memory).
    """
    top = np.max(log_weight)
    first, second = 0.0, 0.0
    for value in log_weight:
        w = math.exp(power * (value - top))
        first += w
        second += w * w
    return first * first / second


@compiled
def _flattened(log_weight: FloatArray, wanted: float) -> FloatArray:
    """Weights raised to the highest power, at most one, that keeps the wanted effective number; sum 1."""
    power = 1.0
    if effective_number(log_weight, 1.0) < wanted:
        low, high = 0.0, 1.0
        for _ in range(16):
            power = 0.5 * (low + high)
            if effective_number(log_weight, power) < wanted:
                high = power
            else:
                low = power
        power = low
    w = np.exp(power * (log_weight - np.max(log_weight)))
    return w / np.sum(w)


@compiled
def _cluster(z: FloatArray, w: FloatArray, count: int) -> IntArray:
    """Sort weighted draws into clusters: far-apart seeds, then a few of Lloyd's steps."""
    draws, size = z.shape
    centers = np.zeros((count, size))
    nearest = np.full(draws, 1e300)
    member = np.zeros(draws, np.int64)
    centers[0] = z[np.argmax(w)]
    for c in range(1, count):
        for i in range(draws):
            nearest[i] = min(nearest[i], _squared_distance(z[i], centers[c - 1]))
        centers[c] = z[np.argmax(w * nearest)]
    for _ in range(_LLOYD_STEPS):
        mass = np.zeros(count)
        total = np.zeros((count, size))
        for i in range(draws):
            best = 1e300
            for c in range(count):
                distance = _squared_distance(z[i], centers[c])
                if distance < best:
                    best = distance
                    member[i] = c
            mass[member[i]] += w[i]
            total[member[i]] += w[i] * z[i]
        for c in range(count):
            if mass[c] > 0.0:
                centers[c] = total[c] / mass[c]
    return member


@compiled
def _squared_distance(a: FloatArray, b: FloatArray) -> float:
    total = 0.0
    for j in range(a.size):
        total += (a[j] - b[j]) ** 2
    return total


@compiled
def _fit(
    z: FloatArray,
    w: FloatArray,
    member: IntArray,
    wanted: int,
    fallback: FloatArray,
    center: FloatArray,
    spread: FloatArray,
) -> float:
    """Mean, and Cholesky factor of the covariance, of one cluster of weighted draws.

    The fewer effective draws it has, the more it leans on the best mode's covariance. Returns its weight.
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
    covariance = np.zeros((size, size))
    offset = np.zeros(size)
    for i in range(count):
        if member[i] != wanted or w[i] < 1e-9:
            continue
        for j in range(size):
            offset[j] = z[i, j] - center[j]
        for j in range(size):
            for k in range(j + 1):
                covariance[j, k] += w[i] / mass * offset[j] * offset[k]
    for j in range(size):
        for k in range(j + 1):
            ours = 0.0
            for m in range(size):
                ours += fallback[j, m] * fallback[k, m]
            spread[j, k] = (1.0 - lean) * covariance[j, k] + lean * ours
    cholesky(spread, size)
    for j in range(size):
        for k in range(j + 1, size):
            spread[j, k] = 0.0
    return mass


@compiled
def sample(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
    enough: float,
    z: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> int:
    """Draw in rounds until the weights are even enough.

    Parameters
    ----------
    program, observations, work : Program, Observations, Work
        Hypothesis, readings and scratch.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    modes, factors, log_mass : ndarray, shape (M, D), (M, D, D), (M,)
        From `find_modes` [1].
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
        Number of draws made.
    """
    limit, size = z.shape
    modes_found = log_mass.size
    loose = False
    for j in range(size):
        loose = loose or program.coordinate_kind[j] == UNIFORM
    parts = 2 * modes_found if loose else modes_found
    rounds = _CLUSTERS * (limit // _FIRST_ROUND + 1)
    centers = np.zeros((parts + 1 + rounds, size))
    spreads = np.zeros((parts + 1 + rounds, size, size))
    whitens = np.zeros((parts + 1 + rounds, size, size))
    counts = np.zeros(parts + 1 + rounds)
    proposal = np.zeros(limit)
    likelihood = np.zeros(limit)
    scratch = np.zeros((size, size))
    share = np.zeros(parts)
    share[:modes_found] = np.exp(log_mass - np.max(log_mass)) + 0.02
    best = np.argmax(log_mass)
    precision = np.zeros((size, size))
    for m in range(modes_found):
        centers[m] = modes[m]
        _take_precision(factors[m], scratch, spreads[m], whitens[m], size)
        if not loose:
            continue
        # A resistance that the readings bound on one side only is flat up to a wall, which a Gaussian at the
        # mode is too narrow for. Each mode gets a twin that leaves those coordinates as they were a priori.
        twin = modes_found + m
        share[twin] = share[m]
        centers[twin] = modes[m]
        for j in range(size):
            for k in range(j + 1):
                precision[j, k] = 0.0
                for n in range(k + 1):
                    precision[j, k] += factors[m, j, n] * factors[m, k, n]
        for j in range(size):
            if program.coordinate_kind[j] == UNIFORM:
                for k in range(size):
                    precision[j, k] = 0.0
                    precision[k, j] = 0.0
                precision[j, j] = 1.0
        cholesky(precision, size)
        _take_precision(precision, scratch, spreads[twin], whitens[twin], size)
    share /= np.sum(share)
    for j in range(size):
        spreads[parts, j, j] = 1.0
        whitens[parts, j, j] = 1.0
    made, known = 0, 0
    while made < limit:
        before = made
        per_round = min(max(_FIRST_ROUND, made // 2), limit - made)
        if made == 0:
            known = parts + 1
            for m in range(parts):
                stop = made + max(1, int((1.0 - _PRIOR_SHARE) * per_round * share[m]))
                stop = min(stop, per_round - 1)
                _draw_component(points, 0, z, made, stop, centers[m], spreads[m])
                counts[m] = stop - made
                made = stop
            _draw_component(points, 0, z, made, per_round, centers[parts], spreads[parts])
            counts[parts] = per_round - made
            made = per_round
        else:
            w = _flattened(log_weight[:made], _DRAWS_PER_COORDINATE * size)
            clusters = _CLUSTERS if effective_number(log_weight[:made], 1.0) < _UNEVEN * made else 1
            member = _cluster(z[:made], w, clusters)
            goal = made + per_round
            old = known
            for c in range(clusters):
                mass = _fit(z[:before], w, member, c, spreads[best], centers[known], spreads[known])
                part = int(mass * per_round) if c < clusters - 1 else goal - made
                if part < 1:
                    continue
                _invert_lower(spreads[known], whitens[known], size)
                _draw_component(points, 0, z, made, made + part, centers[known], spreads[known])
                counts[known] = part
                made += part
                known += 1
            for m in range(old, known):
                _add_to_proposal(z, 0, before, centers[m], whitens[m], counts[m], proposal)
        for m in range(known):
            if counts[m] > 0:
                _add_to_proposal(z, before, made, centers[m], whitens[m], counts[m], proposal)
        predict(program, z[before:made], work, shown[before:made], np.zeros((0, 0)))
        for i in range(before, made):
            likelihood[i] = total_log_likelihood(observations, shown[i])
        for i in range(made):
            log_weight[i] = likelihood[i] - half_square(z[i]) - math.log(proposal[i] / made)
        if effective_number(log_weight[:made], 1.0) >= enough:
            break
    return made
