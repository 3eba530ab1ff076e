"""Detection limits: how much series resistance could hide behind these readings."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.circuit.compiling import compiled, within
from feedproof.faults.hypotheses import Hypothesis, SeriesFault
from feedproof.faults.priors import BASE_RATES
from feedproof.inference.arrays import IntArray, Program, make_work
from feedproof.inference.forward import FloatArray, predict
from feedproof.inference.normal import normal_cdf, normal_quantile
from feedproof.inference.outcome import Limit
from feedproof.inference.program import PROBE_RANGE, build, observe
from feedproof.inference.queries import carried_over, resampled
from feedproof.inference.scene import SceneReading
from feedproof.inference.weigh import Weighed
from feedproof.readings import Conductor

_STEPS = 26
_DRAWS = 24
_SHARES = (np.arange(_STEPS) + 0.5) / _STEPS
#: Coordinate of the tried resistances: log-uniform.
_PLACES = np.array([normal_quantile(s) for s in _SHARES])
_POWER = 0.9
#: Beyond the prior odds, the price of the fault's own freedom to fit [nat].
_OCCAM = 2.0
_FAULT = {"N": "high_resistance_neutral", "L1": "high_resistance_leg", "L2": "high_resistance_leg", "G": "open_ground"}


def detection_limits(sound: Weighed, section: str, conductors: Sequence[Conductor]) -> tuple[Limit, ...]:
    """Smallest series resistances from which on a sound verdict would have been refused in 90 % of draws.

    The readings of a circuit with that resistance are drawn from the model, everything else as the readings
    have it for a sound supply. Readings refuse the verdict where their likelihood ratio against the sound
    supply exceeds the prior odds. They scatter around a sound supply as a Gaussian with the covariance that
    its unknowns and the meters give.

    Parameters
    ----------
    sound : Weighed
        `none_found` with draws.
    section : str
        Where the resistance is put.
    conductors : sequence of str
        Which conductors, in the canonical orientation.

    Returns
    -------
    tuple of Limit
        One per conductor. Its resistance [ohm] is None where even an open conductor, or one of the larger
        resistances, would have passed.
    """
    arrangement = sound.fit.scene
    contacts = tuple(r for r in arrangement.readings if r.kind != "proximity")
    if not contacts:
        return tuple(Limit(conductor=c, resistance=None) for c in conductors)
    law = _sound_law(sound, contacts)
    draws = resampled(sound, _DRAWS)
    return tuple(
        Limit(conductor=c, resistance=_smallest_refused(sound, section, c, contacts, law, draws)) for c in conductors
    )


def _smallest_refused(
    sound: Weighed,
    section: str,
    conductor: Conductor,
    contacts: tuple[SceneReading, ...],
    law: tuple[FloatArray, FloatArray, FloatArray],
    draws: FloatArray,
) -> float | None:
    """Detection limit of one conductor [ohm]."""
    hypothesis = sound.hypothesis
    probe = Hypothesis(
        fault="none_found",
        base_rate=1.0,
        series=(SeriesFault(section, conductor, "any"),),  # type: ignore[arg-type]
        phasors=hypothesis.phasors,
        band=hypothesis.band,
    )
    built = build(probe, sound.fit.scene, contacts)
    z = carried_over(sound.fit.built, built, draws)
    at = built.keys.index(("fault", section, conductor))
    threshold = math.log(BASE_RATES["none_found"] / BASE_RATES[_FAULT[conductor]]) + _OCCAM
    first = _first_refused(built.program, z, at, np.array(built.order), *law, threshold)
    if first == _STEPS:
        return None
    low, high = PROBE_RANGE
    return float(low * (high / low) ** _SHARES[first])


@compiled
def _first_refused(
    program: Program,
    z: FloatArray,
    at: int,
    order: IntArray,
    center: FloatArray,
    whiten: FloatArray,
    noise: FloatArray,
    threshold: float,
) -> int:
    """Step from which on enough draws would have refused the sound verdict; as many as there are where the last passes.

    Tried from the largest resistance down, since most limits are far up.
    """
    work, none = make_work(program), np.zeros((0, 0))
    shown = np.zeros((z.shape[0], program.reading_kind.size))
    # White readings of a sound supply. What whitens them is lower triangular.
    sound = np.zeros(noise.size)
    for k in range(noise.size):
        for r in range(k + 1):
            sound[k] += whiten[k, r] * center[r]
    z[:, at] = _PLACES[0]
    predict(program, z, work, shown, none)
    still = _whitened(shown, order, whiten)
    for step in range(_STEPS - 1, -1, -1):
        z[:, at] = _PLACES[step]
        predict(program, z, work, shown, none)
        if _refused(_whitened(shown, order, whiten), still, sound, whiten, noise, threshold) < _POWER:
            return step + 1
    return 0


@within
def _whitened(shown: FloatArray, order: IntArray, whiten: FloatArray) -> FloatArray:
    """White readings of every draw, in the order of the contacts."""
    count = shown.shape[1]
    white = np.zeros(shown.shape)
    for i in range(shown.shape[0]):
        for row in range(count):
            r = order[row]
            for k in range(r, count):
                white[i, k] += whiten[k, r] * shown[i, row]
    return white


@within
def _refused(
    white: FloatArray, still: FloatArray, sound: FloatArray, whiten: FloatArray, noise: FloatArray, threshold: float
) -> float:
    """Share of the draws in which the sound verdict would have been refused [1]."""
    draws, count = white.shape
    moved, refused = np.empty(count), 0.0
    for i in range(draws):
        # What the fault alone changes: the same draw with the smallest resistance stands for the sound circuit.
        mean, variance = 0.0, 0.0
        for k in range(count):
            moved[k] = white[i, k] - still[i, k]
            mean += (0.5 * moved[k] + still[i, k] - sound[k]) * moved[k]
        for r in range(count):
            slope = 0.0
            for k in range(r, count):
                slope += moved[k] * whiten[k, r]
            variance += (slope * noise[r]) ** 2
        # With read = shown + noise the log likelihood ratio is a Gaussian, of this mean and deviation.
        refused += normal_cdf((mean - threshold) / max(math.sqrt(variance), 1e-9)) / draws
    return refused


def _sound_law(sound: Weighed, contacts: tuple[SceneReading, ...]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean of a sound supply's readings, what whitens their covariance, and each one's own scatter, linearized.

    All in the order of the contacts: shapes (R,), (R, R), (R,).
    """
    found = sound.fit
    built = build(found.hypothesis, found.scene, contacts)
    names = {key: d for d, key in enumerate(found.built.keys)}
    mode = found.modes[int(np.argmax(found.log_mass))]
    z = np.array([[mode[names[key]] if key in names else 0.0 for key in built.keys]])
    shown, jacobian = _linearized(built.program, z)
    rows = np.argsort(built.order)
    # The mode is where the readings put it; a sound supply could as well be anywhere its priors allow.
    center = (shown[0] - jacobian @ z[0])[rows]
    kept = observe(found.scene, contacts, range(len(contacts)), inconsistent=False)
    noise = np.hypot(kept.floor, kept.relative * np.maximum(shown[0][rows], 1.0))
    slopes = jacobian[rows]
    return center, np.linalg.inv(np.linalg.cholesky(slopes @ slopes.T + np.diag(noise**2))), noise


@compiled
def _linearized(program: Program, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What meters would show of one draw, shape (1, R), and its derivatives, shape (R, D)."""
    count = program.reading_kind.size
    shown, jacobian = np.zeros((1, count)), np.zeros((count, z.shape[1]))
    predict(program, z, make_work(program), shown, jacobian)
    return shown, jacobian
