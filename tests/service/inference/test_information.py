"""Mutual information of readings: bounds and limits that follow by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from feedproof.inference.arrays import IntArray
from feedproof.inference.forward import PROXIMITY, VOLTAGE, FloatArray
from feedproof.inference.information import _student_cdf, bin_edges, bin_shares, information, parted
from feedproof.inference.likelihood import Observations
from support.internals.small_programs import observed


def entropy(probability: FloatArray) -> float:
    """Entropy [bit]."""
    return float(stats.entropy(probability, base=2))


@given(st.floats(-1e4, 1e4))
def test_the_distribution_is_students_with_four_degrees(t: float) -> None:
    assert _student_cdf(t) == pytest.approx(float(stats.t.cdf(t, 4)), abs=1e-12)


@pytest.mark.parametrize("probability", [[0.5, 0.5], [0.9, 0.1], [0.2, 0.3, 0.5], [0.25] * 4])
def test_a_reading_that_separates_perfectly_tells_the_entropy(probability: list[float]) -> None:
    p = np.array(probability)
    assert information(np.eye(p.size), p) == pytest.approx(entropy(p))


def test_a_reading_that_says_the_same_under_every_fault_tells_nothing() -> None:
    assert information(np.tile([0.2, 0.5, 0.3], (3, 1)), np.array([0.5, 0.3, 0.2])) == 0.0


def test_a_binary_channel() -> None:
    """Two equal faults, right nine times in ten: 1 - H(0.1) = 0.531 bit (binary symmetric channel)."""
    assert information(np.array([[0.9, 0.1], [0.1, 0.9]]), np.array([0.5, 0.5])) == pytest.approx(0.5310, abs=1e-4)


@given(st.integers(0, 10_000), st.integers(2, 6), st.integers(2, 12))
def test_information_lies_between_nothing_and_the_entropy(seed: int, faults: int, bins: int) -> None:
    rng = np.random.default_rng(seed)
    shares = rng.dirichlet(np.ones(bins), faults)
    probability = rng.dirichlet(np.ones(faults))
    found = information(shares, probability)
    assert -1e-12 <= found <= min(entropy(probability), math.log2(bins)) + 1e-9
    # Joining bins can only lose.
    joined = np.concatenate((shares[:, :1] + shares[:, 1:2], shares[:, 2:]), axis=1)
    assert information(joined, probability) <= found + 1e-12


def binned(places: list[float], floor: float, count: int = 50) -> tuple[FloatArray, Observations]:
    """Shares of the bins for faults that each put one reading somewhere."""
    shown = np.repeat(np.array(places), count)[:, None]
    group = np.repeat(np.arange(len(places)), count)
    o = observed([VOLTAGE], [0.0], floor)
    edges = bin_edges(shown, o.floor, o.kind)
    return bin_shares(shown, group, np.full(group.size, 1.0 / count), o, edges)[0], o


def test_voltages_far_apart_tell_the_fault() -> None:
    shares, _ = binned([0.5, 60.0, 121.0], 0.3)
    assert information(shares, np.full(3, 1.0 / 3.0)) == pytest.approx(math.log2(3.0), abs=0.02)


def test_voltages_within_the_scatter_tell_hardly_anything() -> None:
    shares, _ = binned([120.0, 120.2], 3.0)
    assert information(shares, np.full(2, 0.5)) < 0.01


def by_quadrature(shown: FloatArray, group: IntArray, floor: float) -> float:
    """Information of one reading between two equal faults, from the two densities on a fine grid [bit]."""
    x = np.linspace(shown.min() - 60.0 * floor, shown.max() + 60.0 * floor, 20_001)
    own = np.array([stats.t.pdf(x[:, None], 4, loc=shown[group == f], scale=floor).mean(axis=1) for f in (0, 1)])
    both = own.mean(axis=0)
    return float(np.trapezoid(0.5 * own * np.log2(np.maximum(own, 1e-300) / both), x).sum())


def between(spread: float, floor: float) -> tuple[float, float]:
    """Information between draws around 118 V and around 121 V, and the same by quadrature [bit]."""
    rng = np.random.default_rng(0)
    shown = np.concatenate([volts + spread * rng.standard_normal(24) for volts in (118.0, 121.0)])
    group = np.repeat([0, 1], 24)
    o = observed([VOLTAGE], [0.0], floor)
    edges = bin_edges(shown[:, None], o.floor, o.kind)
    shares = bin_shares(shown[:, None], group, np.full(48, 1.0 / 24.0), o, edges)[0]
    return information(shares, np.full(2, 0.5)), by_quadrature(shown, group, floor)


@pytest.mark.parametrize(("spread", "floor"), [(0.3, 3.0), (1.0, 0.3), (1.0, 1.0), (3.0, 0.3)])
def test_broad_faults(spread: float, floor: float) -> None:
    found, expected = between(spread, floor)
    assert found == pytest.approx(expected, abs=0.1)
    assert found <= expected + 1e-3


@pytest.mark.parametrize(("spread", "floor"), [(0.02, 0.3), (0.1, 0.3), (0.1, 0.5)])
def test_two_narrow_faults(spread: float, floor: float) -> None:
    found, expected = between(spread, floor)
    assert found == pytest.approx(expected, abs=0.1)


def test_a_better_meter_tells_more() -> None:
    found = [between(1.0, floor)[0] for floor in (10.0, 3.0, 1.0, 0.3)]
    assert found == sorted(found)


def test_bins_hold_everything() -> None:
    rng = np.random.default_rng(3)
    shown = np.abs(rng.normal(60.0, 60.0, (200, 3)))
    o = observed([VOLTAGE, VOLTAGE, PROXIMITY], [0.0] * 3, 0.4, 0.003, misread=0.005)
    o.floor[2], o.relative[2], o.misread_density[2] = 50.0, 3.0, 0.1
    edges = bin_edges(shown, o.floor, o.kind)
    assert (np.diff(edges[:2], axis=1) >= 0.0).all()
    assert (edges[:, 0] == 0.0).all()
    assert (edges[:2, -1] > shown[:, :2].max(axis=0)).all()
    shares = bin_shares(shown, rng.integers(0, 2, 200), np.full(200, 1.0), o, edges)
    counts = shares.sum(axis=2)
    np.testing.assert_allclose(counts, np.tile(counts[:1], (3, 1)), rtol=1e-9)


def test_a_signal_has_two_outcomes() -> None:
    o = observed([PROXIMITY], [0.0], 50.0, 3.0, misread=0.05)
    o.misread_density[0] = 0.1
    shares = bin_shares(np.array([[1e-6], [1e6]]), np.array([0, 1]), np.ones(2), o, np.zeros((1, 41)))[0]
    assert shares[0, :2] == pytest.approx([0.95, 0.05])
    assert shares[1, :2] == pytest.approx([0.1, 0.9])
    assert (shares[:, 2:] == 0.0).all()


def test_the_faults_that_part_best_are_those_with_the_least_in_common() -> None:
    shares = np.array([[0.5, 0.5, 0.0], [0.4, 0.6, 0.0], [0.0, 0.1, 0.9]])
    assert parted(shares, np.full(3, 1.0 / 3.0)) == (0, 2)
    assert parted(shares, np.array([0.2, 0.7, 0.1])) == (1, 2)
    assert parted(shares[:1].repeat(2, axis=0), np.full(2, 0.5)) == (-1, -1)
