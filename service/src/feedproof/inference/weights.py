"""Weights of draws, compiled: their mean and how many draws they are worth."""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.forward import FloatArray

#: Halvings of the interval that a power is sought in.
_HALVINGS = 16


@compiled
def log_mean_exp(values: FloatArray) -> float:
    """Logarithm of the mean of the exponentials [nat]."""
    top = np.max(values)
    return top + math.log(np.mean(np.exp(values - top)))


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
def flattened(log_weight: FloatArray, wanted: float) -> FloatArray:
    """Weights raised to the highest power, at most one, that keeps a wanted effective number.

    Parameters
    ----------
    log_weight : ndarray, shape (N,)
        Logarithms of the weights [nat].
    wanted : float
        Effective number to keep [1].

    Returns
    -------
    ndarray, shape (N,)
        They sum to 1 [1].
    """
    power = 1.0
    if effective_number(log_weight, 1.0) < wanted:
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            power = 0.5 * (low + high)
            if effective_number(log_weight, power) < wanted:
                high = power
            else:
                low = power
        power = low
    w = np.exp(power * (log_weight - np.max(log_weight)))
    return w / np.sum(w)


@compiled
def next_batch(made: int, effective: float, enough: float, limit: int) -> int:
    """Draws to make next, so that the effective number comes to what is wanted, by what it was so far.

    Parameters
    ----------
    made : int
        Draws so far [1].
    effective : float
        What they are worth [1].
    enough : float
        Effective number wanted [1].
    limit : int
        Most draws in all [1].

    Returns
    -------
    int
        At most twice as many as so far, so that a lucky or unlucky start leads nowhere far [1].
    """
    wanted = int(1.1 * made * (enough / max(effective, 1.0) - 1.0)) + 32
    return min(max(wanted, 64), 2 * made + 64, limit - made)
