"""What the client for asyncio does in its own way; `_work.py` has the same for the other."""

import asyncio
import os
from collections.abc import AsyncIterable, AsyncIterator, Callable, Coroutine, Iterable
from typing import Any, TypeVar

T = TypeVar("T")

sleep = asyncio.sleep
Started = asyncio.Task
"""A piece of work under way."""


def home() -> object:
    """Process and event loop: a second `asyncio.run` has another loop, and what the first one left open is gone."""
    return os.getpid(), asyncio.get_running_loop()


class Pool:
    """Several pieces of work at once, in tasks."""

    def __init__(self, _: int) -> None:
        self._tasks: set[asyncio.Task[Any]] = set()

    def start(self, work: Callable[..., Coroutine[Any, Any, T]], *given: object) -> "asyncio.Task[T]":
        """Begin a piece of work."""
        task = asyncio.ensure_future(work(*given))
        self._tasks.add(task)
        return task

    async def result(self, started: "asyncio.Task[T]") -> T:
        """Wait for it."""
        self._tasks.discard(started)
        return await started

    async def stop(self) -> None:
        """End what is under way."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)


async def each(given: Iterable[T] | AsyncIterable[T]) -> AsyncIterator[T]:
    """Give what there is, one after the other, where it may come later."""
    if isinstance(given, AsyncIterable):
        async for one in given:
            yield one
    else:
        for one in given:
            yield one


def forget(_: object) -> None:
    """Do nothing: what belongs to an event loop is closed there alone."""
