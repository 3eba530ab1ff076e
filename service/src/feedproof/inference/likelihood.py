"""How probable a reading is, given what the meter would show without random error.

Voltages, currents and resistances scatter by Student's law with few degrees of freedom around the expected
value; with a small probability a reading has nothing to do with the circuit at all (a misread). A proximity
detector signals with a probability that rises with the voltage to earth.
"""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled, counting_nothing, inlined
from feedproof.circuit.lanes import Lanes, get, larger, load, logarithm, put, root, store, width
from feedproof.inference.arrays import IntArray
from feedproof.inference.forward import PROXIMITY, FloatArray


class Observations(NamedTuple):
    """Readings as arrays, in the order of the program; shape (R,) each."""

    kind: IntArray
    value: FloatArray
    """[V, A, ohm]; proximity: 1 signalled, 0 silent."""
    floor: FloatArray
    """Absolute scatter [V, A, ohm]; proximity: threshold [V]."""
    relative: FloatArray
    """Scatter as a share of the expected value [1]; proximity: steepness [1]."""
    over_range: IntArray
    """1: the meter showed no end of range, `value` is its highest."""
    misread: FloatArray
    """Probability that the reading has nothing to do with the circuit [1]; proximity: of a false signal."""
    misread_density: FloatArray
    """Density of such a reading [1/V, 1/A, 1/ohm]; proximity: probability of a missed signal [1]."""


# Student's law with four degrees of freedom: density 3/8 (1 + r²/4)^(-5/2).
_NU = 4.0
_PEAK = 0.375
_SMALL = 1e-100
#: No density is taken for less, and the product of so many is no less than 1e-300.
_LEAST = 1e-37
_GATHERED = 8
#: Steepness of the share of over-range readings around the end of the range [1].
OVER_RANGE_STEEPNESS = 20.0


@compiled
def signal_probability(voltage: float, threshold: float, steepness: float, false: float, missed: float) -> float:
    """Probability that a proximity detector signals [1].

    Parameters
    ----------
    voltage : float
        To earth [V].
    threshold : float
        At which it signals half the time [V].
    steepness : float
        Exponent of the logistic rise [1].
    false, missed : float
        Probability of a signal without voltage, and of none at full voltage [1].
    """
    rise = (max(voltage, 1e-3) / threshold) ** steepness
    return false + (1.0 - false - missed) * rise / (1.0 + rise)


@inlined
def contact_density(
    value: float, shown: float, floor: float, relative: float, misread: float, elsewhere: float
) -> float:
    """Density of a contact reading: Student's law around the expected value, or anywhere at all.

    Parameters
    ----------
    value : float
        What was read [V, A, ohm].
    shown : float
        Expected magnitude [V, A, ohm].
    floor, relative : float
        Scatter [V, A, ohm], and as a share of the expected magnitude [1].
    misread, elsewhere : float
        Probability of a misread [1], and its density [1/V, 1/A, 1/ohm].

    Returns
    -------
    float
        [1/V, 1/A, 1/ohm]
    """
    variance = floor * floor + relative * relative * shown * shown
    off = value - shown
    u = 1.0 + off * off / (_NU * variance)
    return (1.0 - misread) * _PEAK / (u * u * math.sqrt(u * variance)) + misread * elsewhere


@compiled
def log_likelihood(o: Observations, r: int, shown: float) -> float:
    """Logarithm of the likelihood of reading `r` [nat].

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : float
        Expected magnitude [V, A, ohm].
    """
    if o.kind[r] == PROXIMITY:
        p = signal_probability(shown, o.floor[r], o.relative[r], o.misread[r], o.misread_density[r])
        return math.log(p) if o.value[r] > 0.5 else math.log(1.0 - p)
    if o.over_range[r]:
        rise = (max(shown, 1e-12) / o.value[r]) ** OVER_RANGE_STEEPNESS if shown < 4.0 * o.value[r] else 1e12
        return math.log((1.0 - o.misread[r]) * rise / (1.0 + rise) + 0.5 * o.misread[r])
    return math.log(contact_density(o.value[r], shown, o.floor[r], o.relative[r], o.misread[r], o.misread_density[r]))


