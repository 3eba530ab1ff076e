"""The standard normal law, compiled: density, distribution and quantile."""

import math

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled

_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)

_A = np.array([-3.969683028665376e1, 2.209460984245205e2, -2.759285104469687e2, 1.383577518672690e2,
               -3.066479806614716e1, 2.506628277459239e0])  # fmt: skip
_B = np.array([-5.447609879822406e1, 1.615858368580409e2, -1.556989798598866e2, 6.680131188771972e1,
               -1.328068155288572e1, 1.0])  # fmt: skip
_C = np.array([-7.784894002430293e-3, -3.223964580411365e-1, -2.400758277161838e0, -2.549732539343734e0,
               4.374664141464968e0, 2.938163982698783e0])  # fmt: skip
_D = np.array([7.784695709041462e-3, 3.224671290700398e-1, 2.445134137142996e0, 3.754408661907416e0, 1.0])
_TAIL = 0.02425
_LEAST = 1e-300


@compiled
def normal_pdf(z: float) -> float:
    """Density of the standard normal law at `z` [1]."""
    return math.exp(-0.5 * z * z) / _ROOT_TWO_PI


@compiled
def half_square(z: NDArray[np.float64]) -> float:
    """Half the sum of squares: minus the logarithm of independent standard normal densities, but for a constant [1].

    A loop, since a compiled dot product would need another linear algebra library at run time.
    """
    total = 0.0
    for value in z:
        total += value * value
    return 0.5 * total


@compiled
def normal_cdf(z: float) -> float:
    """Probability below `z` [1]."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@compiled
def cdf_column(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Probability below each of the values.

    Parameters
    ----------
    z : ndarray, shape (N,)
        Values [1].

    Returns
    -------
    ndarray, shape (N,)
        [1]
    """
    column = np.zeros(z.size)
    for i in range(z.size):
        column[i] = normal_cdf(z[i])
    return column


@compiled
def _horner(coefficients: NDArray[np.float64], x: float) -> float:
    value = 0.0
    for c in coefficients:
        value = value * x + c
    return value


@compiled
def normal_quantile(probability: float) -> float:
    """Value below which the standard normal law has `probability` [1].

    P. J. Acklam's rational approximation, sharpened by one step of Halley's method to about 1e-15 relative.

    Parameters
    ----------
    probability : float
        Between 0 and 1 [1]; the ends are taken as 1e-300 and 1 - 1e-16.

    Returns
    -------
    float
        The quantile [1].

    References
    ----------
    .. [1] P. J. Acklam, "An algorithm for computing the inverse normal cumulative distribution function"
       (2003); coefficients from memory, held against an independent implementation by a test.
    """
    p = min(max(probability, _LEAST), 1.0 - 1e-16)
    if p < _TAIL:
        q = math.sqrt(-2.0 * math.log(p))
        z = _horner(_C, q) / _horner(_D, q)
    elif p > 1.0 - _TAIL:
        q = math.sqrt(-2.0 * math.log(1.0 - p))
        z = -_horner(_C, q) / _horner(_D, q)
    else:
        q = p - 0.5
        z = q * _horner(_A, q * q) / _horner(_B, q * q)
    error = (normal_cdf(z) - p) / normal_pdf(z)
    return z - error / (1.0 + 0.5 * z * error)
