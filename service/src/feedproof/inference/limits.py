"""Detection limits: how much series resistance could hide behind these readings."""

import math

import numpy as np

from feedproof.faults.hypotheses import Hypothesis, SeriesFault
from feedproof.faults.priors import BASE_RATES
from feedproof.inference.forward import FloatArray, make_work, predict
from feedproof.inference.normal import normal_cdf, normal_quantile
from feedproof.inference.outcome import Limit
from feedproof.inference.program import PROBE_RANGE, build, observe
from feedproof.inference.queries import carried_over, resampled
from feedproof.inference.scene import SceneReading
from feedproof.inference.weigh import Weighed
from feedproof.readings import Conductor

_STEPS = 32
_DRAWS = 8
_POWER = 0.9
#: Beyond the prior odds, the price of the fault's own freedom to fit [nat].
_OCCAM = 2.0
_FAULT = {"N": "high_resistance_neutral", "L1": "high_resistance_leg", "L2": "high_resistance_leg", "G": "open_ground"}


def detection_limit(sound: Weighed, section: str, conductor: Conductor) -> Limit:
    """Smallest series resistance from which on a sound verdict would have been refused in 90 % of draws.

    The readings of a circuit with that resistance are drawn from the model, everything else as the readings
    have it for a sound supply. Readings refuse the verdict where their likelihood ratio against the sound
    supply exceeds the prior odds. They scatter around a sound supply as a Gaussian with the covariance
    that its unknowns and the meters give.

    Parameters
    ----------
    sound : Weighed
        `none_found` with draws.
    section : str
        Where the resistance is put.
    conductor : str
        Which conductor, in the canonical orientation.

    Returns
    -------
    Limit
        Its resistance is None where even an open conductor, or one of the larger resistances, would have
        passed.
    """
    hypothesis, scene = sound.hypothesis, sound.fit.scene
    probe = Hypothesis(
        fault="none_found",
        base_rate=1.0,
        series=(SeriesFault(section, conductor, "any"),),  # type: ignore[arg-type]
        phasors=hypothesis.phasors,
        band=hypothesis.band,
    )
    contacts = tuple(r for r in scene.readings if r.kind != "proximity")
    if not contacts:
        return Limit(conductor=conductor, resistance=None)
    built = build(probe, scene, contacts)
    z = carried_over(sound.fit.built, built, resampled(sound, _DRAWS))
    place = built.keys.index(("fault", section, conductor))
    low, high = PROBE_RANGE
    shares = (np.arange(_STEPS) + 0.5) / _STEPS
    many = np.repeat(z[None], _STEPS, axis=0).reshape(-1, z.shape[1])
    many[:, place] = np.repeat([normal_quantile(s) for s in shares], _DRAWS)
    shown = np.zeros((many.shape[0], len(contacts)))
    predict(built.program, many, make_work(built.program), shown, np.zeros((0, 0)))
    center, covariance, noise = _sound_law(sound, built.order, contacts)
    # What the fault alone changes: the same draw with the smallest resistance stands for the sound circuit.
    still = np.tile(shown[:_DRAWS], (_STEPS, 1))
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    moved = (shown - still) @ whiten.T
    start = (still - center) @ whiten.T
    # With read = shown + noise the log likelihood ratio is a Gaussian, of this mean and deviation.
    mean = 0.5 * (moved**2).sum(axis=1) + (moved * start).sum(axis=1)
    deviation = np.sqrt((((moved @ whiten) * noise) ** 2).sum(axis=1))
    threshold = math.log(BASE_RATES["none_found"] / BASE_RATES[_FAULT[conductor]]) + _OCCAM
    score = (mean - threshold) / np.maximum(deviation, 1e-9)
    refused = np.array([normal_cdf(s) for s in score]).reshape(_STEPS, _DRAWS).mean(axis=1)
    passed = np.flatnonzero(refused < _POWER)
    if passed.size and passed[-1] == _STEPS - 1:
        return Limit(conductor=conductor, resistance=None)
    first = int(passed[-1]) + 1 if passed.size else 0
    return Limit(conductor=conductor, resistance=float(low * (high / low) ** shares[first]))


def _sound_law(
    sound: Weighed, order: tuple[int, ...], contacts: tuple[SceneReading, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and covariance of the readings of a sound supply, and each reading's own scatter, linearized."""
    found = sound.fit
    built = build(found.hypothesis, found.scene, contacts)
    names = {key: d for d, key in enumerate(found.built.keys)}
    mode = found.modes[int(np.argmax(found.log_mass))]
    z = np.array([[mode[names[key]] if key in names else 0.0 for key in built.keys]])
    shown, jacobian = np.zeros((1, len(contacts))), np.zeros((len(contacts), z.shape[1]))
    predict(built.program, z, make_work(built.program), shown, jacobian)
    # The mode is where the readings put it; a sound supply could as well be anywhere its priors allow.
    center = shown[0] - jacobian @ z[0]
    rows = {i: row for row, i in enumerate(built.order)}
    pick = [rows[i] for i in order]
    kept = observe(found.scene, contacts, built.order, inconsistent=False)
    noise = np.hypot(kept.floor, kept.relative * np.maximum(shown[0], 1.0))[pick]
    slopes = jacobian[pick]
    return center[pick], slopes @ slopes.T + np.diag(noise**2), noise
