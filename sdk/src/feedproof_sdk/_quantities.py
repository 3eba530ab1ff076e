"""What a caller may give as a quantity, made into what goes over the wire. pint is not needed, and not imported."""

import math
from typing import Any, Protocol, SupportsFloat, runtime_checkable

from feedproof_sdk.errors import BadQuantity

UNITS = {
    "volt": "V",
    "ampere": "A",
    "ohm": "ohm",
    "farad": "F",
    "hertz": "Hz",
    "meter": "m",
    "watt": "W",
    "degC": "degC",
}
"""Units that a unit library is asked for, and how the service spells them."""


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


def quantity(value: QuantityLike) -> float | str:
    """Make the number or the string that is sent: `Voltmeter(input_impedance=quantity(3 * units.kiloohm))`.

    Parameters
    ----------
    value : number, str or quantity
        Strings pass as they are: the service has the list of units, and says what is wrong with one.

    Raises
    ------
    BadQuantity
        If it is none of these, is not finite, or has a dimension that no field has.
    """
    if isinstance(value, str):
        return value
    if isinstance(value, WithUnits):
        return _with_unit(value)
    if isinstance(value, bool | bytes | bytearray):
        raise BadQuantity(f"{value!r} is no quantity; give a number, a string with a unit, or a quantity of pint")
    try:
        return _finite(float(value))
    except (TypeError, ValueError) as error:
        raise BadQuantity(f"{value!r} is no quantity: {error}") from None


def _with_unit(value: WithUnits) -> str:
    for asked, spelled in UNITS.items():
        try:
            number = float(value.to(asked).magnitude)
        except Exception:  # noqa: BLE001, S112 - each unit library has errors of its own for another dimension
            continue
        return f"{_finite(number)!r} {spelled}"
    raise BadQuantity(f"{value} has a dimension that no field has; units are {', '.join(UNITS.values())}")


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise BadQuantity(f"{number} is no finite number")
    return number
