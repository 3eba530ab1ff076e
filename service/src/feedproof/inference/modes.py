"""Where the posterior of one hypothesis has its modes, compiled."""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.forward import PROXIMITY, UNIFORM, FloatArray, Program, Work, predict
from feedproof.inference.laplace import climb, log_determinant
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.normal import normal_pdf
from feedproof.inference.weights import log_mean_exp

#: Two modes closer than this (mean square per coordinate) are one.
_SAME_PLACE = 0.02
#: Scatter of blurred and of faintly blurred readings, as a share of the reading, and the share of misreads among them.
_BLUR, _FAINT = 0.15, 0.02
_HARDLY = 1e-9
#: Most steps of a climb, on blurred readings, and on faintly blurred ones.
STEPS = 14
_SOFT_STEPS, _FAINT_STEPS = 6, 5
#: An admittance counts as broad where one unit of its coordinate changes its logarithm by more than this; it
#: leads this many units up.
_BROAD = 0.8
_LEAD = 1.8


@compiled
def blurred(observations: Observations, blur: float) -> Observations:
    """The same readings, seen less sharply and never taken for misread.

    A misread reading pulls on nothing, so a start far from a mode may feel no pull from any reading. Blurred
    readings pull from everywhere.

    Parameters
    ----------
    observations : Observations
        The readings.
    blur : float
        Added scatter, as a share of the reading [1].

    Returns
    -------
    Observations
        With the wider scatter.
    """
    count = observations.kind.size
    floor, misread = observations.floor.copy(), observations.misread.copy()
    for r in range(count):
        if observations.kind[r] != PROXIMITY:
            floor[r] = math.hypot(floor[r], blur * (observations.value[r] + 100.0 * floor[r]))
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
def broad_admittances(program: Program, leading: FloatArray) -> int:
    """Coordinates that move an admittance over a wide range.

    Parameters
    ----------
    program : Program
        The hypothesis.
    leading : ndarray, shape (D,)
        Filled: where such a coordinate makes its admittance large; zero for the others [1].

    Returns
    -------
    int
        How many there are [1].
    """
    count = 0
    leading[:] = 0.0
    for k in range(program.term_coordinate.size):
        d = program.term_coordinate[k]
        slope = program.scale[d] * program.term_factor[k].real
        if program.coordinate_kind[d] == UNIFORM:
            slope *= normal_pdf(0.0)
        if leading[d] == 0.0 and abs(slope) > _BROAD:
            leading[d] = _LEAD if slope > 0.0 else -_LEAD
            count += 1
    return count


@compiled
def find_modes(
    program: Program,
    observations: Observations,
    work: Work,
    points: FloatArray,
    scouts: int,
    climbs: int,
    give_up: float,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
) -> tuple[int, float]:
    """Climb from the origin, from the best of a few scouted points, and from where one admittance leads.

    Where several broad admittances act in parallel (a fault, loads, leakage), any one of them may be what the
    readings see, and each such case may be a mode of its own.

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
    climbs : int
        How many climbs from the origin and from scouted points [1].
    give_up : float
        Below this evidence one climb is enough [nat].
    modes : ndarray, shape (M, D)
        Filled; M bounds the number of climbs [1].
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
    soft, faint = blurred(observations, _BLUR), blurred(observations, _FAINT)
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
    leading = np.zeros(size)
    led = broad_admittances(program, leading)
    led_by = -1
    for start in range(min(climbs + led, modes.shape[0])):
        # The origin first, then by turns the best scout of the blurred readings and of the sharp ones.
        if start >= climbs:
            led_by += 1
            while leading[led_by] == 0.0:
                led_by += 1
            modes[found] = 0.0
            modes[found, led_by] = leading[led_by]
        elif start == 0:
            modes[found] = 0.0
        elif start % 2 == 1:
            best = np.argmax(soft_height)
            soft_height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        else:
            best = np.argmax(height)
            height[best] = -math.inf
            modes[found] = 0.7 * first[best]
        if start == 0 or start % 2 == 1 or start >= climbs:
            climb(program, soft, work, modes[found], factors[found], shown, jacobian, _SOFT_STEPS)
            # Blur leaves a misfit that sharp readings would take for a misread.
            climb(program, faint, work, modes[found], factors[found], shown, jacobian, _FAINT_STEPS)
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
