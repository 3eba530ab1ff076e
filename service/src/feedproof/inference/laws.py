"""Laws of the unknowns, compiled: each a function of one coordinate that is standard normal a priori.

A uniform or truncated law needs the normal distribution and its inverse, dear functions in the innermost loop. So each
law is tabulated once, standardized, with its slope, and read off by cubic Hermite interpolation: value and slope belong
together exactly, and are within 2e-9 of the law's own.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled, counting_nothing
from feedproof.circuit.lanes import Lanes, gathered, larger, load, smaller, store, whole
from feedproof.inference.normal import normal_cdf, normal_pdf, normal_quantile

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NORMAL, UNIFORM, TRUNCATED = 0, 1, 2

REACH = 12.0
"""Coordinates further out than this are taken at it: of 1e32 draws not one lies there."""
_PER_UNIT = 64.0
_BISECTIONS = 60
_ROWS = int(2.0 * REACH * _PER_UNIT) + 1

Law = tuple[int, float, float]
"""Kind, standard normal probability below the lower cut, probability between the cuts."""


@compiled
def _tabulate(kind: int, cdf_low: float, cdf_width: float) -> FloatArray:
    """Standardized unknown, and its slope over one step, at every step; shape (rows, 2)."""
    table = np.zeros((_ROWS, 2))
    above = 1.0 - cdf_low - cdf_width
    for n in range(_ROWS):
        z = n / _PER_UNIT - REACH
        if kind == UNIFORM:
            table[n, 0] = normal_cdf(z)
            table[n, 1] = normal_pdf(z) / _PER_UNIT
            continue
        # On the upper side by what is left above, which a number just below 1 could not hold.
        if z < 0.0:
            inner = normal_quantile(cdf_low + cdf_width * normal_cdf(z))
        else:
            inner = -normal_quantile(above + cdf_width * normal_cdf(-z))
        table[n, 0] = inner
        table[n, 1] = cdf_width * normal_pdf(z) / normal_pdf(inner) / _PER_UNIT
    return table


@lru_cache(maxsize=256)
def _table(law: Law) -> FloatArray:
    table: FloatArray = _tabulate(*law)
    return table


@lru_cache(maxsize=256)
def _tables(laws: tuple[Law, ...]) -> FloatArray:
    """Tables of several laws; the same few sets come again and again."""
    return np.stack([_table(law) for law in laws]) if laws else np.zeros((0, _ROWS, 2))


def tabulated(laws: Sequence[Law]) -> tuple[FloatArray, IntArray]:
    """Tables of the laws of a program's coordinates.

    Parameters
    ----------
    laws : sequence of (int, float, float)
        Kind (`NORMAL`, `UNIFORM`, `TRUNCATED`) of each coordinate, and for a truncated one the standard normal
        probability below the lower cut and between the cuts [1].

    Returns
    -------
    tuple of ndarray
        Tables, shape (K, rows, 2), shared between programs; and which one each coordinate has, −1 for a normal one,
        shape (D,) [1].
    """
    bent = [law if law[0] == TRUNCATED else (UNIFORM, 0.0, 1.0) for law in laws if law[0] != NORMAL]
    kinds = tuple(sorted(set(bent)))
    number = {law: k for k, law in enumerate(kinds)}
    waiting = iter(bent)
    return _tables(kinds), np.array([-1 if law[0] == NORMAL else number[next(waiting)] for law in laws], np.int64)


@compiled
def interpolated(tables: FloatArray, which: int, z: float) -> tuple[float, float]:
    """Standardized unknown and its slope by its coordinate.

    Parameters
    ----------
    tables : ndarray, shape (K, rows, 2)
        From `tabulated` [1].
    which : int
        Number of the table [1].
    z : float
        Coordinate [1].

    Returns
    -------
    tuple of float
        The unknown and the slope [1].

    References
    ----------
    .. [1] F. N. Fritsch, R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17 (1980)
       238-246: cubic Hermite interpolation from values and slopes.
    """
    place = min(max((z + REACH) * _PER_UNIT, 0.0), _ROWS - 1.0)
    n = min(int(place), _ROWS - 2)
    f = place - n
    v0, m0, v1, m1 = tables[which, n, 0], tables[which, n, 1], tables[which, n + 1, 0], tables[which, n + 1, 1]
    rise = v1 - v0
    second, third = 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise
    return v0 + f * (m0 + f * (second + f * third)), _PER_UNIT * (m0 + f * (2.0 * second + f * 3.0 * third))


@counting_nothing
def _interpolated_lanes(tables: FloatArray, which: int, z: Lanes) -> tuple[Lanes, Lanes]:
    """The same as `interpolated` for draws side by side."""
    place = smaller(larger((z + REACH) * _PER_UNIT, 0.0), _ROWS - 1.0)
    n = smaller(whole(place), _ROWS - 2.0)
    f = place - n
    at = 2.0 * n + 2.0 * _ROWS * which
    v0, m0, v1, m1 = (
        gathered(tables, at),
        gathered(tables, at + 1.0),
        gathered(tables, at + 2.0),
        gathered(tables, at + 3.0),
    )
    rise = v1 - v0
    second, third = 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise
    return v0 + f * (m0 + f * (second + f * third)), _PER_UNIT * (m0 + f * (2.0 * second + f * 3.0 * third))


@counting_nothing
def unknowns(
    location: FloatArray,
    scale: FloatArray,
    tables: FloatArray,
    which: IntArray,
    z: FloatArray,
    value: FloatArray,
    slope: FloatArray,
) -> None:
    """All unknowns of draws side by side.

    Parameters
    ----------
    location, scale : ndarray, shape (D,)
        Mean and standard deviation, or lower end and width [1].
    tables, which : ndarray, shapes (K, rows, 2), (D,)
        From `tabulated` [1].
    z : ndarray, shape (D, lanes)
        Coordinates [1].
    value, slope : ndarray, shape (D, lanes)
        Filled: the unknowns, mostly logarithms, and their derivatives by the coordinates [1].
    """
    for d in range(location.size):
        if which[d] < 0:
            store(value, d, location[d] + scale[d] * load(z, d))
            store(slope, d, scale[d])
            continue
        inner, steep = _interpolated_lanes(tables, which[d], load(z, d))
        store(value, d, location[d] + scale[d] * inner)
        store(slope, d, scale[d] * steep)


def coordinate_of(tables: FloatArray, which: int, inner: float) -> float:
    """Coordinate at which a standardized unknown has a value.

    Parameters
    ----------
    tables : ndarray, shape (K, rows, 2)
        From `tabulated` [1].
    which : int
        Number of the table, −1 for a normal unknown [1].
    inner : float
        The standardized unknown [1].

    Returns
    -------
    float
        The coordinate [1]; infinite where the law ends before that value.
    """
    if which < 0:
        return inner
    heights = tables[which, :, 0]
    if not heights[0] < inner < heights[-1]:
        return math.inf
    low, high = -REACH, REACH
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if interpolated(tables, which, middle)[0] < inner:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
