"""What each reading says beside all the others: for the finding, against a sound supply."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.inference.forward import FloatArray
from feedproof.inference.laplace import climb, log_determinant
from feedproof.inference.likelihood import reading_column, signal_column
from feedproof.inference.modes import STEPS
from feedproof.inference.outcome import ReadingEvidence
from feedproof.inference.points import NORMAL_POINTS, POINT_COUNT
from feedproof.inference.queries import quantile
from feedproof.inference.scene import Scene
from feedproof.inference.weigh import Fit, Weighed
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import Voltmeter

_UNITS = {"voltage": "V", "current": "A", "resistance": "ohm", "proximity": "1"}
_BITS = 1.0 / math.log(2.0)


def evidence_without(found: Fit, row: int) -> float:
    """Laplace's approximation of the evidence of all readings but one [nat].

    Parameters
    ----------
    found : Fit
        A hypothesis with its modes.
    row : int
        The reading to leave out, in the program's order [1].
    """
    observations = found.observations
    kind, misread, density = observations.kind.copy(), observations.misread.copy(), observations.misread_density.copy()
    over = observations.over_range.copy()
    # A reading that is surely misread, with density one, says nothing at all.
    kind[row], misread[row], density[row], over[row] = 0, 1.0, 1.0, 0
    silenced = observations._replace(kind=kind, misread=misread, misread_density=density, over_range=over)
    count, size = kind.size, len(found.built.keys)
    best = int(np.argmax(found.log_mass))
    z, factor = found.modes[best].copy(), np.zeros((size, size))
    shown, jacobian = np.zeros((1, count)), np.zeros((count, size))
    top = climb(found.built.program, silenced, found.work, z, factor, shown, jacobian, STEPS)
    return float(top - 0.5 * log_determinant(factor, size))


def reading_bits(finding: Fit, sound: Fit, row_finding: int, row_sound: int) -> float:
    """Weight of one reading, given all the others, for the finding against a sound supply [bit]."""
    for_finding = float(np.max(finding.log_mass)) - evidence_without(finding, row_finding)
    for_sound = float(np.max(sound.log_mass)) - evidence_without(sound, row_sound)
    return (for_finding - for_sound) * _BITS


def expected_span(weighed: Weighed, row: int) -> tuple[float, float]:
    """Span of nine in ten such readings, given all the others; for proximity, of the chance of a signal.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis with draws.
    row : int
        The reading, in the program's order [1].

    Returns
    -------
    tuple of float
        Low and high end [V, A, ohm; proximity 1].
    """
    observations = weighed.fit.observations
    shown = weighed.shown[:, row]
    own = reading_column(observations, row, shown)
    # Take the reading's own weight out again: what the others would have led one to expect.
    log_weight = weighed.log_weight - own
    weights: FloatArray = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    floor, relative = float(observations.floor[row]), float(observations.relative[row])
    if observations.kind[row] == 3:
        chance = signal_column(observations, row, shown)
        return quantile(chance, weights, 0.05), quantile(chance, weights, 0.95)
    rows = np.arange(shown.size) % POINT_COUNT
    scatter = np.hypot(floor, relative * shown)
    # Student's law as a normal over the root of a chi-square with four degrees of freedom, itself four normals.
    four = NORMAL_POINTS[rows, 30:34]
    student = NORMAL_POINTS[rows, 34] / np.sqrt((four**2).mean(axis=1))
    values = np.abs(shown + scatter * student)
    return quantile(values, weights, 0.05), quantile(values, weights, 0.95)


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
    rows_finding = {reading: row for row, reading in enumerate(finding.fit.built.order)}
    rows_sound = {reading: row for row, reading in enumerate(sound.fit.built.order)}
    found = []
    for index, reading in enumerate(scene.readings):
        meter = scene.meters[reading.meter]
        current = None
        if isinstance(meter, Voltmeter) and meter.input_impedance < LOW_IMPEDANCE_BELOW and reading.value is not None:
            current = reading.value / meter.input_impedance
        row, row_sound = rows_finding[index], rows_sound[index]
        same = finding is sound
        in_sound = expected_span(sound, row_sound)
        found.append(
            ReadingEvidence(
                reading=order[index],
                observed=float(reading.value or 0.0),
                unit=_UNITS[reading.kind],
                sound=in_sound,
                finding=in_sound if same else expected_span(finding, row),
                bits=0.0 if same else reading_bits(finding.fit, sound.fit, row, row_sound),
                test_current=current,
            )
        )
    return tuple(sorted(found, key=lambda e: e.reading))
