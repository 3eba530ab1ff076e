"""Weights of draws: worked by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.inference.weights import effective_number, flattened, log_mean_exp, next_batch


def test_the_mean_of_equal_values_is_the_value() -> None:
    assert log_mean_exp(np.full(7, -3.2)) == pytest.approx(-3.2)


def test_far_values_do_not_overflow() -> None:
    assert log_mean_exp(np.array([-5000.0, -5000.0 + math.log(3.0)])) == pytest.approx(-5000.0 + math.log(2.0))
    assert log_mean_exp(np.array([0.0, -math.inf])) == pytest.approx(-math.log(2.0))


@given(st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=30))
def test_it_is_the_logarithm_of_the_mean(values: list[float]) -> None:
    array = np.array(values)
    assert log_mean_exp(array) == pytest.approx(math.log(np.mean(np.exp(array))), abs=1e-9)


def test_effective_numbers_by_hand() -> None:
    """(sum w)^2 / sum w^2: n equal ones are n, one that outweighs all is 1, weights 1 and 3 are 16/10."""
    assert effective_number(np.zeros(12), 1.0) == pytest.approx(12.0)
    assert effective_number(np.array([0.0, -800.0, -900.0]), 1.0) == pytest.approx(1.0)
    assert effective_number(np.log([1.0, 3.0]), 1.0) == pytest.approx(1.6)
    assert effective_number(np.log([1.0, 3.0]), 0.0) == pytest.approx(2.0)
    assert effective_number(np.log([1.0, 9.0]), 0.5) == pytest.approx(1.6)


@given(st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=40), st.floats(-100.0, 100.0))
def test_a_common_factor_changes_nothing(values: list[float], shift: float) -> None:
    array = np.array(values)
    moved = effective_number(array + shift, 1.0)
    assert moved == pytest.approx(effective_number(array, 1.0), rel=1e-9)
    assert 1.0 - 1e-9 <= moved <= array.size + 1e-9


def test_even_weights_are_left_alone() -> None:
    logs = np.log([1.0, 2.0, 3.0, 4.0])
    np.testing.assert_allclose(flattened(logs, 3.0), [0.1, 0.2, 0.3, 0.4])


@given(st.integers(0, 10_000))
def test_uneven_weights_are_flattened_to_what_is_wanted(seed: int) -> None:
    logs = np.random.default_rng(seed).normal(0.0, 12.0, 200)
    found = flattened(logs, 50.0)
    assert found.sum() == pytest.approx(1.0)
    assert 50.0 * (1.0 - 1e-3) <= 1.0 / np.sum(found**2) < 51.0
    assert (np.argsort(found) == np.argsort(logs)).all()


@pytest.mark.parametrize(
    ("made", "effective", "enough", "limit", "expected"),
    [
        (200, 100.0, 500.0, 6144, 464),  # 1.1 * 200 * 4 + 32 = 912 are wanted; twice 200 and 64 is the most at once
        (1000, 400.0, 500.0, 6144, 307),  # 1.1 * 1000 * 0.25 + 32
        (1000, 499.0, 500.0, 6144, 64),  # the least
        (6000, 10.0, 500.0, 6144, 144),  # what is left
    ],
)
def test_the_next_batch_by_hand(made: int, effective: float, enough: float, limit: int, expected: int) -> None:
    assert next_batch(made, effective, enough, limit) == expected
