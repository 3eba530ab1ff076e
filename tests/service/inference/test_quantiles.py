"""Weighted quantiles against numpy's, and draws of equal weight."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.inference.forward import FloatArray
from feedproof.inference.quantiles import evenly, quantiles

FLOATS = st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=60)


def quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    return float(quantiles(values, weights, np.array([share]))[0])


@given(FLOATS, st.floats(0.0, 1.0))
def test_quantiles_of_even_weights_are_numpys(values: list[float], share: float) -> None:
    """Hazen's definition: the k-th of n values stands at (k - 1/2)/n."""
    array = np.array(values)
    expected = np.quantile(array, share, method="hazen")
    found = quantile(array, np.full(array.size, 1.0 / array.size), share)
    assert found == pytest.approx(float(expected), abs=1e-6 * (1.0 + float(np.abs(array).max())))


@given(st.lists(st.integers(1, 4), min_size=2, max_size=20), st.floats(0.05, 0.95))
def test_weights_count_as_repetitions(counts: list[int], share: float) -> None:
    """To within one step between neighbours, a weight of three is three draws."""
    values = np.arange(len(counts), dtype=float)
    weights = np.array(counts) / sum(counts)
    repeated = np.repeat(values, counts)
    assert quantile(values, weights, share) == pytest.approx(
        float(np.quantile(repeated, share, method="hazen")), abs=1.0
    )


def sorted_out(values: FloatArray, weights: FloatArray, shares: FloatArray) -> FloatArray:
    """Give the same from all draws in order."""
    order = np.argsort(values, kind="stable")
    return np.interp(shares, np.cumsum(weights[order]) - 0.5 * weights[order], values[order])


@pytest.mark.parametrize("shape", ["even", "normal", "decades", "clustered", "few values", "one value", "far apart"])
@pytest.mark.parametrize("count", [2, 49, 300, 5000])
def test_a_few_draws_in_order_give_what_all_in_order_do(shape: str, count: int) -> None:
    """However the draws lie: in one bucket, in all of them, or in two at the ends."""
    rng = np.random.default_rng(7)
    values = {
        "even": rng.random(count),
        "normal": rng.standard_normal(count) + 120.0,
        "decades": 10.0 ** rng.uniform(-3.0, 9.0, count),
        "clustered": np.where(rng.random(count) < 0.9, 1e-9, 1.0) * rng.random(count),
        "few values": rng.integers(0, 3, count).astype(float),
        "one value": np.full(count, 7.0),
        "far apart": rng.choice([-1e300, 0.0, 1e300], count) + rng.random(count),
    }[shape]
    weights = rng.exponential(size=count) ** 3
    weights /= weights.sum()
    shares = np.array([0.0, 1e-3, 0.05, 0.31, 0.5, 0.95, 0.999, 1.0])
    np.testing.assert_allclose(quantiles(values, weights, shares), sorted_out(values, weights, shares), rtol=1e-9)


def test_the_ends_are_the_ends_whatever_the_draws_there_weigh() -> None:
    values = np.arange(400.0)
    weights = np.zeros(400)
    weights[200] = 1.0
    assert quantiles(values, weights, np.array([0.0, 1.0])).tolist() == [0.0, 399.0]


@given(st.lists(st.floats(-30.0, 3.0), min_size=1, max_size=40), st.integers(1, 50))
def test_even_draws_are_as_many_as_the_weights_say(logs: list[float], count: int) -> None:
    """To within one draw, a share w of the weight is drawn w times the count."""
    log_weight = np.array(logs)
    chosen = evenly(log_weight, count)
    assert chosen.size == count
    assert (np.diff(chosen) >= 0).all()
    weights = np.exp(log_weight - log_weight.max())
    times = np.bincount(chosen, minlength=log_weight.size)
    assert np.abs(times - count * weights / weights.sum()).max() < 1.0 + 1e-9
