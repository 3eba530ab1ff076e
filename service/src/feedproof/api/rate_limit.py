"""How much each caller may still send: one token bucket per caller.

References
----------
IETF draft-ietf-httpapi-ratelimit-headers (RateLimit-Policy: `q` quota, `w` window; RateLimit: `r` what remains, `t`
seconds until the quota is whole again). RFC 6585, 4 (429). RFC 9110, 10.2.3 (Retry-After).
"""

import math
import time
from collections import OrderedDict
from collections.abc import Callable

from msgspec import Struct

CALLERS_KEPT = 10_000


class Grant(Struct, frozen=True, kw_only=True):
    """What became of a request for a token."""

    allowed: bool
    remaining: int
    """Whole tokens left."""
    whole_after: float
    """When the bucket is full again [s]."""
    wait: float
    """When the next token is there; 0 where one is [s]."""


class RateLimit:
    """Token buckets by caller.

    Parameters
    ----------
    rate : float
        Tokens per second that flow in [1/s].
    burst : int
        Tokens that a bucket holds.
    clock : callable
        Seconds that never go back.
    """

    def __init__(self, rate: float, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.rate = rate
        self.burst = burst
        self._clock = clock
        self._levels: OrderedDict[str, tuple[float, float]] = OrderedDict()

    @property
    def policy(self) -> str:
        """`RateLimit-Policy` of every answer."""
        return f'"default";q={self.burst};w={math.ceil(self.burst / self.rate)}'

    def _level(self, caller: str) -> float:
        now = self._clock()
        level, last = self._levels.pop(caller, (float(self.burst), now))
        return min(float(self.burst), level + (now - last) * self.rate)

    def _keep(self, caller: str, level: float) -> None:
        self._levels[caller] = (level, self._clock())
        if len(self._levels) > CALLERS_KEPT:
            self._levels.popitem(last=False)

    def take(self, caller: str) -> Grant:
        """Take one token where there is one."""
        level = self._level(caller)
        allowed = level >= 1.0
        level -= 1.0 if allowed else 0.0
        self._keep(caller, level)
        return Grant(
            allowed=allowed,
            remaining=max(0, math.floor(level)),
            whole_after=(self.burst - level) / self.rate,
            wait=max(0.0, (1.0 - level) / self.rate),
        )

    def borrow(self, caller: str, tokens: int) -> float:
        """Take tokens whether they are there or not.

        Returns
        -------
        float
            How long to wait until what was borrowed has flowed in [s].
        """
        level = self._level(caller) - tokens
        self._keep(caller, level)
        return max(0.0, -level / self.rate)


def header(grant: Grant) -> str:
    """`RateLimit` of one answer."""
    return f'"default";r={grant.remaining};t={math.ceil(grant.whole_after)}'
