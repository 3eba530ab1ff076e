"""Nodal analysis of a small linear network without subtractive cancellation: the second solver, for checks alone.

A plain admittance matrix carries on its diagonal the sum of all branches at a node. Where a milliohm joint meets a
gigaohm open, that sum loses the open to rounding, and elimination then subtracts two nearly equal numbers. Here the
diagonal is never stored: nodes are removed one after another by the star-mesh transformation, which only adds and
multiplies branch admittances, as Grassmann, Taksar and Heyman do for Markov chains. What a meter reads across a pair of
nodes follows from the mesh that is left between that pair and the fixed nodes.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Literal

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from support.network import Network, Node, node_order

_Complex = NDArray[np.complex128]


class Thevenin(Struct, frozen=True):
    """What a pair of nodes looks like from outside: an ideal source behind an impedance."""

    voltage: complex
    """Open-circuit voltage, first node against second [V]; 0 where no source acts on the pair."""
    impedance: complex
    """[ohm]; infinite where nothing joins the two nodes."""


def _mesh(network: Network) -> tuple[dict[Node, int], _Complex]:
    """Index of each node, and the symmetric matrix of branch admittances with an empty diagonal [S]."""
    index = {node: position for position, node in enumerate(node_order(network))}
    mesh = np.zeros((len(index), len(index)), dtype=np.complex128)
    for branch in network.branches:
        i, j = index[branch.start], index[branch.end]
        mesh[i, j] += branch.admittance
        mesh[j, i] += branch.admittance
    return index, mesh


def _next_to_remove(mesh: _Complex, candidates: Sequence[int]) -> int:
    """The candidate whose branch admittances cancel least in their sum."""
    rows = mesh[candidates]
    whole = np.abs(rows.sum(axis=1))
    parts = np.abs(rows).sum(axis=1)
    share = np.divide(whole, parts, out=np.ones_like(whole), where=parts > 0.0)
    return candidates[int(np.argmax(share))]


def _remove(mesh: _Complex, node: int) -> _Complex:
    """Remove a node in place by the star-mesh transformation; returns its neighbours' weights, which sum to 1."""
    star: _Complex = mesh[node].copy()
    total = star.sum()
    mesh[node] = 0.0
    mesh[:, node] = 0.0
    if not star.any():
        return star
    if total == 0.0:
        raise ValueError("the network is resonant: the admittances at a node cancel exactly")
    weights: _Complex = star / total
    mesh += np.outer(star, weights)
    np.fill_diagonal(mesh, 0.0)
    return weights


def _reduce(mesh: _Complex, keep: Collection[int]) -> _Complex:
    """The mesh between the kept nodes once all others are removed; shape unchanged, removed rows empty."""
    mesh = mesh.copy()
    candidates = [node for node in range(len(mesh)) if node not in keep]
    while candidates:
        node = _next_to_remove(mesh, candidates)
        candidates.remove(node)
        _remove(mesh, node)
    return mesh


def node_voltages(network: Network) -> dict[Node, complex]:
    """Voltage of every node against the common reference.

    For the difference between two nodes ask `thevenin`: it stays exact where the two nearly coincide.

    Parameters
    ----------
    network : Network
        The network.

    Returns
    -------
    dict of Node to complex
        Root-mean-square phasors [V]; 0 for a node that nothing joins to a fixed one.

    Raises
    ------
    ValueError
        If the admittances at a node cancel exactly.

    References
    ----------
    .. [1] W. K. Grassmann, M. I. Taksar, D. P. Heyman, "Regenerative Analysis and Steady State Distributions for
       Markov Chains", Operations Research, vol. 33, no. 5, 1985, pp. 1107-1116 (elimination without subtraction).
    .. [2] A. S. Alfa, J. Xue, Q. Ye, "Accurate computation of the smallest eigenvalue of a diagonally dominant
       M-matrix", Mathematics of Computation, vol. 71, 2002, pp. 217-236 (why it keeps small entries exact).
       Both citations from memory.
    """
    index, mesh = _mesh(network)
    steps: list[tuple[int, _Complex]] = []
    candidates = list(range(len(network.fixed), len(index)))
    while candidates:
        node = _next_to_remove(mesh, candidates)
        candidates.remove(node)
        steps.append((node, _remove(mesh, node)))
    voltages = np.zeros(len(index), dtype=np.complex128)
    voltages[: len(network.fixed)] = [source.voltage for source in network.fixed]
    for node, weights in reversed(steps):
        voltages[node] = weights @ voltages
    return {node: complex(voltages[position]) for node, position in index.items()}