@compiled
def told_share(o: Observations, r: int, shown: float) -> float:
    """Probability that a contact reading is no misread, given what the meter would show [1].

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : float
        Expected magnitude [V, A, ohm].
    """
    elsewhere = o.misread[r] * o.misread_density[r]
    return 1.0 - elsewhere / contact_density(
        o.value[r], shown, o.floor[r], o.relative[r], o.misread[r], o.misread_density[r]
    )


@compiled
def slope_and_weight(o: Observations, r: int, shown: float) -> tuple[float, float]:
    """Derivative of `log_likelihood` by `shown`, and the weight of its quadratic majorizer.

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : float
        Expected magnitude [V, A, ohm].

    Returns
    -------
    tuple of float
        Slope, and weight of reweighted least squares (minus the curvature of the matching quadratic, never
        negative), per unit shown [1/V, 1/A or 1/ohm, and their squares].
    """
    if o.kind[r] == PROXIMITY:
        v = max(shown, 1e-3)
        rise = (v / o.floor[r]) ** o.relative[r]
        q = rise / (1.0 + rise)
        span = 1.0 - o.misread[r] - o.misread_density[r]
        p = o.misread[r] + span * q
        dp = span * q * (1.0 - q) * o.relative[r] / v
        slope = dp / p if o.value[r] > 0.5 else -dp / (1.0 - p)
        return slope, slope * slope
    if o.over_range[r]:
        step = 1e-4 * max(shown, 1e-6)
        slope = (log_likelihood(o, r, shown + step) - log_likelihood(o, r, shown - step)) / (2.0 * step)
        return slope, slope * slope
    scatter = math.sqrt(o.floor[r] ** 2 + (o.relative[r] * shown) ** 2)
    t = (o.value[r] - shown) / scatter
    weight = told_share(o, r, shown) * (_NU + 1.0) / _NU / (1.0 + t * t / _NU) / scatter**2
    return weight * (o.value[r] - shown), weight


@compiled
def total_log_likelihood(o: Observations, shown: FloatArray) -> float:
    """Sum over all readings.

    Parameters
    ----------
    o : Observations
        All readings.
    shown : ndarray, shape (R,)
        Expected magnitudes [V, A, ohm].

    Returns
    -------
    float
        [nat]
    """
    kind, value, floor, relative, over_range = o.kind, o.value, o.floor, o.relative, o.over_range
    misread, elsewhere = o.misread, o.misread_density
    total, product = 0.0, 1.0
    for r in range(kind.size):
        if kind[r] == PROXIMITY or over_range[r]:
            total += log_likelihood(o, r, shown[r])
            continue
        # One logarithm for many readings; taken out in time, before the product could underflow.
        product *= contact_density(value[r], shown[r], floor[r], relative[r], misread[r], elsewhere[r])
        if product < _SMALL:
            total += math.log(max(product, 1e-300))
            product = 1.0
    return total + math.log(product)


@inlined
def contact_densities(
    value: float, shown: Lanes, floor: float, relative: float, misread: float, elsewhere: float
) -> Lanes:
    """The same as `contact_density` for draws side by side.

    Parameters
    ----------
    value : float
        What was read [V, A, ohm].
    shown : lanes
        Expected magnitude [V, A, ohm].
    floor, relative : float
        Scatter [V, A, ohm], and as a share of the expected magnitude [1].
    misread, elsewhere : float
        Probability of a misread [1], and its density [1/V, 1/A, 1/ohm].

    Returns
    -------
    lanes
        [1/V, 1/A, 1/ohm]
    """
    variance = floor * floor + relative * relative * shown * shown
    off = value - shown
    u = 1.0 + off * off / (_NU * variance)
    return (1.0 - misread) * _PEAK / (u * u * root(u * variance)) + misread * elsewhere


