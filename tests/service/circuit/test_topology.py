"""The one graph, and the order in which it is solved."""

import itertools

import pytest

from feedproof.circuit import topology as net
from feedproof.readings import CONDUCTORS, POINTS

ARRANGEMENTS = (net.DISCONNECTED, net.CONNECTED)
TERMINAL_NODES = set(net.TERMINALS.values())


def steps(arrangement: int) -> list[tuple[int, list[int], list[int], list[int]]]:
    """Node, neighbours, edges and pair edges of each step."""
    e = net.elimination(arrangement)
    return [
        (
            int(node),
            e.neighbour[e.start[s] : e.start[s + 1]].tolist(),
            e.edge[e.start[s] : e.start[s + 1]].tolist(),
            e.pair_edge[e.pair_start[s] : e.pair_start[s + 1]].tolist(),
        )
        for s, node in enumerate(e.node)
    ]


def test_every_point_and_conductor_has_a_node() -> None:
    assert set(net.NODES) == set(POINTS)
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


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_every_unknown_node_is_removed_once(arrangement: int) -> None:
    unknown = set(range(net.NODE_COUNT)) - set(net.FIXED_NODES)
    if arrangement == net.DISCONNECTED:
        unknown -= TERMINAL_NODES
    removed = [node for node, _, _, _ in steps(arrangement)]
    assert len(removed) == len(set(removed))
    assert set(removed) == unknown


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_a_removed_node_is_no_neighbour_any_more(arrangement: int) -> None:
    gone: set[int] = set()
    for node, neighbours, _, _ in steps(arrangement):
        gone.add(node)
        assert not gone & set(neighbours)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_each_step_names_the_edges_that_it_takes_and_fills(arrangement: int) -> None:
    for node, neighbours, edges, pair_edges in steps(arrangement):
        assert edges == [net.edge_number(node, other) for other in neighbours]
        assert pair_edges == [net.edge_number(a, b) for a, b in itertools.combinations(neighbours, 2)]


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_fill_in_never_joins_what_elimination_has_not_joined(arrangement: int) -> None:
    """The neighbours of each step are those that plain elimination on sets gives."""
    present = {*net.SERVICE_EDGES, *net.BRANCH_EDGES, *net.RECEPTACLE_PAIRS}
    if arrangement == net.CONNECTED:
        present |= {*net.CORD_EDGES, *net.TERMINAL_PAIRS}
    joined = {frozenset(edge) for edge in present}
    for node, neighbours, _, _ in steps(arrangement):
        around = {other for edge in joined if node in edge for other in edge - {node}}
        assert set(neighbours) == around
        joined = {edge for edge in joined if node not in edge} | {
            frozenset(pair) for pair in itertools.combinations(around, 2)
        }
    assert {node for edge in joined for node in edge} <= set(net.FIXED_NODES)
