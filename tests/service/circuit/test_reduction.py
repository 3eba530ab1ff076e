"""What is solved beforehand, on random circuits of the one graph; the kernel's tests hold the whole."""

import numpy as np
import pytest

from feedproof.circuit import topology as net
from feedproof.circuit.reduction import Reduced, reduce_circuits
from support.internals.random_supplies import ARRANGEMENTS, CONNECTED, random_admittances


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_a_circuit_where_nothing_varies_is_solved_beforehand(arrangement: str) -> None:
    admittances = random_admittances(1, arrangement)
    base = np.zeros((2, net.EDGE_COUNT), np.complex128)
    for (start, end), y in admittances.items():
        base[:, net.edge_number(start, end)] = y
    joint = np.array([net.edge_number(net.P1, net.R1)])
    # The joint varies in the second circuit only, which has the second and the third pair.
    a, b = np.array([net.R1, net.R1, net.R2]), np.array([net.RN, net.RN, net.RG])
    through = np.full(3, -1)
    reduced = reduce_circuits(base, joint, np.array([2]), np.array([0, 1, 3]), a, b, a, a, through)
    assert reduced.step_start.tolist() == [0, 0, 2]
    assert reduced.element_edge[:, 0].tolist() == [-1, 0]
    assert set(reduced.weight_node[: reduced.weight_start[1]].tolist()) <= {net.S1, net.S2}
    assert abs(reduced.impedance[0]) > 0.0


def test_the_mutual_impedance_is_what_one_pair_gains_by_a_current_through_another() -> None:
    """By reciprocity and superposition: Z(a,c) = (Z of the pair a-x, c-x together - both alone) / 2."""
    admittances = random_admittances(7, CONNECTED)
    base = np.zeros((1, net.EDGE_COUNT), np.complex128)
    for (a, b), y in admittances.items():
        base[0, net.edge_number(a, b)] = y
    nothing, whole = np.zeros(0, np.int64), np.array([0, 1])

    def reduced(a: int, b: int, far: int) -> Reduced:
        ends = [np.array([node]) for node in (a, b, far, net.PN)]
        found: Reduced = reduce_circuits(base, nothing, nothing, whole, *ends, np.array([-1]))
        return found

    mutual = complex(reduced(net.R1, net.PN, net.TN).far_impedance[0])
    pairs_of = ((net.R1, net.PN), (net.TN, net.PN), (net.R1, net.TN))
    alone = [complex(reduced(a, b, net.PN).impedance[0]) for a, b in pairs_of]
    assert mutual == pytest.approx((alone[0] + alone[1] - alone[2]) / 2.0, rel=1e-6)


def test_a_reduced_circuit_has_only_the_nodes_where_something_varies() -> None:
    admittances = random_admittances(3, CONNECTED)
    base = np.zeros((1, net.EDGE_COUNT), np.complex128)
    for (a, b), y in admittances.items():
        base[0, net.edge_number(a, b)] = y
    number = np.array([net.edge_number(net.P1, net.R1), net.edge_number(net.R1, net.T1)])
    ends = [np.array([node]) for node in (net.T1, net.TN, net.PN, net.PN)]
    reduced = reduce_circuits(base, number, np.ones(2, np.int64), np.array([0, 1]), *ends, np.array([-1]))
    assert reduced.step_start.tolist() == [0, 3]
    nodes = {*reduced.element_tail.ravel().tolist(), *reduced.element_head.ravel().tolist()}
    assert nodes == {3, 4, 5}
    # Every edge that the steps take or fill has its number, and no step takes a node that is gone.
    assert set(reduced.edge.tolist()) | set(reduced.pair_edge.tolist()) == set(range(reduced.base.size))
    for s in range(3):
        taken = reduced.neighbour[reduced.start[s] : reduced.start[s + 1]]
        assert not {3 + gone for gone in range(s + 1)} & set(taken.tolist())