@counting_nothing
def total_lanes(o: Observations, shown: FloatArray, total: FloatArray) -> None:
    """Sum over all readings, for draws side by side.

    Parameters
    ----------
    o : Observations
        All readings.
    shown : ndarray, shape (R, lanes)
        Expected magnitudes [V, A, ohm].
    total : ndarray, shape (1, lanes)
        Filled with the logarithm of the likelihood [nat].
    """
    kind, value, floor, relative, over_range = o.kind, o.value, o.floor, o.relative, o.over_range
    misread, elsewhere = o.misread, o.misread_density
    store(total, 0, 0.0)
    product = 1.0
    gathered = 0
    for r in range(kind.size):
        if kind[r] == PROXIMITY or over_range[r]:
            for lane in range(width(shown, r)):
                put(total, 0, lane, get(total, 0, lane) + log_likelihood(o, r, get(shown, r, lane)))
            continue
        # One logarithm for many readings; taken out in time, before the product could underflow.
        density = contact_densities(value[r], load(shown, r), floor[r], relative[r], misread[r], elsewhere[r])
        product = product * larger(density, _LEAST)
        gathered += 1
        if gathered == _GATHERED:
            store(total, 0, load(total, 0) + logarithm(product))
            product = 1.0
            gathered = 0
    store(total, 0, load(total, 0) + logarithm(product))


@counting_nothing
def slopes_and_weights(o: Observations, r: int, shown: FloatArray, slope: FloatArray, weight: FloatArray) -> None:
    """The same as `slope_and_weight` for draws side by side.

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : ndarray, shape (R, lanes)
        Expected magnitudes [V, A, ohm].
    slope, weight : ndarray, shape (R, lanes)
        Row `r` is filled [1/V, 1/A or 1/ohm, and their squares].
    """
    if o.kind[r] == PROXIMITY or o.over_range[r]:
        for lane in range(width(shown, r)):
            steep, heavy = slope_and_weight(o, r, get(shown, r, lane))
            put(slope, r, lane, steep)
            put(weight, r, lane, heavy)
        return
    value, floor, relative, seen = o.value[r], o.floor[r], o.relative[r], load(shown, r)
    elsewhere = o.misread[r] * o.misread_density[r]
    variance = floor * floor + relative * relative * seen * seen
    off = value - seen
    density = contact_densities(value, seen, floor, relative, o.misread[r], o.misread_density[r])
    told = 1.0 - elsewhere / larger(density, _LEAST)
    found = told * ((_NU + 1.0) / _NU) / (variance + off * off * (1.0 / _NU))
    store(weight, r, found)
    store(slope, r, found * off)


@compiled
def reading_column(o: Observations, r: int, shown: FloatArray) -> FloatArray:
    """`log_likelihood` of one reading for each draw.

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : ndarray, shape (N,)
        Expected magnitude for each draw [V, A, ohm].

    Returns
    -------
    ndarray, shape (N,)
        [nat]
    """
    column = np.zeros(shown.size)
    for i in range(shown.size):
        column[i] = log_likelihood(o, r, shown[i])
    return column


@compiled
def signal_column(o: Observations, r: int, shown: FloatArray) -> FloatArray:
    """Probability of a proximity detector's signal for each draw.

    Parameters
    ----------
    o : Observations
        All readings.
    r : int
        Which one [1].
    shown : ndarray, shape (N,)
        Voltage to earth for each draw [V].

    Returns
    -------
    ndarray, shape (N,)
        [1]
    """
    column = np.zeros(shown.size)
    for i in range(shown.size):
        column[i] = signal_probability(shown[i], o.floor[r], o.relative[r], o.misread[r], o.misread_density[r])
    return column


def empty_observations(count: int) -> Observations:
    """Observations of `count` readings, all zero, to be filled in."""
    return Observations(
        np.zeros(count, np.int64),
        np.zeros(count),
        np.ones(count),
        np.zeros(count),
        np.zeros(count, np.int64),
        np.zeros(count),
        np.zeros(count),
    )
