"""Where computing is done: a few threads, a short queue of visits before them, and never the event loop.

Visits of single requests and lines of batches take turns at the same threads, but in two lanes. A visit that finds the
queue full is refused at once: what waits long is worth little to who asked, and takes the place of who asks next. Of
all batches together no more lines wait for a thread than there are threads, so a visit never stands behind a batch.
"""

import asyncio
import math
import os
import sys
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import nullcontext, suppress
from contextvars import copy_context
from typing import TypeVar

import anyio

from feedproof.errors import Overloaded
from feedproof.interruption import interruptible
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import at_end

T = TypeVar("T")


NICE_INCREMENT = 3
"""How much nicer a computing thread is than the event loop [1]; each step makes a thread's share smaller by a factor of
about 1.25 (Linux manual, sched(7))."""


def _lower_priority() -> None:
    """Let this thread come after the event loop wherever there are fewer processors than threads.

    Otherwise the scheduler gives each the same share, and a crowd to be refused waits for what is computed for others.
    """
    # Elsewhere than on Linux a thread has no priority of its own that could be set so.
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, thread, os.getpriority(os.PRIO_PROCESS, thread) + NICE_INCREMENT)


class _Piece:
    """One piece of work that has been accepted."""

    def __init__(self) -> None:
        self.arrived = time.perf_counter()
        self.begun = math.inf
        self.stop = threading.Event()


