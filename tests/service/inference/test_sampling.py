"""Evidence and posterior of small circuits, against quadrature over a fine grid."""

import math

import numpy as np
import pytest
from scipy import stats

from feedproof.circuit import topology as net
from feedproof.inference.arrays import Program
from feedproof.inference.forward import NORMAL, RESISTANCE, VOLTAGE, FloatArray
from feedproof.inference.likelihood import Observations
from support.internals.small_programs import (
    LEVEL,
    Drawn,
    by_grid,
    observed,
    one_voltage,
    sampled,
    small_program,
    two_joints,
)

HELD = np.zeros(1)
FINE = np.linspace(-8.0, 8.0, 8001)
NEAR = 0.02
"""How near the evidence must come [nat]."""


def agrees(found: Drawn, truth: tuple[float, FloatArray, FloatArray], d: int, within: float = NEAR) -> bool:
    """Whether evidence, mean and spread of a coordinate are those of the quadrature."""
    log_evidence, z, weights = truth
    mean = float(weights @ z[:, d])
    spread = math.sqrt(float(weights @ (z[:, d] - mean) ** 2))
    ours = found.mean(found.z[:, d])
    return bool(
        abs(found.log_evidence - log_evidence) < within
        and abs(ours - mean) < 0.05 * spread
        and abs(math.sqrt(found.mean((found.z[:, d] - ours) ** 2)) / spread - 1.0) < 0.1
    )


ONE: dict[str, Observations] = {
    "says little": observed([VOLTAGE], [126.0], floor=30.0),
    "says something": observed([VOLTAGE], [126.0], floor=5.0),
    "is sharp": observed([VOLTAGE], [126.0], floor=0.05),
    "lies far out": observed([VOLTAGE], [175.0], floor=0.5),
    "may be misread": observed([VOLTAGE], [175.0], floor=0.5, misread=0.01),
}


@pytest.mark.parametrize("name", ONE)
def test_one_unknown(name: str) -> None:
    assert agrees(sampled(one_voltage(0.1), ONE[name]), by_grid(one_voltage(0.1), ONE[name], (FINE,)), 0)


@pytest.mark.parametrize(
    "wrong",
    [
        observed([VOLTAGE], [126.0], floor=6.0),
        observed([VOLTAGE], [127.0], floor=5.0),
        observed([VOLTAGE], [126.0], floor=5.0, misread=0.05),
    ],
)
def test_another_target_would_not_pass(wrong: Observations) -> None:
    """The control: draws of a target a little wider, moved by a volt, or with some misreads fail the same check."""
    truth = by_grid(one_voltage(0.1), ONE["says something"], (FINE,))
    assert agrees(sampled(one_voltage(0.1), ONE["says something"]), truth, 0)
    assert not agrees(sampled(one_voltage(0.1), wrong), truth, 0)


LOW, HIGH = math.log(0.01), math.log(100.0)


def ends(value: float, floor: float, count: int = 1200) -> FloatArray:
    """Logarithms of a resistance: even steps, and close ones where it makes the whole sum alone."""
    alone = value + floor * stats.t.ppf(np.linspace(1e-5, 1.0 - 1e-5, count), 4)
    there = np.log(np.clip(alone, math.exp(LOW), math.exp(HIGH)))
    return np.unique(np.concatenate((np.linspace(LOW, HIGH, count), there)))


def sum_of_two(value: float, floor: float, small: float) -> tuple[float, float]:
    """Log evidence of a sum of two resistances, and how probably the first is below `small`: by quadrature."""
    u = ends(value, floor)
    inner = np.zeros(u.size)
    for k, first in enumerate(np.exp(u)):
        v = ends(value - first, floor)
        inner[k] = np.trapezoid(stats.t.pdf(value - first - np.exp(v), 4, scale=floor), v)
    whole = np.trapezoid(inner, u)
    return math.log(whole / (HIGH - LOW) ** 2), float(np.trapezoid(inner * (u < math.log(small)), u) / whole)


@pytest.mark.parametrize(("value", "floor"), [(0.5, 0.23), (0.5, 1.0), (3.0, 0.23), (3.0, 1.0)])
def test_the_sum_of_two_joints(value: float, floor: float) -> None:
    """Two resistances over four decades of which only the sum is known: either carries it, or both share it."""
    log_evidence, small = sum_of_two(value, floor, 0.1)
    o = observed([RESISTANCE], [value], floor=floor)
    found = sampled(two_joints(), o, enough=1e9, limit=8192)
    assert found.log_evidence == pytest.approx(log_evidence, abs=0.05)
    quarter = stats.norm.ppf(0.25)  # 0.1 ohm is a quarter of the way
    for d in (1, 2):
        assert found.mean((found.z[:, d] < quarter).astype(float)) == pytest.approx(small, abs=0.03)


SUM = observed([RESISTANCE], [3.0], floor=0.23)


def divided() -> Program:
    """Give a neutral between 10 kohm to L1 and an unknown resistance to L2: its magnitude has two sides."""
    return small_program(
        (LEVEL, (NORMAL, math.log(1e-4), 1.0)),
        ((net.R2, net.RN, 1, 1.0),),
        ((VOLTAGE, net.RN, net.RG, 0j),),
        resistances={(net.PN, net.RN): 1e15, (net.R1, net.RN): 1e4},
    )


def test_two_sides_far_apart_have_half_each() -> None:
    o = observed([VOLTAGE], [60.0], floor=0.5)
    found, truth = sampled(divided(), o), by_grid(divided(), o, (HELD, FINE))
    assert found.log_evidence == pytest.approx(truth[0], abs=NEAR)
    assert found.mean((found.z[:, 1] > 0.0).astype(float)) == pytest.approx(0.5, abs=0.03)


def test_a_mode_that_no_climb_has_found_is_still_drawn() -> None:
    """The prior's own share of the draws stands by: with one mode only, both sides are there."""
    o = observed([VOLTAGE], [60.0], floor=3.0)
    found = sampled(divided(), o, most_modes=1)
    truth = by_grid(divided(), o, (HELD, FINE))
    assert len(found.modes) == 1
    assert found.log_evidence == pytest.approx(truth[0], abs=0.1)


def test_more_draws_come_nearer() -> None:
    o = observed([RESISTANCE], [3.0], floor=0.23)
    truth, _ = sum_of_two(3.0, 0.23, 0.1)
    errors = [abs(sampled(two_joints(), o, enough=1e9, limit=n).log_evidence - truth) for n in (256, 16384)]
    assert errors[1] < 0.05
    assert errors[1] < errors[0]


def test_it_stops_when_it_has_enough_and_never_passes_the_limit() -> None:
    easy = sampled(one_voltage(0.1), ONE["says something"], enough=50.0)
    assert easy.z.shape[0] < 500
    hard = sampled(two_joints(), SUM, enough=1e9, limit=700)
    assert hard.z.shape[0] == 700
    assert hard.weights.sum() == pytest.approx(1.0)


def test_the_same_call_gives_the_same_draws() -> None:
    first, second = (sampled(two_joints(), SUM) for _ in range(2))
    assert first.z.tolist() == second.z.tolist()
    assert first.weights.tolist() == second.weights.tolist()


def test_a_reading_repeated_ten_times_is_ten_readings() -> None:
    """Without a common gain error the evidence is that of ten independent readings."""
    program = small_program(((NORMAL, 0.0, 0.1),), (), ((VOLTAGE, net.R1, net.RN, 0j),) * 10)
    o = observed([VOLTAGE] * 10, [126.0] * 10, floor=2.0)
    truth = by_grid(program, o, (FINE,))
    assert agrees(sampled(program, o), truth, 0)
