"""Mutual information between the fault and a reading not yet taken, compiled.

The outcomes of a reading are sorted into bins; each fault's share of every bin follows from its posterior
draws and the meter's scatter. The information is how much the knowledge of the bin tells about the fault.

References
----------
.. [1] D. V. Lindley, "On a measure of the information provided by an experiment", Ann. Math. Stat. 27 (1956)
   986-1005.
"""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import PROXIMITY, FloatArray, IntArray
from feedproof.inference.likelihood import Observations, signal_probability

_BINS = 40
#: So many of the bins' ends are even in the stretched scale.
_EVEN = _BINS // 2 + 1
#: Offsets, in scatters, that stand for what is read of one draw: quantiles of Student's law with four degrees
#: of freedom at 5, 25, 50, 75 and 95 % (from tables).
_OFFS = np.array([-2.132, -0.741, 0.0, 0.741, 2.132])


@compiled
def _student_cdf(t: float) -> float:
    """Distribution of Student's law with four degrees of freedom [1]."""
    s = t / math.sqrt(4.0 + t * t)
    return 0.5 + 0.75 * s - 0.25 * s * s * s


@compiled
def bin_shares(shown: FloatArray, group: IntArray, share: FloatArray, o: Observations, edges: FloatArray) -> FloatArray:
    """Probability of each bin under each fault.

    Parameters
    ----------
    shown : ndarray, shape (N, Q)
        Expected reading of every draw, for every reading in question [V, A, ohm].
    group : ndarray, shape (N,)
        Fault that a draw belongs to [1].
    share : ndarray, shape (N,)
        Weight of the draw within its fault; they sum to 1 for each [1].
    o : Observations
        Scatter of the readings in question.
    edges : ndarray, shape (Q, bins + 1)
        Ends of the bins [V, A, ohm].

    Returns
    -------
    ndarray, shape (Q, faults, bins)
        Probabilities [1].
    """
    faults = np.max(group) + 1
    bins = edges.shape[1] - 1
    result = np.zeros((shown.shape[1], faults, bins))
    below = np.zeros(bins + 1)
    for q in range(shown.shape[1]):
        for i in range(shown.shape[0]):
            own = result[q, group[i]]
            if o.kind[q] == PROXIMITY:
                p = signal_probability(shown[i, q], o.floor[q], o.relative[q], o.misread[q], o.misread_density[q])
                own[0] += share[i] * (1.0 - p)
                own[1] += share[i] * p
                continue
            narrowness = 1.0 / math.sqrt(o.floor[q] ** 2 + (o.relative[q] * shown[i, q]) ** 2)
            for b in range(1, bins):
                below[b] = _student_cdf((edges[q, b] - shown[i, q]) * narrowness)
            below[bins] = 1.0
            told, anywhere = share[i] * (1.0 - o.misread[q]), share[i] * o.misread[q] / bins
            for b in range(bins):
                own[b] += told * (below[b + 1] - below[b]) + anywhere
    return result


@compiled
def information(shares: FloatArray, probability: FloatArray) -> float:
    """Mutual information between fault and bin [bit].

    Parameters
    ----------
    shares : ndarray, shape (faults, bins)
        Probability of each bin under each fault [1].
    probability : ndarray, shape (faults,)
        Of the faults [1].
    """
    total = 0.0
    for b in range(shares.shape[1]):
        mixed = 0.0
        for f in range(shares.shape[0]):
            mixed += probability[f] * shares[f, b]
        for f in range(shares.shape[0]):
            if shares[f, b] > 1e-300 and probability[f] > 0.0:
                total += probability[f] * shares[f, b] * math.log(shares[f, b] / mixed)
    return max(total, 0.0) / math.log(2.0)


@compiled
def _merged(runs: FloatArray, whole: FloatArray) -> None:
    """Fill the whole with what stands in the rows, each in order already, in order."""
    taken = np.zeros(runs.shape[0], np.int64)
    for i in range(whole.size):
        least, row = np.inf, 0
        for k in range(runs.shape[0]):
            if taken[k] < runs.shape[1] and runs[k, taken[k]] < least:
                least, row = runs[k, taken[k]], k
        whole[i] = least
        taken[row] += 1


@compiled
def bin_edges(shown: FloatArray, floor: FloatArray, kind: IntArray) -> FloatArray:
    """Ends of the bins of each reading in question: even in a stretched scale, finer near zero.

    Parameters
    ----------
    shown : ndarray, shape (N, Q)
        Expected readings [V, A, ohm].
    floor : ndarray, shape (Q,)
        Scatter near zero [V, A, ohm].
    kind : ndarray of int, shape (Q,)
        Kinds of the readings [1].

    Returns
    -------
    ndarray, shape (Q, bins + 1)
        From zero to beyond the largest [V, A, ohm].
    """
    questions, count = shown.shape[1], shown.shape[0]
    edges = np.zeros((questions, _BINS + 1))
    runs, read = np.empty((_OFFS.size, count)), np.empty(count * _OFFS.size)
    for q in range(questions):
        if kind[q] == PROXIMITY:
            continue
        unit = 4.0 * floor[q]
        top = math.asinh(1.1 * np.max(shown[:, q]) / unit + 4.0)
        for b in range(_EVEN):
            edges[q, b] = unit * math.sinh(b * top / (_EVEN - 1))
        # Half of the ends lie where readings would fall, so that narrow differences are not lost in one bin.
        own = np.sort(shown[:, q])
        for k in range(_OFFS.size):
            runs[k] = np.abs(own + floor[q] * _OFFS[k])
            if own[0] + floor[q] * _OFFS[k] < 0.0:
                runs[k].sort()
        _merged(runs, read)
        for b in range(_EVEN, _BINS + 1):
            place = (read.size - 1) * (b - _EVEN + 1) / (_BINS - _EVEN + 2)
            under = int(place)
            edges[q, b] = read[under] + (place - under) * (read[under + 1] - read[under])
        edges[q].sort()
    return edges


@compiled
def parted(shares: FloatArray, probability: FloatArray) -> tuple[int, int]:
    """The two faults that a reading tells apart best, weighed by their probabilities; −1 twice where it tells none.

    Parameters
    ----------
    shares : ndarray, shape (faults, bins)
        Probability of each bin under each fault [1].
    probability : ndarray, shape (faults,)
        Of the faults [1].

    Returns
    -------
    tuple of int
        Numbers of the faults, ascending [1].
    """
    best, first, second = 0.0, -1, -1
    for i in range(shares.shape[0]):
        for j in range(i + 1, shares.shape[0]):
            overlap = 0.0
            for b in range(shares.shape[1]):
                overlap += math.sqrt(shares[i, b] * shares[j, b])
            worth = math.sqrt(probability[i] * probability[j]) * (1.0 - overlap)
            if worth > best:
                best, first, second = worth, i, j
    return first, second
