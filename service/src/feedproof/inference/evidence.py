"""What each reading says beside all the others: for the finding, against a sound supply."""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.forward import PROXIMITY, RESISTANCE, FloatArray
from feedproof.inference.cells import cells
from feedproof.inference.draws import spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.laplace import search
from feedproof.inference.likelihood import STUDENT_PEAK, Observations, Readings, chance_of_signal
from feedproof.inference.outcome import ReadingEvidence
from feedproof.inference.predictions import densities_of, linearized, shown_by
from feedproof.inference.queries import ends
from feedproof.inference.refinement import rows_of
from feedproof.inference.scene import Scene
from feedproof.readings import Voltmeter, is_low_impedance

_UNITS = {"voltage": "V", "current": "A", "resistance": "ohm", "proximity": "1"}
_AGAIN = np.array([[0, 1, 0, 10, 1]])
_AWAY = 1e12
_LEAST_EFFECTIVE = 15.0
"""With fewer effective draws left without a reading, what it would be is taken from the modes [1]."""
#: Draws that keep this much closer to a reading than it is expected without it cannot stand for that [1].
_HELD = 5.0


def _count(o: Observations) -> int:
    return len(o.kind) if (o.twin == -1).all() else int((o.twin >= 0).sum())


class Without(NamedTuple):
    """What all other readings say of one."""

    log_density: float
    """Of what was read [nat]."""
    expected: float
    spread: float
    """Of what the meter would show, without its own scatter [V, A, ohm]."""
    held: float
    """The same where the severity is known [V, A, ohm]."""


def without_each(fit: Fit) -> list[Without]:
    """Each reading left out in turn, by climbing again without it (Laplace)."""
    o = fit.readings[0]
    whole = _climbed(fit, fit.readings)[0]
    found = []
    for reading in range(_count(o)):
        row = fit.built.order.index(reading)
        rows = [row] if o.twin[row] < 0 else [row, int(o.twin[row])]
        if o.kind[row] == PROXIMITY or o.over_range[row]:
            # A detector that says nothing: it signals with probability one half.
            misread, elsewhere, kind = o.misread.copy(), o.misread_density.copy(), o.kind.copy()
            misread[rows] = elsewhere[rows] = 0.5
            kind[rows] = PROXIMITY
            less, constant = o._replace(misread=misread, misread_density=elsewhere, kind=kind), math.log(0.5)
        else:
            floor, misread = o.floor.copy(), o.misread.copy()
            floor[rows], misread[rows] = _AWAY, 0.0
            less, constant = o._replace(floor=floor, misread=misread), math.log(STUDENT_PEAK / _AWAY)
        mass, x, factor = _climbed(fit, (less,) * 3)
        found.append(Without(whole - (mass - constant), *_predicted(fit, x, factor, row)))
    return found


def _climbed(fit: Fit, readings: Readings) -> tuple[float, FloatArray, FloatArray]:
    n = fit.peak.size
    x = np.zeros((2, n))
    # The peak was climbed to from a few starts and may sit on a saddle: nodes of a refined place lie on either side.
    x[0] = fit.rows[int(np.argmax(fit.mass))] if fit.modes else fit.peak
    value, mass, factor = np.full(2, -np.inf), np.full(2, -np.inf), np.zeros((2, n, n))
    search(fit.built.program, readings, _AGAIN, x, value, mass, factor, 0.005, -np.inf)
    return float(mass[1]), x[1], factor[1]


def _predicted(fit: Fit, x: FloatArray, factor: FloatArray, row: int) -> tuple[float, float, float]:
    """What the meter would show, and its spreads: of all unknowns, and of those beside the severities."""
    n, count = x.size, len(fit.built.order)
    shown, jacobian = np.zeros(count), np.zeros((count, n))
    linearized(fit.built.program, x, shown, jacobian)
    # The severities come last: without their rows, the factor is that of the others given them.
    whole, held = (
        float(np.linalg.norm(np.linalg.solve(np.tril(factor[:k, :k]), jacobian[row, :k]))) if k else 0.0
        for k in (n, fit.size)
    )
    return float(shown[row]), whole, held


