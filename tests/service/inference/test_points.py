"""The fixed points: each first 2^m of them fill the cube evenly."""

import numpy as np
import pytest
from scipy import stats

from feedproof.inference.normal import cdf_column
from feedproof.inference.points import DIMENSIONS, NORMAL_POINTS, POINT_COUNT

UNIT = np.array([cdf_column(column) for column in NORMAL_POINTS.T.copy()]).T


def test_they_are_finite_and_none_is_met_twice() -> None:
    assert NORMAL_POINTS.shape == (POINT_COUNT, DIMENSIONS)
    assert np.isfinite(NORMAL_POINTS).all()
    assert len(np.unique(NORMAL_POINTS, axis=0)) == POINT_COUNT


@pytest.mark.parametrize("count", [2**m for m in range(4, 12)])
def test_each_coordinate_is_stratified(count: int) -> None:
    """An odd generator runs through all cells of width 1/n, each once; the shift moves all alike."""
    for column in UNIT[:count].T:
        gaps = np.diff(np.sort(column))
        # Points at the very ends are moved a quarter of a cell inwards, so that their quantiles stay finite.
        assert gaps.max() <= 1.3 / count + 1e-9
        assert gaps.min() >= 0.7 / POINT_COUNT - 1e-9


@pytest.mark.parametrize("count", [256, 2048])
def test_pairs_of_early_coordinates_are_more_even_than_random_ones(count: int) -> None:
    rng = np.random.default_rng(1)
    random = np.mean([stats.qmc.discrepancy(rng.random((count, 2))) for _ in range(20)])
    found = [stats.qmc.discrepancy(np.clip(UNIT[:count, [i, j]], 0.0, 1.0)) for i in range(8) for j in range(i + 1, 8)]
    assert max(found) < random
    assert np.mean(found) < 0.1 * random


def test_random_points_would_not_pass() -> None:
    """The control: random points miss the stratification by far."""
    random = np.sort(np.random.default_rng(2).random(POINT_COUNT))
    assert np.diff(random).max() > 3.0 / POINT_COUNT


def test_they_have_the_moments_of_the_normal_law() -> None:
    np.testing.assert_allclose(NORMAL_POINTS.mean(axis=0), 0.0, atol=2e-3)
    np.testing.assert_allclose(NORMAL_POINTS.std(axis=0), 1.0, atol=5e-3)
    correlation = np.corrcoef(NORMAL_POINTS.T) - np.eye(DIMENSIONS)
    # Independent ones would have a root mean square of 1/sqrt(n), 0.022.
    assert np.sqrt((correlation**2).mean()) < 0.8 / np.sqrt(POINT_COUNT)
    assert np.abs(correlation[:12, :12]).max() < 0.05


def test_a_smooth_mean_converges_faster_than_random() -> None:
    """Mean of exp(sum of 4 coordinates / 4) is exp(1/8); plain random points err by about a hundredth."""
    values = np.exp(NORMAL_POINTS[:, :4].sum(axis=1) / 4.0)
    assert values.mean() == pytest.approx(np.exp(0.125), abs=0.1 * values.std() / np.sqrt(POINT_COUNT))