def _pair(mesh: _Complex, a: int, b: int, fixed: Mapping[int, complex]) -> Thevenin:
    """Thevenin equivalent of a pair from a mesh of only that pair and the fixed nodes."""
    if a == b:
        return Thevenin(voltage=0j, impedance=0j)
    sources = list(fixed.items())
    if a in fixed and b in fixed:
        return Thevenin(voltage=fixed[a] - fixed[b], impedance=0j)
    if a in fixed or b in fixed:
        free, held, sign = (b, a, 1.0) if a in fixed else (a, b, -1.0)
        to_fixed = complex(sum(mesh[free, node] for node, _ in sources))
        if to_fixed == 0.0:
            return Thevenin(voltage=0j, impedance=complex(math.inf))
        pull = complex(sum(mesh[free, node] * (fixed[held] - voltage) for node, voltage in sources))
        return Thevenin(voltage=sign * pull / to_fixed, impedance=1.0 / to_fixed)
    from_a = complex(sum(mesh[a, node] for node, _ in sources))
    from_b = complex(sum(mesh[b, node] for node, _ in sources))
    direct = complex(mesh[a, b])
    if from_a == 0.0 or from_b == 0.0:
        return Thevenin(voltage=0j, impedance=1.0 / direct if direct != 0.0 else complex(math.inf))
    bridge = 0j
    for position, (s, voltage_s) in enumerate(sources):
        for t, voltage_t in sources[position + 1 :]:
            bridge += complex(mesh[a, s] * mesh[b, t] - mesh[a, t] * mesh[b, s]) * (voltage_s - voltage_t)
    whole = from_a * from_b + direct * (from_a + from_b)
    return Thevenin(voltage=bridge / whole, impedance=(from_a + from_b) / whole)


def thevenins(network: Network, pairs: Sequence[tuple[Node, Node]]) -> tuple[Thevenin, ...]:
    """Thevenin equivalents of several pairs of nodes, from one shared reduction of the network.

    With the mesh between a, b and the fixed nodes s, t, and Ya, Yb the sums of the branches from a and b to the fixed
    nodes, ``Vth = sum over s < t of (y_as*y_bt - y_at*y_bs)*(Vs - Vt) / D`` and ``Zth = (Ya + Yb) / D`` with
    ``D = Ya*Yb + y_ab*(Ya + Yb)``. The only subtraction is that of the bridge itself, and it is 0 where the bridge
    balances.

    Parameters
    ----------
    network : Network
        The network.
    pairs : sequence of (Node, Node)
        First node against second.

    Returns
    -------
    tuple of Thevenin
        One per pair, in order.

    Raises
    ------
    KeyError
        If the network has no such node.
    ValueError
        If the admittances at a node cancel exactly.

    References
    ----------
    .. [1] A. Rosen, "A new network theorem", Journal of the IEE, vol. 62, 1924, pp. 916-918 (star-mesh transformation;
       citation from memory). The bridge form follows from it by nodal analysis of the two nodes that are left.
    """
    index, mesh = _mesh(network)
    fixed = {index[source.node]: source.voltage for source in network.fixed}
    wanted = [(index[a], index[b]) for a, b in pairs]
    shared = _reduce(mesh, {*fixed, *(node for pair in wanted for node in pair)})
    return tuple(_pair(_reduce(shared, {*fixed, a, b}), a, b, fixed) for a, b in wanted)


def thevenin(network: Network, pair: tuple[Node, Node]) -> Thevenin:
    """Thevenin equivalent of one pair of nodes; see `thevenins`.

    Parameters
    ----------
    network : Network
        The network.
    pair : (Node, Node)
        First node against second.

    Returns
    -------
    Thevenin
        Voltage [V] and impedance [ohm].
    """
    return thevenins(network, (pair,))[0]


def voltmeter_reading(source: Thevenin, meter_impedance: complex) -> float:
    """What a voltmeter shows across a pair of nodes, its own loading included: ``|Vth * Zm / (Zm + Zth)|``.

    Parameters
    ----------
    source : Thevenin
        The pair of nodes without the meter.
    meter_impedance : complex
        The meter's input impedance; infinite for an ideal meter [ohm].

    Returns
    -------
    float
        Magnitude [V].

    References
    ----------
    .. [1] T. R. Kuphaldt, Lessons in Electric Circuits, vol. I, ch. 8 (voltmeter impact on the measured circuit).
    """
    if not np.isfinite(source.impedance):
        return 0.0
    if not np.isfinite(meter_impedance):
        return abs(source.voltage)
    return abs(source.voltage * meter_impedance / (meter_impedance + source.impedance))


def branch_current(network: Network, position: int) -> complex:
    """Current through one branch.

    Parameters
    ----------
    network : Network
        The network.
    position : int
        Index into the network's branches.

    Returns
    -------
    complex
        Root-mean-square phasor, positive from the branch's start to its end [A].
    """
    branch = network.branches[position]
    return branch.admittance * thevenin(network, (branch.start, branch.end)).voltage


def driving_point_impedance(
    network: Network, pair: tuple[Node, Node], supply: Literal["isolated", "shorted"] = "isolated"
) -> complex:
    """Impedance between two nodes of the dead network: what an ohmmeter drives its test current through.

    Parameters
    ----------
    network : Network
        The network; build it with real admittances only for an ohmmeter that uses direct current.
    pair : (Node, Node)
        The nodes.
    supply : {"isolated", "shorted"}
        "isolated": the fixed nodes are let go, as by an open breaker. "shorted": they are joined with each other, as
        through a transformer of no impedance with no voltage on it.

    Returns
    -------
    complex
        [ohm]; infinite where nothing joins the two nodes.
    """
    if supply == "shorted":
        return thevenin(network, pair).impedance
    return thevenin(Network(branches=network.branches, fixed=()), pair).impedance
