"""Detection limits: how much series resistance could hide behind these readings."""

import math
from collections.abc import Sequence
from functools import cache, lru_cache

import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.faults.places import Break, Site, Span, neutral_rate
from feedproof.faults.priors import BASE_RATES
from feedproof.faults.severities import working
from feedproof.inference.draws import spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.observing import observe
from feedproof.inference.outcome import Limit
from feedproof.inference.predictions import linearized, shown_by
from feedproof.inference.program import Built, build
from feedproof.inference.queries import carried, some_of
from feedproof.inference.scene import Scene, SceneReading
from feedproof.readings import Conductor

_DRAWS, _FINE_DRAWS, _STEPS = 12, 96, 16
_LEAST_DRAWS = 3
_POWER = 0.9
#: Beyond the prior odds, the price of the fault's own freedom to fit [nat].
_OCCAM = 2.0
_RANGE = (math.log(0.02), math.log(1e9))
_FAULT = {"N": "high_resistance_neutral", "L1": "high_resistance_leg", "L2": "high_resistance_leg", "G": "open_ground"}
Law = tuple[FloatArray, FloatArray, FloatArray]
"""What a sound supply would show, the inverse covariance of that, and each reading's own variance."""
_LADDER = np.linspace(*_RANGE, _STEPS)
_MIDDLE, _SCALE = working((Span("high_resistance_leg", *_RANGE, 1.0),))
#: The same as the engine's unknown [1].
_SEVERITY = (_LADDER - _MIDDLE) / _SCALE


@lru_cache(maxsize=64)
def probe(conductor: Conductor, sound: Site) -> Site:
    """A branch conductor with any extra resistance at all.

    Parameters
    ----------
    conductor : str
        Which.
    sound : Site
        What the supply is without it.

    Returns
    -------
    Site
        With one severity.
    """
    return Site(
        place="branch",
        fault=_FAULT[conductor],
        conductor=conductor,
        spans=((Span(_FAULT[conductor], *_RANGE, 1.0),),),
        breaks=(Break("branch", conductor, 0),),
        phasors=sound.phasors,
        strapped=sound.strapped,
        contacts_open=sound.contacts_open,
    )


def detection_limits(
    sounds: Sequence[tuple[Fit, float]], scene: Scene, conductors: Sequence[Conductor]
) -> tuple[Limit, ...]:
    """Smallest series resistances that, with every larger one, would have been detected with 90 % power.

    A resistance is detected where the likelihood ratio of a faulty against a sound supply exceeds the prior odds of
    the sound one. Both are taken as Gaussians round what the meters would show, with the covariance that the unknowns
    and the meters give them; the power is interpolated between the tried resistances.

    Parameters
    ----------
    sounds : sequence of (Fit, float)
        `none_found` with draws, in each form that the supply and the appliance may have, and how probable each is
        beside the others [1].
    scene : Scene
        The arrangement, without values.
    conductors : sequence of str
        Which conductors of the branch.

    Returns
    -------
    tuple of Limit
        One per conductor. Its resistance [ohm] is None where not even an open conductor would have been detected.
    """
    contacts = tuple(r for r in scene.readings if r.kind != "proximity")
    if not contacts:
        return tuple(Limit(conductor=c, resistance=None) for c in conductors)
    whole = sum(p for _, p in sounds)
    laws = [(fit, p / whole, _sound_law(fit, scene, contacts)) for fit, p in sounds]
    return tuple(Limit(conductor=c, resistance=_limit(laws, scene, contacts, c)) for c in conductors)


def _sound_law(sound: Fit, scene: Scene, contacts: tuple[SceneReading, ...]) -> Law:
    """What a sound supply would show, the inverse covariance of that, and each reading's own variance."""
    built = build(sound.site, scene, contacts)
    x = carried(sound, built, sound.peak[None, : sound.size], beside=False)[0]
    shown, jacobian = np.zeros(len(contacts)), np.zeros((len(contacts), len(built.keys)))
    linearized(built.program, x, shown, jacobian)
    center = shown - jacobian @ x[: len(built.keys)]
    o = observe(scene, contacts, built, sound.site)
    noise = np.hypot(o.floor, o.relative * np.maximum(shown, 1.0)) ** 2
    rows = np.argsort(built.order)
    inverse = np.linalg.inv(jacobian @ jacobian.T + np.diag(noise))
    return np.asarray(center[rows]), np.asarray(inverse[np.ix_(rows, rows)]), np.asarray(noise[rows])


def _limit(
    sounds: Sequence[tuple[Fit, float, Law]], scene: Scene, contacts: tuple[SceneReading, ...], conductor: Conductor
) -> float | None:
    built = [build(probe(conductor, neutral_rate(fit.site)), scene, contacts) for fit, _, _ in sounds]
    threshold = math.log(BASE_RATES["none_found"] / BASE_RATES[_FAULT[conductor]]) + _OCCAM

    def powers(count: int, severities: FloatArray) -> FloatArray:
        return np.asarray(
            sum(
                p * _powers(own, _placed(fit, own, max(round(p * count), _LEAST_DRAWS)), law, threshold, severities)
                for own, (fit, p, law) in zip(built, sounds, strict=True)
            )
        )

    rough = powers(_DRAWS, _SEVERITY)

    @cache
    def power(step: int) -> float:
        return float(powers(_FINE_DRAWS, _SEVERITY[[step]])[0])

    # Few draws tell about where; from there, many.
    k = _STEPS
    while k > 0 and rough[k - 1] >= _POWER:
        k -= 1
    while k < _STEPS and power(k) < _POWER:
        k += 1
    while k > 0 and power(k - 1) >= _POWER:
        k -= 1
    if k == _STEPS:
        return None
    if k == 0:
        return math.exp(_LADDER[0])
    share = (_POWER - power(k - 1)) / (power(k) - power(k - 1))
    return float(math.exp(_LADDER[k - 1] + share * (_LADDER[k] - _LADDER[k - 1])))


def _placed(sound: Fit, built: Built, count: int) -> FloatArray:
    """So many draws of a sound supply, among the unknowns of the probe; (count, D + 1)."""
    placed = carried(sound, built, some_of(sound, count)[:, : sound.size])
    placed = np.hstack((placed, np.zeros((count, 1)))) if placed.shape[1] == len(built.keys) else placed
    fresh = [d for d, key in enumerate(built.keys) if key not in sound.built.keys]
    placed[:, fresh] = spread_evenly(count, max(len(fresh), 1))[1][:, : len(fresh)]
    return placed


def _powers(built: Built, placed: FloatArray, law: Law, threshold: float, severities: FloatArray) -> FloatArray:
    """How probably resistances of these severities would be detected [1]."""
    center, inverse, noise = law
    every = np.repeat(placed[None], 1 + len(severities), axis=0)
    every[:, :, -1] = np.append(_SEVERITY[0], severities)[:, None]
    shown = np.zeros((every.shape[0] * len(placed), len(noise)))
    shown_by(built.program, every.reshape(len(shown), -1), shown)
    ladder = shown[:, np.argsort(built.order)].reshape(*every.shape[:2], -1)
    moved, still = ladder[1:] - ladder[0], ladder[0] - center
    pulled = moved @ inverse
    mean = ((0.5 * moved + still) * pulled).sum(axis=2)
    deviation = np.sqrt(np.maximum((pulled**2 * noise).sum(axis=2), 1e-18))
    below = (threshold - mean) / deviation / math.sqrt(2.0)
    return np.array([sum(map(math.erfc, row)) for row in below]) / (2.0 * len(placed))
