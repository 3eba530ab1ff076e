"""Where the posterior of one hypothesis has its modes, compiled."""

import math

import numpy as np

from feedproof.circuit.compiling import compiled, within
from feedproof.circuit.lanes import LANES, WIDE, get, room, wide_room
from feedproof.inference.arrays import IntArray, Program, Work
from feedproof.inference.forward import PROXIMITY, UNIFORM, FloatArray, into_lanes, predict_lanes
from feedproof.inference.laplace import CLOSE, OUTDONE, Rules, climb_lanes, heights
from feedproof.inference.likelihood import Observations, total_lanes
from feedproof.inference.normal import normal_pdf
from feedproof.inference.weights import log_mean_exp

#: Two modes closer than this (mean square per coordinate) are one.
_SAME_PLACE = 0.02
#: Scatter of blurred and of faintly blurred readings, as a share of the reading, and the share of misreads among them.
_BLUR, _FAINT = 0.15, 0.02
_HARDLY = 1e-9
#: Most steps of a climb, on blurred readings, and on faintly blurred ones.
STEPS = 12
_SOFT_STEPS, _FAINT_STEPS = 5, 6
#: An admittance counts as broad where one unit of its coordinate changes its logarithm by more than this; it
#: leads this many units up.
_BROAD = 0.8
_LEAD = 1.8
#: Most starts from where one admittance leads.
_LED = 4
#: A scouted point is taken this much nearer to the origin: a draw of many coordinates is far out in some.
_NEARER = 0.7
#: Where modes this near to the best explain a reading as misread and gain this much by it, and the best is not as
#: far as this below what is wanted, some climbs believe it [nat]; most steps of those.
_NEAR = 20.0
_DOUBT = 0.5
_DISTANT = 40.0
_BELIEVING_STEPS = 8
#: A blurred reading that does not fit costs less than one that is taken for misread: so a hypothesis that is this far
#: behind on blurred readings, or on faintly blurred ones, is as far behind, or further, on sharp ones [nat].
_BEYOND = 35.0
#: Blurred readings need no more than this [nat].
_ROUGHLY = 0.01
#: A mode this far below the best has no part in the evidence [nat].
_FAINTEST = 14.0


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


@within
def _starts(
    program: Program,
    observations: Observations,
    soft: Observations,
    drawing: Work,
    points: FloatArray,
    scouts: int,
    z: FloatArray,
    climbing: IntArray,
) -> float:
    """Fill eight starts: the origin, where one admittance leads, and the best scouts of blurred and of sharp readings.

    `climbing` is 0 where the sharp readings chose, so that blurred ones would only lead away. Returns the evidence as
    the scouts alone have it.
    """
    size = z.shape[0]
    height, soft_height = np.zeros(scouts), np.zeros(scouts)
    here, shown, total = drawing.coordinate, drawing.shown, wide_room(1)
    for first in range(0, scouts, WIDE):
        into_lanes(points[:scouts, :size], first, here)
        predict_lanes(program, here, drawing, shown, drawing.jacobian, program.every, False)
        for own, found in ((observations, height), (soft, soft_height)):
            total_lanes(own, shown, total)
            for lane in range(min(WIDE, scouts - first)):
                found[first + lane] = get(total, 0, lane)
    scouted = log_mean_exp(height)
    leading = np.zeros(size)
    broad_admittances(program, leading)
    z[:, :] = 0.0
    climbing[:] = 1
    taken = 1
    for d in range(size):
        if leading[d] != 0.0 and taken <= _LED:
            z[d, taken] = leading[d]
            taken += 1
    for lane in range(taken, LANES):
        if (lane - taken) % 2 == 0:
            best = np.argmax(soft_height)
        else:
            best = np.argmax(height)
            climbing[lane] = 0
        soft_height[best] = -math.inf
        height[best] = -math.inf
        for d in range(size):
            z[d, lane] = _NEARER * points[best, d]
    return scouted


