"""The reduction and the compiled kernel against the clear reference solver, on random circuits of the one graph."""

import itertools
from typing import NamedTuple

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from feedproof.circuit import topology as net
from feedproof.circuit.kernel import LaneArray, drive, eliminate, settle_field, source_field, weighted
from feedproof.circuit.lanes import LANES, ROWS, WIDE, load, store
from feedproof.circuit.reduction import MOST_EDGES, Reduced, reduce_circuits
from support.internals.random_supplies import ARRANGEMENTS, CONNECTED, Edges, random_admittances, sources
from support.network import Branch, FixedVoltage, Network
from support.random_networks import METER_IMPEDANCES
from support.solver import Thevenin, node_voltages, thevenins, voltmeter_reading

ROUNDING = 1e-11  # V; the kernel takes differences of node voltages of 120 V

ComplexArray = NDArray[np.complex128]


class Solved(NamedTuple):
    """What the kernel says of one pair of nodes."""

    voltage: complex
    impedance: complex
    by_element: dict[tuple[int, int], complex]
    """Derivative of the voltage by the logarithm of each admittance that varies."""


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that the kernel's file has changed
def solve(
    reduced: Reduced,
    admittance: LaneArray,
    share: LaneArray,
    inverse: LaneArray,
    v: LaneArray,
    field: LaneArray,
    found: LaneArray,
) -> None:
    """One solution as the inference runs it: eliminate, the field of the sources, then that of the pair.

    Fills `found` with the voltage across the pair and its impedance.
    """
    first, last, start = reduced.step_start[0], reduced.step_start[1], reduced.start
    free_stop, neighbour, edge = reduced.free_stop, reduced.neighbour, reduced.edge
    node, weight = reduced.weight_node, reduced.weight
    eliminate(first, last, start, free_stop, edge, reduced.pair_start, reduced.pair_edge, admittance, share, inverse)
    source_field(first, last, start, neighbour, share, v)
    re, im = weighted(node, weight, 0, node.size, v)
    store(found, (0, 0), re)
    store(found, (0, 1), im)
    re, im = drive(first, last, start, free_stop, neighbour, share, inverse, node, weight, 0, node.size, field)
    store(found, (1, 0), load(found, (1, 0)) + re)
    store(found, (1, 1), load(found, (1, 1)) + im)
    settle_field(first, last, start, free_stop, neighbour, share, inverse, field)


SHAPES = {LANES: (LANES,), WIDE: (ROWS, LANES)}
"""Axes of the lanes of climbs, and of those of draws."""


def in_lanes(values: ComplexArray, lanes: int = LANES) -> LaneArray:
    """In the last lane as given, in the others something else."""
    parts = np.stack([values.real, values.imag], axis=1)
    spread = parts[..., None] * np.linspace(2.0, 1.0, lanes)
    return np.ascontiguousarray(spread.reshape(*parts.shape, *SHAPES[lanes]))


def of_lane(lanes: LaneArray) -> ComplexArray:
    last = lanes.reshape(*lanes.shape[:2], -1)[..., -1]
    found: ComplexArray = last[:, 0] + 1j * last[:, 1]
    return found


def varied(seed: int, admittances: Edges) -> list[tuple[int, int]]:
    """Some of the edges, from none to all."""
    rng = np.random.default_rng((seed, 5))
    count = [0, 1, 2, 4, 7, len(admittances)][seed % 6]
    return [list(admittances)[k] for k in rng.choice(len(admittances), size=count, replace=False)]


def by_kernel(
    admittances: Edges,
    varies: list[tuple[int, int]],
    fixed: dict[int, complex],
    pair: tuple[int, int],
    lanes: int = LANES,
) -> Solved:
    """A pair of nodes where the stated edges vary and all others are eliminated beforehand."""
    base = np.zeros((1, net.EDGE_COUNT), np.complex128)
    for (a, b), y in admittances.items():
        base[0, net.edge_number(a, b)] += 0.0 if (a, b) in varies else y
    number = np.array([net.edge_number(a, b) for a, b in varies], np.int64)
    ends = [np.array([node]) for node in pair]
    one = np.ones(number.size, np.int64)
    reduced = reduce_circuits(base, number, one, np.array([0, 1]), *ends, ends[0], ends[0], np.array([-1]))
    admittance = reduced.base.copy()
    for e, edge in enumerate(varies):
        admittance[reduced.element_edge[0, e]] += admittances[edge]
    voltage = np.zeros(net.NODE_COUNT, np.complex128)
    for node, volts in fixed.items():
        voltage[node] = volts
    solved, field = in_lanes(voltage, lanes), in_lanes(np.zeros(net.NODE_COUNT, np.complex128), lanes)
    # In the other lanes everything is twice as large, or somewhere between: the same in their impedances.
    found = in_lanes(np.array([0.0, reduced.impedance[0]]), lanes)
    share, inverse = (np.zeros((count, 2, *SHAPES[lanes])) for count in (MOST_EDGES, net.NODE_COUNT))
    solve(reduced, in_lanes(admittance, lanes), share, inverse, solved, field, found)
    v, x = of_lane(solved), of_lane(field)
    ends_of = zip(varies, reduced.element_tail[0].tolist(), reduced.element_head[0].tolist(), strict=True)
    by_element = {edge: -admittances[edge] * complex((v[p] - v[q]) * (x[p] - x[q])) for edge, p, q in ends_of}
    across, impedance = of_lane(found).tolist()
    return Solved(across, impedance, by_element)


