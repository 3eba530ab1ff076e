"""The few formulas of the report: a share's interval, a trend, and which of many deviations to trust."""

import math
from collections.abc import Mapping, Sequence
from statistics import NormalDist

from msgspec import Struct

_NORMAL = NormalDist()
NINETY = _NORMAL.inv_cdf(0.95)
"""Half-width of the central 90 % of a normal law, in standard deviations [1]."""


def wilson_interval(hits: float, of: float) -> tuple[float, float]:
    """90 % interval of a share.

    Parameters
    ----------
    hits, of : float
        Cases, and trials [1].

    Returns
    -------
    tuple of float
        Low and high end [1].

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference", J. Am. Stat. Assoc.
       22 (1927) 209-212.
    """
    if of <= 0.0:
        return 0.0, 1.0
    p, z2 = hits / of, NINETY**2
    middle = (p + 0.5 * z2 / of) / (1.0 + z2 / of)
    half = NINETY * math.sqrt(p * (1.0 - p) / of + 0.25 * z2 / of**2) / (1.0 + z2 / of)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def quantile_of_bins(bins: Mapping[int, int], share: float) -> int:
    """The bin that a share of all counts lies below or in.

    Parameters
    ----------
    bins : mapping of int to int
        Counts by the number of the bin; at least one.
    share : float
        0 to 1 [1].

    Returns
    -------
    int
        Number of the bin.
    """
    left = share * sum(bins.values())
    for place in sorted(bins):
        left -= bins[place]
        if left <= 0.0:
            return place
    return max(bins)


def one_sided_p(z: float) -> float:
    """Chance of a standard-normal deviation of `z` or more [1]."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))


def discoveries(chances: Sequence[float], rate: float = 0.05) -> list[bool]:
    """Which of many tests to believe, so that on average at most a share `rate` of those believed is wrong.

    Parameters
    ----------
    chances : sequence of float
        Chance of each deviation where there is nothing [1].
    rate : float
        False discovery rate [1].

    Returns
    -------
    list of bool
        In the order given.

    References
    ----------
    .. [1] Y. Benjamini, Y. Hochberg, "Controlling the false discovery rate", J. R. Stat. Soc. B 57 (1995) 289-300.
    """
    ranked = sorted(chances)
    limit = max((p for i, p in enumerate(ranked, start=1) if p <= rate * i / len(ranked)), default=-1.0)
    return [p <= limit for p in chances]


class Trend(Struct):
    """Weighted straight line through points that come one by one: only its sums are kept."""

    count: int = 0
    weight: float = 0.0
    x: float = 0.0
    """Weighted mean so far."""
    y: float = 0.0
    xx: float = 0.0
    """Weighted squares about the means so far."""
    xy: float = 0.0

    def add(self, x: float, y: float, deviation: float) -> None:
        """Take a point.

        Parameters
        ----------
        x, y : float
            Its place, in units of the caller's own [1].
        deviation : float
            Standard deviation of `y` [1].

        References
        ----------
        .. [1] D. H. D. West, "Updating mean and variance estimates: an improved method", Commun. ACM 22 (1979)
           532-535.
        """
        w = deviation**-2
        self.count += 1
        self.weight += w
        before = x - self.x
        self.x += before * w / self.weight
        self.y += (y - self.y) * w / self.weight
        self.xx += w * before * (x - self.x)
        self.xy += w * before * (y - self.y)

    def slope(self) -> tuple[float, float] | None:
        """Slope and its standard deviation; None where all points stand at one place [1]."""
        if self.count < 2 or self.xx <= 1e-12 * self.weight:  # noqa: PLR2004
            return None
        return self.xy / self.xx, math.sqrt(1.0 / self.xx)
