"""Tabulated laws against scipy's: values, slopes, and the way back."""

import math

import numba
import numpy as np
import pytest
from scipy import stats

from feedproof.circuit.lanes import LANES, ROWS
from feedproof.inference.laws import (
    NORMAL,
    REACH,
    TRUNCATED,
    UNIFORM,
    FloatArray,
    IntArray,
    Law,
    coordinate_of,
    tabulated,
    unknowns,
)
from feedproof.inference.laws import interpolated as compiled_interpolated

CUTS = ((-2.7, 1.8), (-8.3, 0.0), (-0.1, 6.0), (-3.3, 6.0))
"""A sound supply, a low one, and loads that are never below an end."""


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that another file has changed
def interpolated(tables: FloatArray, which: int, z: float) -> tuple[float, float]:
    found: tuple[float, float] = compiled_interpolated(tables, which, z)
    return found


def cut_law(low: float, high: float) -> Law:
    return TRUNCATED, float(stats.norm.cdf(low)), float(stats.norm.cdf(high) - stats.norm.cdf(low))


@pytest.mark.parametrize(("low", "high"), CUTS)
def test_a_truncated_law_is_that_of_scipy(low: float, high: float) -> None:
    tables, which = tabulated([cut_law(low, high)])
    for z in np.linspace(-5.0, 5.0, 331):
        value, _ = interpolated(tables, int(which[0]), float(z))
        assert value == pytest.approx(stats.truncnorm.ppf(stats.norm.cdf(z), low, high), abs=2e-8)


def test_a_uniform_law_is_that_of_scipy() -> None:
    tables, which = tabulated([(UNIFORM, 0.0, 1.0)])
    for z in np.linspace(-7.0, 7.0, 333):
        value, slope = interpolated(tables, int(which[0]), float(z))
        assert value == pytest.approx(stats.norm.cdf(z), abs=1e-9)
        assert slope == pytest.approx(stats.norm.pdf(z), abs=1e-6)


@pytest.mark.parametrize(("low", "high"), CUTS)
def test_slopes_belong_to_the_values(low: float, high: float) -> None:
    tables, which = tabulated([cut_law(low, high)])
    for z in np.linspace(-4.0, 4.0, 77):
        step = 1e-5
        ends = [interpolated(tables, int(which[0]), float(z + s * step))[0] for s in (1.0, -1.0)]
        _, slope = interpolated(tables, int(which[0]), float(z))
        assert slope == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=1e-5, abs=1e-8)


def test_further_out_than_anything_lies_it_stays_at_the_end() -> None:
    low, high = CUTS[0]
    tables, which = tabulated([cut_law(low, high)])
    for z in (REACH, 50.0, 1e9):
        assert interpolated(tables, int(which[0]), z)[0] == pytest.approx(high, abs=1e-6)
        assert interpolated(tables, int(which[0]), -z)[0] == pytest.approx(low, abs=1e-6)


@numba.njit(error_model="numpy")
def unknown_lanes(
    tables: FloatArray, which: IntArray, z: FloatArray, place: FloatArray, scale: FloatArray, slope: FloatArray
) -> FloatArray:
    value = np.zeros_like(z)
    unknowns(place, scale, tables, which, z, value, slope)
    return value


@pytest.mark.parametrize("shape", [(LANES,), (ROWS, LANES)])
def test_side_by_side_each_unknown_is_the_same_to_the_last_digit(shape: tuple[int, ...]) -> None:
    tables, which = tabulated([cut_law(*CUTS[0]), (NORMAL, 0.0, 1.0), (UNIFORM, 0.0, 1.0), cut_law(*CUTS[1])])
    place, scale = np.array([3.0, -1.0, 0.5, 2.0]), np.array([0.1, 2.0, 5.0, 0.3])
    z = np.random.default_rng(6).normal(scale=4.0, size=(4, *shape))
    z[0].flat[0], z[3].flat[1] = -REACH, 1e9
    slope = np.zeros_like(z)
    value = unknown_lanes(tables, which, z, place, scale, slope)
    for d, lane in np.ndindex(4, math.prod(shape)):
        at = float(z[d].flat[lane])
        inner, steep = interpolated(tables, int(which[d]), at) if which[d] >= 0 else (at, 1.0)
        assert value[d].flat[lane] == place[d] + scale[d] * inner
        assert slope[d].flat[lane] == scale[d] * steep


def test_laws_that_are_alike_share_a_table() -> None:
    laws = [(NORMAL, 0.0, 0.0), cut_law(*CUTS[0]), (UNIFORM, 0.3, 0.4), cut_law(*CUTS[0]), (UNIFORM, 0.0, 1.0)]
    tables, which = tabulated(laws)
    assert tables.shape[0] == 2
    assert which[0] == -1
    assert which[1] == which[3] != which[2] == which[4]
    assert tabulated(laws)[0] is tables


@pytest.mark.parametrize("z", [-3.0, 0.0, 1.7])
def test_the_way_back(z: float) -> None:
    tables, which = tabulated([cut_law(*CUTS[2]), (UNIFORM, 0.0, 1.0)])
    for number in which:
        value, _ = interpolated(tables, int(number), z)
        assert coordinate_of(tables, int(number), value) == pytest.approx(z, abs=1e-9)
    assert coordinate_of(tables, -1, z) == z
    assert coordinate_of(tables, int(which[1]), 1.5) == math.inf
    assert coordinate_of(tables, int(which[1]), -0.5) == math.inf
