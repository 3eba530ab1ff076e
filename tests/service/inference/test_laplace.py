"""Climbing to a mode, and the Gaussian there."""

import math

import numpy as np
import pytest
from scipy import optimize

from feedproof.inference.forward import VOLTAGE, FloatArray, Program, make_work
from feedproof.inference.laplace import climb
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.modes import STEPS
from support.small_programs import observed, one_voltage, shows


def climbed(program: Program, observations: Observations, start: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Mode, precision and height."""
    size, count = program.location.size, observations.kind.size
    z, factor = start.copy(), np.zeros((size, size))
    shown, jacobian = np.zeros((1, count)), np.zeros((count, size))
    top = climb(program, observations, make_work(program), z, factor, shown, jacobian, STEPS)
    lower = np.tril(factor)
    return z, lower @ lower.T, float(top)


def test_without_a_reading_that_says_anything_the_mode_is_the_prior() -> None:
    vague = observed([VOLTAGE], [120.0], floor=1e9)
    z, precision, _ = climbed(one_voltage(), vague, np.array([1.7]))
    assert z == pytest.approx([0.0], abs=1e-6)
    assert precision == pytest.approx(np.eye(1))


def test_a_sharp_reading_pulls_the_mode_to_it() -> None:
    """120 V · exp(0.1 z) = 126 V at z = 10 ln 1.05; the precision is 1 + (dV/dz / scatter)² · 5/4."""
    sharp = observed([VOLTAGE], [126.0], floor=0.001)
    z, precision, _ = climbed(one_voltage(0.1), sharp, np.zeros(1))
    assert z == pytest.approx([10.0 * math.log(1.05)], abs=1e-6)
    assert precision[0, 0] == pytest.approx(1.0 + 1.25 * (0.1 * 126.0 / 0.001) ** 2, rel=1e-3)


@pytest.mark.parametrize("start", [-2.5, 0.0, 2.5])
@pytest.mark.parametrize("value", [95.0, 131.0])
def test_the_mode_is_that_of_a_general_optimizer(value: float, start: float) -> None:
    program, observations = one_voltage(0.1), observed([VOLTAGE], [value], floor=3.0, relative=0.01)

    def depth(at: float) -> float:
        shown = shows(program, np.array([[at]]))[0]
        return 0.5 * at**2 - float(total_log_likelihood(observations, shown))

    best = optimize.minimize_scalar(depth, bounds=(-6.0, 6.0), method="bounded", options={"xatol": 1e-9})
    z, _, top = climbed(program, observations, np.array([start]))
    assert z[0] == pytest.approx(best.x, abs=5e-3)
    # The reweighted steps leave out the scatter's own slope, so the last thousandths of a nat are not climbed.
    assert top == pytest.approx(-best.fun, abs=2e-3)


def test_a_climb_never_goes_down() -> None:
    rng = np.random.default_rng(5)
    program = one_voltage(0.3)
    for _ in range(50):
        observations = observed([VOLTAGE], [rng.uniform(0.0, 300.0)], floor=rng.uniform(0.05, 20.0), misread=0.005)
        start = rng.normal(0.0, 2.0, 1)
        before = float(total_log_likelihood(observations, shows(program, start[None])[0])) - 0.5 * float(start @ start)
        _, _, top = climbed(program, observations, start)
        assert top >= before
