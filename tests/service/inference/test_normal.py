"""The standard normal law against the standard library's and scipy's."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from feedproof.inference.normal import cdf_column, half_square, normal_cdf, normal_pdf, normal_quantile

LAW = NormalDist()


@given(st.floats(1e-9, 1.0 - 1e-9))
def test_quantiles_agree_with_the_standard_library(probability: float) -> None:
    assert normal_quantile(probability) == pytest.approx(LAW.inv_cdf(probability), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("exponent", range(1, 300, 13))
def test_quantiles_far_out_agree_with_scipy(exponent: int) -> None:
    assert normal_quantile(10.0**-exponent) == pytest.approx(stats.norm.ppf(10.0**-exponent), rel=1e-9)


@pytest.mark.parametrize("probability", [0.02425, 0.97575, 0.5])
def test_the_pieces_of_the_approximation_meet(probability: float) -> None:
    around = np.nextafter(probability, [0.0, 1.0])
    below, above = (normal_quantile(p) for p in around)
    assert below <= above
    assert above - below < 1e-12


@given(st.floats(-7.0, 7.0))
def test_the_quantile_undoes_the_distribution(z: float) -> None:
    assert normal_quantile(normal_cdf(z)) == pytest.approx(z, abs=1e-13 / normal_pdf(z))


@pytest.mark.parametrize(("probability", "sign"), [(0.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (2.0, 1.0)])
def test_the_ends_are_far_out_and_finite(probability: float, sign: float) -> None:
    found = sign * normal_quantile(probability)
    assert math.isfinite(found)
    assert found > 8.0


def test_there_is_no_step_back() -> None:
    found = [normal_quantile(p) for p in np.linspace(1e-6, 1.0 - 1e-6, 4001)]
    assert np.all(np.diff(found) > 0.0)


@given(st.floats(-30.0, 30.0))
def test_density_and_distribution_agree_with_scipy(z: float) -> None:
    assert normal_pdf(z) == pytest.approx(stats.norm.pdf(z), rel=1e-12)
    assert normal_cdf(z) == pytest.approx(stats.norm.cdf(z), rel=1e-9, abs=1e-300)


def test_columns_are_the_single_values() -> None:
    z = np.linspace(-5.0, 5.0, 11)
    assert cdf_column(z).tolist() == [normal_cdf(x) for x in z]
    assert half_square(z) == pytest.approx(0.5 * float(z @ z))
    assert half_square(np.zeros(0)) == 0.0
