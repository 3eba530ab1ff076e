"""Modes of the posterior and the Gaussians around them, compiled.

The coordinates are standard normal a priori, so minus the logarithm of the posterior is half a sum of squares
plus the readings' terms. Reweighted Gauss-Newton steps with step halving find its modes; the same matrix,
I + Σ w ∇m ∇mᵀ, is the precision of the Gaussian around each.
"""

import math
from typing import Any

import numba
import numpy as np
from numba import types

from feedproof.circuit.compiling import compiled, shared, within
from feedproof.circuit.lanes import LANES, absolute, larger, load, root, splat, store
from feedproof.inference.forward import (
    TYPES_OF_ARGUMENTS,
    FloatArray,
    IntArray,
    Program,
    Work,
    into_lanes,
    predict_lanes,
)
from feedproof.inference.likelihood import Observations, empty_observations, slopes_and_weights, total_lanes

CLOSE = 1e-3
"""A step that gains less than this is the last of a climb [nat]."""
#: How much shorter a step becomes where it led down, and the shortest.
_SHORTER = 0.35
_SHORTEST = 0.01
#: After so many steps a climb that is this far below the best one ends [nat], and all of them where the best is this
#: far below what is wanted, or further in the first steps [nat].
_FEW = 2
_OUTDONE = 20.0
_MARGIN = 10.0
#: Longest step of any coordinate.
_LONGEST = 2.0
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
    factor, inverse, covariance = precision.copy(), np.zeros((size, size)), np.zeros((size, size))
    cholesky(factor, size)
    invert_lower(factor, inverse, size)
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
    factor, inverse, variance = precision.copy(), np.zeros((size, size)), np.zeros(size)
    cholesky(factor, size)
    invert_lower(factor, inverse, size)
    for j in range(size):
        for n in range(j, size):
            variance[j] += inverse[n, j] ** 2
    return variance


@within
def cholesky_lanes(matrix: FloatArray) -> None:
    """The same as `cholesky` for eight matrices.

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
                store(matrix, (i, i), root(larger(total, splat(_SMALLEST))))
            else:
                store(matrix, (i, j), total / load(matrix, (j, j)))


@within
def solve_lanes(factor: FloatArray, vector: FloatArray) -> None:
    """The same as `solve_cholesky` for eight systems.

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


@within
def heights(observations: Observations, shown: FloatArray, z: FloatArray, height: FloatArray) -> None:
    """Log posterior densities of eight draws, without the normal law's constant.

    Parameters
    ----------
    observations : Observations
        The readings.
    shown : ndarray, shape (R, lanes)
        Expected readings [V, A, ohm].
    z : ndarray, shape (D, lanes)
        Coordinates [1].
    height : ndarray, shape (1, lanes)
        Filled [nat].
    """
    total_lanes(observations, shown, height)
    squares = splat(0.0)
    for d in range(z.shape[0]):
        squares += load(z, d) * load(z, d)
    store(height, 0, load(height, 0) - 0.5 * squares)


def _types_of_climb() -> tuple[Any, ...]:
    """Types of the arguments of `climb_lanes`."""
    program, lanes, work, *_ = TYPES_OF_ARGUMENTS
    observations = numba.typeof(empty_observations(0))
    each, matrices = numba.typeof(np.zeros(0, np.int64)), numba.typeof(np.zeros((0, 0, 0)))
    return program, observations, work, lanes, each, matrices, lanes, types.intp, types.float64, types.float64


