"""What each reading says beside all the others: for the finding, against a sound supply."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.lanes import LANES, room
from feedproof.inference.arrays import Program, make_climbing_work
from feedproof.inference.forward import PROXIMITY, FloatArray
from feedproof.inference.laplace import CLOSE, Rules, climb_lanes
from feedproof.inference.likelihood import Observations, contact_density, log_likelihood, signal_probability
from feedproof.inference.modes import STEPS
from feedproof.inference.outcome import ReadingEvidence
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.quantiles import evenly, quantiles
from feedproof.inference.scene import Scene
from feedproof.inference.weigh import Weighed
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import Voltmeter

_UNITS = {"voltage": "V", "current": "A", "resistance": "ohm", "proximity": "1"}
#: Draws that the highest is taken of, to climb from.
_STARTS = 64
_BITS = 1.0 / math.log(2.0)
#: Student's law with four degrees of freedom as a normal over the root of a chi-square, itself four normals.
_STUDENT: FloatArray = NORMAL_POINTS[:, 34] / np.sqrt((NORMAL_POINTS[:, 30:34] ** 2).mean(axis=1))


def evidence_without(weighed: Weighed) -> FloatArray:
    """Laplace's approximation of the evidence of all readings but one, for each one, and of all.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis with draws.

    Returns
    -------
    ndarray, shape (R + 1,)
        In the program's order; last of all readings, climbed to in the same way [nat].
    """
    # A climb may have ended before it came to the mode; of some draws from the posterior the highest is near it.
    some = evenly(weighed.log_weight, _STARTS)
    built, observations = weighed.fit.built, weighed.fit.observations
    return _evidence_without(built.program, observations, weighed.z[some], weighed.shown[some])


@compiled
def _evidence_without(program: Program, observations: Observations, draws: FloatArray, shown: FloatArray) -> FloatArray:
    count, size = observations.kind.size + 1, draws.shape[1]
    start, most = draws[0], -math.inf
    for i in range(draws.shape[0]):
        total = -0.5 * np.sum(draws[i] * draws[i])
        for r in range(observations.kind.size):
            total += log_likelihood(observations, r, shown[i, r])
        if total > most:
            start, most = draws[i], total
    work, result = make_climbing_work(program), np.zeros(count)
    z, factor, height = room(size), room(size * size).reshape(size, size, LANES), room(1)
    climbing, without = np.ones(LANES, np.int64), np.full(LANES, -1)
    rules = Rules(STEPS, CLOSE, -math.inf, math.inf)
    for first in range(0, count, LANES):
        # Side by side, each climb leaves out another reading.
        for lane in range(LANES):
            climbing[lane] = first + lane < count
            without[lane] = first + lane if first + lane < count - 1 else -1
            z[:, lane] = start
        climb_lanes(program, observations, work, z, climbing, without, factor, height, rules)
        for lane in range(min(LANES, count - first)):
            result[first + lane] = height[0, lane]
            for d in range(size):
                result[first + lane] -= math.log(factor[d, d, lane])
    return result


def reading_bits(finding: Weighed, sound: Weighed) -> list[float]:
    """Weight of each reading, given all the others, for the finding against a sound supply.

    Parameters
    ----------
    finding, sound : Weighed
        With draws.

    Returns
    -------
    list of float
        By the reading's number in the scene [bit].
    """
    told = [np.empty(0), np.empty(0)]
    for k, found in enumerate((finding, sound)):
        *without, whole = evidence_without(found)
        order = list(found.fit.built.order)
        told[k] = np.empty(len(order))
        told[k][order] = whole - np.array(without)
    bits: list[float] = ((told[0] - told[1]) * _BITS).tolist()
    return bits


def expected_spans(weighed: Weighed) -> list[tuple[float, float]]:
    """Span of nine in ten such readings, given all the others, for each; for proximity, of the chance of a signal.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis with draws.

    Returns
    -------
    list of tuple of float
        Low and high end, by the reading's number in the scene [V, A, ohm; proximity 1].
    """
    student = np.resize(_STUDENT, weighed.log_weight.size)
    ends = _spans(weighed.shown, weighed.log_weight, weighed.fit.observations, student).tolist()
    rows = {reading: row for row, reading in enumerate(weighed.fit.built.order)}
    return [(ends[rows[reading]][0], ends[rows[reading]][1]) for reading in range(len(rows))]


@compiled
def _spans(shown: FloatArray, log_weight: FloatArray, o: Observations, student: FloatArray) -> FloatArray:
    """Low and high end for each reading in the program's order; shape (R, 2)."""
    count = shown.shape[0]
    whole = np.exp(log_weight - np.max(log_weight))
    weights, values, shares = np.empty(count), np.empty(count), np.array([0.05, 0.95])
    columns, result = shown.T.copy(), np.zeros((shown.shape[1], 2))
    for r in range(shown.shape[1]):
        expected, floor, relative = columns[r], o.floor[r], o.relative[r]
        value, misread, elsewhere = o.value[r], o.misread[r], o.misread_density[r]
        # Take the reading's own weight out again: what the others would have led one to expect.
        if o.kind[r] == PROXIMITY:
            for i in range(count):
                values[i] = signal_probability(expected[i], floor, relative, misread, elsewhere)
                weights[i] = whole[i] / (values[i] if value > 0.5 else 1.0 - values[i])
        else:
            for i in range(count):
                scatter = math.sqrt(floor * floor + relative * relative * expected[i] * expected[i])
                values[i] = abs(expected[i] + scatter * student[i])
            if o.over_range[r]:
                for i in range(count):
                    weights[i] = whole[i] / math.exp(log_likelihood(o, r, expected[i]))
            else:
                for i in range(count):
                    weights[i] = whole[i] / contact_density(value, expected[i], floor, relative, misread, elsewhere)
        weights /= np.sum(weights)
        result[r] = quantiles(values, weights, shares)
    return result


def reading_evidence(
    scene: Scene, finding: Weighed, sound: Weighed, order: Sequence[int]
) -> tuple[ReadingEvidence, ...]:
    """Evidence of every reading, in the request's order.

    Parameters
    ----------
    scene : Scene
        Canonical readings.
    finding, sound : Weighed
        The finding and the sound supply, both with draws.
    order : sequence of int
        Index in the request of each of the scene's readings.

    Returns
    -------
    tuple of ReadingEvidence
        Sorted by the request's index.
    """
    same = finding is sound
    in_sound = expected_spans(sound)
    in_finding = in_sound if same else expected_spans(finding)
    bits = [0.0] * len(order) if same else reading_bits(finding, sound)
    found = []
    for index, reading in enumerate(scene.readings):
        meter = scene.meters[reading.meter]
        current = None
        if isinstance(meter, Voltmeter) and meter.input_impedance < LOW_IMPEDANCE_BELOW and reading.value is not None:
            current = reading.value / meter.input_impedance
        found.append(
            ReadingEvidence(
                reading=order[index],
                observed=float(reading.value or 0.0),
                unit=_UNITS[reading.kind],
                sound=in_sound[index],
                finding=in_finding[index],
                bits=bits[index],
                test_current=current,
            )
        )
    return tuple(sorted(found, key=lambda e: e.reading))
