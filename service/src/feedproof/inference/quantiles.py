"""Weighted quantiles and draws of equal weight, compiled.

A quantile needs only the few draws around it in order. So the draws are counted into buckets, and one bucket with its
neighbours is sorted, not all of them.
"""

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.arrays import IntArray
from feedproof.inference.forward import FloatArray

_BUCKETS = 256
#: So few are sorted right away.
_FEW = 48
#: Draws that differ by less are not told apart by buckets [as given].
_TINY = 1e-290


@compiled
def quantiles(values: FloatArray, weights: FloatArray, shares: FloatArray) -> FloatArray:
    """Weighted quantiles, linear between the draws.

    Each draw stands at the middle of its own weight; below the first and above the last the quantile is theirs.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Draws of a quantity, and their weights, which sum to 1 [1].
    shares : ndarray, shape (S,)
        0 to 1 [1].

    Returns
    -------
    ndarray, shape (S,)
        In the quantity's unit [as given].
    """
    bucket, held = _counted(values, weights)
    found = np.empty(shares.size)
    for s in range(shares.size):
        if shares[s] <= 0.0 or shares[s] >= 1.0:
            # The ends themselves, whatever the weights' sum is rounded to.
            found[s] = np.min(values) if shares[s] <= 0.0 else np.max(values)
            continue
        found[s] = _settled(values, weights, bucket, held, shares[s])
    return found


@compiled
def _counted(values: FloatArray, weights: FloatArray) -> tuple[IntArray, FloatArray]:
    """Bucket of each draw, by its value, and the weight in each bucket; −1 in one that holds no draw."""
    low, high = values[0], values[0]
    for value in values:
        low = min(low, value)
        high = max(high, value)
    scale = _BUCKETS / (high - low) if high - low > _TINY else 0.0
    bucket = np.zeros(values.size, np.int64)
    held = np.full(_BUCKETS, -1.0)
    for i in range(values.size):
        b = min(int((values[i] - low) * scale), _BUCKETS - 1)
        bucket[i] = b
        held[b] = max(held[b], 0.0) + weights[i]
    return bucket, held


@compiled
def _settled(values: FloatArray, weights: FloatArray, bucket: IntArray, held: FloatArray, share: float) -> float:
    """One quantile of draws that have been counted."""
    while values.size > _FEW:
        # The bucket that the share falls into, and the nearest on either side that hold draws.
        first, at, last = -1, -1, -1
        below, through = 0.0, 0.0
        for b in range(_BUCKETS):
            if held[b] < 0.0:
                continue
            if at >= 0 and through > share:
                last = b
                break
            if first >= 0:
                below += held[first]
            first, at, last = at, b, b
            through += held[b]
        some, own = np.empty(values.size), np.empty(values.size)
        count = 0
        for i in range(values.size):
            if first <= bucket[i] <= last:
                some[count], own[count] = values[i], weights[i]
                count += 1
        share -= below
        shrunk = 2 * count < values.size
        values, weights = some[:count], own[:count]
        if not shrunk:
            break
        bucket, held = _counted(values, weights)
    return _among(values, weights, share)


@compiled
def _among(values: FloatArray, weights: FloatArray, share: float) -> float:
    """One quantile of draws that are all sorted for it."""
    order = np.argsort(values, kind="mergesort")
    previous, edge, below = values[order[0]], 0.0, 0.0
    for k in range(order.size):
        i = order[k]
        middle = below + 0.5 * weights[i]
        if middle >= share:
            return values[i] if k == 0 else previous + (values[i] - previous) * (share - edge) / (middle - edge)
        previous, edge = values[i], middle
        below += weights[i]
    return previous


@compiled
def evenly(log_weight: FloatArray, count: int) -> IntArray:
    """Draws of equal weight by systematic resampling.

    Parameters
    ----------
    log_weight : ndarray, shape (N,)
        Logarithms of the weights [nat].
    count : int
        How many [1].

    Returns
    -------
    ndarray of int, shape (count,)
        Their indexes, ascending [1].
    """
    weight = np.exp(log_weight - np.max(log_weight))
    total = np.sum(weight)
    chosen = np.full(count, log_weight.size - 1)
    k, through = 0, 0.0
    for i in range(log_weight.size):
        through += weight[i] / total
        while k < count and (k + 0.5) / count <= through:
            chosen[k] = i
            k += 1
    return chosen
