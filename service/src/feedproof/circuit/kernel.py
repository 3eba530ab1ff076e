"""Compiled nodal analysis on the fixed graph, eight draws side by side: star-mesh elimination, fields, adjoints.

The nodal equations are solved by eliminating one node after another. Removing node k with branch admittances
y_kn to its neighbours leaves between any two of them the extra admittance

    y_nm += y_kn y_km / Σ_l y_kl            (star-mesh transformation)

Only branch admittances appear; the diagonal of the admittance matrix is never formed and nothing is ever
subtracted. So an open of a gigaohm beside a joint of a milliohm costs no digits, which plain Gaussian
elimination on the admittance matrix cannot promise.

Complex arrays have shape (rows, 2, lanes): the real parts, then the imaginary parts.

References
----------
.. [1] A. Rosen, "A new network theorem", J. IEE 62 (1924) 916-918: star-mesh transformation.
.. [2] W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions for Markov
   chains", Operations Research 33 (1985) 1107-1116: elimination without subtraction.
"""

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import within
from feedproof.circuit.lanes import load, splat, store
from feedproof.circuit.topology import FIXED_NODES, IntArray

LaneArray = NDArray[np.float64]
"""Its last axis is that of the lanes."""

_FIXED_COUNT = len(FIXED_NODES)


@within
def eliminate(
    node: IntArray,
    start: IntArray,
    edge: IntArray,
    pair_start: IntArray,
    pair_edge: IntArray,
    admittance: LaneArray,
    share: LaneArray,
    inverse: LaneArray,
) -> None:
    """Eliminate all unknown nodes in place.

    Parameters
    ----------
    node, start, edge, pair_start, pair_edge : ndarray of int
        The steps, as in `Elimination` [1].
    admittance : ndarray, shape (edges, 2, lanes)
        Branch admittances [S]; on return those of the reduced stars.
    share : ndarray, shape (neighbours, 2, lanes)
        Filled with y_kn / Σ y_k, the share that each neighbour has in an eliminated node's voltage [1].
    inverse : ndarray, shape (steps, 2, lanes)
        Filled with 1 / Σ y_k [ohm].
    """
    for s in range(node.size):
        first, last = start[s], start[s + 1]
        total_re, total_im = splat(0.0), splat(0.0)
        for j in range(first, last):
            total_re += load(admittance, (edge[j], 0))
            total_im += load(admittance, (edge[j], 1))
        squared = 1.0 / (total_re * total_re + total_im * total_im)
        inverse_re, inverse_im = total_re * squared, -total_im * squared
        store(inverse, (s, 0), inverse_re)
        store(inverse, (s, 1), inverse_im)
        pair = pair_start[s]
        for j in range(first, last):
            y_re, y_im = load(admittance, (edge[j], 0)), load(admittance, (edge[j], 1))
            share_re, share_im = y_re * inverse_re - y_im * inverse_im, y_re * inverse_im + y_im * inverse_re
            store(share, (j, 0), share_re)
            store(share, (j, 1), share_im)
            for m in range(j + 1, last):
                gains, other = pair_edge[pair], edge[m]
                y_re, y_im = load(admittance, (other, 0)), load(admittance, (other, 1))
                gained_re, gained_im = share_re * y_re - share_im * y_im, share_re * y_im + share_im * y_re
                store(admittance, (gains, 0), load(admittance, (gains, 0)) + gained_re)
                store(admittance, (gains, 1), load(admittance, (gains, 1)) + gained_im)
                pair += 1


@within
def source_field(
    node: IntArray,
    start: IntArray,
    neighbour: IntArray,
    share: LaneArray,
    first: int,
    voltage: LaneArray,
) -> None:
    """Voltages of all nodes from those of the fixed ones.

    Parameters
    ----------
    node, start, neighbour : ndarray of int
        The steps, as in `Elimination` [1].
    share : ndarray, shape (neighbours, 2, lanes)
        From `eliminate` [1].
    first : int
        Nodes eliminated before this step are not wanted and left as they are [1].
    voltage : ndarray, shape (nodes, 2, lanes)
        The fixed nodes' entries are given, the others are filled [V].
    """
    for s in range(node.size - 1, first - 1, -1):
        value_re, value_im = splat(0.0), splat(0.0)
        for j in range(start[s], start[s + 1]):
            n = neighbour[j]
            share_re, share_im = load(share, (j, 0)), load(share, (j, 1))
            v_re, v_im = load(voltage, (n, 0)), load(voltage, (n, 1))
            value_re += share_re * v_re - share_im * v_im
            value_im += share_re * v_im + share_im * v_re
        store(voltage, (node[s], 0), value_re)
        store(voltage, (node[s], 1), value_im)


@within
def pair_field(
    node: IntArray,
    start: IntArray,
    neighbour: IntArray,
    share: LaneArray,
    inverse: LaneArray,
    a: int,
    b: int,
    first: int,
    field: LaneArray,
) -> None:
    """Voltages that one ampere driven in at `a` and out at `b` makes in the dead network.

    The same field is the adjoint of the voltage between `a` and `b`: for a branch of admittance y from p to q
    that carries the voltage V_p − V_q, ∂(V_a − V_b)/∂y = −(V_p − V_q)(x_p − x_q).

    Parameters
    ----------
    node, start, neighbour : ndarray of int
        The steps, as in `Elimination` [1].
    share, inverse : ndarray, shapes (neighbours, 2, lanes), (steps, 2, lanes)
        From `eliminate` [1], [ohm].
    a, b : int
        Nodes [1].
    first : int
        Nodes eliminated before this step are neither driven nor wanted [1].
    field : ndarray, shape (nodes, 2, lanes)
        Filled [V/A].

    References
    ----------
    .. [1] S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
       Trans. Circuit Theory 16 (1969) 318-323.
    """
    zero = splat(0.0)
    for n in range(field.shape[0]):
        store(field, (n, 0), zero)
        store(field, (n, 1), zero)
    store(field, (a, 0), splat(1.0))
    store(field, (b, 0), load(field, (b, 0)) - 1.0)
    for s in range(first, node.size):
        k = node[s]
        k_re, k_im = load(field, (k, 0)), load(field, (k, 1))
        for j in range(start[s], start[s + 1]):
            n = neighbour[j]
            share_re, share_im = load(share, (j, 0)), load(share, (j, 1))
            store(field, (n, 0), load(field, (n, 0)) + (share_re * k_re - share_im * k_im))
            store(field, (n, 1), load(field, (n, 1)) + (share_re * k_im + share_im * k_re))
    for n in range(_FIXED_COUNT):
        store(field, (n, 0), zero)
        store(field, (n, 1), zero)
    for s in range(node.size - 1, first - 1, -1):
        k = node[s]
        k_re, k_im = load(field, (k, 0)), load(field, (k, 1))
        inverse_re, inverse_im = load(inverse, (s, 0)), load(inverse, (s, 1))
        value_re, value_im = k_re * inverse_re - k_im * inverse_im, k_re * inverse_im + k_im * inverse_re
        for j in range(start[s], start[s + 1]):
            n = neighbour[j]
            share_re, share_im = load(share, (j, 0)), load(share, (j, 1))
            v_re, v_im = load(field, (n, 0)), load(field, (n, 1))
            value_re += share_re * v_re - share_im * v_im
            value_im += share_re * v_im + share_im * v_re
        store(field, (k, 0), value_re)
        store(field, (k, 1), value_im)
