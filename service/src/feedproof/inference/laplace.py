"""Modes of the posterior and the Gaussians around them, compiled.

The coordinates are standard normal a priori, so minus the logarithm of the posterior is half a sum of squares
plus the readings' terms. Reweighted Gauss-Newton steps with step halving find its modes; the same matrix,
I + Σ w ∇m ∇mᵀ, is the precision of the Gaussian around each.
"""

import math
from typing import Any, NamedTuple

import numba
import numpy as np

from feedproof.circuit.compiling import called, counting_nothing, shared, within
from feedproof.circuit.lanes import LANES, absolute, chosen, larger, load, room, store
from feedproof.inference.arrays import IntArray, Program, Work, types_of_arguments
from feedproof.inference.factors import cholesky_lanes, solve_lanes
from feedproof.inference.forward import FloatArray, predict_lanes
from feedproof.inference.likelihood import (
    Observations,
    empty_observations,
    log_likelihood,
    slopes_and_weights,
    total_lanes,
)

CLOSE = 1e-3
"""A step that gains less than this is the last of a climb [nat]."""
#: How much shorter a step becomes where it led down, and the shortest.
_SHORTER = 0.35
_SHORTEST = 0.01
OUTDONE = 20.0
"""A climb this far below the best one has hardly a part in the evidence [nat]."""
#: After so many steps all climbs end where the best is this far below what is wanted, or further in the first steps
#: [nat].
_FEW = 2
_MARGIN = 10.0
#: Longest step of any coordinate.
_LONGEST = 2.0


