"""Mutual information between what has to be decided and readings not yet taken, compiled.

Posterior draws stand for all circuits that are still possible. Each one's expected reading, with the meter's scatter
on it, is held against all the others; how far the groups of draws then stand apart is what the reading would tell.
A reading of a group is as probable as its draws say, smoothed by a kernel, the draw itself left out [1]_ [2]_.

References
----------
.. [1] D. V. Lindley, "On a measure of the information provided by an experiment", Ann. Math. Stat. 27 (1956)
   986-1005.
.. [2] L. Breiman, W. Meisel, E. Purcell, "Variable kernel estimates of multivariate densities", Technometrics 19 (1977)
   135-144: a kernel as wide as it is far to the k-th neighbour (from memory). A place's draws may come in two heaps, of
   an open and of a weak joint, which one width for all would run into one.
"""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import PROXIMITY, FloatArray, IntArray
from feedproof.inference.likelihood import STUDENT_PEAK, Observations, chance_of_signal

#: Offsets, in scatters, of what is read of a draw: quantiles of Student's law with four degrees of freedom at 10, 30,
#: 50, 70 and 90 % (from tables).
_OFFS = np.array([0.0, -1.533, 0.569, -0.569, 1.533])


@compiled
def likenesses(shown: FloatArray, site: IntArray, o: Observations) -> FloatArray:
    """How probable what is read of each draw is at every other one.

    Parameters
    ----------
    shown : ndarray, shape (N, Q)
        Expected reading of every draw, for every reading in question [V, A, ohm].
    site : ndarray of int, shape (N,)
        Place that a draw is of [1].
    o : Observations
        Scatter of the readings in question [V, A, ohm].

    Returns
    -------
    ndarray, shape (Q, N, N)
        Density of reading q of draw i at draw j, on a scale stretched near zero; of a proximity detector the
        probability that it signals at draw j [1].
    """
    count, questions = shown.shape
    places = np.max(site) + 1
    found = np.zeros((questions, count, count))
    at, width, read = np.empty(count), np.empty(count), np.empty(count)
    for q in range(questions):
        if o.kind[q] == PROXIMITY:
            for j in range(count):
                p = chance_of_signal(o, q, shown[j, q])
                for i in range(count):
                    found[q, i, j] = p
            continue
        unit = 4.0 * o.floor[q]
        for j in range(count):
            at[j] = math.asinh(shown[j, q] / unit)
            width[j] = math.sqrt(o.floor[q] ** 2 + (o.relative[q] * shown[j, q]) ** 2) / math.sqrt(
                shown[j, q] ** 2 + unit * unit
            )
        low, high = np.min(at), np.max(at)
        for j in range(count):
            read[j] = abs(at[j] + _OFFS[j % _OFFS.size] * width[j])
        for s in range(places):
            own = np.sort(at[site == s])
            k = int(math.sqrt(own.size) + 0.5)
            for j in range(count):
                if site[j] == s and own.size > 1:
                    # The window of k + 1 draws round it that is narrowest; the draw is in it.
                    place, best = np.searchsorted(own, at[j]), np.inf
                    for first in range(max(place - k, 0), min(place, own.size - 1 - k) + 1):
                        best = min(best, own[first + k] - own[first])
                    width[j] = math.sqrt(width[j] ** 2 + best * best)
        # A misread value may be anything.
        anything = o.misread[q] / (high - low + 4.0)
        for j in range(count):
            narrow = 1.0 / width[j]
            for i in range(count):
                z = (read[i] - at[j]) * narrow
                t = 1.0 + 0.25 * z * z
                found[q, i, j] = (1.0 - o.misread[q]) * STUDENT_PEAK * narrow / (t * t * math.sqrt(t)) + anything
    return found


