"""The last gate for numbers: finite, and rounded so that the same answer is the same bytes everywhere."""

import math
from typing import TypeVar

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
    changes = {name: _finished(getattr(value, name), f"{path}.{name}") for name in value.__struct_fields__}
    return msgspec.structs.replace(value, **changes)


def _finished(value: object, path: str) -> object:
    if isinstance(value, float):
        if not math.isfinite(value):
            raise NonFiniteNumberError(path)
        return rounded(value)
    if isinstance(value, Struct):
        return finished(value, path)
    if isinstance(value, list):
        return [_finished(item, f"{path}[{index}]") for index, item in enumerate(value)]
    return value
