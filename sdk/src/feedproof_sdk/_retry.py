"""When to try again, and after how long. No input or output here, so that it serves both clients.

References
----------
RFC 9110, HTTP Semantics, 9.2.2 (what may be sent again), 10.2.3 (Retry-After).
"""

import random
import time

from feedproof_sdk._settings import Retries, Timeouts
from feedproof_sdk.errors import FeedproofError, NoAnswer, ProblemAnswer, seconds_to_wait

PASSING = frozenset({408, 429, 502, 503, 504})
"""Statuses that say: not now."""


def may_go_better(error: FeedproofError) -> bool:
    """Tell whether the same request may be answered the next time."""
    return isinstance(error, NoAnswer) or (isinstance(error, ProblemAnswer) and error.status in PASSING)


class Pacer:
    """Paces the attempts of one call.

    Parameters
    ----------
    retries : Retries
        How often, and after which waits.
    total : float
        Time for all attempts and waits [s].
    endless : bool
        Try as often as the time allows.
    """

    def __init__(self, retries: Retries, total: float, *, endless: bool = False) -> None:
        self._retries = retries
        self._endless = endless and retries.attempts > 1
        self.deadline = time.monotonic() + total
        self.attempts = 1

    def within(self, timeouts: Timeouts) -> Timeouts:
        """Give what is left of the time, for the next attempt."""
        if self.attempts == 1:
            return timeouts
        left = max(self.deadline - time.monotonic(), 1e-3)
        return Timeouts(connect=min(timeouts.connect, left), read=min(timeouts.read, left), total=left)

    def wait_after(self, error: FeedproofError) -> float:
        """Give the wait before the next attempt [s].

        Raises
        ------
        FeedproofError
            The same error, where there is no next attempt.
        """
        if not may_go_better(error) or (self.attempts >= self._retries.attempts and not self._endless):
            raise error
        # Half of the wait is drawn, so that clients that failed together do not come back together.
        longest = min(self._retries.longest_wait, self._retries.first_wait * 2.0 ** min(self.attempts - 1, 30))
        wait = longest * (0.5 + 0.5 * random.random())  # noqa: S311 - spreads load, keeps no secret
        if isinstance(error, ProblemAnswer):
            asked = seconds_to_wait(error.headers.get("retry-after"))
            if asked is not None:
                # Never earlier than asked, and not all at the same moment.
                wait = asked + 0.1 * wait
        if time.monotonic() + wait >= self.deadline:
            raise error
        self.attempts += 1
        return wait
