"""Names the stages of an answer for whoever measures them; nobody does unless asked."""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from contextvars import ContextVar

Begin = Callable[[str], AbstractContextManager[object]]

_BEGIN: ContextVar[Begin | None] = ContextVar("begin", default=None)


def stage(name: str) -> AbstractContextManager[object]:
    """Mark what is done within as a stage.

    Parameters
    ----------
    name : str
        What is done: `parse`, `infer` or `compose`.

    Returns
    -------
    context manager
        Does nothing where nobody measures.
    """
    begin = _BEGIN.get()
    return nullcontext() if begin is None else begin(name)


def measure(begin: Begin) -> None:
    """Have the stages of the present request measured, in whichever thread they are done.

    Parameters
    ----------
    begin : callable
        Given a stage's name; what it gives is entered and left with the stage.
    """
    _BEGIN.set(begin)
