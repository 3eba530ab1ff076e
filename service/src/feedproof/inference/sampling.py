"""Evidence and posterior of one hypothesis, compiled: adaptive importance sampling from its modes.

The proposal is a mixture: Gaussians at the modes found, the prior itself as a safeguard, and Gaussians fitted
to weighted draws. Every Gaussian comes in copies, so that the tails are covered. While a batch of draws is
uneven, the proposal is fitted anew and the batch dropped; when it is even enough, or after some rounds, it
stays as it is, and only what is drawn from then on counts. So the evidence, the mean weight, has no bias from
the fitting.

References
----------
.. [1] J.-M. Cornuet, J.-M. Marin, A. Mira, C. P. Robert, "Adaptive multiple importance sampling", Scand. J.
   Stat. 39 (2012) 798-812.
.. [2] A. Owen, Y. Zhou, "Safe and effective importance sampling", J. Am. Stat. Assoc. 95 (2000) 135-143:
   mixtures with the balance heuristic, the prior as one component.
"""

import math

import numpy as np

from feedproof.circuit.compiling import compiled, counting_nothing, within
from feedproof.circuit.lanes import WIDE, get, load, store, wide_room
from feedproof.inference.arrays import Program, Work
from feedproof.inference.factors import covariance_of, inverse_diagonal, product
from feedproof.inference.forward import UNIFORM, FloatArray, into_lanes, predict_lanes
from feedproof.inference.laplace import heights
from feedproof.inference.likelihood import Observations
from feedproof.inference.mixture import (
    COPIES,
    Mixture,
    cluster,
    density_lanes,
    draw_component,
    fit_cluster,
    peaks,
    place_copies,
    precision_of,
)
from feedproof.inference.ridges import (
    UNBOUND,
    Ridge,
    marginal_precision,
    nothing_settled,
    ridge_at,
    room_to_settle,
    settle,
)
from feedproof.inference.weights import effective_number, flattened, next_batch

#: Least mass of a mode beside the best one's. A resistance with more variance than this is loosely told, and then the
#: mode's twin has so much of its share.
_LEAST_SHARE = 0.02
_LOOSE = 0.02
_TWIN_SHARE = 0.4
#: Shares of the proposal: the prior, the modes beside fitted components, and the fit before the last.
_PRIOR_SHARE = 0.12
_PRIOR_SHARE_SETTLING = 0.25
_MODE_SHARE = 0.18
_OLD_SHARE = 0.2
#: Batches: the first, and how much each later one grows; how often the proposal is fitted at most, and the
#: share of effective draws that a batch needs to be even.
_FIRST_BATCH = 160
_GROWTH = 1.5
_FITS = 6
_EVEN = 0.18
#: After so many fits an effective share below this says that Gaussians are not what the posterior looks like.
_TRIES = 2
_HOPEFUL = 0.08
#: Below this already the first batch says so, where there is something to settle.
_VAIN = 0.02
#: Clusters that uneven draws are sorted into.
_CLUSTERS = 3
#: A fit needs this many effective draws per coordinate; with fewer the weights are flattened first.
_DRAWS_PER_COORDINATE = 4.0


@within
def _propose(points: FloatArray, first: int, of_prior: int, u: FloatArray, proposal: Mixture) -> None:
    """Fill `u` with draws, the first of them from the prior."""
    count, share = u.shape[0], proposal.share
    draw_component(points, first, u, 0, of_prior, proposal.centers[0], proposal.spreads[0])
    made, wanted = of_prior, float(of_prior)
    for m in range(share.size):
        wanted += share[m] * (count - of_prior)
        stop = count if m == share.size - 1 else min(int(wanted + 0.5), count)
        if stop > made:
            draw_component(points, first, u, made, stop, proposal.centers[m], proposal.spreads[m])
            made = stop


