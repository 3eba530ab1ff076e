"""The second solver itself: rational arithmetic, circuits that can be worked by hand, and what it refuses."""

import math
from fractions import Fraction

import numpy as np
import pytest

from support.network import (
    Branch,
    FixedVoltage,
    Network,
    Node,
    capacitor,
    coupled_branches,
    extended,
    impedance,
    node_order,
    resistor,
)
from support.random_networks import METER_IMPEDANCES, readable_pairs, split_phase_network
from support.solver import (
    Thevenin,
    branch_current,
    driving_point_impedance,
    node_voltages,
    thevenin,
    thevenins,
    voltmeter_reading,
)

Exact = dict[Node, Fraction]


def exact_voltages(branches: list[tuple[Node, Node, Fraction]], fixed: Exact, injected: Exact) -> Exact:
    """Plain nodal analysis of a resistive network in rational numbers, where nothing is ever rounded."""
    nodes: list[Node] = sorted({end for a, b, _ in branches for end in (a, b)} - set(fixed), key=str)
    row = {node: position for position, node in enumerate(nodes)}
    size = len(nodes)
    table = [[Fraction(0)] * size + [injected.get(node, Fraction(0))] for node in nodes]
    for a, b, conductance in branches:
        for here, there in ((a, b), (b, a)):
            if here in row:
                table[row[here]][row[here]] += conductance
                if there in row:
                    table[row[here]][row[there]] -= conductance
                else:
                    table[row[here]][size] += conductance * fixed[there]
    for k in range(size):
        pivot = next(r for r in range(k, size) if table[r][k] != 0)
        table[k], table[pivot] = table[pivot], table[k]
        table[k] = [value / table[k][k] for value in table[k]]
        for r in range(size):
            if r != k and table[r][k] != 0:
                factor = table[r][k]
                table[r] = [x - factor * y for x, y in zip(table[r], table[k], strict=True)]
    return fixed | {node: table[row[node]][size] for node in nodes}


def random_resistive(seed: int) -> Network:
    """Milliohm to ten gigaohm between 4 to 9 nodes, with a milliohm joint inside whatever floats."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 10))
    branches = [
        resistor(node, other, float(10.0 ** rng.uniform(-3.0, 10.0)))
        for node in range(3, count)
        for other in rng.choice(node, size=min(node, 2), replace=False).tolist()
    ]
    branches.append(resistor(count - 1, count, 1e-3))
    branches.append(resistor(count, 0, 1e10))
    fixed = (FixedVoltage(0, 0j), FixedVoltage(1, 120 + 0j), FixedVoltage(2, -120 + 0j))
    return Network(branches=tuple(branches), fixed=fixed)


@pytest.mark.parametrize("seed", range(40))
def test_gigaohm_beside_milliohm_agrees_with_rational_arithmetic(seed: int) -> None:
    network = random_resistive(seed)
    branches = [(b.start, b.end, Fraction(b.admittance.real)) for b in network.branches]
    fixed = {source.node: Fraction(source.voltage.real) for source in network.fixed}
    live = exact_voltages(branches, fixed, {})
    top = max(node for node in live if isinstance(node, int))
    for node, voltage in node_voltages(network).items():
        assert voltage.real == pytest.approx(float(live[node]), rel=1e-13, abs=1e-13)
    for a, b in [(top, top - 1), (top, 0), (top - 1, 1), (3, top)]:
        if a == b:
            continue
        dead = dict.fromkeys(fixed, Fraction(0))
        driven = exact_voltages(
            branches, dead, {a: Fraction(1), b: Fraction(-1)} if b not in fixed else {a: Fraction(1)}
        )
        found = thevenin(network, (a, b))
        assert found.impedance.real == pytest.approx(float(driven[a] - driven[b]), rel=1e-13)
        # A balanced bridge has no digits of its own: below a picovolt of 120 V only the size is compared.
        assert found.voltage.real == pytest.approx(float(live[a] - live[b]), rel=1e-12, abs=1e-13)


def test_plain_elimination_would_not_do() -> None:
    """The control: numpy's solver loses the same Thevenin resistance that the reference keeps."""
    network = Network(
        branches=(resistor(1, 0, 1e10), resistor(1, 2, 1e-3), resistor(2, 3, 1e-3), resistor(3, 0, 1e10)),
        fixed=(FixedVoltage(0, 0j),),
    )
    expected = 0.5e10  # two gigaohm paths in parallel, the joints do not matter
    matrix = np.zeros((3, 3))
    for branch in network.branches:
        ends = [node - 1 for node in (branch.start, branch.end) if isinstance(node, int) and node > 0]
        for i in ends:
            matrix[i, i] += branch.admittance.real
        if len(ends) == 2:
            matrix[ends[0], ends[1]] -= branch.admittance.real
            matrix[ends[1], ends[0]] -= branch.admittance.real
    plain = np.linalg.solve(matrix, np.array([0.0, 1.0, 0.0]))[1]
    assert abs(plain - expected) > 1e-6 * expected
    assert thevenin(network, (2, 0)).impedance.real == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_a_reading_equals_the_voltage_of_the_circuit_with_the_meter_in_it(seed: int) -> None:
    network = split_phase_network(seed)
    for pair, source in zip(readable_pairs(), thevenins(network, readable_pairs()), strict=True):
        for meter in METER_IMPEDANCES:
            loaded = node_voltages(extended(network, [Branch(*pair, 1.0 / meter)]))
            expected = abs(loaded[pair[0]] - loaded[pair[1]])
            assert voltmeter_reading(source, meter) == pytest.approx(expected, rel=1e-9, abs=1e-10)


