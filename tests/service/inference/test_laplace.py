"""Climbing to a mode, and the Gaussian there."""

import math

import numba
import numpy as np
import pytest
from scipy import optimize

from feedproof.circuit.lanes import LANES, room
from feedproof.inference.arrays import IntArray, Program, make_climbing_work
from feedproof.inference.forward import VOLTAGE, FloatArray
from feedproof.inference.laplace import CLOSE, OUTDONE, Rules, climb_lanes
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.modes import STEPS
from support.internals.small_programs import observed, one_voltage, shows, two_voltages


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that another file has changed
def climb(
    program: Program, observations: Observations, z: FloatArray, without: IntArray, factor: FloatArray, rules: Rules
) -> FloatArray:
    """Climb in all lanes."""
    height: FloatArray = room(1)
    every = np.ones(LANES, np.int64)
    climb_lanes(program, observations, make_climbing_work(program), z, every, without, factor, height, rules)
    return height


def climbs(
    program: Program,
    observations: Observations,
    starts: FloatArray,
    without: tuple[int, ...] = (-1,) * LANES,
    behind: float = math.inf,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Modes, factors and heights from starts of shape (lanes, D)."""
    size = program.location.size
    z, factor = starts.T.copy(), np.zeros((size, size, LANES))
    rules = Rules(STEPS, CLOSE, -math.inf, behind)
    height = climb(program, observations, z, np.array(without), factor, rules)
    return z.T, factor, height[0]


def climbed(program: Program, observations: Observations, start: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Mode, precision and height."""
    z, factor, height = climbs(program, observations, np.resize(start, (LANES, start.size)))
    lower = np.tril(factor[:, :, 0])
    return z[0], lower @ lower.T, float(height[0])


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


def test_climbs_side_by_side_know_nothing_of_each_other() -> None:
    """Each takes its own steps, shorter ones where the step led down, as if it were alone."""
    program, observations = one_voltage(0.5), observed([VOLTAGE], [310.0], floor=2.0, misread=0.01)
    starts = np.linspace(-3.0, 3.0, LANES).reshape(LANES, 1)
    z, factor, height = climbs(program, observations, starts)
    for lane in range(LANES):
        alone = climbs(program, observations, np.resize(starts[lane], (LANES, 1)))
        np.testing.assert_array_equal(z[lane], alone[0][0])
        assert height[lane] == alone[2][0]
        assert factor[0, 0, lane] == pytest.approx(alone[1][0, 0, 0], rel=0.05)


def test_a_climb_that_leaves_a_reading_out_is_that_without_it() -> None:
    both = observed([VOLTAGE, VOLTAGE], [118.0, 131.0], floor=1.0, relative=0.01)
    program = two_voltages(0.1)
    z, factor, height = climbs(program, both, np.zeros((LANES, 1)), without=(0, 1, -1, 0, 1, -1, 0, 1))
    for lane, kept in enumerate((131.0, 118.0)):
        expected = climbed(one_voltage(0.1), observed([VOLTAGE], [kept], floor=1.0, relative=0.01), np.zeros(1))
        assert z[lane] == pytest.approx(expected[0], abs=1e-9)
        # Where the last step began, or at its end, as the other climbs took more steps or none.
        assert factor[0, 0, lane] ** 2 == pytest.approx(expected[1][0, 0], rel=1e-3)
        assert height[lane] == pytest.approx(expected[2], abs=1e-9)
    assert height[2] < min(height[0], height[1])


def test_climbs_far_behind_end_early() -> None:
    """A start that would have to come from far off is left on its way once another is ahead; alone it arrives."""
    program, observations = one_voltage(0.5), observed([VOLTAGE], [310.0], floor=0.5)
    starts = np.zeros((LANES, 1))
    starts[0] = 2.0 * math.log(310.0 / 120.0)
    starts[1] = -6.0
    height = climbs(program, observations, starts)[2]
    hurried = climbs(program, observations, starts, behind=OUTDONE)[2]
    assert hurried[0] == height[0] == pytest.approx(height[1], abs=1e-6)
    assert hurried[1] < height[1] - OUTDONE
