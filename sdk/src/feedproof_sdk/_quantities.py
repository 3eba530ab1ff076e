"""What a caller may give as a quantity, made into what goes over the wire. pint is not needed, and not imported."""

import math
from typing import Any, Protocol, SupportsFloat, runtime_checkable

from feedproof_sdk.errors import BadQuantity


@runtime_checkable
class WithUnits(Protocol):
    """A quantity that can be turned into another unit, such as one of pint."""

    @property
    def magnitude(self) -> Any:  # noqa: ANN401
        """The number."""
        ...

    def to(self, other: Any, /) -> Any:  # noqa: ANN401
        """Give the same quantity in another unit."""
        ...


QuantityLike = float | str | SupportsFloat | WithUnits
"""A number in the unit that is stated, a string with a unit, or a quantity of pint."""


def on_wire(value: QuantityLike, unit: str, field: str) -> float | str:
    """Make the number or the string that is sent.

    Parameters
    ----------
    value : number, str or quantity
        As the caller gave it.
    unit : str
        Unit of a bare number, in a unit library's spelling.
    field : str
        For the message.

    Returns
    -------
    float or str
        Strings pass as they are: the service has the list of units.

    Raises
    ------
    BadQuantity
        If it is none of these, is not finite, or has another dimension.
    """
    if isinstance(value, str):
        return value
    if isinstance(value, bool | bytes | bytearray):
        raise BadQuantity(f"{field} is {value!r}; give a number in {unit}, a string with a unit, or a quantity")
    given: Any = value
    if isinstance(value, WithUnits):
        try:
            given = value.to(unit).magnitude
        except Exception as error:
            raise BadQuantity(f"{field} is {value}: {error}") from error
    try:
        number = float(given)
    except (TypeError, ValueError):
        raise BadQuantity(
            f"{field} is {value!r}; give a number in {unit}, a string with a unit, or a quantity"
        ) from None
    if not math.isfinite(number):
        raise BadQuantity(f"{field} is {number}; give a finite number")
    return number


def on_wire_if_given(value: QuantityLike | None, unit: str, field: str) -> float | str | None:
    """Do the same, and pass what is left out."""
    return None if value is None else on_wire(value, unit, field)