def by_reference(admittances: Edges, fixed: dict[int, complex]) -> Network:
    return Network(
        branches=tuple(Branch(a, b, y) for (a, b), y in admittances.items()),
        fixed=tuple(FixedVoltage(node, volts) for node, volts in fixed.items()),
    )


def pairs(arrangement: str) -> list[tuple[int, int]]:
    places = [net.PANEL, net.RECEPTACLE] + ([net.TERMINALS] if arrangement == CONNECTED else [])
    return [
        (place[a], place[b])
        for place in places
        for a, b in itertools.combinations(("L1", "L2", "N", "G"), 2)
        if place[a] != place[b]
    ]


CASES = [(seed, arrangement) for seed in range(60) for arrangement in ARRANGEMENTS]


@pytest.mark.parametrize(("seed", "arrangement"), CASES)
def test_readings_agree(seed: int, arrangement: str) -> None:
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    varies, wanted = varied(seed, admittances), pairs(arrangement)
    expected = thevenins(by_reference(admittances, fixed), wanted)
    for (a, b), reference in zip(wanted, expected, strict=True):
        solved = by_kernel(admittances, varies, fixed, (a, b))
        found = Thevenin(voltage=solved.voltage, impedance=solved.impedance)
        for meter in METER_IMPEDANCES:
            reading = voltmeter_reading(reference, meter)
            assert voltmeter_reading(found, meter) == pytest.approx(reading, rel=1e-9, abs=ROUNDING)
        # Behind an open, two nodes lie gigaohms off; a difference of theirs has the rounding of the larger.
        far = max(abs(by_kernel(admittances, varies, fixed, (node, net.X0)).impedance) for node in (a, b))
        assert found.impedance == pytest.approx(reference.impedance, rel=1e-9, abs=1e-14 * far)


@pytest.mark.parametrize(("seed", "arrangement"), CASES)
def test_node_voltages_agree(seed: int, arrangement: str) -> None:
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    expected = node_voltages(by_reference(admittances, fixed))
    for node, volts in expected.items():
        assert isinstance(node, int)
        found = by_kernel(admittances, varied(seed, admittances), fixed, (node, net.X0)).voltage
        assert found == pytest.approx(volts, rel=1e-9, abs=ROUNDING)


@pytest.mark.parametrize(("seed", "arrangement"), CASES[::3])
def test_the_adjoint_is_the_derivative(seed: int, arrangement: str) -> None:
    """d(Va - Vb)/dy = -(Vp - Vq)(xp - xq), against differences of the reference solver."""
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    pair = net.RECEPTACLE["L1"], net.RECEPTACLE["N"]
    for (p, q), by_adjoint in by_kernel(admittances, varied(seed, admittances), fixed, pair).by_element.items():
        step = 1e-4
        ends = [
            thevenins(by_reference(admittances | {(p, q): admittances[p, q] * (1.0 + sign * step)}, fixed), [pair])[0]
            for sign in (1.0, -1.0)
        ]
        by_difference = (ends[0].voltage - ends[1].voltage) / (2.0 * step)
        assert by_adjoint == pytest.approx(by_difference, rel=1e-5, abs=1e-7)


@pytest.mark.parametrize(("seed", "arrangement"), CASES[::5])
def test_many_draws_side_by_side_get_what_few_get(seed: int, arrangement: str) -> None:
    """To the last digit: no lane knows how many there are."""
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    pair = net.RECEPTACLE["L1"], net.RECEPTACLE["N"]
    few, many = (by_kernel(admittances, varied(seed, admittances), fixed, pair, lanes) for lanes in SHAPES)
    assert few == many


def test_the_circuits_cover_what_they_claim() -> None:
    admittances = [abs(y) for seed, arrangement in CASES for y in random_admittances(seed, arrangement).values()]
    assert max(admittances) > 500.0
    assert min(admittances) < 1e-8
