"""The fixed points: even in each coordinate, and without ties between coordinates."""

import numpy as np
import pytest
from scipy import stats

from feedproof.inference.forward import FloatArray
from feedproof.inference.normal import cdf_column
from feedproof.inference.points import DIMENSIONS, NORMAL_POINTS, POINT_COUNT

UNIT = np.array([cdf_column(column) for column in NORMAL_POINTS.T.copy()]).T


def test_they_are_finite_and_none_is_met_twice() -> None:
    assert NORMAL_POINTS.shape == (POINT_COUNT, DIMENSIONS)
    assert np.isfinite(NORMAL_POINTS).all()
    assert len(np.unique(NORMAL_POINTS, axis=0)) == POINT_COUNT


def unevenness(column: FloatArray) -> float:
    """Largest distance between the share of points below a value and the value."""
    return float(stats.kstest(column, "uniform").statistic)


@pytest.mark.parametrize("count", [128, 512, POINT_COUNT])
def test_each_coordinate_is_stratified(count: int) -> None:
    """One point in each of 128 strata, block by block: no share is off by more than about one stratum."""
    assert max(unevenness(column) for column in UNIT[:count].T) < 1.3 / 128.0


def test_random_points_would_not_pass() -> None:
    """The control: the same number of random points is less even."""
    assert unevenness(np.random.default_rng(2).random(2048)) > 1.3 / 128.0


@pytest.mark.parametrize("count", [128, 2048])
def test_pairs_of_coordinates_are_no_worse_than_independent(count: int) -> None:
    """Independent ones have a correlation of about 1/sqrt(n); a bad pair of a lattice has nearly one."""
    correlation = np.abs(np.corrcoef(UNIT[:count].T) - np.eye(DIMENSIONS)) * np.sqrt(count)
    assert np.sqrt((correlation**2).mean()) < 1.1
    assert correlation.max() < 4.5


def test_they_have_the_moments_of_the_normal_law() -> None:
    np.testing.assert_allclose(NORMAL_POINTS.mean(axis=0), 0.0, atol=2e-3)
    np.testing.assert_allclose(NORMAL_POINTS.std(axis=0), 1.0, atol=5e-3)


def test_a_sum_of_smooth_parts_converges_faster_than_random() -> None:
    """Mean of exp(z/2) is exp(1/8); over 4 coordinates random points would err by about two parts in a thousand."""
    values = np.exp(NORMAL_POINTS[:, :4] / 2.0).mean(axis=1)
    assert values.mean() == pytest.approx(np.exp(0.125), abs=0.2 * values.std() / np.sqrt(POINT_COUNT))
