"""Modes of the posterior and the Gaussians around them, compiled.

The coordinates are standard normal a priori, so minus the logarithm of the posterior is half a sum of squares
plus the readings' terms. Reweighted Gauss-Newton steps with step halving find its modes; the same matrix,
I + Σ w ∇m ∇mᵀ, is the precision of the Gaussian around each.
"""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.forward import FloatArray, Program, Work, predict
from feedproof.inference.likelihood import Observations, slope_and_weight, total_log_likelihood
from feedproof.inference.normal import half_square

_HALVINGS = 6
_CLOSE = 1e-3


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
                matrix[i, i] = math.sqrt(max(total, 1e-300))
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
    """Climb to a mode of the posterior.

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
        Scratch; the readings expected at the mode on return [V, A, ohm].
    jacobian : ndarray, shape (R, D)
        Scratch [V, A, ohm].
    steps : int
        Most steps to take [1].

    Returns
    -------
    float
        Log posterior density at the mode, without the normal law's constant [nat].
    """
    size = z.size
    step = np.zeros(size)
    there = np.zeros((1, size))
    trial = there[0]
    here = z.reshape(1, size)
    nothing = np.zeros((0, 0))
    height = -math.inf
    for turn in range(steps):
        predict(program, here, work, shown, jacobian)
        if turn == 0:
            height = total_log_likelihood(observations, shown[0]) - half_square(z)
        for i in range(size):
            step[i] = -z[i]
            for j in range(i + 1):
                factor[i, j] = 1.0 if i == j else 0.0
        for r in range(shown.shape[1]):
            slope, weight = slope_and_weight(observations, r, shown[0, r])
            for i in range(size):
                ji = jacobian[r, i]
                if ji == 0.0:
                    continue
                step[i] += slope * ji
                for j in range(i + 1):
                    factor[i, j] += weight * ji * jacobian[r, j]
        cholesky(factor, size)
        solve_cholesky(factor, size, step)
        length = 1.0
        gained = 0.0
        # A coordinate is of unit size a priori: no single step leaves the region the slopes were taken in.
        longest = np.max(np.abs(step))
        if longest > 2.0:
            length = 2.0 / longest
        for _ in range(_HALVINGS):
            trial[:] = z + length * step
            predict(program, there, work, shown, nothing)
            new = total_log_likelihood(observations, shown[0]) - half_square(trial)
            if new > height:
                gained = new - height
                height = new
                z[:] = trial
                break
            length *= 0.4
        if gained < _CLOSE:
            break
    return height


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
