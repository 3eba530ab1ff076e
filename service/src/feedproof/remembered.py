"""Results of functions remembered up to a number of bytes, the least recently used forgotten first."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import update_wrapper
from typing import Generic, ParamSpec, TypeVar

import msgspec
import numpy as np

P = ParamSpec("P")
R = TypeVar("R")

_OBJECT = 100
"""About what an object of Python takes, its place in what holds it included [byte]."""


def size_of(value: object) -> int:
    """About how much memory a value takes, with all that it holds [byte].

    Parameters
    ----------
    value : object
        Arrays, numbers and text, in tuples, dictionaries and records.
    """
    if isinstance(value, np.ndarray):
        return _OBJECT + value.nbytes
    if isinstance(value, tuple | list):
        return _OBJECT + sum(map(size_of, value))
    if isinstance(value, dict):
        return _OBJECT + sum(size_of(name) + size_of(held) for name, held in value.items())
    if isinstance(value, msgspec.Struct):
        return _OBJECT + sum(size_of(getattr(value, name)) for name in value.__struct_fields__)
    return _OBJECT


class Remembered(Generic[P, R]):
    """A function that remembers what it gave; its arguments must be hashable, and several threads may call it."""

    def __init__(self, function: Callable[P, R], most: int) -> None:
        update_wrapper(self, function)
        self._function, self._most = function, most
        self._results: OrderedDict[Hashable, tuple[R, int]] = OrderedDict()
        self._lock = threading.Lock()
        self.held = 0
        """About how much memory it holds now [byte]."""

    def __call__(self, *given: P.args, **named: P.kwargs) -> R:
        """Give what the function gives."""
        key = (given, *named.items()) if named else given
        with self._lock:
            found = self._results.get(key)
            if found is not None:
                self._results.move_to_end(key)
                return found[0]
        result = self._function(*given, **named)
        taken = size_of(result) + _OBJECT
        with self._lock:
            if taken <= self._most // 4 and key not in self._results:
                self._results[key] = result, taken
                self.held += taken
                while self.held > self._most:
                    self.held -= self._results.popitem(last=False)[1][1]
        return result

    def cache_clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._results.clear()
            self.held = 0


def remembered(most: int) -> Callable[[Callable[P, R]], Remembered[P, R]]:
    """Remember what a function gave for the same arguments.

    Parameters
    ----------
    most : int
        How much to hold at most, the arguments not counted; what alone is more than a quarter of it is not held [byte].

    Returns
    -------
    callable
        A decorator.
    """
    return lambda function: Remembered(function, most)
