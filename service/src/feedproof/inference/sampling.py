"""Evidence and posterior of one hypothesis, compiled: adaptive importance sampling from its modes.

The proposal is a mixture: Gaussians at the modes found, the prior itself as a safeguard, and, round by round,
Gaussians fitted to the weighted draws so far. Every Gaussian has two wider copies, so that the tails are
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
from feedproof.inference.weights import effective_number, flattened

_PRIOR_SHARE = 0.1
#: Draws in the first round; later ones grow with what has been drawn.
_FIRST_ROUND = 128
#: Clusters that uneven draws are sorted into, and the share of effective draws below which they are uneven.
_CLUSTERS = 3
_UNEVEN = 0.25
#: A fit needs this many effective draws per coordinate; with fewer the weights are flattened first.
_DRAWS_PER_COORDINATE = 4.0


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
        take_precision(factors[m], scratch, spreads[m], whitens[m], size)
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
        take_precision(precision, scratch, spreads[twin], whitens[twin], size)
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
                draw_component(points, 0, z, made, stop, centers[m], spreads[m])
                counts[m] = stop - made
                made = stop
            draw_component(points, 0, z, made, per_round, centers[parts], spreads[parts])
            counts[parts] = per_round - made
            made = per_round
        else:
            w = flattened(log_weight[:made], _DRAWS_PER_COORDINATE * size)
            clusters = _CLUSTERS if effective_number(log_weight[:made], 1.0) < _UNEVEN * made else 1
            member = cluster(z[:made], w, clusters)
            goal = made + per_round
            old = known
            for c in range(clusters):
                mass = fit_cluster(z[:before], w, member, c, spreads[best], centers[known], spreads[known])
                part = int(mass * per_round) if c < clusters - 1 else goal - made
                if part < 1:
                    continue
                invert_lower(spreads[known], whitens[known], size)
                draw_component(points, 0, z, made, made + part, centers[known], spreads[known])
                counts[known] = part
                made += part
                known += 1
            for m in range(old, known):
                add_to_proposal(z, 0, before, centers[m], whitens[m], counts[m], proposal)
        for m in range(known):
            if counts[m] > 0:
                add_to_proposal(z, before, made, centers[m], whitens[m], counts[m], proposal)
        predict(program, z[before:made], work, shown[before:made], np.zeros((0, 0)))
        for i in range(before, made):
            likelihood[i] = total_log_likelihood(observations, shown[i])
        for i in range(made):
            log_weight[i] = likelihood[i] - half_square(z[i]) - math.log(proposal[i] / made)
        if effective_number(log_weight[:made], 1.0) >= enough:
            break
    return made