class Executor:
    """Hands work to threads and refuses what would wait too long.

    Parameters
    ----------
    workers : int
        Threads that compute at once.
    queue : int
        Visits that may wait for one.
    longest_wait : float
        How long a visit may wait before it is refused after all [s].
    metrics : Metrics, optional
        Where waits, computations and refusals are counted.
    """

    def __init__(
        self, workers: int, queue: int, longest_wait: float = math.inf, metrics: Metrics | None = None
    ) -> None:
        self._workers = workers
        self._queue = queue
        self._longest_wait = longest_wait
        self._metrics = metrics or Metrics()
        self._threads = ThreadPoolExecutor(workers, thread_name_prefix="executor", initializer=_lower_priority)
        self._turns = anyio.CapacityLimiter(workers)
        self._lines = anyio.CapacityLimiter(workers)
        self._visits = 0
        self._pieces: set[_Piece] = set()
        self._usual = 0.0
        self.warm = False
        """Whether anything has been computed yet: before that, work may have to wait for compilation."""

    @property
    def load(self) -> int:
        """Pieces of work accepted and not yet done."""
        return len(self._pieces)

    @property
    def computing(self) -> int:
        """Pieces of work in the hands of a thread."""
        return sum(piece.begun < math.inf for piece in tuple(self._pieces))

    @property
    def oldest(self) -> float:
        """How long the oldest piece of work has been computed; 0 where there is none [s]."""
        begun = min((piece.begun for piece in tuple(self._pieces)), default=math.inf)
        return time.perf_counter() - begun if begun < math.inf else 0.0

    @property
    def room(self) -> int:
        """Visits that may be computed or wait at once."""
        return self._workers + self._queue

    @property
    def full(self) -> bool:
        """Whether there is no room for another visit."""
        return self._turns.available_tokens < 1 and self._visits >= self._queue

    def refuse(self, reason: str = "queue_full") -> Overloaded:
        """Count a refusal for want of room, and give the error that says so."""
        self._metrics.refuse(reason)
        # Retry after the time that the present queue will take.
        return Overloaded(retry_after=max(1, math.ceil(self.load * self._usual / self._workers)))

    def _do(self, work: Callable[[], T], piece: _Piece) -> T:
        piece.begun = time.perf_counter()
        self._metrics.queue_wait.observe(piece.begun - piece.arrived)
        try:
            with interruptible(piece.stop.is_set):
                return work()
        except StopIteration as error:
            # A future cannot carry StopIteration (PEP 479): the waiting task would never end.
            raise RuntimeError("the work failed") from error
        finally:
            self.warm = True
            taken = time.perf_counter() - piece.begun
            self._usual += 0.1 * (taken - self._usual)
            self._metrics.engine.observe(taken)

    async def _take_turn(self, piece: _Piece, longest: float) -> None:
        with suppress(anyio.WouldBlock):
            self._turns.acquire_on_behalf_of_nowait(piece)
            return
        self._visits += 1
        try:
            with anyio.move_on_after(longest) as wait:
                await self._turns.acquire_on_behalf_of(piece)
        finally:
            self._visits -= 1
        if wait.cancelled_caught:
            raise self.refuse("queue_wait")

    async def run(self, work: Callable[[], T], *, batch: bool = False) -> T:
        """Do the work in a thread. Work whose caller is cancelled is never begun, or soon interrupted.

        Parameters
        ----------
        work : callable
            Plain function of no arguments.
        batch : bool
            Whether it is a line of a batch: those wait however long it takes, by not reading on, and fill no queue.

        Raises
        ------
        Overloaded
            If the queue is full, or the wait was longer than work may wait.
        """
        if not batch and self.full:
            raise self.refuse()
        piece = _Piece()
        self._pieces.add(piece)
        # A line of a batch keeps its slot until it has been computed.
        async with self._lines if batch else nullcontext():
            try:
                if batch:
                    await self._turns.acquire_on_behalf_of(piece)
                else:
                    await self._take_turn(piece, self._longest_wait if self.warm else math.inf)
            except BaseException:
                self._pieces.discard(piece)
                raise
            return await self._compute(work, piece)

    async def _compute(self, work: Callable[[], T], piece: _Piece) -> T:
        loop = asyncio.get_running_loop()

        def leave(_: Future[T] | None = None) -> None:
            self._pieces.discard(piece)
            self._turns.release_on_behalf_of(piece)

        def done(_: Future[T]) -> None:
            # The slot is released when the thread is free, even if the caller has gone.
            with suppress(RuntimeError):  # the loop has been closed
                loop.call_soon_threadsafe(leave)

        try:
            future = self._threads.submit(copy_context().run, self._do, work, piece)
        except BaseException:
            leave()
            raise
        future.add_done_callback(done)
        try:
            return await asyncio.wrap_future(future)
        except asyncio.CancelledError:
            piece.stop.set()
            raise

    def close(self) -> None:
        """Take no more work, let go of what nobody has begun, and interrupt the rest."""
        for piece in tuple(self._pieces):
            piece.stop.set()
        self._threads.shutdown(wait=False, cancel_futures=True)


class Streams:
    """Counts the batches that are being answered, and refuses more than there may be.

    Parameters
    ----------
    most : int
        Batches at once.
    most_of_one : int
        Batches of one caller at once.
    metrics : Metrics, optional
        Where refusals are counted.
    """

    def __init__(self, most: int, most_of_one: int, metrics: Metrics | None = None) -> None:
        self._most = most
        self._most_of_one = most_of_one
        self._metrics = metrics or Metrics()
        self._open: dict[str, int] = {}

    def enter(self, scope: Mapping[str, object], caller: str) -> None:
        """Count a batch until its request is over.

        Raises
        ------
        Overloaded
            If there are as many as there may be.
        """
        of_this = self._open.get(caller, 0)
        if of_this >= self._most_of_one:
            self._metrics.refuse("streams")
            raise Overloaded(5, f"this caller has {of_this} batches under way, as many as one caller may have")
        if sum(self._open.values()) >= self._most:
            self._metrics.refuse("streams")
            raise Overloaded(5, f"the service has {self._most} batches under way, as many as it takes")
        self._open[caller] = of_this + 1
        at_end(scope, lambda: self._leave(caller))

    def _leave(self, caller: str) -> None:
        self._open[caller] -= 1
        if not self._open[caller]:
            del self._open[caller]
