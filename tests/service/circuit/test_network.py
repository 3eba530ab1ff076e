import math

import numpy as np
import pytest

from feedproof.circuit.network import (
    Branch,
    FixedVoltage,
    Network,
    capacitor,
    coupled_branches,
    extended,
    impedance,
    node_order,
    resistor,
)
from feedproof.circuit.solve import node_voltages


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
