"""When to try again, and after how long. No input or output here, so that it serves both clients.

Every call is safe to make again: the service stores nothing and changes nothing. What is made again is what can go
better the next time: a connection that failed, no answer in time, and the statuses below. A 500 is not: the same
request would fail again.

References
----------
RFC 9110, HTTP Semantics, 9.2.2 (what may be sent again), 10.2.3 (Retry-After).
"""

import logging
import random
import time

from feedproof_sdk._settings import Retry, Settings
from feedproof_sdk.errors import FeedproofError, NoAnswer, ProblemAnswer, seconds_to_wait

PASSING = frozenset({408, 429, 502, 503, 504})
"""Statuses that say: not now."""
FIRST_WAIT = 0.25
"""Longest wait before the second attempt [s]; it doubles with every further one."""
LONGEST_WAIT = 8.0
"""Longest wait that this client picks itself [s]. A Retry-After of the service is kept even where it is longer."""
_LOG = logging.getLogger("feedproof_sdk")


def may_go_better(error: FeedproofError) -> bool:
    """Tell whether the same request may be answered the next time."""
    return isinstance(error, NoAnswer) or (isinstance(error, ProblemAnswer) and error.status in PASSING)


class Pacer:
    """Paces the attempts of one call.

    Parameters
    ----------
    settings : Settings
        How often, and who is told.
    path : str
        Of the call.
    total : float
        Time for all attempts and waits [s].
    endless : bool
        Try as often as the time allows.
    """

    def __init__(self, settings: Settings, path: str, total: float, *, endless: bool = False) -> None:
        self._settings = settings
        self._path = path
        self._endless = endless and settings.max_retries > 0
        self.deadline = time.monotonic() + total
        self.attempts = 1

    @property
    def left(self) -> float:
        """What is left of the time [s]."""
        return max(self.deadline - time.monotonic(), 1e-3)

    def wait_after(self, error: FeedproofError) -> float:
        """Give the wait before the next attempt [s], and say so in the log and to the caller's own hook.

        Raises
        ------
        FeedproofError
            The same error, where there is no next attempt.
        """
        if not may_go_better(error) or (self.attempts > self._settings.max_retries and not self._endless):
            raise error
        # Half of the wait is drawn, so that clients that failed together do not come back together.
        longest = min(LONGEST_WAIT, FIRST_WAIT * 2.0 ** min(self.attempts - 1, 30))
        wait = longest * (0.5 + 0.5 * random.random())  # noqa: S311 - spreads load, keeps no secret
        asked = seconds_to_wait(error.headers.get("retry-after")) if isinstance(error, ProblemAnswer) else None
        if asked is not None:
            # Never earlier than asked, and not all at the same moment.
            wait = asked + 0.1 * wait
        if time.monotonic() + wait >= self.deadline:
            raise error
        retry = Retry(path=self._path, attempt=self.attempts, wait=wait, error=error)
        _LOG.warning("%s: attempt %d failed, next in %.2f s: %s", retry.path, retry.attempt, wait, error)
        if self._settings.on_retry is not None:
            self._settings.on_retry(retry)
        self.attempts += 1
        return wait