@within
def _climb_lanes(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    factor: FloatArray,
    height: FloatArray,
    steps: int,
    close: float,
    give_up: float,
) -> None:
    """As `climb_lanes`, which calls this by its address."""
    size, count = z.shape[0], observations.kind.size
    shown, jacobian = work.shown, work.jacobian
    step, trial, told = np.zeros((size, LANES)), np.zeros((size, LANES)), np.zeros((count, size, LANES))
    slope, weight = np.zeros((count, LANES)), np.zeros((count, LANES))
    new = np.zeros((1, LANES))
    every = np.ones(program.element_edge.size, np.int64)
    left, reach = climbing.copy(), np.ones((1, LANES))
    for turn in range(steps):
        predict_lanes(program, z, work, shown, jacobian, every, True)
        if turn == 0:
            heights(observations, shown, z, height)
        for r in range(count):
            slopes_and_weights(observations, r, shown, slope, weight)
            for d in range(size):
                store(told, (r, d), load(weight, r) * load(jacobian, (r, d)))
        for i in range(size):
            total = -load(z, i)
            for r in range(count):
                total += load(slope, r) * load(jacobian, (r, i))
            store(step, i, total)
            for j in range(i + 1):
                total = splat(1.0 if i == j else 0.0)
                for r in range(count):
                    total += load(told, (r, i)) * load(jacobian, (r, j))
                store(factor, (i, j), total)
        cholesky_lanes(factor)
        solve_lanes(factor, step)
        # A coordinate is of unit size a priori: no single step leaves the region the slopes were taken in.
        longest = splat(_LONGEST)
        for d in range(size):
            longest = larger(longest, absolute(load(step, d)))
        length = load(reach, 0) * (_LONGEST / longest)
        for d in range(size):
            store(trial, d, load(z, d) + length * load(step, d))
        predict_lanes(program, trial, work, shown, jacobian, every, False)
        heights(observations, shown, trial, new)
        best, moving = np.max(height), 0
        for lane in range(LANES):
            if left[lane] == 0:
                continue
            gained = new[0, lane] - height[0, lane]
            if gained > 0.0:
                height[0, lane] = new[0, lane]
                reach[0, lane] = min(1.0, reach[0, lane] / _SHORTER)
                for d in range(size):
                    z[d, lane] = trial[d, lane]
            else:
                # A shorter step in the next turn.
                reach[0, lane] *= _SHORTER
            settled = 0.0 <= gained < close or reach[0, lane] < _SHORTEST
            if settled or (turn >= _FEW and height[0, lane] < best - _OUTDONE):
                left[lane] = 0
            moving += left[lane]
        if moving == 0 or (turn >= _FEW and best < give_up - _MARGIN * (1.0 + steps / turn)):
            break


_climb_once = shared(_climb_lanes, _types_of_climb(), "climb_lanes")


@within
def climb_lanes(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    factor: FloatArray,
    height: FloatArray,
    steps: int,
    close: float,
    give_up: float,
) -> None:
    """Climb to eight modes of the posterior at once, each from its own start.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work : Work
        Scratch.
    z : ndarray, shape (D, lanes)
        Starts on entry, modes on return [1].
    climbing : ndarray of int, shape (lanes,)
        1 where to climb; the others stay where they are [1].
    factor : ndarray, shape (D, D, lanes)
        Filled: Cholesky factors of the precisions at the modes, lower triangles [1].
    height : ndarray, shape (1, lanes)
        Filled: log posterior densities at the modes, without the normal law's constant [nat].
    steps : int
        Most steps to take [1].
    close : float
        A step that gains less than this is the last [nat].
    give_up : float
        Where after a few steps none is nearly as high as this, nothing more is tried [nat].
    """
    _climb_once((program, observations, work, z, climbing, factor, height, steps, close, give_up))


@compiled
def climb(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    factor: FloatArray,
    shown: FloatArray,
    jacobian: FloatArray,
    steps: int,
) -> float:
    """Climb to one mode of the posterior.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work : Work
        Scratch.
    z : ndarray, shape (D,)
        Start on entry, mode on return [1].
    factor : ndarray, shape (D, D)
        Filled: Cholesky factor of the precision at the mode, lower triangle [1].
    shown : ndarray, shape (1, R)
        Filled: the readings expected at the last point tried [V, A, ohm].
    jacobian : ndarray, shape (R, D)
        Filled: their derivatives where the last step began [V, A, ohm].
    steps : int
        Most steps to take [1].

    Returns
    -------
    float
        Log posterior density at the mode, without the normal law's constant [nat].
    """
    size = z.size
    lanes, factors, height = np.zeros((size, LANES)), np.zeros((size, size, LANES)), np.zeros((1, LANES))
    into_lanes(z.reshape(1, size), 0, lanes)
    alone = np.zeros(LANES, np.int64)
    alone[0] = 1
    climb_lanes(program, observations, work, lanes, alone, factors, height, steps, CLOSE, -math.inf)
    z[:] = lanes[:, 0]
    factor[:, :] = factors[:, :, 0]
    shown[0, :] = work.shown[:, 0]
    jacobian[:, :] = work.jacobian[:, :, 0]
    return height[0, 0]


@compiled
def log_determinant(factor: FloatArray, size: int) -> float:
    """Logarithm of the determinant of a precision.

    Parameters
    ----------
    factor : ndarray, shape (≥size, ≥size)
        Its Cholesky factor, lower triangle [1].
    size : int
        Rows and columns to take [1].

    Returns
    -------
    float
        [nat]
    """
    total = 0.0
    for i in range(size):
        total += math.log(factor[i, i])
    return 2.0 * total
