"""Modes of the posterior and the Gaussians around them, compiled.

The coordinates are standard normal a priori, so minus the logarithm of the posterior is half a sum of squares
plus the readings' terms. Reweighted Gauss-Newton steps with step halving find its modes; the same matrix,
I + Σ w ∇m ∇mᵀ, is the precision of the Gaussian around each.
"""

import math
from typing import Any, NamedTuple

import numba
import numpy as np
from numba import types

from feedproof.circuit.compiling import called, compiled, counting_nothing, shared, within
from feedproof.circuit.lanes import LANES, absolute, larger, load, room, splat, store
from feedproof.inference.factors import cholesky_lanes, solve_lanes
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


@counting_nothing
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


class Footing(NamedTuple):
    """Scratch of a climb."""

    step: FloatArray
    """shape (D, lanes)."""
    trial: FloatArray
    """shape (D, lanes)."""
    told: FloatArray
    """shape (R, D, lanes)."""
    slope: FloatArray
    """shape (R, lanes)."""
    weight: FloatArray
    """shape (R, lanes)."""
    new: FloatArray
    """shape (1, lanes)."""
    reach: FloatArray
    """shape (1, lanes)."""
    left: IntArray
    """shape (lanes,)."""


def _types_of_climb() -> tuple[Any, ...]:
    """Types of the arguments of `climb_lanes`, and of its scratch."""
    program, lanes, work, *_ = TYPES_OF_ARGUMENTS
    lane, matrix, count = np.zeros((0, 0)), np.zeros((0, 0, 0)), np.zeros(0, np.int64)
    given = empty_observations(0), Footing(*(lane,) * 2, matrix, *(lane,) * 4, count), count, matrix
    seen, scratch, each, matrices = (numba.typeof(x) for x in given)
    return program, seen, work, lanes, each, matrices, lanes, types.intp, types.float64, types.float64, scratch


@counting_nothing
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
    footing: Footing,
) -> None:
    """As `climb_lanes`, which calls this by its address."""
    size, count = z.shape[0], observations.kind.size
    shown, jacobian, every = work.shown, work.jacobian, program.every
    step, trial, told, slope, weight = footing.step, footing.trial, footing.told, footing.slope, footing.weight
    new, left, reach = footing.new, footing.left, footing.reach
    for lane in range(LANES):
        left[lane] = climbing[lane]
    store(reach, 0, splat(1.0))
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
        best, moving = -math.inf, 0
        for lane in range(LANES):
            best = max(best, height[0, lane])
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


_typed = shared(_climb_lanes, _types_of_climb(), "climb_lanes")


@called
def _climb_once(
    _: object,
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
    footing: Footing,
) -> object:
    return _typed(program, observations, work, z, climbing, factor, height, steps, close, give_up, footing)


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
    size, count = z.shape[0], observations.kind.size
    told = room(count * size).reshape(count, size, LANES)
    scratch = Footing(
        room(size), room(size), told, room(count), room(count), room(1), room(1), np.zeros(LANES, np.int64)
    )
    _climb_once(program, observations, work, z, climbing, factor, height, steps, close, give_up, scratch)


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
    lanes, factors, height = room(size), room(size * size).reshape(size, size, LANES), room(1)
    into_lanes(z.reshape(1, size), 0, lanes)
    alone = np.zeros(LANES, np.int64)
    alone[0] = 1
    climb_lanes(program, observations, work, lanes, alone, factors, height, steps, CLOSE, -math.inf)
    z[:] = lanes[:, 0]
    factor[:, :] = factors[:, :, 0]
    shown[0, :] = work.shown[:, 0]
    jacobian[:, :] = work.jacobian[:, :, 0]
    return height[0, 0]
