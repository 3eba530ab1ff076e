"""Triangular factors of small positive definite matrices, compiled, for one matrix and for several side by side."""

import math

import numpy as np

from feedproof.circuit.compiling import compiled, counting_nothing
from feedproof.circuit.lanes import larger, load, root, store
from feedproof.inference.laws import FloatArray

_SMALLEST = 1e-300


@compiled
def cholesky(matrix: FloatArray, size: int) -> None:
    """Replace the lower triangle of a positive definite matrix by its Cholesky factor, in place.

    Parameters
    ----------
    matrix : ndarray, shape (≥size, ≥size)
        Its lower triangle is read and written [1].
    size : int
        Rows and columns to take [1].
    """
    for i in range(size):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                matrix[i, i] = math.sqrt(max(total, _SMALLEST))
            else:
                matrix[i, j] = total / matrix[j, j]


@compiled
def solve_cholesky(factor: FloatArray, size: int, vector: FloatArray) -> None:
    """Solve L Lᵀ x = vector in place.

    Parameters
    ----------
    factor : ndarray, shape (≥size, ≥size)
        L, lower triangle [1].
    size : int
        Rows and columns to take [1].
    vector : ndarray, shape (size,)
        Right-hand side on entry, x on return [1].
    """
    for i in range(size):
        total = vector[i]
        for k in range(i):
            total -= factor[i, k] * vector[k]
        vector[i] = total / factor[i, i]
    solve_transposed(factor, size, vector)


@compiled
def solve_transposed(factor: FloatArray, size: int, vector: FloatArray) -> None:
    """Solve Lᵀ x = vector in place.

    Parameters
    ----------
    factor : ndarray, shape (≥size, ≥size)
        L, lower triangle [1].
    size : int
        Rows and columns to take [1].
    vector : ndarray, shape (size,)
        Right-hand side on entry, x on return [1].
    """
    for i in range(size - 1, -1, -1):
        total = vector[i]
        for k in range(i + 1, size):
            total -= factor[k, i] * vector[k]
        vector[i] = total / factor[i, i]


@compiled
def invert_lower(factor: FloatArray, inverse: FloatArray, size: int) -> None:
    """Inverse of a lower triangular matrix.

    Parameters
    ----------
    factor : ndarray, shape (≥size, ≥size)
        The matrix [1].
    inverse : ndarray, shape (size, size)
        Filled [1].
    size : int
        Rows and columns to take [1].
    """
    inverse[:, :] = 0.0
    for j in range(size):
        inverse[j, j] = 1.0 / factor[j, j]
        for i in range(j + 1, size):
            total = 0.0
            for k in range(j, i):
                total -= factor[i, k] * inverse[k, j]
            inverse[i, j] = total / factor[i, i]


@compiled
def product(factor: FloatArray) -> FloatArray:
    """The matrix of a Cholesky factor.

    Parameters
    ----------
    factor : ndarray, shape (D, D)
        Its lower triangle is read [1].

    Returns
    -------
    ndarray, shape (D, D)
        L Lᵀ [1].
    """
    size = factor.shape[0]
    matrix = np.zeros((size, size))
    for j in range(size):
        for k in range(j + 1):
            for n in range(k + 1):
                matrix[j, k] += factor[j, n] * factor[k, n]
            matrix[k, j] = matrix[j, k]
    return matrix


@compiled
def _inverse_factor(precision: FloatArray) -> FloatArray:
    """Inverse of the Cholesky factor of a precision, lower triangular; shape (D, D) [1]."""
    size = precision.shape[0]
    factor, inverse = precision.copy(), np.zeros((size, size))
    cholesky(factor, size)
    invert_lower(factor, inverse, size)
    return inverse


@compiled
def covariance_of(precision: FloatArray) -> FloatArray:
    """Cholesky factor of a covariance.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        Its inverse; the lower triangle is read [1].

    Returns
    -------
    ndarray, shape (D, D)
        Lower triangle [1].
    """
    size = precision.shape[0]
    inverse, covariance = _inverse_factor(precision), np.zeros((size, size))
    for j in range(size):
        for k in range(j + 1):
            for n in range(j, size):
                covariance[j, k] += inverse[n, j] * inverse[n, k]
    cholesky(covariance, size)
    return covariance


@compiled
def inverse_diagonal(precision: FloatArray) -> FloatArray:
    """Variances of a Gaussian.

    Parameters
    ----------
    precision : ndarray, shape (D, D)
        Its precision; the lower triangle is read [1].

    Returns
    -------
    ndarray, shape (D,)
        [1]
    """
    size = precision.shape[0]
    inverse, variance = _inverse_factor(precision), np.zeros(size)
    for j in range(size):
        for n in range(j, size):
            variance[j] += inverse[n, j] ** 2
    return variance


@counting_nothing
def cholesky_lanes(matrix: FloatArray) -> None:
    """The same as `cholesky` for matrices side by side.

    Parameters
    ----------
    matrix : ndarray, shape (D, D, lanes)
        Their lower triangles are read and written [1].
    """
    for i in range(matrix.shape[0]):
        for j in range(i + 1):
            total = load(matrix, (i, j))
            for k in range(j):
                total -= load(matrix, (i, k)) * load(matrix, (j, k))
            if i == j:
                store(matrix, (i, i), root(larger(total, _SMALLEST)))
            else:
                store(matrix, (i, j), total / load(matrix, (j, j)))


@counting_nothing
def solve_lanes(factor: FloatArray, vector: FloatArray) -> None:
    """The same as `solve_cholesky` for systems side by side.

    Parameters
    ----------
    factor : ndarray, shape (D, D, lanes)
        Lower triangles [1].
    vector : ndarray, shape (D, lanes)
        Right-hand sides on entry, solutions on return [1].
    """
    size = vector.shape[0]
    for i in range(size):
        total = load(vector, i)
        for k in range(i):
            total -= load(factor, (i, k)) * load(vector, k)
        store(vector, i, total / load(factor, (i, i)))
    for i in range(size - 1, -1, -1):
        total = load(vector, i)
        for k in range(i + 1, size):
            total -= load(factor, (k, i)) * load(vector, k)
        store(vector, i, total / load(factor, (i, i)))
