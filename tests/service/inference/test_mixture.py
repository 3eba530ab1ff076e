"""Pieces of the proposal: densities that integrate to one, draws that have them, clusters that are found."""

import numba
import numpy as np
import pytest
from scipy import stats

from feedproof.circuit.lanes import WIDE, get, wide_room
from feedproof.inference import mixture
from feedproof.inference.factors import invert_lower
from feedproof.inference.forward import FloatArray, into_lanes
from feedproof.inference.mixture import (
    Mixture,
    cluster,
    density_lanes,
    draw_component,
    fit_cluster,
    peaks,
    place_copies,
    precision_of,
    take_precision,
)
from feedproof.inference.points import NORMAL_POINTS

KEPT, SHARES, COPIES = mixture._KEPT, mixture._SHARES, mixture.COPIES


def component(seed: int, size: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Center, covariance, what spreads points and what whitens draws, from the factor of a precision."""
    rng = np.random.default_rng(seed)
    root = rng.standard_normal((size, size)) + 2.0 * np.eye(size)
    precision = root @ root.T
    spread, whiten = np.zeros((size, size)), np.zeros((size, size))
    take_precision(np.linalg.cholesky(precision), np.zeros((size, size)), spread, whiten, size)
    covariance = np.array(np.linalg.inv(precision), dtype=np.float64)
    return rng.standard_normal(size), covariance, spread, whiten


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that another file has changed
def densities(proposal: Mixture, z: FloatArray, found: FloatArray) -> None:
    peak, size = np.zeros(proposal.share.size), z.shape[1]
    along, offset, density = wide_room(size), wide_room(size), wide_room(1)
    peaks(proposal, peak)
    for first in range(0, z.shape[0], WIDE):
        into_lanes(z, first, along)
        density_lanes(proposal, peak, along, offset, density)
        for lane in range(min(WIDE, z.shape[0] - first)):
            found[first + lane] = get(density, 0, lane)


def mixed(z: FloatArray, *components: tuple[FloatArray, FloatArray, float]) -> FloatArray:
    """Density of a mixture of components, each given by its center, what whitens its draws, and its share."""
    found = np.zeros(z.shape[0])
    centers, whitens, share = (np.array([component[k] for component in components]) for k in range(3))
    densities(Mixture(centers, np.zeros_like(whitens), whitens, share), z, found)
    return found


def density(z: FloatArray, center: FloatArray, whiten: FloatArray, share: float = 1.0) -> FloatArray:
    return mixed(z, (center, whiten, share))


def scattered(size: int, count: int = 500, width: float = 3.0) -> FloatArray:
    return np.ascontiguousarray(width * np.random.default_rng(9).standard_normal((count, size)))


@pytest.mark.parametrize("size", [1, 3, 20])
def test_spreading_and_whitening_undo_each_other(size: int) -> None:
    _, covariance, spread, whiten = component(size, size)
    np.testing.assert_allclose(spread @ spread.T, covariance, rtol=1e-8, atol=1e-10)
    np.testing.assert_allclose(whiten @ spread, np.eye(size), atol=1e-9)


@pytest.mark.parametrize("size", [1, 4, 17])
def test_the_inverse_of_a_triangle(size: int) -> None:
    lower = np.tril(np.random.default_rng(size).standard_normal((size, size))) + 3.0 * np.eye(size)
    inverse = np.full((size, size), 9.0)
    invert_lower(lower, inverse, size)
    np.testing.assert_allclose(inverse @ lower, np.eye(size), atol=1e-10)


@pytest.mark.parametrize("size", [1, 2, 6])
def test_the_density_is_that_of_a_normal_law(size: int) -> None:
    center, covariance, _, whiten = component(size, size)
    z = scattered(size)
    expected = stats.multivariate_normal.pdf(z, center, covariance)
    # Without (2 pi)^(-D/2), as the prior has it in the same place.
    found = density(z, center, whiten, 5.0) * (2.0 * np.pi) ** (-size / 2.0)
    np.testing.assert_allclose(found, 5.0 * np.atleast_1d(expected), rtol=1e-8, atol=1e-100)


def test_copies_are_wider_only_where_something_is_told() -> None:
    """Told 99 times the prior's precision in one direction and nothing in the other: that one stays at unit width."""
    told = np.array([[100.0, 0.0], [0.0, 1.0]])
    matrices = np.zeros((COPIES + 1, 2, 2)), np.zeros((COPIES + 1, 2, 2))
    proposal = Mixture(np.zeros((COPIES + 1, 2)), *matrices, np.zeros(COPIES + 1))
    place_copies(told, np.array([3.0, 4.0]), 0.5, 1, proposal)
    share = proposal.share
    assert (share[0], share.sum()) == (0.0, pytest.approx(0.5))
    assert share[1:] == pytest.approx(0.5 * SHARES)
    for kept, spread, center in zip(KEPT, proposal.spreads[1:], proposal.centers[1:], strict=True):
        np.testing.assert_allclose(spread @ spread.T, np.diag([1.0 / (1.0 + 99.0 * kept), 1.0]), rtol=1e-9)
        assert center.tolist() == [3.0, 4.0]


@pytest.mark.parametrize("size", [1, 3, 8])
def test_the_precision_of_a_fit(size: int) -> None:
    _, covariance, _, _ = component(size, size)
    precision = np.zeros((size, size))
    precision_of(np.linalg.cholesky(covariance), precision)
    np.testing.assert_allclose(precision, np.linalg.inv(covariance), rtol=1e-7, atol=1e-9)


@pytest.mark.parametrize("size", [1, 2])
def test_the_density_integrates_to_one(size: int) -> None:
    center, covariance, _, whiten = component(size, size)
    ends = [
        np.linspace(c - 9.0 * np.sqrt(v), c + 9.0 * np.sqrt(v), 801)
        for c, v in zip(center, np.diag(covariance), strict=True)
    ]
    z = np.ascontiguousarray(np.stack(np.meshgrid(*ends, indexing="ij"), axis=-1).reshape(-1, size))
    cell = np.prod([axis[1] - axis[0] for axis in ends])
    total = density(z, center, whiten).sum() * cell * (2.0 * np.pi) ** (-size / 2.0)
    assert total == pytest.approx(1.0, abs=1e-6)


def test_components_add_up_whatever_stands_in_those_without_a_share() -> None:
    z, nothing = scattered(2, 70), np.full((2, 2), np.nan)
    (center, _, _, whiten), (other, _, _, narrow) = component(2, 2), component(3, 2)
    found = mixed(z, (center, whiten, 0.7), (other, nothing, 0.0), (other, narrow, 0.3))
    np.testing.assert_allclose(found, density(z, center, whiten, 0.7) + density(z, other, narrow, 0.3), rtol=1e-12)


@pytest.mark.parametrize("size", [1, 5])
def test_draws_have_the_density_they_are_said_to_have(size: int) -> None:
    """Mean and covariance of the draws are those of the law."""
    center, covariance, spread, _ = component(size, size)
    z = np.zeros((2048, size))
    draw_component(NORMAL_POINTS, 0, z, 0, 2048, center, spread)
    sigma = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose((z.mean(axis=0) - center) / sigma, 0.0, atol=0.05)
    np.testing.assert_allclose(
        np.atleast_2d(np.cov(z.T)) / np.outer(sigma, sigma), covariance / np.outer(sigma, sigma), atol=0.12
    )


def test_far_apart_clouds_are_told_apart() -> None:
    rng = np.random.default_rng(4)
    centers = np.array([[0.0, 0.0], [20.0, 0.0], [0.0, 30.0]])
    label = rng.integers(0, 3, 300)
    z = centers[label] + rng.standard_normal((300, 2))
    found = cluster(z, np.full(300, 1.0 / 300.0), 3)
    for own in range(3):
        assert len(set(found[label == own].tolist())) == 1
    assert len(set(found.tolist())) == 3


def test_what_weighs_nothing_makes_no_cluster_of_its_own() -> None:
    z = np.array([[0.0], [0.1], [10.0], [10.1], [500.0]])
    found = cluster(z, np.array([0.3, 0.2, 0.3, 0.2, 0.0]), 2)
    assert found[0] == found[1] != found[2] == found[3]


def widened(spread: FloatArray, covariance: FloatArray) -> float:
    """How much wider a fit is than the draws: a little at most, and never narrower."""
    factor = float((spread @ spread.T)[0, 0] / covariance[0, 0])
    assert 0.99 < factor < 1.5
    return factor


@pytest.mark.parametrize("size", [1, 3])
def test_a_cluster_is_fitted_by_its_moments(size: int) -> None:
    rng = np.random.default_rng(size)
    z = rng.standard_normal((4000, size)) @ np.triu(np.ones((size, size))) + 3.0
    member = np.zeros(4000, np.int64)
    member[3000:] = 1
    w = rng.random(4000)
    w /= w.sum()
    center, spread = np.zeros(size), np.zeros((size, size))
    mass = fit_cluster(z, w, member, 0, np.eye(size), center, spread)
    own = w[:3000] / w[:3000].sum()
    assert mass == pytest.approx(w[:3000].sum())
    np.testing.assert_allclose(center, own @ z[:3000])
    covariance = np.cov(z[:3000].T, aweights=own, ddof=0).reshape(size, size)
    factor = widened(spread, covariance)
    np.testing.assert_allclose(spread @ spread.T, factor * covariance, atol=0.02)
    assert (np.triu(spread, 1) == 0.0).all()


def test_a_lone_draw_leans_on_the_fallback() -> None:
    z, w = np.array([[1.0, 2.0], [50.0, 50.0]]), np.array([1.0, 0.0])
    center, spread = np.zeros(2), np.zeros((2, 2))
    fallback = np.array([[0.5, 0.0], [0.2, 0.4]])
    assert fit_cluster(z, w, np.zeros(2, np.int64), 0, fallback, center, spread) == 1.0
    np.testing.assert_allclose(center, [1.0, 2.0])
    # One effective draw on two coordinates: two thirds of the fallback, and no spread of its own.
    factor = widened(spread, 2.0 / 3.0 * fallback @ fallback.T)
    np.testing.assert_allclose(spread @ spread.T, factor * 2.0 / 3.0 * fallback @ fallback.T, rtol=1e-9)


def test_an_empty_cluster_has_no_mass() -> None:
    z, w = np.zeros((3, 2)), np.full(3, 1.0 / 3.0)
    assert fit_cluster(z, w, np.zeros(3, np.int64), 1, np.eye(2), np.zeros(2), np.zeros((2, 2))) == 0.0
