"""Ending a computation whose answer nobody waits for any more.

A thread cannot be ended from outside. So what computes asks now and then, between pieces of work that take a fraction
of a second, whether to go on; whoever lets it compute says how that is known.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from feedproof.errors import Interrupted

_STOP: ContextVar[Callable[[], bool] | None] = ContextVar("feedproof_stop", default=None)


@contextmanager
def interruptible(stop: Callable[[], bool]) -> Iterator[None]:
    """Let what is computed within, in this thread, be interrupted.

    Parameters
    ----------
    stop : callable
        Whether to end; asked often, from this thread.
    """
    token = _STOP.set(stop)
    try:
        yield
    finally:
        _STOP.reset(token)


def go_on() -> None:
    """Return where the answer is still wanted.

    Raises
    ------
    Interrupted
        Where it is not.
    """
    stop = _STOP.get()
    if stop is not None and stop():
        raise Interrupted
