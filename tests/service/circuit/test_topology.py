"""The one graph."""

import pytest

from feedproof.circuit import topology as net
from feedproof.readings import CONDUCTORS, POINTS


def test_every_point_and_conductor_has_a_node() -> None:
    # The records know sub-panels too; this graph has none.
    assert set(net.NODES) == set(POINTS) - {"sub_panel", "panel"}
    assert all(set(nodes) == set(CONDUCTORS) for nodes in net.NODES.values())


def test_neutral_and_ground_are_one_at_the_panel_and_nowhere_else() -> None:
    assert net.PANEL["N"] == net.PANEL["G"]
    used = [node for nodes in net.NODES.values() for node in nodes.values()]
    assert len(used) - len(set(used)) == 1


def test_an_edge_is_the_same_from_either_end() -> None:
    for number, (a, b) in enumerate(net.EDGE_ENDS.T.tolist()):
        assert net.edge_number(a, b) == net.edge_number(b, a) == number


@pytest.mark.parametrize(("a", "b"), [(net.T1, net.S1), (net.T1, net.P1), (net.RN, net.RN)])
def test_what_is_not_joined_has_no_edge(a: int, b: int) -> None:
    with pytest.raises(KeyError):
        net.edge_number(a, b)