@counting_nothing
def heights(observations: Observations, shown: FloatArray, z: FloatArray, height: FloatArray) -> None:
    """Log posterior densities of draws side by side, without the normal law's constant.

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
    squares = 0.0
    for d in range(z.shape[0]):
        squares += load(z, d) * load(z, d)
    store(height, 0, load(height, 0) - 0.5 * squares)


class Rules(NamedTuple):
    """When climbs end."""

    steps: int
    """Most steps to take [1]."""
    close: float
    """A step that gains less than this is the last [nat]."""
    give_up: float
    """Where after a few steps none is nearly as high as this, nothing more is tried [nat]."""
    behind: float
    """After a few steps a climb that is this far below the best one ends [nat]."""


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
    next_step: FloatArray
    """shape (D, lanes)."""
    next_factor: FloatArray
    """shape (D, D, lanes)."""
    arrived: FloatArray
    """1 where the slopes are those at the place itself; shape (1, lanes)."""
    left: IntArray
    """shape (lanes,)."""


def _types_of_climb() -> tuple[Any, ...]:
    """Types of the arguments of `climb_lanes`, and of its scratch."""
    program, lanes, work, *_ = types_of_arguments(1)
    lane, matrix, count = np.zeros((0, 0)), np.zeros((0, 0, 0)), np.zeros(0, np.int64)
    footing = Footing(*(lane,) * 2, matrix, *(lane,) * 4, lane, matrix, lane, count)
    given = empty_observations(0), count, matrix, Rules(0, 0.0, 0.0, 0.0), footing
    seen, each, matrices, rules, scratch = (numba.typeof(x) for x in given)
    return program, seen, work, lanes, each, each, matrices, lanes, rules, scratch


@counting_nothing
def _unheard(o: Observations, without: IntArray, shown: FloatArray, height: FloatArray) -> None:
    """Take out of each height what the reading says that its climb leaves out."""
    for lane in range(LANES):
        if without[lane] >= 0:
            height[0, lane] -= log_likelihood(o, without[lane], shown[without[lane], lane])


@counting_nothing
def _aim(observations: Observations, z: FloatArray, work: Work, without: IntArray, footing: Footing) -> None:
    """Step that the slopes ask for, and the factor of the precision there: `next_step` and `next_factor`."""
    shown, jacobian = work.shown, work.jacobian
    told, slope, weight = footing.told, footing.slope, footing.weight
    step, factor = footing.next_step, footing.next_factor
    size, count = z.shape[0], observations.kind.size
    for r in range(count):
        slopes_and_weights(observations, r, shown, slope, weight)
    for lane in range(LANES):
        if without[lane] >= 0:
            slope[without[lane], lane] = weight[without[lane], lane] = 0.0
    for r in range(count):
        for d in range(size):
            store(told, (r, d), load(weight, r) * load(jacobian, (r, d)))
    for i in range(size):
        total = -load(z, i)
        for r in range(count):
            total += load(slope, r) * load(jacobian, (r, i))
        store(step, i, total)
        for j in range(i + 1):
            total = 1.0 if i == j else 0.0
            for r in range(count):
                total += load(told, (r, i)) * load(jacobian, (r, j))
            store(factor, (i, j), total)
    cholesky_lanes(factor)
    solve_lanes(factor, step)


@counting_nothing
def _climb_lanes(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    without: IntArray,
    factor: FloatArray,
    height: FloatArray,
    rules: Rules,
    footing: Footing,
) -> None:
    """As `climb_lanes`, which calls this by its address."""
    size, steps = z.shape[0], rules.steps
    shown, jacobian, every = work.shown, work.jacobian, program.every
    step, trial, next_step, next_factor = footing.step, footing.trial, footing.next_step, footing.next_factor
    new, left, reach, arrived = footing.new, footing.left, footing.reach, footing.arrived
    for lane in range(LANES):
        left[lane] = climbing[lane]
    store(reach, 0, 1.0)
    store(arrived, 0, 1.0)
    predict_lanes(program, z, work, shown, jacobian, every, True)
    heights(observations, shown, z, height)
    _unheard(observations, without, shown, height)
    for turn in range(steps):
        _aim(observations, z, work, without, footing)
        # A climb that did not arrive where it was tried keeps the step that it has.
        there = load(arrived, 0)
        for i in range(size):
            store(step, i, chosen(there, load(next_step, i), load(step, i)))
            for j in range(i + 1):
                store(factor, (i, j), chosen(there, load(next_factor, (i, j)), load(factor, (i, j))))
        # A coordinate is of unit size a priori: no single step leaves the region the slopes were taken in.
        longest = _LONGEST
        for d in range(size):
            longest = larger(longest, absolute(load(step, d)))
        length = load(reach, 0) * (_LONGEST / longest)
        for d in range(size):
            store(trial, d, load(z, d) + length * load(step, d))
        predict_lanes(program, trial, work, shown, jacobian, every, True)
        heights(observations, shown, trial, new)
        _unheard(observations, without, shown, new)
        best, moving = -math.inf, 0
        for lane in range(LANES):
            best = max(best, height[0, lane])
        for lane in range(LANES):
            arrived[0, lane] = 0.0
            if left[lane] == 0:
                continue
            gained = new[0, lane] - height[0, lane]
            if gained > 0.0:
                arrived[0, lane] = 1.0
                height[0, lane] = new[0, lane]
                reach[0, lane] = min(1.0, reach[0, lane] / _SHORTER)
                for d in range(size):
                    z[d, lane] = trial[d, lane]
            else:
                # A shorter step in the next turn.
                reach[0, lane] *= _SHORTER
            settled = 0.0 <= gained < rules.close or reach[0, lane] < _SHORTEST
            if settled or (turn >= _FEW and height[0, lane] < best - rules.behind):
                left[lane] = 0
            moving += left[lane]
        if moving == 0 or (turn >= _FEW and best < rules.give_up - _MARGIN * (1.0 + steps / turn)):
            break


_typed = shared(_climb_lanes, (_types_of_climb(),), "climb_lanes")


@called
def _climb_once(
    _: object,
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    without: IntArray,
    factor: FloatArray,
    height: FloatArray,
    rules: Rules,
    footing: Footing,
) -> object:
    return _typed(program, observations, work, z, climbing, without, factor, height, rules, footing)


@within
def climb_lanes(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    without: IntArray,
    factor: FloatArray,
    height: FloatArray,
    rules: Rules,
) -> None:
    """Climb to eight modes of the posterior at once, each from its own start.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work : Work
        Scratch, from `make_climbing_work`.
    z : ndarray, shape (D, lanes)
        Starts on entry, modes on return [1].
    climbing : ndarray of int, shape (lanes,)
        1 where to climb; the others stay where they are [1].
    without : ndarray of int, shape (lanes,)
        Reading that each climb leaves out, −1 for none [1].
    factor : ndarray, shape (D, D, lanes)
        Filled: Cholesky factors of the precisions at the modes, or where the last step to them began, lower triangles
        [1].
    height : ndarray, shape (1, lanes)
        Filled: log posterior densities at the modes, without the normal law's constant [nat].
    rules : Rules
        When the climbs end.
    """
    size, count = z.shape[0], observations.kind.size
    told, next_factor = room(count * size).reshape(count, size, LANES), room(size * size).reshape(size, size, LANES)
    scratch = Footing(
        room(size),
        room(size),
        told,
        room(count),
        room(count),
        room(1),
        room(1),
        room(size),
        next_factor,
        room(1),
        np.zeros(LANES, np.int64),
    )
    _climb_once(program, observations, work, z, climbing, without, factor, height, rules, scratch)
