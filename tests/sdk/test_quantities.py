"""Numbers, strings and quantities of pint become what goes over the wire; what would be lost is refused."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pint
import pytest

from feedproof.contract.quantities import DIMENSIONS
from feedproof_sdk import errors, quantity
from feedproof_sdk._quantities import UNITS as SPELLINGS
from feedproof_sdk._quantities import QuantityLike

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("given", "sent"),
    [
        (247, 247.0),
        (119.6, 119.6),
        ("247 V", "247 V"),
        ("what the service would refuse", "what the service would refuse"),
        (Decimal("0.1"), 0.1),
        (Fraction(1, 4), 0.25),
        (np.float32(0.5), 0.5),
        (np.int64(3), 3.0),
        (UNITS.Quantity(247, "volt"), "247.0 V"),
        (UNITS.Quantity(10, "megaohm"), "10000000.0 ohm"),
        (UNITS.Quantity(100, "picofarad"), "1e-10 F"),
        # Exact by definition: the international foot is 0.3048 m.
        (UNITS.Quantity(60, "foot"), "18.288 m"),
        # Exact by definition: 95 degF is 35 degC.
        (UNITS.Quantity(95, "degF"), "35.0 degC"),
        (UNITS.Quantity(np.float64(4.8), "kilowatt"), "4800.0 W"),
        (UNITS.Quantity(60, "hertz"), "60.0 Hz"),
    ],
)
def test_what_is_sent(given: QuantityLike, sent: float | str) -> None:
    made = quantity(given)
    assert type(made) is type(sent)
    if isinstance(made, str) and isinstance(sent, str) and made != sent:
        (number, unit), (wanted, spelled) = made.split(), sent.split()
        assert unit == spelled
        assert float(number) == pytest.approx(float(wanted), rel=1e-12)
    else:
        assert made == sent


def test_units_are_spelled_as_the_service_takes_them() -> None:
    assert set(SPELLINGS.values()) == {dimension.unit for dimension in DIMENSIONS}


@pytest.mark.parametrize("given", [math.nan, math.inf, -math.inf, UNITS.Quantity(math.nan, "volt"), np.float64("inf")])
def test_what_json_cannot_carry_is_refused(given: QuantityLike) -> None:
    with pytest.raises(errors.BadQuantity, match=r"(nan|-?inf) is no finite number"):
        quantity(given)


def test_a_dimension_that_no_field_has_is_refused() -> None:
    with pytest.raises(errors.BadQuantity, match=r"3 kilogram has a dimension that no field has"):
        quantity(UNITS.Quantity(3, "kilogram"))


@pytest.mark.parametrize("given", [None, [1], True, b"1", object(), 1j])
def test_what_is_no_quantity_is_refused(given: object) -> None:
    with pytest.raises(errors.BadQuantity, match="is no quantity"):
        quantity(given)  # type: ignore[arg-type]


def test_it_is_a_value_error_too() -> None:
    with pytest.raises(ValueError, match="finite"):
        quantity(math.nan)
