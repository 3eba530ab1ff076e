"""Quantities that were not read, predicted from the draws of a posterior."""

from collections.abc import Sequence
from functools import lru_cache

import msgspec
import numpy as np

from feedproof.circuit.compiling import compiled, direct
from feedproof.inference.arrays import IntArray, Program, make_work
from feedproof.inference.forward import FloatArray, predict, unknown_column
from feedproof.inference.outcome import Interval
from feedproof.inference.points import DIMENSIONS, NORMAL_POINTS
from feedproof.inference.program import Built, Key, build
from feedproof.inference.quantiles import evenly, quantiles
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
    return weighed.z[evenly(weighed.log_weight, count)]


def some_of(weighed: Weighed, most: int) -> tuple[FloatArray, FloatArray]:
    """All draws with their weights, or where they are many, so many of equal weight.

    Parameters
    ----------
    weighed : Weighed
        A hypothesis with draws.
    most : int
        Most draws to give [1].

    Returns
    -------
    tuple of ndarray, shapes (N, D), (N,)
        Coordinates, and weights that sum to 1 [1].
    """
    if weighed.z.shape[0] <= most:
        return weighed.z, weighed.weights()
    return resampled(weighed, most), np.full(most, 1.0 / most)


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
        scene = _turned_scene(scene)
    asked = _turned(tuple(questions)) if hypothesis.mirrored else tuple(questions)
    built = build(hypothesis, scene, asked)
    shown = _shown_by(built.program, carried_over(weighed.fit.built, built, z))
    answer = np.empty_like(shown)
    answer[:, list(built.order)] = shown
    return answer


@lru_cache(maxsize=64)
def _turned_scene(scene: Scene) -> Scene:
    """Scenes without values come again and again."""
    return mirror_scene(scene)


@lru_cache(maxsize=256)
def _turned(questions: tuple[SceneReading, ...]) -> tuple[SceneReading, ...]:
    return tuple(mirror_reading(q) for q in questions)


@compiled
def shown_by(program: Program, z: FloatArray) -> FloatArray:
    """What meters would show, in a program's order.

    Parameters
    ----------
    program : Program
        Hypothesis and readings.
    z : ndarray, shape (N, D)
        Coordinates [1].

    Returns
    -------
    ndarray, shape (N, R)
        Magnitudes [V, A or ohm].
    """
    shown = np.zeros((z.shape[0], program.reading_kind.size))
    predict(program, z, make_work(program), shown, np.zeros((0, 0)))
    return shown


_shown_by = direct(shown_by)


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
    return _gathered(z, _columns(known.keys, wanted.keys), NORMAL_POINTS)


@lru_cache(maxsize=2048)
def _columns(known: tuple[Key, ...], wanted: tuple[Key, ...]) -> IntArray:
    """Column of the draws for each wanted coordinate; of a new one −1 minus a column of the fixed points."""
    place = {key: d for d, key in enumerate(known)}
    columns, fresh = [], DIMENSIONS
    for key in wanted:
        if key not in place:
            fresh -= 1
        columns.append(place.get(key, -1 - fresh % DIMENSIONS))
    return np.array(columns, np.int64)


@compiled
def _gathered(z: FloatArray, columns: IntArray, points: FloatArray) -> FloatArray:
    result = np.empty((z.shape[0], columns.size))
    for i in range(z.shape[0]):
        row = (7 * i + 3) % points.shape[0]
        for d in range(columns.size):
            result[i, d] = z[i, columns[d]] if columns[d] >= 0 else points[row, -1 - columns[d]]
    return result


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
    low, middle, high = quantiles(values, weights, np.array((low_tail, 0.5, 1.0 - high_tail))).tolist()
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
