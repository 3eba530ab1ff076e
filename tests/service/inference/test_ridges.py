"""Draws along thin bent surfaces: evidence and posterior against quadrature over a fine grid."""

import math

import numpy as np
import pytest

from feedproof.circuit import topology as net
from feedproof.inference.arrays import IntArray, Program
from feedproof.inference.forward import NORMAL, UNIFORM, VOLTAGE, FloatArray
from feedproof.inference.likelihood import Observations
from feedproof.inference.ridges import sharp_coordinates
from support.internals.small_programs import LEVEL, Drawn, by_grid, observed, one_voltage, sampled, small_program

HELD = np.zeros(1)
WIDE = np.linspace(-6.0, 6.0, 401)
"""A third of the step moves the evidence by less than 0.01 nat, and means by less than 0.02 of their spread."""
COARSE = np.linspace(-6.0, 6.0, 201)
"""As good for readings that scatter by more than 5 V."""


def floating(spread: float = 2.0, legs: tuple[int, ...] = (net.R1,)) -> Program:
    """Give a neutral that floats between two loads and a fixed leakage to ground, its loads over four decades."""
    return small_program(
        (LEVEL, (NORMAL, math.log(1e-4), spread), (NORMAL, math.log(1e-4), spread)),
        ((net.R1, net.RN, 1, 1.0), (net.R2, net.RN, 2, 1.0)),
        tuple((VOLTAGE, leg, net.RN, 0j) for leg in legs),
        resistances={(net.PN, net.RN): 1e4},
    )


def pulled(value: float, floor: float) -> Observations:
    return observed([VOLTAGE], [value], floor=floor)


Grid = tuple[float, FloatArray, FloatArray]


def agrees(found: Drawn, truth: Grid) -> bool:
    """Whether the evidence, the means and the spreads are those of the quadrature."""
    log_evidence, z, weights = truth
    good = abs(found.log_evidence - log_evidence) < 0.04
    for d in (1, 2):
        mean = float(weights @ z[:, d])
        variance = float(weights @ (z[:, d] - mean) ** 2)
        good &= abs(found.mean(found.z[:, d]) - mean) < 0.1 * math.sqrt(variance)
        good &= abs(found.mean((found.z[:, d] - mean) ** 2) / variance - 1.0) < 0.2
    return good


@pytest.mark.parametrize("value", [60.0, 90.0, 119.0, 170.0])
def test_a_bent_ridge_is_that_of_the_quadrature(value: float) -> None:
    o = pulled(value, 1.5)
    found = sampled(floating(), o, settling=True, enough=2000.0, limit=8192)
    assert agrees(found, by_grid(floating(), o, (HELD, WIDE, WIDE)))


def test_another_ridge_would_not_pass() -> None:
    """The control: readings of other values, or more blurred, leave another surface."""
    truth = by_grid(floating(), pulled(90.0, 1.5), (HELD, WIDE, WIDE))
    for wrong in (pulled(70.0, 1.5), pulled(119.0, 1.5), pulled(90.0, 20.0)):
        assert not agrees(sampled(floating(), wrong, settling=True, enough=2000.0, limit=8192), truth)


def test_sharper_readings_cost_no_draws() -> None:
    """What a few Gaussians need ever more draws for, as the surface gets thinner, settling does not."""
    effective: list[float] = []
    for floor in (1.5, 0.05):
        found = sampled(floating(), pulled(90.0, floor), settling=True, enough=1e9, limit=2000)
        effective.append(1.0 / float(np.sum(found.weights**2)) / found.weights.size)
    assert effective[1] > 0.7 * effective[0]
    assert effective[1] > 0.2


def test_a_surface_that_bends_more_is_fitted_again() -> None:
    """Loads over ten decades and more: the first draws are too uneven to go on with."""
    o = pulled(119.0, 15.0)
    found = sampled(floating(6.0), o, settling=True, enough=1500.0, limit=4096)
    assert agrees(found, by_grid(floating(6.0), o, (HELD, COARSE, COARSE)))


def test_a_reading_beyond_the_range_bounds_the_surface() -> None:
    both = floating(legs=(net.R1, net.R2))
    o = observed([VOLTAGE, VOLTAGE], [119.0, 125.0], floor=6.0)
    o.over_range[1] = 1
    truth = by_grid(both, o, (HELD, COARSE, COARSE))
    assert agrees(sampled(both, o, settling=True, limit=2048), truth)
    assert not agrees(sampled(floating(), pulled(119.0, 6.0), settling=True, limit=2048), truth)


@pytest.mark.parametrize("misread", [0.0, 0.05, 0.5])
def test_what_lies_beside_the_surface_is_weighed_too(misread: float) -> None:
    """A reading that may be misread leaves as likely circuits far off the surface."""
    o = observed([VOLTAGE], [200.0], floor=1.5, misread=misread)
    truth = by_grid(floating(), o, (HELD, COARSE, COARSE))[0]
    assert sampled(floating(), o, settling=True, limit=4096).log_evidence == pytest.approx(truth, abs=0.06)


def test_nothing_is_settled_where_nothing_is_sharp() -> None:
    assert sampled(one_voltage(0.1), observed([VOLTAGE], [126.0], floor=30.0), settling=True).z.size == 0


def test_the_same_call_gives_the_same_draws() -> None:
    first, second = (sampled(floating(), pulled(90.0, 1.5), settling=True) for _ in range(2))
    assert first.z.tolist() == second.z.tolist()
    assert first.weights.tolist() == second.weights.tolist()


def told(*rows: tuple[float, ...]) -> FloatArray:
    """Give the precision that readings with these slopes leave, each in units of its scatter."""
    slopes = np.array(rows)
    precision: FloatArray = np.eye(slopes.shape[1]) + slopes.T @ slopes
    return precision


def settled(precision: FloatArray, *bounded: int) -> IntArray:
    kind = np.full(precision.shape[0], NORMAL)
    kind[list(bounded)] = UNIFORM
    found: IntArray = sharp_coordinates(precision, kind)
    return found


def test_one_coordinate_is_settled_for_each_sharp_reading() -> None:
    assert settled(told((1.0, 0.5, 0.0))).tolist() == []
    assert settled(told((30.0, 50.0, 20.0))).tolist() == [1]
    assert sorted(settled(told((30.0, 50.0, 20.0), (0.0, 40.0, 40.0))).tolist()) == [1, 2]


def test_a_reading_taken_twice_settles_no_second_coordinate() -> None:
    assert settled(told((30.0, 50.0, 20.0), (30.0, 50.0, 20.0))).tolist() == [1]


def test_one_coordinate_at_least_stays_free() -> None:
    assert len(settled(told((50.0, 0.0), (0.0, 50.0)))) == 1


def test_a_resistance_with_ends_is_settled_only_where_nothing_else_will_do() -> None:
    assert settled(told((30.0, 50.0, 20.0)), 1).tolist() == [0]
    assert settled(told((1.0, 50.0, 2.0)), 1).tolist() == [1]
