"""The last gate for numbers: finite, and rounded so that the same answer is the same bytes everywhere."""

import math
from functools import cache
from typing import TypeVar, get_args, get_type_hints

import msgspec
from msgspec import Struct

from feedproof.advice.wording import rounded

StructT = TypeVar("StructT", bound=Struct)


class NonFiniteNumberError(ArithmeticError):
    """A number of the answer is infinite or not a number: a fault of the service, never of the request."""

    def __init__(self, path: str) -> None:
        """Name the field, as a dotted path from the answer."""
        super().__init__(f"{path} is not a finite number")
        self.path = path


def finished(value: StructT, path: str = "assessment") -> StructT:
    """A copy with every float finite and at `feedproof.advice.wording.OUTPUT_DIGITS` significant digits.

    Parameters
    ----------
    value : Struct
        The answer or any part of it.
    path : str
        What to call it in an error.

    Returns
    -------
    Struct
        Of the same type.

    Raises
    ------
    NonFiniteNumberError
        If any float in it is infinite or not a number.
    """
    try:
        return _finished_struct(value)
    except NonFiniteNumberError as error:
        raise NonFiniteNumberError(f"{path}{error.path}") from None


@cache
def _number_fields(kind: type[Struct]) -> tuple[str, ...]:
    """Fields of a type that may hold a float, at any depth: the others need no look."""
    return tuple(name for name, hint in get_type_hints(kind).items() if _may_hold_float(hint))


def _may_hold_float(hint: object) -> bool:
    if hint is float:
        return True
    if isinstance(hint, type) and issubclass(hint, Struct):
        return bool(_number_fields(hint))
    return any(_may_hold_float(part) for part in get_args(hint))


def _finished_struct(value: StructT) -> StructT:
    names = _number_fields(type(value))
    if not names:
        return value
    changes: dict[str, object] = {}
    name = ""
    try:
        for name in names:
            part = getattr(value, name)
            if part is not None:
                changes[name] = _finished(part)
    except NonFiniteNumberError as error:
        raise NonFiniteNumberError(f".{name}{error.path}") from None
    return msgspec.structs.replace(value, **changes)


def _finished(value: object) -> object:
    if isinstance(value, float):
        if not math.isfinite(value):
            raise NonFiniteNumberError("")
        return rounded(value)
    if isinstance(value, Struct):
        return _finished_struct(value)
    return _finished_list(value) if isinstance(value, list) else value


def _finished_list(values: list[object]) -> list[object]:
    done: list[object] = []
    try:
        for value in values:
            done.append(_finished(value))  # noqa: PERF401
    except NonFiniteNumberError as error:
        raise NonFiniteNumberError(f"[{len(done)}]{error.path}") from None
    return done