@compiled
def information(like: FloatArray, second: FloatArray, group: IntArray, share: FloatArray) -> float:
    """Mutual information between group and one reading, or two together [bit].

    Parameters
    ----------
    like : ndarray, shape (N, N)
        Of `likenesses` [1].
    second : ndarray, shape (N, N)
        Of the other reading; shape (0, 0) where there is none [1].
    group : ndarray of int, shape (N,)
        What each draw would have decided [1].
    share : ndarray, shape (N,)
        Weight of the draw; they sum to 1 [1].
    """
    count = share.size
    groups = np.max(group) + 1
    prior, under, weight = np.zeros(groups), np.empty(groups), np.empty(groups)
    for j in range(count):
        prior[group[j]] += share[j]
    total = 0.0
    for i in range(count):
        under[:], weight[:] = 0.0, 0.0
        for j in range(count):
            if j != i:
                k = like[i, j] * second[i, j] if second.size else like[i, j]
                under[group[j]] += share[j] * k
                weight[group[j]] += share[j]
        own = group[i]
        if weight[own] <= 0.0:
            continue
        mixed = 0.0
        for g in range(groups):
            if weight[g] > 0.0:
                under[g] /= weight[g]
                mixed += prior[g] * under[g]
        if under[own] > 0.0 and mixed > 0.0:
            total += share[i] * math.log(under[own] / mixed)
    return max(total, 0.0) / math.log(2.0)


@compiled
def yes_or_no(yes: FloatArray, group: IntArray, share: FloatArray) -> float:
    """Mutual information between group and an answer that is yes with a probability of each draw [bit].

    Parameters
    ----------
    yes : ndarray, shape (N,)
        Probability of a yes [1].
    group : ndarray of int, shape (N,)
        What each draw would have decided [1].
    share : ndarray, shape (N,)
        Weight of the draw; they sum to 1 [1].
    """
    groups = np.max(group) + 1
    prior, said = np.zeros(groups), np.zeros(groups)
    for j in range(share.size):
        prior[group[j]] += share[j]
        said[group[j]] += share[j] * yes[j]
    whole, total = np.sum(said), 0.0
    for g in range(groups):
        for joint, answer in ((said[g], whole), (prior[g] - said[g], 1.0 - whole)):
            if joint > 1e-300 and answer > 0.0:
                total += joint * math.log(joint / (prior[g] * answer))
    return max(total, 0.0) / math.log(2.0)


@compiled
def gains(
    like: FloatArray, setup: IntArray, group: IntArray, share: FloatArray, kind: IntArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Information of every reading, and of the best of each setup with each further one of the same setup [bit].

    Parameters
    ----------
    like : ndarray, shape (Q, N, N)
        Of `likenesses` [1].
    setup : ndarray of int, shape (Q,)
        Where and in which load state a reading is taken [1].
    group : ndarray of int, shape (N,)
        What each draw would have decided [1].
    share : ndarray, shape (N,)
        Weight of the draw; they sum to 1 [1].
    kind : ndarray of int, shape (Q,)
        Kinds of the readings [1].

    Returns
    -------
    single : ndarray, shape (Q,)
        Of each reading [bit].
    joint : ndarray, shape (Q,)
        Of each together with its partner, 0 where it has none [bit].
    partner : ndarray of int, shape (Q,)
        The best reading of the same setup; -1: none [1].
    """
    questions = like.shape[0]
    none = np.zeros((0, 0))
    single, joint = np.zeros(questions), np.zeros(questions)
    partner = np.full(questions, -1)
    for q in range(questions):
        if kind[q] == PROXIMITY:
            single[q] = yes_or_no(like[q, 0], group, share)
        else:
            single[q] = information(like[q], none, group, share)
    for s in range(np.max(setup) + 1):
        best = -1
        for q in range(questions):
            if setup[q] == s and kind[q] != PROXIMITY and (best < 0 or single[q] > single[best]):
                best = q
        if best < 0:
            continue
        for q in range(questions):
            if q != best and setup[q] == s and kind[q] != PROXIMITY:
                together = information(like[best], like[q], group, share)
                if together > joint[best]:
                    joint[best], partner[best] = together, q
    return single, joint, partner
