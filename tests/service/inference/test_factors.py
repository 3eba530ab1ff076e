"""Triangular factors against numpy's."""

import numpy as np
import pytest

from feedproof.inference.factors import cholesky, covariance_of, solve_cholesky, solve_transposed
from feedproof.inference.forward import FloatArray


def positive_definite(seed: int, size: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    root = rng.standard_normal((size, size))
    return root @ root.T + 0.1 * np.eye(size)


@pytest.mark.parametrize("size", [1, 2, 5, 23])
def test_the_factor_is_that_of_numpy(size: int) -> None:
    matrix = positive_definite(size, size)
    factor = matrix.copy()
    cholesky(factor, size)
    np.testing.assert_allclose(np.tril(factor), np.linalg.cholesky(matrix), rtol=1e-9, atol=1e-12)
    right = np.arange(1.0, size + 1.0)
    solution = right.copy()
    solve_cholesky(factor, size, solution)
    np.testing.assert_allclose(matrix @ solution, right, rtol=1e-8, atol=1e-9)
    solution = right.copy()
    solve_transposed(factor, size, solution)
    np.testing.assert_allclose(np.tril(factor).T @ solution, right, rtol=1e-8, atol=1e-9)


def test_only_the_leading_block_is_touched() -> None:
    matrix = positive_definite(4, 4)
    factor = matrix.copy()
    cholesky(factor, 2)
    np.testing.assert_array_equal(factor[2:], matrix[2:])
    np.testing.assert_array_equal(factor[0, 1:], matrix[0, 1:])


def test_a_covariance_is_the_inverse_of_the_precision() -> None:
    precision = positive_definite(3, 6)
    lower = np.tril(covariance_of(precision))
    np.testing.assert_allclose(lower @ lower.T, np.linalg.inv(precision), rtol=1e-9, atol=1e-12)
