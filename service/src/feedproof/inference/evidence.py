"""What each reading says beside all the others: for the finding, against a sound supply."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.inference.factors import log_determinant
from feedproof.inference.forward import PROXIMITY, FloatArray, Program, make_work
from feedproof.inference.laplace import climb
from feedproof.inference.likelihood import Observations, contact_density, log_likelihood, signal_probability
from feedproof.inference.modes import STEPS
from feedproof.inference.outcome import ReadingEvidence
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.quantiles import quantiles
from feedproof.inference.scene import Scene
from feedproof.inference.weigh import Fit, Weighed
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import Voltmeter

_UNITS = {"voltage": "V", "current": "A", "resistance": "ohm", "proximity": "1"}
_BITS = 1.0 / math.log(2.0)
#: Student's law with four degrees of freedom as a normal over the root of a chi-square, itself four normals.
_STUDENT: FloatArray = NORMAL_POINTS[:, 34] / np.sqrt((NORMAL_POINTS[:, 30:34] ** 2).mean(axis=1))


def evidence_without(found: Fit) -> FloatArray:
    """Laplace's approximation of the evidence of all readings but one, for each one.

    Parameters
    ----------
    found : Fit
        A hypothesis with its modes.

    Returns
    -------
    ndarray, shape (R,)
        In the program's order [nat].
    """
    mode = found.modes[int(np.argmax(found.log_mass))]
    return _evidence_without(found.built.program, found.observations, mode)


@compiled
def _evidence_without(program: Program, observations: Observations, mode: FloatArray) -> FloatArray:
    kind, misread = observations.kind.copy(), observations.misread.copy()
    density, over = observations.misread_density.copy(), observations.over_range.copy()
    silenced = Observations(kind, observations.value, observations.floor, observations.relative, over, misread, density)
    count, size = kind.size, mode.size
    work = make_work(program)
    factor, shown, jacobian = np.zeros((size, size)), np.zeros((1, count)), np.zeros((count, size))
    result = np.zeros(count)
    for r in range(count):
        # A reading that is surely misread, with density one, says nothing at all.
        kind[r], over[r], misread[r], density[r] = 0, 0, 1.0, 1.0
        z = mode.copy()
        top = climb(program, silenced, work, z, factor, shown, jacobian, STEPS)
        result[r] = top - 0.5 * log_determinant(factor, size)
        kind[r], over[r] = observations.kind[r], observations.over_range[r]
        misread[r], density[r] = observations.misread[r], observations.misread_density[r]
    return result


def reading_bits(finding: Fit, sound: Fit) -> list[float]:
    """Weight of each reading, given all the others, for the finding against a sound supply.

    Parameters
    ----------
    finding, sound : Fit
        With their modes.

    Returns
    -------
    list of float
        By the reading's number in the scene [bit].
    """
    told = [np.empty(0), np.empty(0)]
    for k, found in enumerate((finding, sound)):
        told[k] = np.empty(len(found.built.order))
        told[k][list(found.built.order)] = float(np.max(found.log_mass)) - evidence_without(found)
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
    bits = [0.0] * len(order) if same else reading_bits(finding.fit, sound.fit)
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