@within
def _weigh(
    program: Program,
    observations: Observations,
    work: Work,
    ridge: Ridge,
    points: FloatArray,
    used: int,
    unbound: int,
    proposal: Mixture,
    u: FloatArray,
    z: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> None:
    """Complete draws by their sharp coordinates, and weigh them: ln(likelihood × prior / proposal) [nat]."""
    settles, free = ridge.sharp.size > 0, ridge.free
    along, offset, here = wide_room(u.shape[1]), wide_room(u.shape[1]), wide_room(z.shape[1])
    seen, height, law, peak = work.shown, wide_room(1), wide_room(1), np.zeros(proposal.share.size)
    peaks(proposal, peak)
    narrow = np.ones(u.shape[0])
    if settles:
        scratch = room_to_settle(ridge, seen.shape[0])
        settle(program, observations, work, ridge, points, used, unbound, u, z, narrow, scratch)
    for first in range(0, u.shape[0], WIDE):
        into_lanes(u, first, along)
        density_lanes(proposal, peak, along, offset, law)
        if settles:
            into_lanes(z, first, here)
        else:
            for f in range(free.size):
                store(here, free[f], load(along, f))
        predict_lanes(program, here, work, seen, work.jacobian, ridge.element, False)
        heights(observations, seen, here, height)
        _take(first, settles, here, seen, height, narrow, law, z, shown, log_weight)


@counting_nothing
def _take(
    first: int,
    settles: bool,
    here: FloatArray,
    seen: FloatArray,
    height: FloatArray,
    narrow: FloatArray,
    law: FloatArray,
    z: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> None:
    """Take draws out of the lanes, with their weights."""
    size = z.shape[1]
    for lane in range(min(WIDE, z.shape[0] - first)):
        i = first + lane
        squares = 0.0
        for d in range(size):
            z[i, d] = get(here, d, lane)
            squares += z[i, d] * z[i, d]
        for r in range(seen.shape[0]):
            shown[i, r] = get(seen, r, lane)
        density = get(law, 0, lane)
        if settles:
            density = UNBOUND * math.exp(-0.5 * squares) + (1.0 - UNBOUND) * density * narrow[i]
        log_weight[i] = get(height, 0, lane) - math.log(density)


@within
def _of_modes(
    program: Program, ridge: Ridge, modes: FloatArray, factors: FloatArray, log_mass: FloatArray, prior_share: float
) -> tuple[Mixture, int]:
    """Proposal with the prior first, then the modes, then room for fits; and the number of components so far."""
    found, size, loose = modes.shape[0], ridge.free.size, False
    most = 1 + 2 * COPIES * found + 2 * COPIES * _CLUSTERS
    matrices = np.empty((most, size, size)), np.empty((most, size, size))
    proposal = Mixture(np.zeros((most, size)), *matrices, np.zeros(most))
    proposal.spreads[0], proposal.whitens[0], proposal.share[0] = np.eye(size), np.eye(size), prior_share
    mass = np.exp(log_mass - np.max(log_mass)) + _LEAST_SHARE
    mass *= (1.0 - prior_share) / np.sum(mass)
    parts = 1
    for m in range(found):
        precision = marginal_precision(product(factors[m]), ridge)
        center = modes[m][ridge.free]
        # A resistance that the readings bound on one side only is flat up to a wall, which a Gaussian at the
        # mode is too narrow for. The mode gets a twin that leaves those coordinates as they were a priori.
        variance = inverse_diagonal(precision)
        loose = False
        for j in range(size):
            loose = loose or (program.coordinate_kind[ridge.free[j]] == UNIFORM and variance[j] > _LOOSE)
        own = mass[m] * (1.0 - _TWIN_SHARE) if loose else mass[m]
        place_copies(precision, center, own, parts, proposal)
        parts += COPIES
        if not loose:
            continue
        for j in range(size):
            if program.coordinate_kind[ridge.free[j]] == UNIFORM:
                precision[j, :] = 0.0
                precision[:, j] = 0.0
                precision[j, j] = 1.0
        place_copies(precision, center, mass[m] * _TWIN_SHARE, parts, proposal)
        parts += COPIES
    return proposal, parts


@within
def _refit(u: FloatArray, log_weight: FloatArray, known: int, fallback: FloatArray, proposal: Mixture) -> None:
    """Put components fitted to the draws beside those of the modes; the fit before stays at a small share."""
    size, share = u.shape[1], proposal.share
    centers, spreads, whitens = proposal.centers, proposal.spreads, proposal.whitens
    w = flattened(log_weight, _DRAWS_PER_COORDINATE * size)
    clusters = min(max(int(effective_number(log_weight, 1.0) / (_DRAWS_PER_COORDINATE * size)), 1), _CLUSTERS)
    member = cluster(u, w, clusters)
    new, old = known, known + COPIES * _CLUSTERS
    before, prior_share = np.sum(share[new:old]), share[0]
    kept = _OLD_SHARE if before > 0.0 else 0.0
    for c in range(COPIES * _CLUSTERS):
        centers[old + c], spreads[old + c], whitens[old + c] = centers[new + c], spreads[new + c], whitens[new + c]
        share[old + c] = kept * share[new + c] / before if before > 0.0 else 0.0
    share[new:old] = 0.0
    center, factor, precision = np.zeros(size), np.zeros((size, size)), np.zeros((size, size))
    for c in range(clusters):
        mass = fit_cluster(u, w, member, c, fallback, center, factor)
        if mass > 0.0:
            precision_of(factor, precision)
            own = mass * (1.0 - prior_share - _MODE_SHARE - kept)
            place_copies(precision, center, own, new + COPIES * c, proposal)
    share[1:known] *= _MODE_SHARE / np.sum(share[1:known])


@compiled
def sample(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
    settling: bool,
    enough: float,
    patient: bool,
    z: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> int:
    """Draw until the weights are even enough.

    Parameters
    ----------
    program, observations, work : Program, Observations, Work
        Hypothesis, readings and scratch.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    modes, factors, log_mass : ndarray, shape (M, D), (M, D, D), (M,)
        From `find_modes` [1].
    settling : bool
        Settle what is sharp along the ridge through the best mode, and draw the rest.
    enough : float
        Effective number of draws at which to stop [1].
    patient : bool
        Go on although the weights stay uneven.
    z : ndarray, shape (N, D)
        Filled: the draws. N bounds their number [1].
    shown : ndarray, shape (N, R)
        Filled: expected readings [V, A, ohm].
    log_weight : ndarray, shape (N,)
        Filled: logarithm of likelihood × prior / proposal [nat]. Its log-mean-exp is the log evidence.

    Returns
    -------
    int
        Number of draws made; negative where the weights stay uneven and patience is not asked for; 0 where nothing
        is sharp that could be settled.
    """
    limit, size = z.shape
    best = np.argmax(log_mass)
    ridge = nothing_settled(size)
    if settling:
        ridge = ridge_at(program, observations, work, modes[best], product(factors[best]))
        if ridge.sharp.size == 0:
            return 0
    proposal, known = _of_modes(
        program, ridge, modes, factors, log_mass, _PRIOR_SHARE_SETTLING if settling else _PRIOR_SHARE
    )
    fallback = covariance_of(marginal_precision(product(factors[best]), ridge))
    u = np.empty((limit, ridge.free.size))
    made, used, fits = 0, 0, 0
    batch = min(_FIRST_BATCH, limit)
    while True:
        stop = made + batch
        unbound = int(UNBOUND * batch) if settling else 0
        _propose(points, used, unbound, u[made:stop], proposal)
        _weigh(
            program,
            observations,
            work,
            ridge,
            points,
            used,
            unbound,
            proposal,
            u[made:stop],
            z[made:stop],
            shown[made:stop],
            log_weight[made:stop],
        )
        used += batch
        made = stop
        effective = effective_number(log_weight[:made], 1.0)
        if effective >= enough:
            return made
        least = _HOPEFUL if fits >= _TRIES else 0.0 if settling else _VAIN
        if not patient and effective < least * made:
            return -made
        if made >= limit or used >= 2 * limit:
            return made
        if effective < _EVEN * made and fits < _FITS:
            _refit(u[:made], log_weight[:made], known, fallback, proposal)
            fits += 1
            made = 0
            batch = min(int(_FIRST_BATCH * _GROWTH**fits), limit)
            continue
        batch = next_batch(made, effective, enough, limit)
