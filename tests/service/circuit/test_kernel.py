"""The compiled kernel against the clear reference solver, on random circuits of the one graph."""

import itertools

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from feedproof.circuit import topology as net
from feedproof.circuit.kernel import LaneArray, eliminate, pair_field, source_field
from feedproof.circuit.lanes import LANES
from feedproof.circuit.network import Branch, FixedVoltage, Network
from feedproof.circuit.solve import Thevenin, node_voltages, thevenins, voltmeter_reading
from support.random_networks import METER_IMPEDANCES

ARRANGEMENTS = (net.DISCONNECTED, net.CONNECTED)
ROUNDING = 1e-11  # V; the kernel takes differences of node voltages of 120 V


ComplexArray = NDArray[np.complex128]


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that the kernel's file has changed
def fields(steps: net.Elimination, admittance: LaneArray, voltage: LaneArray, a: int, b: int, field: LaneArray) -> None:
    """One solution as the inference runs it: eliminate, then the field of the sources and that of one pair."""
    share = np.zeros((steps.neighbour.size, 2, LANES))
    inverse = np.zeros((steps.node.size, 2, LANES))
    eliminate(steps.node, steps.start, steps.edge, steps.pair_start, steps.pair_edge, admittance, share, inverse)
    source_field(steps.node, steps.start, steps.neighbour, share, 0, voltage)
    pair_field(steps.node, steps.start, steps.neighbour, share, inverse, a, b, 0, field)


def random_admittances(seed: int, arrangement: int) -> dict[tuple[int, int], complex]:
    """Admittance of each edge that the arrangement has: milliohm joints, opens, strays, complex loads [S]."""
    rng = np.random.default_rng((seed, arrangement))

    def decades(low: float, high: float) -> float:
        return float(10.0 ** rng.uniform(np.log10(low), np.log10(high)))

    def load() -> complex:
        return 1.0 / complex(decades(5.0, 1e5), decades(0.1, 1e4) * rng.choice([-1.0, 1.0]))

    def stray() -> complex:
        return complex(1.0 / decades(1e5, 1e11), 2.0 * np.pi * 60.0 * decades(5e-12, 5e-9))

    series = [*net.SERVICE_EDGES[:3], *net.BRANCH_EDGES]
    if arrangement == net.CONNECTED:
        series += net.CORD_EDGES
    opened = set(rng.choice(len(series), size=rng.integers(0, 4), replace=False).tolist())
    found = {
        edge: complex(1.0 / (decades(1e3, 1e10) if k in opened else decades(1e-3, 1.0)))
        for k, edge in enumerate(series)
    }
    found |= {edge: load() for edge in net.SERVICE_EDGES[3:]}
    found |= {edge: stray() for edge in net.RECEPTACLE_PAIRS}
    if arrangement == net.CONNECTED:
        found |= {edge: load() if rng.random() < 0.5 else stray() for edge in net.TERMINAL_PAIRS}
    return found


def sources(seed: int) -> dict[int, complex]:
    rng = np.random.default_rng((seed, 99))
    leg = 120.0 * (1.0 + 0.05 * rng.standard_normal())
    angle = np.exp(1j * np.pi * (1.0 if seed % 3 else 2.0 / 3.0))
    return {net.X0: 0j, net.S1: complex(leg), net.S2: complex(leg * 1.01 * angle)}


def in_lanes(values: ComplexArray) -> LaneArray:
    """In the last lane as given, in the others something else."""
    lanes = np.stack([values.real, values.imag], axis=1)[..., None] * np.linspace(2.0, 1.0, LANES)
    return np.ascontiguousarray(lanes)


def of_lane(lanes: LaneArray) -> ComplexArray:
    found: ComplexArray = lanes[:, 0, -1] + 1j * lanes[:, 1, -1]
    return found


