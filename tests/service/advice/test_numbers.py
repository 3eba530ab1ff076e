import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.numbers import NonFiniteNumberError, finished
from feedproof.contract.assessment import AssessedSupply, Estimate, LegVoltage


def estimate(value: float) -> Estimate:
    return Estimate(
        value=value, low=-1.0, high=1.0, unit="V", bound="two_sided", limit=None, told_by="readings", display=""
    )


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_no_number_leaves_that_is_not_finite(bad: float) -> None:
    with pytest.raises(NonFiniteNumberError, match=r"assessment\.value is not a finite number"):
        finished(estimate(bad))


def test_the_field_is_named_however_deep() -> None:
    legs = [LegVoltage(conductor="L1", voltage=120.0, angle=0.0, unit="V")]
    legs += [LegVoltage(conductor="L2", voltage=math.nan, angle=180.0, unit="V")]
    with pytest.raises(NonFiniteNumberError) as caught:
        finished(AssessedSupply(system="split_phase_120_240", frequency=60.0, legs=legs), "supply")
    assert caught.value.path == "supply.legs[1].voltage"


def test_six_significant_digits_and_no_negative_zero() -> None:
    assert finished(estimate(123.4567891)).value == 123.457
    assert finished(estimate(1.23456789e-9)).value == 1.23457e-9
    assert math.copysign(1.0, finished(estimate(-0.0)).value) == 1.0


@given(st.floats(allow_nan=False, allow_infinity=False), st.floats(allow_nan=False, allow_infinity=False))
def test_rounding_keeps_order_and_settles(first: float, second: float) -> None:
    low, high = sorted((first, second))
    try:
        rounded = finished(estimate(low)).value, finished(estimate(high)).value
    except NonFiniteNumberError:
        return
    assert rounded[0] <= rounded[1]
    assert finished(estimate(rounded[0])).value == rounded[0]
    assert math.isclose(rounded[1], high, rel_tol=5.1e-6, abs_tol=1e-300)
