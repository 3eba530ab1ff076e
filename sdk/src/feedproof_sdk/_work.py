"""What the client that waits does in its own way; `_async_work.py` has the same for the other."""

import os
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import Any, TypeVar

T = TypeVar("T")

sleep = time.sleep
Started = Future
"""A piece of work under way."""


def home() -> object:
    """Process whose connections may be used: after a fork both would hold the same sockets."""
    return os.getpid()


class Pool:
    """Several pieces of work at once, in threads."""

    def __init__(self, most: int) -> None:
        self._threads = ThreadPoolExecutor(most, thread_name_prefix="feedproof")

    def start(self, work: Callable[..., T], *given: object) -> "Future[T]":
        """Begin a piece of work."""
        return self._threads.submit(work, *given)

    def result(self, started: "Future[T]") -> T:
        """Wait for it."""
        return started.result()

    def stop(self) -> None:
        """Begin nothing more."""
        self._threads.shutdown(wait=False, cancel_futures=True)


def each(given: Iterable[T]) -> Iterator[T]:
    """Give what there is, one after the other."""
    return iter(given)


def forget(connections: Any) -> None:  # noqa: ANN401
    """Leave no connection open behind a client that nobody closed."""
    with suppress(Exception):
        connections.close()