@pytest.mark.parametrize("seed", range(12))
def test_currents_at_a_node_sum_to_zero(seed: int) -> None:
    network = split_phase_network(seed)
    node = ("receptacle", "N")
    out = [branch_current(network, k) for k, b in enumerate(network.branches) if b.start == node]
    into = [branch_current(network, k) for k, b in enumerate(network.branches) if b.end == node]
    assert abs(sum(out) - sum(into)) <= 1e-12 * sum(abs(current) for current in (*out, *into))


def test_swapping_a_pair_turns_the_voltage_round() -> None:
    network = split_phase_network(5)
    for a, b in readable_pairs():
        forth, back = thevenins(network, ((a, b), (b, a)))
        assert forth.voltage == pytest.approx(-back.voltage, rel=1e-9, abs=1e-13)
        assert forth.impedance == pytest.approx(back.impedance, rel=1e-12)


def divider() -> Network:
    return Network(
        branches=(resistor(1, 2, 30.0), resistor(2, 0, 10.0), resistor(7, 8, 5.0)),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, 120 + 0j)),
    )


def test_limits_that_can_be_checked_by_hand() -> None:
    network = divider()
    source = thevenin(network, (2, 0))
    assert source.voltage == pytest.approx(30.0)
    assert source.impedance == pytest.approx(7.5)
    assert voltmeter_reading(source, complex(math.inf)) == pytest.approx(30.0)
    assert voltmeter_reading(source, 7.5) == pytest.approx(15.0)
    assert branch_current(network, 0) == pytest.approx(3.0)
    assert thevenin(network, (1, 0)) == Thevenin(voltage=120 + 0j, impedance=0j)
    assert thevenin(network, (2, 2)).voltage == 0.0


def test_what_nothing_joins_to_the_source_reads_nothing() -> None:
    network = divider()
    across = thevenin(network, (7, 8))
    assert across.voltage == 0.0
    assert across.impedance == pytest.approx(5.0)
    apart = thevenin(network, (7, 2))
    assert math.isinf(apart.impedance.real)
    assert voltmeter_reading(apart, 10e6) == 0.0
    assert thevenin(network, (0, 7)) == apart
    assert node_voltages(network)[7] == 0.0


def test_an_ohmmeter_sees_other_paths_when_the_supply_is_shorted_than_when_it_is_let_go() -> None:
    network = divider()
    assert driving_point_impedance(network, (2, 0), "shorted") == pytest.approx(7.5)
    assert driving_point_impedance(network, (2, 0), "isolated") == pytest.approx(10.0)
    assert driving_point_impedance(network, (1, 0), "isolated") == pytest.approx(40.0)
    assert math.isinf(driving_point_impedance(network, (7, 0)).real)


def test_an_unknown_node_is_an_error() -> None:
    with pytest.raises(KeyError):
        thevenin(divider(), (2, 99))


