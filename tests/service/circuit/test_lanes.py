"""Eight numbers at once, against numpy and the standard library."""

import math
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from feedproof.circuit.lanes import (
    LANES,
    absolute,
    cosine_sine,
    exponential,
    larger,
    load,
    logarithm,
    root,
    smaller,
    splat,
    store,
)

Lanes = NDArray[np.float64]
compiled = numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that another file has changed


@compiled
def arithmetic(a: Lanes, b: Lanes, out: Lanes) -> None:
    x, y = load(a, 0), load(b, (0, 1))
    total = splat(0.0)
    total += x * y
    total -= 2.0 * x
    total = total / y + (1.0 - -x) * 3.0
    store(out, 0, larger(smaller(total, 9.0), splat(-9.0)))
    store(out, 1, absolute(total))


@compiled
def functions(a: Lanes, out: Lanes) -> None:
    x = load(a, 0)
    store(out, 0, exponential(x))
    store(out, 1, logarithm(absolute(x)))
    store(out, 2, root(absolute(x)))
    cosine, sine = cosine_sine(x)
    store(out, 3, cosine)
    store(out, 4, sine)


def row(values: list[float]) -> Lanes:
    return np.resize(np.array(values), (1, LANES))


def test_arithmetic_is_that_of_numpy() -> None:
    rng = np.random.default_rng(1)
    a, b, out = rng.normal(size=(2, LANES)), rng.normal(size=(1, 2, LANES)), np.zeros((2, LANES))
    arithmetic(a, b, out)
    total = (a[0] * b[0, 1] - 2.0 * a[0]) / b[0, 1] + (1.0 + a[0]) * 3.0
    np.testing.assert_array_equal(out[0], np.clip(total, -9.0, 9.0))
    np.testing.assert_array_equal(out[1], np.abs(total))


CASES: list[tuple[int, Callable[[float], float], list[float]]] = [
    (0, math.exp, [0.0, 1.0, -1.0, 0.3465, -0.3466, 20.7, -36.0, 300.0, -300.0, 707.9, -707.9, 1e-17, 23.02585]),
    (1, math.log, [1.0, 0.70710678, 0.70710679, 1.41421356, 2.0, 1e-300, 1e300, 0.999999, 1.000001, 5e-37, math.pi]),
    (2, math.sqrt, [0.0, 1.0, 2.0, 1e-300, 1e300, 0.1]),
    (3, math.cos, [0.0, 0.25, -1.0, 1.5707963, 2.0, -2.4]),
    (4, math.sin, [0.0, 0.25, -1.0, 1.5707963, 2.0, -2.4]),
]


@pytest.mark.parametrize(("which", "function", "values"), CASES)
def test_functions_are_those_of_the_library(
    which: int, function: Callable[[float], float], values: list[float]
) -> None:
    for value in [*values, *np.linspace(values[0], values[1], 40)]:
        out = np.zeros((5, LANES))
        functions(row([float(value)]), out)
        assert out[which] == pytest.approx(function(value), rel=4e-15, abs=2e-15)


def test_no_lane_knows_of_another() -> None:
    values = np.linspace(-3.0, 3.0, LANES)
    together = np.zeros((5, LANES))
    functions(values[None].copy(), together)
    for lane, value in enumerate(values):
        alone: Any = np.zeros((5, LANES))
        functions(row([value]), alone)
        np.testing.assert_array_equal(alone[:, 0], together[:, lane])


def test_far_arguments_stay_finite() -> None:
    out = np.zeros((5, LANES))
    functions(row([-1e9, 1e9]), out)
    assert out[0, 0] == pytest.approx(math.exp(-708.0))
    assert out[0, 1] == pytest.approx(math.exp(709.0))
    assert (np.abs(out[3:]) <= 1.0).all()
