"""The prior of a severity: pieces that are log-uniform, or log-linear so that their ends meet."""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from feedproof.faults.places import Span


@lru_cache(maxsize=1024)
def pieces(spans: tuple[Span, ...]) -> tuple[tuple[float, float, float, float], ...]:
    """(low, high, a, b) of each piece [1]: between low and high its density is exp(a + b s), its integral the share."""
    found = []
    for k, span in enumerate(spans):
        width = span.high - span.low
        own = math.log(max(span.share, 1e-300) / width)
        slope = span.slope
        if slope is None:
            slope = 0.0
            neighbours = [s for j, s in enumerate(spans) if abs(j - k) == 1 and s.slope is None and s.share > 0.0]
            if neighbours and span.share > 0.0:
                other = neighbours[0]
                edge = 0.5 * (own + math.log(other.share / (other.high - other.low)))
                slope = _slope_for(edge - own, width) * (1.0 if other.low >= span.high else -1.0)
        mean = math.expm1(slope * width) / (slope * width) if abs(slope * width) > 1e-9 else 1.0
        a = own - math.log(mean) - slope * span.low
        found.append((span.low, span.high, a, slope))
    return tuple(found)


@lru_cache(maxsize=1024)
def piece_array(spans: tuple[Span, ...]) -> NDArray[np.float64]:
    """`pieces` as an array (P, 4) [1]."""
    return np.array(pieces(spans))


def log_density(spans: tuple[tuple[Span, ...], ...], at: Sequence[float]) -> float:
    """Logarithm of the prior's density at severities, up to the site's rate [1].

    Parameters
    ----------
    spans : tuple of tuple of Span
        Of each severity.
    at : sequence of float
        The severities [ln ohm].
    """
    total = 0.0
    for own, s in zip(spans, at, strict=True):
        total += max(
            (a + b * s for low, high, a, b in pieces(own) if low - 1e-9 <= s <= high + 1e-9), default=-math.inf
        )
    return total


@lru_cache(maxsize=1024)
def working(spans: tuple[Span, ...]) -> tuple[float, float]:
    """Middle and scale of a severity's working units [ln ohm]."""
    low, high = spans[0].low, spans[-1].high
    return 0.5 * (low + high), 0.35 * (high - low)


def _slope_for(excess: float, width: float) -> float:
    """Slope of a log-linear density whose end stands `excess` above its mean (in logarithms)."""
    low, high = -20.0 / width, 20.0 / width
    for _ in range(60):
        b = 0.5 * (low + high)
        t = b * width
        end = t - math.log(math.expm1(t) / t) if abs(t) > 1e-9 else 0.5 * t
        low, high = (b, high) if end < excess else (low, b)
    return 0.5 * (low + high)
