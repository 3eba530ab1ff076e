"""Quantities that were not read, predicted from the draws of a posterior."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.circuit.forward import FloatArray, IntArray, only
from feedproof.faults.places import Site, neutral_rate
from feedproof.faults.priors import PRIORS
from feedproof.faults.severities import piece_array, working
from feedproof.inference.draws import spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.outcome import Interval
from feedproof.inference.predictions import shown_by
from feedproof.inference.program import Built, build
from feedproof.inference.runs import run_of, sound_ohms
from feedproof.inference.scene import Scene, SceneReading
from feedproof.interruption import go_on
from feedproof.readings import Conductor

LOW, HIGH = 0.05, 0.95
_LEAST_EFFECTIVE = 20.0
"""Effective draws that a quantile is read off as if there were, where there are fewer [1]."""
_NEIGHBOURS = 12


def evenly(weights: FloatArray, count: int) -> IntArray:
    """Rows of so many draws of equal weight, by systematic resampling.

    Parameters
    ----------
    weights : ndarray, shape (N,)
        Of the draws [1].
    count : int
        How many rows.

    Returns
    -------
    ndarray of int, shape (count,)
        Rows, ascending [1].
    """
    upto = np.cumsum(weights)
    return np.minimum(np.searchsorted(upto, (np.arange(count) + 0.5) / count * upto[-1]), len(weights) - 1)


def some_of(fit: Fit, count: int) -> FloatArray:
    """So many draws of equal weight [1]; shape (count, D + S)."""
    return np.asarray(fit.x[evenly(fit.weights(), count)])


def predicted(fit: Fit, x: FloatArray, questions: Sequence[SceneReading], scene: Scene) -> FloatArray:
    """What meters would show, or quantities would be, under given draws.

    Parameters
    ----------
    fit : Fit
        The place that the draws belong to.
    x : ndarray, shape (N, D + S)
        Draws [1].
    questions : sequence of SceneReading
        In the scene's states and meters.
    scene : Scene
        Without values; may have more states or meters than the readings' own.

    Returns
    -------
    ndarray, shape (N, Q)
        Magnitudes in the order of the questions [V, A or ohm].
    """
    go_on()
    site = neutral_rate(fit.site)
    built = build(site, scene, (*scene.readings, *questions))
    placed = carried(fit, built, x)
    first = len(scene.readings)
    asked = [
        (row, number - first) for row, number in enumerate(built.order) if first <= number < first + len(questions)
    ]
    shown = np.zeros((len(x), len(questions)))
    shown_by(only(built.program, np.array([row for row, _ in asked])), placed, shown)
    return np.asarray(shown[:, np.argsort([number for _, number in asked])])


def carried(fit: Fit, built: Built, x: FloatArray, *, beside: bool = True) -> FloatArray:
    """Draws of a fit in the coordinates of another program of the same place.

    Parameters
    ----------
    fit : Fit
        The place that the draws belong to.
    built : Built
        The other program.
    x : ndarray, shape (N, D + S)
        Draws [1].
    beside : bool
        Whether unknowns that only the other program has are drawn from their priors; else they stay at their medians.

    Returns
    -------
    ndarray, shape (N, D' + S)
        Draws in the other program's coordinates [1].
    """
    size, own = int(built.program.size), fit.size
    placed = np.zeros((len(x), size + x.shape[1] - own))
    placed[:, size:] = x[:, own:]
    at = {key: d for d, key in enumerate(fit.built.keys)}
    fresh = [d for d, key in enumerate(built.keys) if key not in at]
    for d, key in enumerate(built.keys):
        if key in at:
            placed[:, d] = x[:, at[key]]
    if fresh and beside:
        placed[:, fresh] = spread_evenly(len(x), len(fresh))[1]
    return placed


def from_prior(fit: Fit, count: int) -> FloatArray:
    """Circuits of a place as they are before any reading.

    Parameters
    ----------
    fit : Fit
        The place.
    count : int
        How many.

    Returns
    -------
    ndarray, shape (count, D + S)
        Draws of equal weight [1].
    """
    spans, size = fit.site.spans, fit.size
    even, normal = spread_evenly(count, size)
    x = np.concatenate([normal, np.zeros((count, len(spans)))], axis=1)
    for k, own in enumerate(spans):
        middle, scale = working(own)
        s = np.linspace(own[0].low, own[-1].high, 257)
        pieces = piece_array(own)
        piece = pieces[np.minimum(np.searchsorted(pieces[:, 1], s), len(pieces) - 1)]
        upto = np.cumsum(np.exp(piece[:, 2] + piece[:, 3] * s))
        x[:, size + k] = (np.interp(even[:, k] * upto[-1], upto, s) - middle) / scale
    return x


def quantiles(values: FloatArray, weights: FloatArray, shares: Sequence[float]) -> list[float]:
    """Weighted quantiles, interpolated between the middles of the draws' weights.

    Of n draws the k-th has k/(n + 1) of the distribution below it in the mean, not (k - 1/2)/n: so few draws as these
    would make intervals too narrow. For n stand as many draws as are effective. Weights are averaged over neighbours
    first: they mostly differ by what the quantity does not depend on.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Of the draws; in any one unit, and [1].
    shares : sequence of float
        Between 0 and 1 [1].

    Returns
    -------
    list of float
        One for each share [as the values].
    """
    order = np.argsort(values, kind="stable")
    v, w = values[order], _smoothed(weights[order])
    middle, whole = np.cumsum(w) - 0.5 * w, w.sum()
    n = whole * whole / (weights * weights).sum()
    # With very few draws the outermost would count for too much.
    n = max(n, _LEAST_EFFECTIVE)
    at = (np.array(shares) * (n + 1.0) - 0.5) / n
    return [float(q) for q in np.interp(at * whole, middle, v)]


def _smoothed(weights: FloatArray) -> FloatArray:
    """Means over neighbours on either side, over fewer toward the ends, so that nothing leans outward."""
    rows = np.arange(len(weights))
    reach = np.minimum(np.minimum(rows, rows[::-1]), _NEIGHBOURS)
    upto = np.concatenate(([0.0], np.cumsum(weights)))
    return np.asarray((upto[rows + reach + 1] - upto[rows - reach]) / (2 * reach + 1))


def ends(values: FloatArray, weights: FloatArray) -> tuple[float, float]:
    """Where nine in ten lie.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Of the draws; in any one unit, and [1].

    Returns
    -------
    tuple of float
        The lower and the upper end [as the values].
    """
    low, high = quantiles(values, weights, (LOW, HIGH))
    return low, high


def interval(values: FloatArray, weights: FloatArray) -> Interval:
    """Median and 90 % interval.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Of the draws; in any one unit, and [1].

    Returns
    -------
    Interval
        In the unit of the values.
    """
    low, value, high = quantiles(values, weights, (LOW, 0.5, HIGH))
    return Interval(value=value, low=low, high=high, bound="two_sided")


_SPREADS = {"cord": PRIORS.cord_spread, "feeder": PRIORS.feeder_spread, "service": PRIORS.service_spread}


def _sound(section: str, conductor: Conductor, ohm: float, z: FloatArray, scene: Scene) -> FloatArray:
    """A sound conductor's resistance by its standard-normal unknown [ohm]."""
    if section == "branch":
        return sound_ohms(run_of(scene.supply.run, conductor), z)
    return np.asarray(ohm * np.exp(_SPREADS[section] * z))


def path_ohms(fit: Fit, x: FloatArray, conductor: Conductor, sections: Sequence[str], scene: Scene) -> FloatArray:
    """Series resistance of a conductor over some sections, for each draw [ohm]; shape (N,).

    What was held fixed while fitting is drawn from its prior here, so that no interval is narrower than that.

    Parameters
    ----------
    fit : Fit
        The place that the draws belong to.
    x : ndarray, shape (N, D + S)
        Draws [1].
    conductor : str
        In the scene's orientation.
    sections : sequence of str
        Which sections count.
    scene : Scene
        The arrangement.
    """
    total = np.zeros(len(x))
    for k, (section, unknown, ohm, severity) in enumerate(fit.built.series[conductor]):
        if section not in sections:
            continue
        z = x[:, unknown] if unknown >= 0 else spread_evenly(len(x), 4)[1][:, k % 4]
        total += _sound(section, conductor, ohm, z, scene)
        if severity >= 0:
            middle, scale = working(fit.site.spans[severity])
            total += np.exp(middle + scale * x[:, fit.size + severity])
    return total


def path_constant(
    built: Built, site: Site, x: FloatArray, conductor: Conductor, sections: Sequence[str], scene: Scene
) -> float:
    """Series resistance of a conductor over some sections at one point, what is held fixed at its median [ohm].

    Parameters
    ----------
    built : Built
        The program of the place.
    site : Site
        The place.
    x : ndarray, shape (D + S,)
        Coordinates [1].
    conductor, sections, scene
        As `path_ohms` takes them.
    """
    total = 0.0
    for section, unknown, ohm, severity in built.series[conductor]:
        if section in sections:
            total += float(_sound(section, conductor, ohm, x[unknown], scene)) if unknown >= 0 else ohm
            if severity >= 0:
                middle, scale = working(site.spans[severity])
                total += math.exp(middle + scale * x[int(built.program.size) + severity])
    return total