@within
def _believe(
    program: Program,
    observations: Observations,
    work: Work,
    z: FloatArray,
    climbing: IntArray,
    without: IntArray,
    factor: FloatArray,
    height: FloatArray,
    give_up: float,
) -> None:
    """Climb on in every other lane as if no reading could be misread, where one would be taken for that.

    A misread explains what the prior finds improbable, so the climb on the readings as they are stops far from where
    the reading is true.
    """
    honest = blurred(observations, 0.0)
    predict_lanes(program, z, work, work.shown, work.jacobian, program.every, False)
    heights(observations, work.shown, z, height)
    believed = room(1)
    heights(honest, work.shown, z, believed)
    best = np.max(height)
    doubted = 0.0
    for lane in range(LANES):
        if height[0, lane] > best - _NEAR:
            doubted = max(doubted, height[0, lane] - believed[0, lane])
    if doubted < _DOUBT or best < give_up - _DISTANT:
        return
    for lane in range(LANES):
        climbing[lane] = lane % 2
    rules = Rules(_BELIEVING_STEPS, _ROUGHLY, -math.inf, OUTDONE)
    climb_lanes(program, honest, work, z, climbing, without, factor, height, rules)


@compiled
def find_modes(
    program: Program,
    observations: Observations,
    work: Work,
    drawing: Work,
    points: FloatArray,
    scouts: int,
    give_up: float,
    blurred_top: float,
    faint_top: float,
    modes: FloatArray,
    factors: FloatArray,
    log_mass: FloatArray,
) -> tuple[int, float, float, float]:
    """Climb from the origin, from where one admittance leads, and from the best of a few scouted points.

    Where several broad admittances act in parallel (a fault, loads, leakage), any one of them may be what the
    readings see, and each such case may be a mode of its own.

    Parameters
    ----------
    program, observations : Program, Observations
        Hypothesis and readings.
    work, drawing : Work
        Scratch, from `make_climbing_work` and from `make_work`.
    points : ndarray, shape (P, ≥D)
        Standard-normal points [1].
    scouts : int
        How many of them to try, no fewer than there are lanes [1].
    give_up : float
        Below this evidence the climb may end early [nat].
    blurred_top, faint_top : float
        Where blurred readings, or faintly blurred ones, are this much more probable under another hypothesis, by more
        than sharp ones could make up for, nothing more is looked for [nat].
    modes : ndarray, shape (lanes, D)
        Filled [1].
    factors : ndarray, shape (lanes, D, D)
        Filled: Cholesky factors of the precisions [1].
    log_mass : ndarray, shape (lanes,)
        Filled: Laplace's approximation of each mode's share of the evidence [nat].

    Returns
    -------
    tuple of int and three float
        Number of different modes [1], the evidence as the scouts alone have it [nat], and the greatest posterior
        densities of the blurred readings and of the faintly blurred ones, −∞ where it did not come to these [nat].
    """
    size = program.location.size
    soft, faint = blurred(observations, _BLUR), blurred(observations, _FAINT)
    z, factor, height = room(size), room(size * size).reshape(size, size, LANES), room(1)
    climbing, without = np.ones(LANES, np.int64), np.full(LANES, -1)
    scouted = _starts(program, observations, soft, drawing, points, scouts, z, climbing)
    rules = Rules(_SOFT_STEPS, _ROUGHLY, -math.inf, OUTDONE)
    climb_lanes(program, soft, work, z, climbing, without, factor, height, rules)
    blurred_height, faint_height, steps = np.max(height), -math.inf, 1
    promising = scouted >= give_up
    if promising or blurred_height >= blurred_top - _BEYOND:
        # Blur leaves a misfit that sharp readings would take for a misread.
        rules = Rules(_FAINT_STEPS, _ROUGHLY, -math.inf, OUTDONE)
        climb_lanes(program, faint, work, z, climbing, without, factor, height, rules)
        faint_height = np.max(height)
        if promising or faint_height >= faint_top - _BEYOND:
            steps = STEPS
            enough = -math.inf if promising else give_up
            _believe(program, observations, work, z, climbing, without, factor, height, enough)
    climbing[:] = 1
    rules = Rules(steps, CLOSE, give_up, OUTDONE)
    climb_lanes(program, observations, work, z, climbing, without, factor, height, rules)
    mass = height[0].copy()
    for lane in range(LANES):
        for d in range(size):
            mass[lane] -= math.log(factor[d, d, lane])
    least = np.max(mass) - _FAINTEST
    found = 0
    for lane in range(LANES):
        if mass[lane] < least:
            continue
        at = found
        for m in range(found):
            if np.mean((modes[m] - z[:, lane]) ** 2) < _SAME_PLACE:
                at = m
                break
        if at < found and mass[lane] <= log_mass[at]:
            continue
        modes[at] = z[:, lane]
        factors[at] = factor[:, :, lane]
        log_mass[at] = mass[lane]
        found = max(found, at + 1)
    return found, scouted, blurred_height, faint_height
