"""Nodes over a severity, and the mass between them."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from feedproof.inference.grid import first_nodes, halve, integral, log_piece, log_prior, log_sum, merge, outward

PIECES = np.array([[-2.0, 7.0, -3.0, -0.1], [7.0, 20.0, -4.0, 0.05]])
MOST = 28


def nodes_at(at: float, spread: float) -> tuple[np.ndarray, np.ndarray, int, int]:
    nodes, order = np.zeros((MOST, 1)), np.arange(MOST)
    count, origin = first_nodes(PIECES, at, spread, np.array([-1.2, 1.2, -2.6, 2.6]), nodes, order)
    return nodes, order, count, origin


@pytest.mark.parametrize(("first", "last"), [(-1.0, -1.0), (-30.0, 2.0), (1.0, 0.3)])
def test_a_straight_logarithm_is_integrated_exactly(first: float, last: float) -> None:
    def value(s: float) -> float:
        return math.exp(first + (last - first) * s / 2.5)

    assert math.exp(log_piece(first, last, 2.5)) == pytest.approx(quad(value, 0.0, 2.5)[0], rel=1e-9)


def test_logarithms_are_added() -> None:
    assert log_sum(math.log(2.0), math.log(3.0)) == pytest.approx(math.log(5.0))
    assert log_sum(-math.inf, 1.0) == 1.0
    assert log_sum(-math.inf, -math.inf) == -math.inf


@pytest.mark.parametrize(("at", "spread"), [(3.0, 0.5), (-2.0, 0.1), (19.9, 4.0), (7.0, 1.0)])
def test_nodes_stand_at_every_edge_and_round_the_peak(at: float, spread: float) -> None:
    nodes, order, count, origin = nodes_at(at, spread)
    own = nodes[order[:count], 0]
    assert (np.diff(own) > 0.0).all()
    assert {-2.0, 7.0, 20.0} <= set(own.tolist())
    assert nodes[origin, 0] == pytest.approx(at, abs=0.25 * spread)
    tasks = np.zeros((MOST, 5), np.int64)
    assert outward(order, count, origin, 0, 99, tasks) == count
    # Each is climbed once, from one that has been climbed before; the first from elsewhere.
    assert sorted(tasks[:count, 1]) == list(range(count))
    assert tasks[0].tolist()[:2] == [99, origin]
    done = {int(origin)}
    for source, target in tasks[1:count, :2].tolist():
        assert source in done
        done.add(target)


@pytest.mark.parametrize(("at", "spread"), [(3.0, 0.4), (9.0, 1.5), (6.8, 0.7), (-1.0, 3.0)])
def test_halving_where_it_bends_gives_the_mass(at: float, spread: float) -> None:
    """A bell over a prior in two pieces, against quadrature; the spread that is started from is wrong by half."""

    def bell(s: float) -> float:
        return -0.5 * ((s - at) / spread) ** 2

    nodes, order, count, _ = nodes_at(at, 1.5 * spread)
    tasks, most = np.zeros((3 * MOST, 5), np.int64), MOST
    for _ in range(4):
        whole = np.array([bell(s) for s in nodes[:count, 0]])
        more, number = halve(PIECES, nodes, order, count, whole, most, 1, tasks)
        assert number == more - count
        count = more
    whole = np.array([bell(s) for s in nodes[:count, 0]])
    found = np.zeros(2)
    integral(PIECES, nodes, order, count, whole, found)
    for k, (low, high, a, b) in enumerate(PIECES):
        inside = sorted({min(max(x, low), high) for x in (at - 3 * spread, at, at + 3 * spread)})
        expected = quad(lambda s, a=a, b=b: math.exp(bell(s) + a + b * s), low, high, points=inside)[0]
        if expected > 1e-3:
            assert found[k] == pytest.approx(math.log(expected), abs=0.1)
        # What it is evenly over is taken as it is.
        assert log_prior(PIECES, 0.5 * (low + high)) == pytest.approx(a + 0.5 * b * (low + high))


def test_a_mode_that_is_found_twice_counts_once() -> None:
    rows, mass = np.zeros((3 * MOST, 2)), np.full(3 * MOST, -np.inf)
    for m, (x, log) in enumerate([(0.0, -1.0), (0.1, -1.0), (2.0, -3.0)]):
        rows[m * MOST : m * MOST + 2, 0] = x
        mass[m * MOST : m * MOST + 2] = log
    whole = merge(rows, mass, 1, MOST, 2, 3)
    assert whole == pytest.approx([math.log(math.exp(-1.0) + math.exp(-3.0))] * 2)
    assert mass[MOST] == -np.inf
