"""Values that describe a linear network: nodes, branches and fixed voltages, all in one frequency's phasors.

Nothing here knows of faults, meters or appliances. A node is a number or a (point, conductor) name, a branch is a
complex admittance between two nodes, and some nodes are held at given voltages by the source. Every function returns
values that `support.solver` takes; none of them solves anything.
"""

import cmath
import math
from collections.abc import Iterable, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Node = int | tuple[str, str]
"""A node: a number, or a (point, conductor) name such as ``("receptacle", "N")``."""


class Branch(Struct, frozen=True, array_like=True):
    """An admittance between two nodes."""

    start: Node
    """Node that a positive branch current leaves."""
    end: Node
    """Node that a positive branch current enters."""
    admittance: complex
    """[S]; 0 is an open branch. A negative real part is legal: coupled conductors produce it."""


class FixedVoltage(Struct, frozen=True, array_like=True):
    """A node held at a voltage by an ideal source."""

    node: Node
    voltage: complex
    """Phasor against the common reference, root mean square [V]."""


class Network(Struct, frozen=True):
    """A linear network at one frequency.

    Raises
    ------
    ValueError
        If a branch joins a node to itself, an admittance or a voltage is not finite, or a node is fixed twice.
    """

    branches: tuple[Branch, ...]
    fixed: tuple[FixedVoltage, ...]

    def __post_init__(self) -> None:
        for branch in self.branches:
            if branch.start == branch.end:
                raise ValueError(f"a branch joins node {branch.start!r} to itself")
            if not cmath.isfinite(branch.admittance):
                raise ValueError(f"the admittance between {branch.start!r} and {branch.end!r} is not finite")
        seen: set[Node] = set()
        for source in self.fixed:
            if source.node in seen:
                raise ValueError(f"node {source.node!r} is fixed twice")
            if not cmath.isfinite(source.voltage):
                raise ValueError(f"the voltage of node {source.node!r} is not finite")
            seen.add(source.node)


def node_order(network: Network) -> tuple[Node, ...]:
    """Every node of a network: the fixed ones first, then the rest as branches name them.

    Parameters
    ----------
    network : Network
        The network.

    Returns
    -------
    tuple of Node
        Each node once.
    """
    order: dict[Node, None] = {source.node: None for source in network.fixed}
    for branch in network.branches:
        order.setdefault(branch.start)
        order.setdefault(branch.end)
    return tuple(order)


def extended(network: Network, branches: Iterable[Branch]) -> Network:
    """The same network with further branches, for instance a meter connected across a pair of nodes.

    Parameters
    ----------
    network : Network
        The network to start from; it is not changed.
    branches : iterable of Branch
        What is added.

    Returns
    -------
    Network
        The larger network.
    """
    return Network(branches=(*network.branches, *branches), fixed=network.fixed)


def resistor(start: Node, end: Node, resistance: float) -> Branch:
    """A branch of a resistance.

    Parameters
    ----------
    start, end : Node
        Its ends.
    resistance : float
        Above 0; infinite is an open branch [ohm].

    Returns
    -------
    Branch
        The branch.

    Raises
    ------
    ValueError
        If the resistance is not above 0.
    """
    if not resistance > 0.0:
        raise ValueError("a resistance must be above 0 ohm")
    return Branch(start, end, complex(1.0 / resistance))


def capacitor(start: Node, end: Node, capacitance: float, frequency: float) -> Branch:
    """A branch of a capacitance at one frequency.

    Parameters
    ----------
    start, end : Node
        Its ends.
    capacitance : float
        [F]
    frequency : float
        [Hz]

    Returns
    -------
    Branch
        The branch, of admittance j·2·pi·frequency·capacitance.
    """
    return Branch(start, end, complex(0.0, 2.0 * math.pi * frequency * capacitance))


def impedance(start: Node, end: Node, resistance: float, reactance: float) -> Branch:
    """A branch of a resistance and a reactance in series.

    Parameters
    ----------
    start, end : Node
        Its ends.
    resistance, reactance : float
        Not both 0; inductive positive [ohm].

    Returns
    -------
    Branch
        The branch.
    """
    return Branch(start, end, 1.0 / complex(resistance, reactance))


def coupled_branches(ends: Sequence[tuple[Node, Node]], series: NDArray[np.complex128]) -> tuple[Branch, ...]:
    """Branches that together equal conductors with mutual impedance, such as the three of a triplex service.

    With the series impedance matrix Z of k conductors, current and voltage drop obey ``drop = Z @ current``. The nodal
    admittance of that element is ``[[Y, -Y], [-Y, Y]]`` with ``Y = inv(Z)``, whose off-diagonal terms are the branches
    returned: between a conductor's own ends, and across conductors, where some have a negative real part.

    Parameters
    ----------
    ends : sequence of (Node, Node)
        Sending and receiving node of each conductor. The sending nodes may coincide, as may the receiving ones.
    series : ndarray, shape (k, k)
        Symmetric series impedance matrix [ohm].

    Returns
    -------
    tuple of Branch
        At most k·(2k - 1) branches; those between coinciding nodes carry no current and are left out.

    References
    ----------
    .. [1] W. H. Kersting, "Center-Tapped Transformer and 120-/240-V Secondary Models", IEEE Transactions on Industry
       Applications, vol. 45, no. 2, 2009, doi:10.1109/TIA.2009.2013590 (the use of a full secondary matrix; the nodal
       form here is the usual one for coupled branches, from memory).
    """
    admittance = np.linalg.inv(np.asarray(series, dtype=np.complex128))
    branches: list[Branch] = []

    def add(start: Node, end: Node, value: complex) -> None:
        if start != end and value != 0.0:
            branches.append(Branch(start, end, value))

    for i, (send_i, receive_i) in enumerate(ends):
        add(send_i, receive_i, complex(admittance[i, i]))
        for j in range(i + 1, len(ends)):
            send_j, receive_j = ends[j]
            mutual = complex(admittance[i, j] + admittance[j, i]) / 2.0
            add(send_i, receive_j, mutual)
            add(receive_i, send_j, mutual)
            add(send_i, send_j, -mutual)
            add(receive_i, receive_j, -mutual)
    return tuple(branches)
