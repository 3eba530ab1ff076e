"""Numbers side by side, against numpy and the standard library."""

import math
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
import pytest
from numba.core.errors import TypingError
from numpy.typing import NDArray

from feedproof.circuit.lanes import (
    LANES,
    ROWS,
    WIDE,
    absolute,
    chosen,
    cosine_sine,
    every,
    exponential,
    gathered,
    get,
    larger,
    load,
    logarithm,
    put,
    room,
    root,
    smaller,
    store,
    wide_room,
    width,
)

Lanes = NDArray[np.float64]
compiled = numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that another file has changed


@compiled
def arithmetic(a: Lanes, b: Lanes, out: Lanes) -> None:
    x, y = load(a, 0), load(b, (0, 1))
    total = 0.0
    for _ in range(1):
        total += x * y
    total -= 2.0 * x
    total = total / y + (1.0 - -x) * 3.0
    store(out, 0, larger(smaller(total, 9.0), -9.0))
    store(out, 1, absolute(total))
    store(out, 2, chosen(x, total, -1.0))
    store(out, 3, 7.5)


@compiled
def functions(a: Lanes, out: Lanes) -> None:
    x = load(a, 0)
    store(out, 0, exponential(x))
    store(out, 1, logarithm(absolute(x)))
    store(out, 2, root(absolute(x)))
    cosine, sine = cosine_sine(x)
    store(out, 3, cosine)
    store(out, 4, sine)


SHAPES = ((LANES,), (ROWS, LANES))
"""Of the lanes of climbs, and of those of draws."""


def row(values: list[float], shape: tuple[int, ...] = (LANES,)) -> Lanes:
    return np.resize(np.array(values), (1, *shape))


@pytest.mark.parametrize("shape", SHAPES)
def test_arithmetic_is_that_of_numpy(shape: tuple[int, ...]) -> None:
    rng = np.random.default_rng(1)
    a, b, out = rng.normal(size=(2, *shape)), rng.normal(size=(1, 2, *shape)), np.zeros((4, *shape))
    arithmetic(a, b, out)
    total = (a[0] * b[0, 1] - 2.0 * a[0]) / b[0, 1] + (1.0 + a[0]) * 3.0
    np.testing.assert_array_equal(out[0], np.clip(total, -9.0, 9.0))
    np.testing.assert_array_equal(out[1], np.abs(total))
    np.testing.assert_array_equal(out[2], np.where(a[0] > 0.0, total, -1.0))
    assert (out[3] == 7.5).all()


CASES: list[tuple[int, Callable[[float], float], list[float]]] = [
    (0, math.exp, [0.0, 1.0, -1.0, 0.3465, -0.3466, 20.7, -36.0, 300.0, -300.0, 707.9, -707.9, 1e-17, 23.02585]),
    (1, math.log, [1.0, 0.70710678, 0.70710679, 1.41421356, 2.0, 1e-300, 1e300, 0.999999, 1.000001, 5e-37, math.pi]),
    (2, math.sqrt, [0.0, 1.0, 2.0, 1e-300, 1e300, 0.1]),
    (3, math.cos, [0.0, 0.25, -1.0, 1.5707963, 2.0, -2.4]),
    (4, math.sin, [0.0, 0.25, -1.0, 1.5707963, 2.0, -2.4]),
]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("which", "function", "values"), CASES)
def test_functions_are_those_of_the_library(
    which: int, function: Callable[[float], float], values: list[float], shape: tuple[int, ...]
) -> None:
    for value in [*values, *np.linspace(values[0], values[1], 40)]:
        out = np.zeros((5, *shape))
        functions(row([float(value)], shape), out)
        assert out[which] == pytest.approx(function(value), rel=4e-15, abs=2e-15)


def test_no_lane_knows_of_another_nor_of_how_many_there_are() -> None:
    values = np.linspace(-3.0, 3.0, WIDE)
    together = np.zeros((5, ROWS, LANES))
    functions(values.reshape(1, ROWS, LANES), together)
    for lane, value in enumerate(values):
        alone: Any = np.zeros((5, LANES))
        functions(row([value]), alone)
        np.testing.assert_array_equal(alone[:, 0], together[:, lane // LANES, lane % LANES])


@compiled
def turned(a: Lanes, out: Lanes) -> int:
    """Move each number of row (1, 0) one lane on."""
    count = width(a, (1, 0))
    for lane in range(count):
        put(out, (1, 0), (lane + 1) % count, get(a, (1, 0), lane))
    return int(count)


@pytest.mark.parametrize("shape", SHAPES)
def test_single_numbers_are_found_where_they_lie(shape: tuple[int, ...]) -> None:
    a, out = np.random.default_rng(2).normal(size=(2, 3, *shape)), np.zeros((2, 3, *shape))
    assert turned(a, out) == math.prod(shape)
    np.testing.assert_array_equal(out[1, 0].ravel(), np.roll(a[1, 0].ravel(), 1))
    out[1, 0] = 0.0
    assert not out.any()


@compiled
def picked(a: Lanes, place: Lanes, out: Lanes) -> bool:
    """Numbers of an array taken as one row; whether all of them are above a limit."""
    found = gathered(a, load(place, 0))
    store(out, 0, found)
    return bool(every(found, 3.0))


@pytest.mark.parametrize("shape", SHAPES)
def test_each_lane_gets_its_own_number_of_a_table(shape: tuple[int, ...]) -> None:
    table, out = np.arange(60.0).reshape(5, 4, 3), np.zeros((1, *shape))
    place = np.random.default_rng(3).permutation(np.linspace(4.0, 59.9, math.prod(shape))).reshape(1, *shape)
    assert picked(table, place, out)
    np.testing.assert_array_equal(out, np.floor(place))
    place.flat[-1] = 3.7
    assert not picked(table, place, out), "one that is not above it is enough"
    assert out.flat[-1] == 3.0


@pytest.mark.parametrize(("make", "shape"), [(room, (5, LANES)), (wide_room, (5, ROWS, LANES))])
def test_room_begins_where_the_processor_fetches(make: Callable[[int], Lanes], shape: tuple[int, ...]) -> None:
    made = make(5)
    assert made.shape == shape
    assert made.flags.c_contiguous
    assert not made.any()
    assert made.ctypes.data % 64 == 0


def test_lanes_of_one_width_do_not_fit_into_those_of_another() -> None:
    """The compiler refuses, since memory beyond the end would be written."""

    @compiled
    def mixed(a: Lanes, out: Lanes) -> None:
        store(out, 0, load(a, 0))

    @compiled
    def short(a: Lanes, out: Lanes) -> None:
        store(out, 0, load(a, (0, 0, 0)))

    with pytest.raises(TypingError, match="do not fit"):
        mixed(np.zeros((2, ROWS, LANES)), np.zeros((2, LANES)))
    with pytest.raises(TypingError, match="must leave"):
        short(np.zeros((2, 2, LANES)), np.zeros((2, LANES)))


def test_far_arguments_stay_finite() -> None:
    out = np.zeros((5, LANES))
    functions(row([-1e9, 1e9]), out)
    assert out[0, 0] == pytest.approx(math.exp(-708.0))
    assert out[0, 1] == pytest.approx(math.exp(709.0))
    assert (np.abs(out[3:]) <= 1.0).all()