def test_exact_resonance_is_reported_not_divided_by() -> None:
    network = Network(
        branches=(Branch(1, 0, 1j), Branch(1, 2, -1j), resistor(2, 0, 1.0)),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(3, 1 + 0j)),
    )
    with pytest.raises(ValueError, match="resonant"):
        thevenin(network, (2, 0))


def test_near_resonance_is_not_an_error() -> None:
    """Series resonance at 60 Hz: 1 uF and its inductor leave only the resistance."""
    reactance = 1.0 / (2.0 * math.pi * 60.0 * 1e-6)
    network = Network(
        branches=(capacitor(1, 2, 1e-6, 60.0), impedance(2, 3, 10.0, reactance), resistor(3, 0, 90.0)),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, 100 + 0j)),
    )
    assert abs(branch_current(network, 2)) == pytest.approx(1.0, rel=1e-9)


# --- the network's own rules --------------------------------------------------------------------------------------


def test_fixed_nodes_come_first_and_every_node_once() -> None:
    network = Network(
        branches=(resistor(5, 3, 1.0), resistor(3, ("receptacle", "N"), 2.0)),
        fixed=(FixedVoltage(9, 0j), FixedVoltage(3, 120 + 0j)),
    )
    assert node_order(network) == (9, 3, 5, ("receptacle", "N"))


@pytest.mark.parametrize(
    ("branches", "fixed", "word"),
    [
        ((Branch(1, 1, 1 + 0j),), (), "itself"),
        ((Branch(1, 2, complex(math.nan)),), (), "not finite"),
        ((Branch(1, 2, complex(0, math.inf)),), (), "not finite"),
        ((), (FixedVoltage(1, 0j), FixedVoltage(1, 5 + 0j)), "twice"),
        ((), (FixedVoltage(1, complex(math.inf)),), "not finite"),
    ],
)
def test_a_network_that_cannot_be_is_refused(
    branches: tuple[Branch, ...], fixed: tuple[FixedVoltage, ...], word: str
) -> None:
    with pytest.raises(ValueError, match=word):
        Network(branches=branches, fixed=fixed)


@pytest.mark.parametrize("resistance", [0.0, -1.0, math.nan])
def test_a_resistance_must_be_above_zero(resistance: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        resistor(1, 2, resistance)


def test_an_infinite_resistance_is_an_open_branch() -> None:
    assert resistor(1, 2, math.inf).admittance == 0.0


def test_elements_have_their_textbook_admittances() -> None:
    assert resistor(1, 2, 4.0).admittance == 0.25
    assert capacitor(1, 2, 1e-9, 60.0).admittance == pytest.approx(1j * 3.7699111843e-7, rel=1e-10)
    assert impedance(1, 2, 3.0, 4.0).admittance == pytest.approx(complex(0.12, -0.16), rel=1e-15)


def test_extending_leaves_the_first_network_alone() -> None:
    network = Network(branches=(resistor(0, 1, 1.0),), fixed=(FixedVoltage(0, 1 + 0j),))
    assert len(extended(network, [resistor(1, 2, 1.0)]).branches) == 2
    assert len(network.branches) == 1


def test_coupled_branches_obey_their_impedance_matrix() -> None:
    """Voltage drops found by the solver equal Z times the currents found from the loads."""
    series = np.array(
        [[0.20 + 0.29j, 0.02 + 0.25j, 0.02 + 0.26j], [0.02 + 0.25j, 0.21 + 0.28j, 0.02 + 0.26j], [0.02 + 0.26j] * 3]
    )
    series[2, 2] = 0.22 + 0.30j
    loads = np.array([1.4 + 0.5j, 0.9 + 0.4j, 3.0 - 1.0j])
    network = Network(
        branches=(
            *coupled_branches(((1, 11), (2, 12), (3, 13)), series),
            *(impedance(10 + k, 0, z.real, z.imag) for k, z in enumerate(loads, start=1)),
        ),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, 120 + 0j), FixedVoltage(2, -120 + 0j), FixedVoltage(3, 5j)),
    )
    found = node_voltages(network)
    ends = np.array([found[11], found[12], found[13]])
    starts = np.array([found[1], found[2], found[3]])
    np.testing.assert_allclose(starts - ends, series @ (ends / loads), rtol=1e-12)