def spans(fit: Fit, without: list[Without]) -> list[tuple[float, float]]:
    """Where nine in ten such readings would lie, given the others [V, A, ohm]; for proximity, chance of a signal [1].

    From the draws, the reading's own weight taken out; where few draws are left of them, from the severities without
    it, or, of a place without a severity, from the climb without it.
    """
    o = fit.readings[0]
    shown = np.zeros((len(fit.x), len(o.kind)))
    shown_by(fit.built.program, fit.x, shown)
    normal = spread_evenly(len(fit.x), 5)[1]
    student = normal[:, 0] / np.sqrt((normal[:, 1:5] ** 2).mean(axis=1))
    weights = fit.weights()
    found = []
    densities = np.zeros(len(fit.x))
    for reading, other in enumerate(without):
        row = fit.built.order.index(reading)
        expected = np.ascontiguousarray(shown[:, row])
        if o.twin[row] >= 0:
            # For both circuits of an intermittent joint.
            expected = np.where(np.arange(len(weights)) % 2 == 0, expected, shown[:, o.twin[row]])
        densities_of(o, row, expected, densities)
        rest = weights if o.twin[row] >= 0 else weights * np.exp(-(densities - densities.min()))
        ohms = o.kind[row] == RESISTANCE
        # Between conductors that are joined or exchanged an ohmmeter shows nothing at all.
        least = max(other.expected, float(o.floor[row]))
        held = ohms and _HELD * np.std(np.log(np.maximum(expected, o.floor[row]))) < other.spread / least
        few = o.twin[row] < 0 and (held or rest.sum() ** 2 / (rest**2).sum() < _LEAST_EFFECTIVE)
        if few:
            at, spread = np.full(len(weights), other.expected), other.spread
            if len(fit.site.spans) == 1 and fit.modes:
                at, spread = _over_severities(fit, row, len(weights)), other.held
            # A resistance spreads over decades: its logarithm is what lies about the climb's, whatever the severity.
            expected = at * np.exp(spread / least * normal[:, 1]) if ohms else at + spread * normal[:, 1]
            rest = np.ones(len(weights))
        if o.kind[row] == PROXIMITY:
            low, high = ends(np.array([chance_of_signal(o, row, v) for v in expected]), rest)
        elif o.over_range[row]:
            low, high = ends(np.abs(expected), rest)
        else:
            noted = expected + student * np.hypot(o.floor[row], o.relative[row] * expected)
            low, high = ends(np.abs(noted), rest)
        found.append((low, high))
    return found


def _over_severities(fit: Fit, row: int, count: int) -> FloatArray:
    """What the meter would show at so many severities of equal weight, given the other readings [V, A, ohm]; (N,)."""
    at = rows_of(fit)
    shown = np.zeros((at.size, len(fit.built.order)))
    shown_by(fit.built.program, fit.rows[at.ravel()], shown)
    own, density = np.ascontiguousarray(shown[:, row]), np.zeros(at.size)
    densities_of(fit.readings[0], row, own, density)
    mass = fit.mass[at] - density.reshape(at.shape)
    found, masses = cells(fit.site, fit.nodes, np.logaddexp.reduce(mass))
    node = own.reshape(at.shape)[mass.argmax(axis=0), np.arange(at.shape[1])]
    share = np.exp(np.array(masses) - max(masses))
    upto = np.concatenate(([0.0], np.cumsum(share / share.sum())))
    along = np.interp((np.arange(count) + 0.5) / count, upto, np.arange(len(upto)))
    cell = np.minimum(along.astype(int), len(share) - 1)
    low, high = node[found.first[cell]], node[found.last[cell]]
    return np.asarray(low + (along - cell) * (high - low))


def reading_evidence(scene: Scene, finding: Fit, sound: Fit, order: tuple[int, ...]) -> tuple[ReadingEvidence, ...]:
    """Every reading against a sound supply and against the finding, in the request's order."""
    if not scene.readings:
        return ()
    for_finding = without_each(finding)
    for_sound = for_finding if finding is sound else without_each(sound)
    of_finding = spans(finding, for_finding)
    of_sound = of_finding if finding is sound else spans(sound, for_sound)
    found = []
    for k, r in enumerate(scene.readings):
        meter = scene.meters[r.meter]
        low_impedance = r.kind == "voltage" and is_low_impedance(meter)
        value = 0.0 if r.value is None else r.value
        found.append(
            ReadingEvidence(
                reading=order[k],
                observed=value,
                unit=_UNITS[r.kind],
                sound=of_sound[k],
                finding=of_finding[k],
                bits=(for_finding[k].log_density - for_sound[k].log_density) / math.log(2.0),
                over_range=r.over_range,
                test_current=value / meter.input_impedance if low_impedance and isinstance(meter, Voltmeter) else None,
            )
        )
    return tuple(sorted(found, key=lambda e: e.reading))
