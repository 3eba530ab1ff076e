"""Which meters of a fleet read off, by more than their own limit of error.

A supply's voltage differs from region to region and from outlet to outlet, and meters stay with their technicians. So
two things are looked at apart. *Within* outlets: where two meters or more have read one outlet, their difference is
that of the meters, whatever the outlet. *Between* outlets: a meter's outlets against the others of its region. What
meters' own areas have of voltage that no region says is taken from how far all meters lie apart, by a measure that a
few bad ones do not move [1]_: an empirical null. Both are joined by their precision.

All sets count, whatever was found, since a meter that is far off finds a fault wherever it goes. What a fault of the
supply does to one outlet is told from the meter by the meter's other outlets: a reading far from their middle is left
out.

A meter is named where it is off by more than its limit of error, beyond chance, so that on average at most one in
twenty of those named is named wrongly [2]_. Which of few meters is the one that is off cannot be told, so fewer than
five name none.

References
----------
.. [1] B. Efron, "Large-scale simultaneous hypothesis testing: the choice of a null hypothesis", J. Am. Stat. Assoc.
   99 (2004) 96-104; P. J. Rousseeuw, C. Croux, "Alternatives to the median absolute deviation", J. Am. Stat. Assoc. 88
   (1993) 1273-1283: the factor 1.4826, the efficiency of 37 %.
.. [2] Y. Benjamini, Y. Hochberg, "Controlling the false discovery rate", J. R. Stat. Soc. B 57 (1995) 289-300.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy import stats
from scipy.sparse import csgraph

from feedproof.fleet.mixture import FloatArray

IntArray = NDArray[np.int64]

FEWEST = 5
"""Fewer meters than this name none, and a mean over fewer outlets than this is not taken [1]."""
FALSE_DISCOVERIES = 0.05
_TO_NORMAL = 1.4826
#: A median absolute deviation is worth this share of its values where they are normal [1].
_EFFICIENCY = 0.37
#: So many standard deviations from the middle of its meter a reading is one of a supply with a fault [1].
_FAR = 5.0


class MeterOffset(Struct, frozen=True, kw_only=True):
    """How far one meter reads off."""

    meter: str
    outlets: int
    shared: int
    """Outlets that another meter has read too."""
    off: float
    """Logarithm of what it reads over the middle of all meters [1]."""
    deviation: float
    """Its standard deviation [1]."""
    freedom: float
    """Degrees of freedom of that deviation [1]."""
    tolerance: float
    """The meter's own limit of error, as a share of the reading [1]."""
    named: bool


class Cells(Struct, frozen=True, kw_only=True):
    """What each meter has read at each outlet; one entry for a meter and an outlet."""

    meter: Sequence[str]
    outlet: Sequence[str]
    region: Sequence[str]
    """Where outlets are compared: a group, and a supply system."""
    value: FloatArray
    """Logarithm of the middle reading [1]."""
    tolerance: FloatArray
    """Limit of error, as a share of the reading [1]."""


def judged(cells: Cells) -> list[MeterOffset]:
    """Meters that can be compared with others, in the order of their names.

    Parameters
    ----------
    cells : Cells
        Readings without a load, whatever was found.

    Returns
    -------
    list of MeterOffset
        Empty where there are fewer than five.
    """
    names, meter = np.unique(np.array(cells.meter, dtype=object), return_inverse=True)
    _, outlet = np.unique(np.array(cells.outlet, dtype=object), return_inverse=True)
    _, region = np.unique(np.array(cells.region, dtype=object), return_inverse=True)
    if names.size < FEWEST:
        return []
    apart, told = _apart(cells.value, meter, region)
    kept = _ordinary(apart, meter, cells.tolerance)
    shared = kept & (np.bincount(outlet[kept], minlength=outlet.size)[outlet] > 1)
    kinds = (
        _between(apart[told], meter[told], names.size),
        _within(cells.value[shared], meter[shared], outlet[shared], names.size),
    )
    weight = np.array([1.0 / variance for _, variance, _ in kinds])
    total = weight.sum(axis=0)
    known = np.flatnonzero(total > 0.0)
    if known.size < FEWEST:
        return []
    off = (weight * [found for found, _, _ in kinds]).sum(axis=0)[known] / total[known]
    deviation = 1.0 / np.sqrt(total[known])
    # Welch and Satterthwaite: degrees of freedom of a mean of two that have their own.
    freedom = 1.0 / ((weight / np.maximum(total, 1e-300)) ** 2 / [free for _, _, free in kinds]).sum(axis=0)[known]
    tolerance = np.array([np.median(cells.tolerance[meter == k]) for k in known])
    # The chance of so much where it is off by its limit of error exactly, to either side.
    chance = stats.t.sf((np.abs(off) - tolerance) / deviation, freedom)
    chance += stats.t.sf((np.abs(off) + tolerance) / deviation, freedom)
    named = stats.false_discovery_control(np.minimum(chance, 1.0)) <= FALSE_DISCOVERIES
    return [
        MeterOffset(
            meter=str(names[k]),
            outlets=int((meter == k).sum()),
            shared=int((shared & (meter == k)).sum()),
            off=float(off[n]),
            deviation=float(deviation[n]),
            freedom=float(freedom[n]),
            tolerance=float(tolerance[n]),
            named=bool(named[n]),
        )
        for n, k in enumerate(known)
    ]


