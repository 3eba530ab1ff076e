"""A circuit reduced to the nodes where something varies, compiled: what stays the same is solved once.

Of the eleven unknown nodes of the graph, a hypothesis moves the branches at a few; in a circuit where nothing runs and
nothing is broken, at none. All other nodes are eliminated beforehand by the star-mesh transformation, which only adds
and multiplies (see `feedproof.circuit.kernel`). What is left of a pair of nodes that a meter is put across is

- how much of one ampere driven through the pair arrives at each node that is left: by reciprocity the same numbers say
  how the voltage across the pair depends on the voltages of those nodes;
- the part of the pair's impedance that lies in what was eliminated.

References
----------
.. [1] A. Rosen, "A new network theorem", J. IEE 62 (1924) 916-918: star-mesh transformation.
.. [2] F. Dörfler, F. Bullo, "Kron reduction of graphs with applications to electrical networks", IEEE Trans. Circuits
   Syst. I 60 (2013) 150-163: the network that is left, seen from the nodes that are left.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled, within
from feedproof.circuit.topology import EDGE_ENDS, FIXED_NODES, NODE_COUNT, X0, IntArray

ComplexArray = NDArray[np.complex128]

FIXED_COUNT = len(FIXED_NODES)
"""The fixed nodes come first, in the graph and in each reduced circuit [1]."""
MOST_EDGES = NODE_COUNT * (NODE_COUNT - 1) // 2
"""Most edges that a reduced circuit can have, and most neighbours of all its steps together [1]."""

_TAIL, _HEAD = EDGE_ENDS[0].copy(), EDGE_ENDS[1].copy()
_MOST_STEPS = NODE_COUNT - FIXED_COUNT
_MOST_PAIRS = _MOST_STEPS * MOST_EDGES


class Reduced(NamedTuple):
    """C reduced circuits, R pairs of nodes, E elements that vary.

    In each circuit the nodes are numbered anew: the fixed ones as in the graph, then those that are left, in the order
    in which they are eliminated. Edges are numbered from 0 in each circuit.
    """

    step_start: IntArray
    """Circuit c is solved by the steps step_start[c]:step_start[c+1]; shape (C+1,)."""
    start: IntArray
    """Step s has the neighbours start[s]:start[s+1]: first those left, then the fixed ones; shape (S+1,)."""
    free_stop: IntArray
    """End of the neighbours of each step that are not fixed; shape (S,)."""
    neighbour: IntArray
    edge: IntArray
    """From the step's node to each neighbour."""
    pair_start: IntArray
    """Where the pairs of neighbours of each step begin; shape (S,)."""
    pair_edge: IntArray
    """Edges that gain, for the pairs of which the first is not fixed."""
    base_start: IntArray
    """Edges of circuit c are base_start[c]:base_start[c+1]; shape (C+1,)."""
    base: ComplexArray
    """Admittance of each edge beside what varies [S]."""
    element_edge: IntArray
    """Edge of each element, or −1 where it is not part of the circuit; shape (C, E)."""
    element_tail: IntArray
    """Its ends; shape (C, E)."""
    element_head: IntArray
    weight_start: IntArray
    """Pair r depends on the nodes weight_node[weight_start[r]:weight_start[r+1]]; shape (R+1,)."""
    weight_node: IntArray
    weight: ComplexArray
    """[1]"""
    impedance: ComplexArray
    """Part of the pair's impedance in what was eliminated; shape (R,) [ohm]."""
    far_start: IntArray
    """The same for a second pair beside each first one; shape (R+1,)."""
    far_node: IntArray
    far_weight: ComplexArray
    """[1]"""
    far_impedance: ComplexArray
    """Part of the mutual impedance of both pairs in what was eliminated; shape (R,) [ohm]."""
    branch: ComplexArray
    """Admittance that does not vary of the branch that the first pair is the ends of; shape (R,) [S]."""


@within
def _fewest_neighbours(joined: IntArray, candidate: IntArray) -> int:
    """The candidate that the fewest nodes are joined to, or −1 where there is none."""
    best, fewest = -1, NODE_COUNT + 1
    for k in range(NODE_COUNT):
        if candidate[k]:
            count = np.sum(joined[k])
            if count < fewest:
                best, fewest = k, count
    return best


@within
def _remove(joined: IntArray, k: int) -> None:
    """Take a node out of a pattern and join its neighbours."""
    for a in range(NODE_COUNT):
        if joined[k, a]:
            for b in range(NODE_COUNT):
                if joined[k, b] and a != b:
                    joined[a, b] = 1
    joined[k, :] = 0
    joined[:, k] = 0


