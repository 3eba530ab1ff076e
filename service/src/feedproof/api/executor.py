"""Where computing is done: a few threads, a bounded queue before them, and never the event loop."""

import asyncio
import math
import os
import sys
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from typing import Protocol, TypeVar

from feedproof.errors import Overloaded
from feedproof.interruption import interruptible
from feedproof.telemetry.middleware import at_end

T = TypeVar("T")


POLITENESS = 3
"""How much nicer a computing thread is than the event loop [1]; each step makes a thread's share smaller by a factor of
about 1.25 (Linux manual, sched(7))."""


def _give_way() -> None:
    """Let this thread come after the event loop wherever there are fewer processors than threads.

    Otherwise the scheduler gives each the same share, and a crowd to be refused waits for what is computed for others.
    """
    # Elsewhere than on Linux a thread has no priority of its own that could be set so.
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, thread, os.getpriority(os.PRIO_PROCESS, thread) + POLITENESS)


class Watch(Protocol):
    """Told what happens at the executor, from whichever thread it happens in."""

    def waited(self, seconds: float) -> None:
        """Work was begun after a wait [s]."""

    def computed(self, seconds: float) -> None:
        """Work was done [s]."""

    def refused(self, reason: str) -> None:
        """Work was turned away."""


class Executor:
    """Hands work to threads and refuses what would wait too long.

    Parameters
    ----------
    workers : int
        Threads that compute at once.
    queue : int
        Pieces of work that may wait for one.
    longest_wait : float
        How long a piece of work may wait before it is refused after all [s].
    watch : Watch, optional
        Told what happens.
    """

    def __init__(self, workers: int, queue: int, longest_wait: float = math.inf, watch: Watch | None = None) -> None:
        self._workers = workers
        self._most = workers + queue
        self._longest_wait = longest_wait
        self._watch = watch
        self._threads = ThreadPoolExecutor(workers, thread_name_prefix="executor", initializer=_give_way)
        self._lock = threading.Lock()
        self._accepted = 0
        self._computing = 0
        self._usual = 0.0
        self._stops: set[threading.Event] = set()
        self.warm = False
        """Whether anything has been computed yet: before that, work may have to wait for compilation."""

    @property
    def load(self) -> int:
        """Pieces of work accepted and not yet done."""
        return self._accepted

    @property
    def computing(self) -> int:
        """Pieces of work in the hands of a thread."""
        return self._computing

    def _leave(self, stop: threading.Event, _: Future[T]) -> None:
        with self._lock:
            self._accepted -= 1
            self._stops.discard(stop)

    @property
    def full(self) -> bool:
        """Whether there is no room for another piece of work."""
        return self._accepted >= self._most

    def refuse(self) -> Overloaded:
        """Count a refusal for want of room, and give the error that says so."""
        return self._refuse("queue_full")

    def _refuse(self, reason: str) -> Overloaded:
        if self._watch:
            self._watch.refused(reason)
        # As long as what is waiting now will take.
        return Overloaded(retry_after=max(1, math.ceil(self._accepted * self._usual / self._workers)))

    def _do(self, work: Callable[[], T], arrived: float, stop: threading.Event) -> T:
        begun = time.perf_counter()
        with self._lock:
            self._computing += 1
        if self._watch:
            self._watch.waited(begun - arrived)
        try:
            with interruptible(stop.is_set):
                return work()
        except StopIteration as error:
            # A future cannot carry that one (PEP 479): whoever waits would wait for ever.
            raise RuntimeError("the work failed") from error
        finally:
            self.warm = True
            taken = time.perf_counter() - begun
            with self._lock:
                self._computing -= 1
                self._usual += 0.1 * (taken - self._usual)
            if self._watch:
                self._watch.computed(taken)

    async def run(self, work: Callable[[], T], *, patient: bool = False) -> T:
        """Do the work in a thread. Work whose caller is cancelled is never begun, or soon interrupted.

        Parameters
        ----------
        work : callable
            Plain function of no arguments.
        patient : bool
            Wait however long the queue is: for streams, which wait by not reading on.

        Raises
        ------
        Overloaded
            If the queue is full, or the wait was longer than work may wait.
        """
        if not patient and self.full:
            raise self.refuse()
        stop = threading.Event()
        with self._lock:
            self._accepted += 1
            self._stops.add(stop)
        future = self._threads.submit(self._do, work, time.perf_counter(), stop)
        future.add_done_callback(partial(self._leave, stop))
        result = asyncio.wrap_future(future)
        try:
            if self.warm and not patient and self._longest_wait < math.inf:
                done, _ = await asyncio.wait({result}, timeout=self._longest_wait)
                # What a thread has begun is not taken from it: the answer is near.
                if not done and future.cancel():
                    raise self._refuse("queue_wait")
            return await result
        except asyncio.CancelledError:
            stop.set()
            result.cancel()
            raise

    def close(self) -> None:
        """Take no more work, let go of what nobody has begun, and interrupt the rest."""
        with self._lock:
            stops = list(self._stops)
        for stop in stops:
            stop.set()
        self._threads.shutdown(wait=False, cancel_futures=True)


class Streams:
    """Counts the batches that are being answered, and refuses more than there may be.

    Parameters
    ----------
    most : int
        Batches at once.
    watch : Watch, optional
        Told what is refused.
    """

    def __init__(self, most: int, watch: Watch | None = None) -> None:
        self._most = most
        self._watch = watch
        self.open = 0

    def enter(self, scope: Mapping[str, object]) -> None:
        """Count a batch until its request is over.

        Raises
        ------
        Overloaded
            If there are as many as there may be.
        """
        if self.open >= self._most:
            if self._watch:
                self._watch.refused("streams")
            raise Overloaded(retry_after=5)
        self.open += 1
        at_end(scope, self._leave)

    def _leave(self) -> None:
        self.open -= 1
