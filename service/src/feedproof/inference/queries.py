"""Quantities that were not read, predicted from the draws of a posterior."""

from collections.abc import Sequence

import msgspec
import numpy as np

from feedproof.inference.forward import FloatArray, make_work, predict, unknown_column
from feedproof.inference.outcome import Interval
from feedproof.inference.points import DIMENSIONS, NORMAL_POINTS, POINT_COUNT
from feedproof.inference.program import Built, build
from feedproof.inference.scene import Scene, SceneReading, mirror_reading, mirror_scene
from feedproof.inference.weigh import Weighed
from feedproof.readings import Conductor

_LOW, _HIGH = 0.05, 0.95
_FLUSH = 0.12
"""An end of an interval this close to the end of what the fault's name covers, as a share of it in the
logarithm, says that the readings do not bound the quantity on that side."""


def resampled(weighed: Weighed, count: int) -> FloatArray:
    """Draws of equal weight by systematic resampling.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis with draws.
    count : int
        How many [1].

    Returns
    -------
    ndarray, shape (count, D)
        Coordinates [1].
    """
    edges = np.cumsum(weighed.weights())
    places = (np.arange(count) + 0.5) / count
    return weighed.z[np.minimum(np.searchsorted(edges, places), weighed.z.shape[0] - 1)]


def only(weighed: Weighed, z: FloatArray) -> Weighed:
    """The same hypothesis with other draws, of equal weight.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis.
    z : ndarray, shape (N, D)
        Draws [1].

    Returns
    -------
    Weighed
        With these draws.
    """
    return msgspec.structs.replace(weighed, z=z, log_weight=np.zeros(z.shape[0]))


def predicted(
    weighed: Weighed, z: FloatArray, questions: Sequence[SceneReading], scene: Scene | None = None
) -> FloatArray:
    """What meters would show, or quantities would be, under given draws.

    Parameters
    ----------
    weighed : Weighed
        The hypothesis that the draws belong to.
    z : ndarray, shape (N, D)
        Draws [1].
    questions : sequence of SceneReading
        In the canonical orientation.
    scene : Scene, optional
        Canonical, where it has more states or meters than the readings' own.

    Returns
    -------
    ndarray, shape (N, Q)
        Magnitudes in the order of the questions [V, A or ohm].
    """
    hypothesis = weighed.hypothesis
    if scene is None:
        scene = weighed.fit.scene
    elif hypothesis.mirrored:
        scene = mirror_scene(scene)
    asked = tuple(mirror_reading(q) if hypothesis.mirrored else q for q in questions)
    built = build(hypothesis, scene, asked)
    shown = np.zeros((z.shape[0], len(asked)))
    predict(built.program, carried_over(weighed.fit.built, built, z), make_work(built.program), shown, np.zeros((0, 0)))
    answer = np.empty_like(shown)
    answer[:, list(built.order)] = shown
    return answer


def carried_over(known: Built, wanted: Built, z: FloatArray) -> FloatArray:
    """Coordinates for another program of the same hypothesis; unknowns new to it are drawn from their priors.

    Parameters
    ----------
    known, wanted : Built
        The program that the draws belong to, and the one to use them in.
    z : ndarray, shape (N, D)
        Draws [1].

    Returns
    -------
    ndarray, shape (N, D')
        Coordinates of the wanted program [1].
    """
    place = {key: d for d, key in enumerate(known.keys)}
    rows = (np.arange(z.shape[0]) * 7 + 3) % POINT_COUNT
    result = np.empty((z.shape[0], len(wanted.keys)))
    fresh = DIMENSIONS
    for d, key in enumerate(wanted.keys):
        if key in place:
            result[:, d] = z[:, place[key]]
        else:
            fresh -= 1
            result[:, d] = NORMAL_POINTS[rows, fresh % DIMENSIONS]
    return result


def quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    """Weighted quantile, linear between the draws.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Draws of a quantity, and their weights, which sum to 1 [1].
    share : float
        0 to 1 [1].

    Returns
    -------
    float
        In the quantity's unit [as given].
    """
    order = np.argsort(values, kind="stable")
    edges = np.cumsum(weights[order]) - 0.5 * weights[order]
    return float(np.interp(share, edges, values[order]))


def interval(values: FloatArray, weights: FloatArray, bound: str = "two_sided") -> Interval:
    """Median and 90 % interval of weighted draws.

    Parameters
    ----------
    values, weights : ndarray, shape (N,)
        Draws of a quantity, and their weights, which sum to 1 [1].
    bound : str
        What the interval bounds.

    Returns
    -------
    Interval
        In the quantity's unit [as given].

    References
    ----------
    .. [1] S. S. Wilks, "Determination of sample sizes for setting tolerance limits", Ann. Math. Stat. 12 (1941)
       91-96: between two order statistics of n draws lies, in expectation, the share of the distribution that they
       are apart in rank, over n + 1. So with few effective draws the ends lie further out.
    """
    count = 1.0 / float(np.sum(np.square(weights)))
    low_tail, high_tail = (max(0.0, 0.5 - (0.5 - tail) * (1.0 + 1.0 / count)) for tail in (_LOW, 1.0 - _HIGH))
    low, middle, high = (quantile(values, weights, s) for s in (low_tail, 0.5, 1.0 - high_tail))
    return Interval(value=middle, low=low, high=high, bound=bound)


def path_resistance(weighed: Weighed, conductor: Conductor, *, to_terminals: bool) -> FloatArray:
    """Series resistance of a conductor from the panel, for each draw; shape (N,) [ohm]."""
    built = weighed.fit.built
    program = built.program
    total = np.zeros(weighed.z.shape[0])
    for term in built.series[conductor]:
        if term.section == "cord" and not to_terminals:
            continue
        if term.coordinate < 0:
            total += term.resistance
        else:
            total += np.exp(unknown_column(program, weighed.z, term.coordinate))
    return total


def one_sided(found: Interval, low_end: float, high_end: float) -> str:
    """Whether an interval leans on an end of what was allowed.

    Parameters
    ----------
    found : Interval
        Of a positive quantity.
    low_end, high_end : float
        What the fault's name covers [same unit].

    Returns
    -------
    str
        `at_least`, `at_most` or `two_sided`.
    """
    span = np.log(high_end / low_end)
    up = np.log(high_end / max(found.high, low_end)) / span
    down = np.log(max(found.low, low_end) / low_end) / span
    if up < _FLUSH and up <= down:
        return "at_least"
    if down < _FLUSH:
        return "at_most"
    return "two_sided"