@within
def _eliminate_constant(
    mesh: ComplexArray, joined: IntArray, left: IntArray, order: IntArray, share: ComplexArray, inverse: ComplexArray
) -> int:
    """Eliminate all unknown nodes but those left, in place; fills the order, the shares and the inverse sums."""
    candidate = 1 - left
    candidate[:FIXED_COUNT] = 0
    count = 0
    while True:
        k = _fewest_neighbours(joined, candidate)
        if k < 0:
            return count
        candidate[k] = 0
        total = np.sum(mesh[k])
        if total == 0.0:
            continue
        order[count] = k
        inverse[count] = 1.0 / total
        count += 1
        for n in range(NODE_COUNT):
            share[k, n] = mesh[k, n] / total
        for n in range(NODE_COUNT):
            for m in range(n + 1, NODE_COUNT):
                gained = share[k, n] * mesh[k, m]
                mesh[n, m] += gained
                mesh[m, n] += gained
        mesh[k, :] = 0.0
        mesh[:, k] = 0.0
        _remove(joined, k)


@within
def _drive(a: int, b: int, order: IntArray, share: ComplexArray, current: ComplexArray) -> None:
    """Where one ampere driven in at `a` and out at `b` arrives, at eliminated nodes and at those left."""
    current[:] = 0.0
    current[a] += 1.0
    current[b] -= 1.0
    for k in order:
        if current[k] != 0.0:
            for n in range(NODE_COUNT):
                current[n] += share[k, n] * current[k]


@within
def _list_weights(current: ComplexArray, local: IntArray, node: IntArray, weight: ComplexArray, count: int) -> int:
    """Add what arrives at nodes that are left; the reference has no voltage."""
    for n in range(NODE_COUNT):
        if n != X0 and local[n] >= 0 and current[n] != 0.0:
            node[count], weight[count] = local[n], current[n]
            count += 1
    return count