def _apart(value: FloatArray, meter: IntArray, region: IntArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Values against the middle of their region, in which a meter counts once, and whether that tells meters apart."""
    apart, told = value.copy(), np.zeros(value.size, dtype=bool)
    for each in np.unique(region):
        own = region == each
        middles = [np.median(value[own & (meter == k)]) for k in np.unique(meter[own])]
        apart[own] -= np.median(middles)
        # Of two, neither tells which is off.
        told[own] = len(middles) > 2  # noqa: PLR2004
    return apart, told


def _ordinary(apart: FloatArray, meter: IntArray, tolerance: FloatArray) -> NDArray[np.bool_]:
    """Whether values lie near the middle of their meter's, as they do where a supply has no fault of its own."""
    off = apart - np.array([np.median(apart[meter == k]) for k in range(meter.max() + 1)])[meter]
    spread = max(_TO_NORMAL * float(stats.median_abs_deviation(off)), float(np.median(tolerance)))
    ordinary: NDArray[np.bool_] = np.abs(off) <= _FAR * spread
    return ordinary


def _between(apart: FloatArray, meter: IntArray, meters: int) -> tuple[FloatArray, ...]:
    """How far each meter's outlets lie from the others of their regions, its variance and degrees of freedom."""
    nothing = np.zeros(meters), np.full(meters, np.inf), np.ones(meters)
    count = np.bincount(meter, minlength=meters)
    use = np.flatnonzero(count >= FEWEST)
    if use.size < FEWEST:
        return nothing
    middle = np.array([np.median(apart[meter == k]) for k in use])
    middle -= np.median(middle)
    spread = np.array([stats.median_abs_deviation(apart[meter == k]) for k in use]) * _TO_NORMAL
    # A median of normal values has half as much variance again as their mean, and more.
    sampling = 0.5 * np.pi * np.median(spread) ** 2 / count[use]
    areas = max((_TO_NORMAL * stats.median_abs_deviation(middle)) ** 2 - float(np.median(sampling)), 0.0)
    found, variance, freedom = nothing
    found[use], variance[use], freedom[use] = middle, sampling + areas, _EFFICIENCY * (use.size - 1.0)
    return found, variance, freedom


def _within(value: FloatArray, meter: IntArray, outlet: IntArray, meters: int) -> tuple[FloatArray, ...]:
    """How far each meter lies from the others at the outlets that they share, its variance and degrees of freedom.

    Least squares over outlets and meters, each outlet with a level of its own; the variance is that of leaving out one
    outlet after another, and so holds whatever the readings of one outlet have in common [3]_.

    References
    ----------
    .. [3] J. G. MacKinnon, H. White, "Some heteroskedasticity-consistent covariance matrix estimators with improved
       finite sample properties", J. Econometrics 29 (1985) 305-325: the jackknife.
    """
    found, variance, freedom = np.zeros(meters), np.full(meters, np.inf), np.ones(meters)
    order = np.argsort(outlet, kind="stable")
    ends = np.flatnonzero(np.diff(outlet[order])) + 1
    shared = [(meter[own], value[own] - value[own].mean()) for own in np.split(order, ends) if own.size]
    normal, pull = np.zeros((meters, meters)), np.zeros(meters)
    for who, apart in shared:
        normal[np.ix_(who, who)] += np.eye(who.size) - 1.0 / who.size
        pull[who] += apart
    inverse = np.linalg.pinv(normal, hermitian=True)
    best = inverse @ pull
    squares = np.zeros(meters)
    for who, apart in shared:
        reach = inverse[who] - inverse[who].mean(axis=0)
        left = np.eye(who.size) - reach[:, who] + reach[:, who].mean(axis=1, keepdims=True)
        residual = apart - best[who] + best[who].mean()
        squares += (reach.T @ (np.linalg.pinv(left) @ residual)) ** 2
    visits = np.bincount(meter, minlength=meters)
    groups, group = csgraph.connected_components(normal != 0.0, directed=False)
    for each in range(groups):
        use = np.flatnonzero((group == each) & (visits >= FEWEST))
        if use.size >= FEWEST:
            found[use] = best[use] - np.median(best[use])
            variance[use] = np.maximum(squares[use], 1e-12)
            freedom[use] = visits[use] - 1.0
    return found, variance, freedom
