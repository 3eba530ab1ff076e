"""Evidence and posterior of one hypothesis, compiled: adaptive importance sampling from its modes.

The proposal is a mixture: Gaussians at the modes found, the prior itself as a safeguard, and Gaussians fitted
to weighted draws. Every Gaussian has wider copies, so that the tails are covered. While a batch of draws is
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

from feedproof.circuit.compiling import compiled
from feedproof.inference.forward import UNIFORM, FloatArray, Program, Work, predict
from feedproof.inference.laplace import cholesky
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.mixture import (
    add_to_proposal,
    cluster,
    draw_component,
    fit_cluster,
    invert_lower,
    take_precision,
)
from feedproof.inference.normal import half_square
from feedproof.inference.weights import effective_number, flattened, next_batch

#: Share of the information at a mode that the proposal there keeps.
_TOLD = 0.5
#: Shares of the proposal: the prior, the modes beside fitted components, and the fit before the last.
_PRIOR_SHARE = 0.12
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
#: Clusters that uneven draws are sorted into.
_CLUSTERS = 3
#: A fit needs this many effective draws per coordinate; with fewer the weights are flattened first.
_DRAWS_PER_COORDINATE = 4.0


@compiled
def _propose(
    points: FloatArray,
    first: int,
    z: FloatArray,
    centers: FloatArray,
    spreads: FloatArray,
    whitens: FloatArray,
    share: FloatArray,
    proposal: FloatArray,
) -> None:
    """Fill `z` with draws from a mixture, and `proposal` with its density there, without (2π)^(-D/2)."""
    count = z.shape[0]
    made, wanted = 0, 0.0
    for m in range(share.size):
        wanted += share[m] * count
        stop = min(int(wanted + 0.5), count)
        if stop > made:
            draw_component(points, first, z, made, stop, centers[m], spreads[m])
            made = stop
    proposal[:] = 0.0
    for m in range(share.size):
        if share[m] > 0.0:
            add_to_proposal(z, 0, count, centers[m], whitens[m], share[m], proposal)


@compiled
def _weigh(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    proposal: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> None:
    """Logarithms of likelihood × prior / proposal of draws [nat]."""
    predict(program, z, work, shown, np.zeros((0, 0)))
    for i in range(z.shape[0]):
        log_weight[i] = total_log_likelihood(observations, shown[i]) - half_square(z[i]) - math.log(proposal[i])


@compiled
def _mode_components(
    program: Program,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
    centers: FloatArray,
    spreads: FloatArray,
    whitens: FloatArray,
    share: FloatArray,
) -> int:
    """Fill the components at the modes, and the prior after them; shares sum to 1. Returns their number."""
    found, size = modes.shape
    loose = False
    for j in range(size):
        loose = loose or program.coordinate_kind[j] == UNIFORM
    parts = 2 * found if loose else found
    share[:] = 0.0
    share[:found] = np.exp(log_mass - np.max(log_mass)) + 0.02
    precision, relaxed, scratch = np.zeros((size, size)), np.zeros((size, size)), np.zeros((size, size))
    for m in range(found):
        centers[m] = modes[m]
        # The readings' scatter has heavier tails than the curvature at the mode says: half of what they tell
        # there gives the spread that Student's law with four degrees of freedom really has.
        for j in range(size):
            for k in range(j + 1):
                precision[j, k] = 0.0
                for n in range(k + 1):
                    precision[j, k] += _TOLD * factors[m, j, n] * factors[m, k, n]
            precision[j, j] += 1.0 - _TOLD
        relaxed[:, :] = precision
        cholesky(relaxed, size)
        take_precision(relaxed, scratch, spreads[m], whitens[m], size)
        if not loose:
            continue
        # A resistance that the readings bound on one side only is flat up to a wall, which a Gaussian at the
        # mode is too narrow for. Each mode gets a twin that leaves those coordinates as they were a priori.
        twin = found + m
        share[twin] = share[m]
        centers[twin] = modes[m]
        for j in range(size):
            if program.coordinate_kind[j] == UNIFORM:
                for k in range(size):
                    precision[j, k] = 0.0
                    precision[k, j] = 0.0
                precision[j, j] = 1.0
        cholesky(precision, size)
        take_precision(precision, scratch, spreads[twin], whitens[twin], size)
    share[:parts] *= (1.0 - _PRIOR_SHARE) / np.sum(share[:parts])
    centers[parts] = 0.0
    spreads[parts] = np.eye(size)
    whitens[parts] = np.eye(size)
    share[parts] = _PRIOR_SHARE
    return parts + 1


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
        Number of draws made; negative where the weights stay uneven and patience is not asked for.
    """
    limit, size = z.shape
    base = 2 * log_mass.size + 1
    room = base + 2 * _CLUSTERS
    centers, share = np.zeros((room, size)), np.zeros(room)
    spreads, whitens = np.zeros((room, size, size)), np.zeros((room, size, size))
    known = _mode_components(program, modes, factors, log_mass, centers, spreads, whitens, share)
    of_modes = share.copy()
    best = np.argmax(log_mass)
    proposal = np.zeros(limit)
    made, used, fits = 0, 0, 0
    batch = min(_FIRST_BATCH, limit)
    while True:
        stop = made + batch
        _propose(points, used, z[made:stop], centers, spreads, whitens, share, proposal[made:stop])
        _weigh(program, observations, work, z[made:stop], proposal[made:stop], shown[made:stop], log_weight[made:stop])
        used += batch
        made = stop
        effective = effective_number(log_weight[:made], 1.0)
        if effective >= enough or made >= limit or used >= 2 * limit:
            return made
        if not patient and effective < _HOPEFUL * made and fits >= _TRIES:
            return -made
        if effective < _EVEN * made and fits < _FITS:
            _refit(z[:made], log_weight[:made], known, best, centers, spreads, whitens, share, of_modes)
            fits += 1
            made = 0
            batch = min(int(_FIRST_BATCH * _GROWTH**fits), limit)
            continue
        batch = next_batch(made, effective, enough, limit)


@compiled
def _refit(
    z: FloatArray,
    log_weight: FloatArray,
    known: int,
    best: int,
    centers: FloatArray,
    spreads: FloatArray,
    whitens: FloatArray,
    share: FloatArray,
    of_modes: FloatArray,
) -> None:
    """Put components fitted to the draws beside those of the modes; the fit before stays at a small share."""
    size = z.shape[1]
    w = flattened(log_weight, _DRAWS_PER_COORDINATE * size)
    member = cluster(z, w, _CLUSTERS)
    old_total = np.sum(share[known : known + _CLUSTERS])
    for c in range(_CLUSTERS):
        old, new = known + _CLUSTERS + c, known + c
        share[old] = 0.0
        if old_total > 0.0 and share[new] > 0.0:
            centers[old], spreads[old], whitens[old] = centers[new], spreads[new], whitens[new]
            share[old] = _OLD_SHARE * share[new] / old_total
    kept = np.sum(share[known + _CLUSTERS : known + 2 * _CLUSTERS])
    total = 0.0
    for c in range(_CLUSTERS):
        new = known + c
        share[new] = fit_cluster(z, w, member, c, spreads[best], centers[new], spreads[new])
        total += share[new]
        if share[new] > 0.0:
            invert_lower(spreads[new], whitens[new], size)
    share[known : known + _CLUSTERS] *= (1.0 - _PRIOR_SHARE - _MODE_SHARE - kept) / total
    share[:known] = of_modes[:known] * _MODE_SHARE / (1.0 - _PRIOR_SHARE)
    share[known - 1] = _PRIOR_SHARE