@compiled
def reduce_circuits(
    base: ComplexArray,
    element_edge: IntArray,
    element_mask: IntArray,
    reading_start: IntArray,
    node_a: IntArray,
    node_b: IntArray,
    far_a: IntArray,
    far_b: IntArray,
    through_edge: IntArray,
) -> Reduced:
    """Eliminate what does not vary, list the steps for the rest.

    Parameters
    ----------
    base : ndarray, shape (C, edges)
        Admittance of each edge of the graph beside what varies, for each circuit [S].
    element_edge, element_mask : ndarray of int, shape (E,)
        Edge of each element that varies; bit c of the mask is set where it is part of circuit c [1].
    reading_start : ndarray of int, shape (C+1,)
        Pairs of circuit c are reading_start[c]:reading_start[c+1] [1].
    node_a, node_b : ndarray of int, shape (R,)
        The pairs [1].
    far_a, far_b : ndarray of int, shape (R,)
        A second pair beside each; the same node twice where there is none [1].
    through_edge : ndarray of int, shape (R,)
        Edge between the two nodes of a pair, or −1 [1].

    Returns
    -------
    Reduced
        Of all circuits.
    """
    circuits, elements, pairs = base.shape[0], element_edge.size, node_a.size
    step_start, base_start = np.zeros(circuits + 1, np.int64), np.zeros(circuits + 1, np.int64)
    most = circuits * _MOST_STEPS
    start, free_stop, pair_start = np.zeros(most + 1, np.int64), np.zeros(most, np.int64), np.zeros(most, np.int64)
    neighbour, edge = np.zeros(circuits * MOST_EDGES, np.int64), np.zeros(circuits * MOST_EDGES, np.int64)
    pair_edge = np.zeros(circuits * _MOST_PAIRS, np.int64)
    reduced_base = np.zeros(circuits * MOST_EDGES, np.complex128)
    own_edge = np.full((circuits, elements), -1)
    tail, head = np.zeros((circuits, elements), np.int64), np.zeros((circuits, elements), np.int64)
    weight_start, far_start = np.zeros(pairs + 1, np.int64), np.zeros(pairs + 1, np.int64)
    weight_node, far_node = np.zeros(pairs * NODE_COUNT, np.int64), np.zeros(pairs * NODE_COUNT, np.int64)
    weight, far_weight = np.zeros(pairs * NODE_COUNT, np.complex128), np.zeros(pairs * NODE_COUNT, np.complex128)
    impedance, far_impedance = np.zeros(pairs, np.complex128), np.zeros(pairs, np.complex128)
    branch = np.zeros(pairs, np.complex128)
    current, far_current = np.zeros(NODE_COUNT, np.complex128), np.zeros(NODE_COUNT, np.complex128)
    steps, neighbours, gains, weights, fars = 0, 0, 0, 0, 0
    for c in range(circuits):
        mesh = np.zeros((NODE_COUNT, NODE_COUNT), np.complex128)
        joined, varies = np.zeros((NODE_COUNT, NODE_COUNT), np.int64), np.zeros((NODE_COUNT, NODE_COUNT), np.int64)
        for n in range(base.shape[1]):
            a, b = _TAIL[n], _HEAD[n]
            mesh[a, b] = mesh[b, a] = base[c, n]
            joined[a, b] = joined[b, a] = int(base[c, n] != 0.0)
        left = np.zeros(NODE_COUNT, np.int64)
        for e in range(elements):
            if (element_mask[e] >> c) & 1:
                a, b = _TAIL[element_edge[e]], _HEAD[element_edge[e]]
                varies[a, b] = varies[b, a] = 1
                left[a] = left[b] = 1
        order, inverse = np.zeros(_MOST_STEPS, np.int64), np.zeros(_MOST_STEPS, np.complex128)
        share = np.zeros((NODE_COUNT, NODE_COUNT), np.complex128)
        gone = _eliminate_constant(mesh, joined, left, order, share, inverse)
        # Then the order of those that are left, and the edges between them.
        local, number = np.full(NODE_COUNT, -1), np.full((NODE_COUNT, NODE_COUNT), -1)
        local[:FIXED_COUNT] = np.arange(FIXED_COUNT)
        left[:FIXED_COUNT] = 0
        joined = np.maximum(joined, varies)
        pattern, candidate, first = joined.copy(), left.copy(), steps
        while True:
            k = _fewest_neighbours(pattern, candidate)
            if k < 0:
                break
            candidate[k] = 0
            local[k] = FIXED_COUNT + steps - first
            _remove(pattern, k)
            steps += 1
        at = np.zeros(FIXED_COUNT + steps - first, np.int64)
        for n in range(NODE_COUNT):
            if local[n] >= 0:
                at[local[n]] = n
        edges = 0
        for s in range(first, steps):
            k = at[FIXED_COUNT + s - first]
            for n in range(FIXED_COUNT + s - first + 1, at.size + FIXED_COUNT):
                # Those that are left come first, then the fixed ones, the reference last.
                i = n if n < at.size else at.size + FIXED_COUNT - 1 - n
                if not joined[k, at[i]]:
                    continue
                if number[k, at[i]] < 0:
                    number[k, at[i]] = number[at[i], k] = edges
                    edges += 1
                neighbour[neighbours], edge[neighbours] = i, number[k, at[i]]
                neighbours += 1
                free_stop[s] = neighbours if i >= FIXED_COUNT else free_stop[s]
            start[s + 1] = neighbours
            free_stop[s] = max(free_stop[s], start[s])
            pair_start[s] = gains
            for j in range(start[s], free_stop[s]):
                for m in range(j + 1, neighbours):
                    a, b = at[neighbour[j]], at[neighbour[m]]
                    if number[a, b] < 0:
                        number[a, b] = number[b, a] = edges
                        edges += 1
                    pair_edge[gains] = number[a, b]
                    gains += 1
            _remove(joined, k)
        step_start[c + 1] = steps
        base_start[c + 1] = base_start[c] + edges
        for a in range(NODE_COUNT):
            for b in range(a):
                if number[a, b] >= 0:
                    reduced_base[base_start[c] + number[a, b]] = mesh[a, b]
        for e in range(elements):
            if (element_mask[e] >> c) & 1:
                a, b = _TAIL[element_edge[e]], _HEAD[element_edge[e]]
                own_edge[c, e], tail[c, e], head[c, e] = number[a, b], local[a], local[b]
        for r in range(reading_start[c], reading_start[c + 1]):
            _drive(node_a[r], node_b[r], order[:gone], share, current)
            _drive(far_a[r], far_b[r], order[:gone], share, far_current)
            for s in range(gone):
                impedance[r] += current[order[s]] ** 2 * inverse[s]
                far_impedance[r] += current[order[s]] * far_current[order[s]] * inverse[s]
            weights = _list_weights(current, local, weight_node, weight, weights)
            fars = _list_weights(far_current, local, far_node, far_weight, fars)
            weight_start[r + 1], far_start[r + 1] = weights, fars
            if through_edge[r] >= 0:
                branch[r] = base[c, through_edge[r]]
    return Reduced(
        step_start,
        start[: steps + 1].copy(),
        free_stop[:steps].copy(),
        neighbour[:neighbours].copy(),
        edge[:neighbours].copy(),
        pair_start[:steps].copy(),
        pair_edge[:gains].copy(),
        base_start,
        reduced_base[: base_start[circuits]].copy(),
        own_edge,
        tail,
        head,
        weight_start,
        weight_node[:weights].copy(),
        weight[:weights].copy(),
        impedance,
        far_start,
        far_node[:fars].copy(),
        far_weight[:fars].copy(),
        far_impedance,
        branch,
    )
