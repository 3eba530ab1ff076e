"""How probable a reading is, given what the meter would show without random error.

Voltages, currents and resistances scatter by Student's law with four degrees of freedom; with a small probability a
reading has nothing to do with the circuit (a misread). A proximity detector signals with a probability that rises
with the voltage to earth. Readings of an intermittent joint may each be of either of two circuits.
"""

import math
from typing import NamedTuple

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import PROXIMITY, FloatArray, IntArray


class Observations(NamedTuple):
    """Readings as arrays, in the order of the program; (R,) each."""

    kind: IntArray
    value: FloatArray
    floor: FloatArray
    relative: FloatArray
    over_range: IntArray
    misread: FloatArray
    misread_density: FloatArray
    twin: IntArray
    """Row of the same reading on the other circuit of an intermittent joint; -1: none; -2: counted at its twin."""


Readings = tuple[Observations, Observations, Observations]
"""As they are, faintly blurred, and blurred far."""

STUDENT_PEAK = 0.375
"""Density of Student's law with four degrees of freedom at its centre, 3/8 of one by its scale [1]."""
OVER_RANGE_STEEPNESS = 20.0


@compiled
def chance_of_signal(o: Observations, r: int, shown: float) -> float:
    """Probability that a proximity detector signals [1].

    Parameters
    ----------
    o : Observations
        The readings, in the program's order: of a detector `floor` is where half of the signals come [V], `relative`
        the exponent of the rise, `misread` the share of signals at no voltage, `misread_density` of none at full.
    r : int
        Which reading [1].
    shown : float
        Voltage to earth [V].
    """
    rise = (max(shown, 1e-3) / o.floor[r]) ** o.relative[r]
    return o.misread[r] + (1.0 - o.misread[r] - o.misread_density[r]) * rise / (1.0 + rise)


@compiled
def density(o: Observations, r: int, shown: float) -> tuple[float, float, float, float]:
    """Log density (probability, of what is yes or no) of one reading, and how it changes.

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    r : int
        Which reading [1].
    shown : float
        What the meter would show without random error [V, A, ohm].

    Returns
    -------
    tuple of float
        Logarithm [nat], its slope by `shown` [nat/V], its weight of reweighted least squares, and minus its curvature
        [nat/V^2]; per ampere or ohm where these are read.
    """
    if o.kind[r] == PROXIMITY:
        v = max(shown, 1e-3)
        rise = (v / o.floor[r]) ** o.relative[r]
        q = rise / (1.0 + rise)
        span = 1.0 - o.misread[r] - o.misread_density[r]
        prob = o.misread[r] + span * q
        dp = span * q * (1.0 - q) * o.relative[r] / v
        if o.value[r] < 0.5:
            prob, dp = 1.0 - prob, -dp
        slope = dp / prob
        return math.log(prob), slope, slope * slope, slope * slope
    if o.over_range[r]:
        ratio = max(shown, 1e-12) / o.value[r]
        rise = ratio**OVER_RANGE_STEEPNESS if ratio < 4.0 else 1e12
        q = rise / (1.0 + rise)
        # Blurred readings have no misreads, or fewer than none.
        wrong = max(o.misread[r], 0.0)
        prob = max((1.0 - wrong) * q + 0.5 * wrong, 1e-300)
        slope = (1.0 - wrong) * q * (1.0 - q) * OVER_RANGE_STEEPNESS / max(shown, 1e-12) / prob
        return math.log(prob), slope, slope * slope, slope * slope
    variance = o.floor[r] ** 2 + (o.relative[r] * shown) ** 2
    off, misread = o.value[r] - shown, o.misread[r]
    if misread < 0.0:
        # Blurred far: a normal law, that climbs from afar by.
        return -0.5 * off * off / variance - 0.5 * math.log(variance), off / variance, 1.0 / variance, 1.0 / variance
    k = 1.0 + off * off / (4.0 * variance)
    core = (1.0 - misread) * STUDENT_PEAK / (k * k * math.sqrt(k * variance))
    whole = core + misread * o.misread_density[r]
    told = core / whole
    weight = told * 1.25 / (variance * k)
    slope = weight * off
    # d2/df2 of ln(core + constant), the variance held.
    own = 1.25 / (variance * k)
    inner = own * (1.0 - off * off / (2.0 * variance * k))
    curvature = told * inner - told * (1.0 - told) * (own * off) ** 2
    return math.log(whole), slope, weight, curvature


@compiled
def _either(a: float, b: float) -> float:
    """Ln of the mean of two densities given by their logarithms."""
    return max(a, b) + math.log(0.5 + 0.5 * math.exp(-abs(a - b)))


@compiled
def log_likelihood(o: Observations, shown: FloatArray) -> float:
    """Sum over all readings [nat].

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    shown : ndarray, shape (R,)
        What meters would show [V, A, ohm].
    """
    total, twin = 0.0, o.twin
    for r in range(twin.size):
        if twin[r] == -2:
            continue
        whole = density(o, r, shown[r])[0]
        if twin[r] >= 0:
            whole = _either(whole, density(o, twin[r], shown[twin[r]])[0])
        total += whole
    return total


@compiled
def slopes(o: Observations, shown: FloatArray, slope: FloatArray, weight: FloatArray, curvature: FloatArray) -> float:
    """Log likelihood [nat], with each reading's slope, weight and curvature.

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    shown : ndarray, shape (R,)
        What meters would show [V, A, ohm].
    slope, weight, curvature : ndarray, shape (R,)
        Filled, as `density` gives them [1/V, 1/V^2].
    """
    total, twin = 0.0, o.twin
    for r in range(twin.size):
        if twin[r] == -2:
            continue
        whole, slope[r], weight[r], curvature[r] = density(o, r, shown[r])
        t = twin[r]
        if t >= 0:
            other, slope[t], weight[t], curvature[t] = density(o, t, shown[t])
            mine = 1.0 / (1.0 + math.exp(min(other - whole, 600.0)))
            for row, part in ((r, mine), (t, 1.0 - mine)):
                curvature[row] = part * curvature[row] - part * (1.0 - part) * slope[row] ** 2
                slope[row] *= part
                weight[row] *= part
            whole = _either(whole, other)
        total += whole
    return total
