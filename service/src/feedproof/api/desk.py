"""Where computing is done: a few threads, a bounded queue before them, and never the event loop."""

from collections.abc import Callable
from typing import TypeVar

from anyio import CapacityLimiter, to_thread

from feedproof.errors import Overloaded

T = TypeVar("T")


class Desk:
    """Hands work to threads and refuses what would wait too long.

    Parameters
    ----------
    workers : int
        Threads that compute at once.
    queue : int
        Pieces of work that may wait for one.
    """

    def __init__(self, workers: int, queue: int) -> None:
        self._workers = workers
        self._most = workers + queue
        self._accepted = 0
        self._limiter: CapacityLimiter | None = None

    @property
    def load(self) -> int:
        """Pieces of work accepted and not yet done."""
        return self._accepted

    async def run(self, work: Callable[[], T], *, patient: bool = False) -> T:
        """Do the work in a thread.

        Parameters
        ----------
        work : callable
            Plain function of no arguments.
        patient : bool
            Wait however long the queue is: for streams, which wait by not reading on.

        Raises
        ------
        Overloaded
            If the queue is full.
        """
        if not patient and self._accepted >= self._most:
            raise Overloaded
        if self._limiter is None:
            # Belongs to the running event loop, so it cannot be made before there is one.
            self._limiter = CapacityLimiter(self._workers)
        self._accepted += 1
        try:
            return await to_thread.run_sync(work, limiter=self._limiter)
        finally:
            self._accepted -= 1