def by_kernel(
    arrangement: int, admittances: dict[tuple[int, int], complex], fixed: dict[int, complex], pair: tuple[int, int]
) -> tuple[ComplexArray, ComplexArray]:
    """Voltages of all nodes, and the field of one ampere across a pair."""
    admittance = np.zeros(net.EDGE_COUNT, np.complex128)
    for (a, b), y in admittances.items():
        admittance[net.edge_number(a, b)] += y
    voltage = np.zeros(net.NODE_COUNT, np.complex128)
    for node, volts in fixed.items():
        voltage[node] = volts
    solved, field = in_lanes(voltage), in_lanes(np.zeros(net.NODE_COUNT, np.complex128))
    fields(net.elimination(arrangement), in_lanes(admittance), solved, pair[0], pair[1], field)
    return of_lane(solved), of_lane(field)


def by_reference(admittances: dict[tuple[int, int], complex], fixed: dict[int, complex]) -> Network:
    return Network(
        branches=tuple(Branch(a, b, y) for (a, b), y in admittances.items()),
        fixed=tuple(FixedVoltage(node, volts) for node, volts in fixed.items()),
    )


def pairs(arrangement: int) -> list[tuple[int, int]]:
    places = [net.PANEL, net.RECEPTACLE] + ([net.TERMINALS] if arrangement == net.CONNECTED else [])
    return [
        (place[a], place[b])
        for place in places
        for a, b in itertools.combinations(("L1", "L2", "N", "G"), 2)
        if place[a] != place[b]
    ]


CASES = [(seed, arrangement) for seed in range(60) for arrangement in ARRANGEMENTS]


@pytest.mark.parametrize(("seed", "arrangement"), CASES)
def test_node_voltages_agree(seed: int, arrangement: int) -> None:
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    expected = node_voltages(by_reference(admittances, fixed))
    voltage, _ = by_kernel(arrangement, admittances, fixed, (net.RN, net.RG))
    for node, volts in expected.items():
        assert isinstance(node, int)
        assert complex(voltage[node]) == pytest.approx(volts, rel=1e-9, abs=ROUNDING)


@pytest.mark.parametrize(("seed", "arrangement"), CASES)
def test_readings_agree(seed: int, arrangement: int) -> None:
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    wanted = pairs(arrangement)
    expected = thevenins(by_reference(admittances, fixed), wanted)
    for (a, b), reference in zip(wanted, expected, strict=True):
        voltage, field = by_kernel(arrangement, admittances, fixed, (a, b))
        found = Thevenin(
            voltage=complex(voltage[a] - voltage[b]),
            impedance=complex(field[a] - field[b]),
        )
        for meter in METER_IMPEDANCES:
            reading = voltmeter_reading(reference, meter)
            assert voltmeter_reading(found, meter) == pytest.approx(reading, rel=1e-9, abs=ROUNDING)
        # Behind an open, two nodes lie gigaohms off; a difference of theirs has the rounding of the larger.
        far = max(abs(field[a]), abs(field[b]))
        assert found.impedance == pytest.approx(reference.impedance, rel=1e-9, abs=1e-14 * far)


@pytest.mark.parametrize(("seed", "arrangement"), CASES[::6])
def test_the_adjoint_is_the_derivative(seed: int, arrangement: int) -> None:
    """d(Va - Vb)/dy = -(Vp - Vq)(xp - xq), against differences of the reference solver."""
    admittances, fixed = random_admittances(seed, arrangement), sources(seed)
    a, b = net.RECEPTACLE["L1"], net.RECEPTACLE["N"]
    voltage, field = by_kernel(arrangement, admittances, fixed, (a, b))
    for (p, q), y in admittances.items():
        step = 1e-4
        ends = [
            thevenins(by_reference(admittances | {(p, q): y * (1.0 + sign * step)}, fixed), [(a, b)])[0].voltage
            for sign in (1.0, -1.0)
        ]
        by_difference = (ends[0] - ends[1]) / (2.0 * step)
        by_adjoint = -y * complex((voltage[p] - voltage[q]) * (field[p] - field[q]))
        assert by_adjoint == pytest.approx(by_difference, rel=1e-5, abs=1e-7)


def test_the_circuits_cover_what_they_claim() -> None:
    admittances = [abs(y) for seed, arrangement in CASES for y in random_admittances(seed, arrangement).values()]
    assert max(admittances) > 500.0
    assert min(admittances) < 1e-8
