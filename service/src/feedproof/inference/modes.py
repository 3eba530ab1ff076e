"""Where the posterior of one hypothesis has its modes, compiled."""

import math

import numpy as np

from feedproof.circuit.kernel import compiled
from feedproof.inference.forward import PROXIMITY, FloatArray, Program, Work, predict
from feedproof.inference.laplace import climb, log_determinant
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.weights import log_mean_exp

#: Two modes closer than this (mean square per coordinate) are one.
_SAME_PLACE = 0.02
#: Scatter of blurred readings, as a share of the reading, and the share of misreads among them.
_BLUR = 0.15
_HARDLY = 1e-9
#: Most steps of a climb, and on blurred readings.
STEPS = 14
_SOFT_STEPS = 6


@compiled
def blurred(observations: Observations) -> Observations:
    """The same readings, seen less sharply and never taken for misread.

    A misread reading pulls on nothing, so a start far from a mode may feel no pull from any reading. Blurred
    readings pull from everywhere.

    Parameters
    ----------
    observations : Observations
        The readings.

    Returns
    -------
    Observations
        With a scatter of some tens of percent.
    """
    count = observations.kind.size
    floor, misread = observations.floor.copy(), observations.misread.copy()
    for r in range(count):
        if observations.kind[r] != PROXIMITY:
            floor[r] = math.hypot(floor[r], _BLUR * (observations.value[r] + 100.0 * floor[r]))
            misread[r] = _HARDLY
    return Observations(
        observations.kind,
        observations.value,
        floor,
        observations.relative,
        observations.over_range,
        misread,
        observations.misread_density,
    )


@compiled
def find_modes(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    scouts: int,
    give_up: float,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
) -> tuple[int, float]:
    """Climb from the origin and from the best of a few scouted points.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work : Work
        Scratch.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    scouts : int
        How many of them to try [1].
    give_up : float
        Below this evidence one climb is enough [nat].
    modes : ndarray, shape (M, D)
        Filled; M is the number of climbs [1].
    factors : ndarray, shape (M, D, D)
        Filled: Cholesky factors of the precisions [1].
    log_mass : ndarray, shape (M,)
        Filled: Laplace's approximation of each mode's share of the evidence [nat].

    Returns
    -------
    tuple of int and float
        Number of different modes [1], and the evidence as the scouts alone have it [nat].
    """
    size, count = program.location.size, observations.kind.size
    soft = blurred(observations)
    jacobian = np.zeros((count, size))
    first = np.zeros((scouts + 1, size))
    first[1:] = points[:scouts, :size]
    seen = np.zeros((scouts + 1, count))
    predict(program, first, work, seen, np.zeros((0, 0)))
    height, soft_height = np.zeros(scouts + 1), np.zeros(scouts + 1)
    for i in range(scouts + 1):
        height[i] = total_log_likelihood(observations, seen[i])
        soft_height[i] = total_log_likelihood(soft, seen[i])
    scouted = log_mean_exp(height[1:])
    shown = np.zeros((1, count))
    found = 0
    for start in range(modes.shape[0]):
        # The origin first, then by turns the best scout of the blurred readings and of the sharp ones.
        if start == 0:
            modes[found] = 0.0
        elif start % 2 == 1:
            best = np.argmax(soft_height)
            soft_height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        else:
            best = np.argmax(height)
            height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        if start == 0 or start % 2 == 1:
            climb(program, soft, work, modes[found], factors[found], shown, jacobian, _SOFT_STEPS)
        top = climb(program, observations, work, modes[found], factors[found], shown, jacobian, STEPS)
        mass = top - 0.5 * log_determinant(factors[found], size)
        same = False
        for m in range(found):
            if np.mean((modes[m] - modes[found]) ** 2) < _SAME_PLACE:
                same = True
                if mass > log_mass[m]:
                    modes[m] = modes[found]
                    factors[m] = factors[found]
                    log_mass[m] = mass
                break
        if not same:
            log_mass[found] = mass
            found += 1
        if max(mass, scouted) < give_up:
            break
    return found, scouted
