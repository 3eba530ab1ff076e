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
from feedproof.inference.forward import PROXIMITY, FloatArray, IntArray
from feedproof.inference.likelihood import Observations, signal_probability

_BINS = 40
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
    for q in range(shown.shape[1]):
        for i in range(shown.shape[0]):
            if o.kind[q] == PROXIMITY:
                p = signal_probability(shown[i, q], o.floor[q], o.relative[q], o.misread[q], o.misread_density[q])
                result[q, group[i], 0] += share[i] * (1.0 - p)
                result[q, group[i], 1] += share[i] * p
                continue
            scatter = math.sqrt(o.floor[q] ** 2 + (o.relative[q] * shown[i, q]) ** 2)
            below = 0.0
            for b in range(bins):
                above = 1.0 if b == bins - 1 else _student_cdf((edges[q, b + 1] - shown[i, q]) / scatter)
                result[q, group[i], b] += share[i] * ((1.0 - o.misread[q]) * (above - below) + o.misread[q] / bins)
                below = above
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
    edges = np.zeros((shown.shape[1], _BINS + 1))
    for q in range(shown.shape[1]):
        if kind[q] == PROXIMITY:
            continue
        unit = 4.0 * floor[q]
        top = math.asinh(1.1 * float(shown[:, q].max()) / unit + 4.0)
        even = unit * np.sinh(np.linspace(0.0, top, _BINS // 2 + 1))
        # Half of the ends lie where readings would fall, so that narrow differences are not lost in one bin.
        read = np.abs(shown[:, q][:, None] + floor[q] * _OFFS)
        own = np.quantile(read, np.linspace(0.0, 1.0, _BINS - even.size + 3)[1:-1])
        edges[q] = np.sort(np.concatenate((even, own)))[: _BINS + 1]
    return edges
