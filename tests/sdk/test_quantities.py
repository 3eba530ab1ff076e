"""Numbers, strings and quantities of pint become what goes over the wire; what would be lost is refused."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pint
import pytest

from feedproof_sdk import errors
from feedproof_sdk._quantities import QuantityLike, on_wire

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("given", "unit", "sent"),
    [
        (247, "volt", 247.0),
        (119.6, "volt", 119.6),
        ("247 V", "volt", "247 V"),
        ("what the service would refuse", "volt", "what the service would refuse"),
        (Decimal("0.1"), "volt", 0.1),
        (Fraction(1, 4), "ohm", 0.25),
        (np.float32(0.5), "ampere", 0.5),
        (np.int64(3), "ampere", 3.0),
        (UNITS.Quantity(247, "volt"), "volt", 247.0),
        (UNITS.Quantity(0.247, "kilovolt"), "volt", 247.0),
        (UNITS.Quantity(10, "megaohm"), "ohm", 1e7),
        (UNITS.Quantity(100, "picofarad"), "farad", 1e-10),
        # Exact by definition: the international foot is 0.3048 m.
        (UNITS.Quantity(60, "foot"), "m", 18.288),
        # Exact by definition: 95 degF is 35 degC.
        (UNITS.Quantity(95, "degF"), "degC", 35.0),
        (UNITS.Quantity(np.float64(4.8), "kilowatt"), "watt", 4800.0),
    ],
)
def test_what_is_sent(given: QuantityLike, unit: str, sent: float | str) -> None:
    made = on_wire(given, unit, "value")
    assert type(made) is type(sent)
    assert made == (pytest.approx(sent, rel=1e-12) if isinstance(sent, float) else sent)


@pytest.mark.parametrize("given", [math.nan, math.inf, -math.inf, UNITS.Quantity(math.nan, "volt"), np.float64("inf")])
def test_what_json_cannot_carry_is_refused(given: QuantityLike) -> None:
    with pytest.raises(errors.BadQuantity, match=r"value is (nan|-?inf); give a finite number"):
        on_wire(given, "volt", "value")


def test_another_dimension_is_refused_by_name() -> None:
    with pytest.raises(errors.BadQuantity, match=r"resolution is 3.*ampere.*Cannot convert"):
        on_wire(UNITS.Quantity(3, "ampere"), "volt", "resolution")


@pytest.mark.parametrize("given", [None, [1], True, b"1", object(), 1j])
def test_what_is_no_quantity_is_refused(given: object) -> None:
    with pytest.raises(errors.BadQuantity, match="give a number in volt, a string with a unit, or a quantity"):
        on_wire(given, "volt", "value")  # type: ignore[arg-type]


def test_it_is_a_value_error_too() -> None:
    with pytest.raises(ValueError, match="finite"):
        on_wire(math.nan, "volt", "value")
