"""Compiled nodal analysis on the fixed graph: star-mesh elimination, fields, and their adjoints.

The nodal equations are solved by eliminating one node after another. Removing node k with branch admittances
y_kn to its neighbours leaves between any two of them the extra admittance

    y_nm += y_kn y_km / Σ_l y_kl            (star-mesh transformation)

Only branch admittances appear; the diagonal of the admittance matrix is never formed and nothing is ever
subtracted. So an open of a gigaohm beside a joint of a milliohm costs no digits, which plain Gaussian
elimination on the admittance matrix cannot promise.

References
----------
.. [1] A. Rosen, "A new network theorem", J. IEE 62 (1924) 916-918: star-mesh transformation.
.. [2] W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions for Markov
   chains", Operations Research 33 (1985) 1107-1116: elimination without subtraction.
"""

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import inlined
from feedproof.circuit.topology import FIXED_NODES, IntArray

ComplexArray = NDArray[np.complex128]

_FIXED_COUNT = len(FIXED_NODES)


@inlined
def eliminate(
    node: IntArray,
    start: IntArray,
    edge: IntArray,
    pair_start: IntArray,
    pair_edge: IntArray,
    admittance: ComplexArray,
    share: ComplexArray,
    inverse: ComplexArray,
) -> None:
    """Eliminate all unknown nodes in place.

    Parameters
    ----------
    node, start, edge, pair_start, pair_edge : ndarray of int
        The steps, as in `Elimination` [1].
    admittance : ndarray of complex, shape (edges,)
        Branch admittances [S]; on return those of the reduced stars.
    share : ndarray of complex, shape (neighbours,)
        Filled with y_kn / Σ y_k, the share that each neighbour has in an eliminated node's voltage [1].
    inverse : ndarray of complex, shape (steps,)
        Filled with 1 / Σ y_k [ohm].
    """
    for s in range(node.size):
        first, last = start[s], start[s + 1]
        total = 0.0 + 0.0j
        for j in range(first, last):
            total += admittance[edge[j]]
        inverse[s] = 1.0 / total
        for j in range(first, last):
            share[j] = admittance[edge[j]] * inverse[s]
        pair = pair_start[s]
        for j in range(first, last):
            for m in range(j + 1, last):
                admittance[pair_edge[pair]] += share[j] * admittance[edge[m]]
                pair += 1


@inlined
def source_field(
    node: IntArray,
    start: IntArray,
    neighbour: IntArray,
    share: ComplexArray,
    first: int,
    voltage: ComplexArray,
) -> None:
    """Voltages of all nodes from those of the fixed ones.

    Parameters
    ----------
    node, start, neighbour : ndarray of int
        The steps, as in `Elimination` [1].
    share : ndarray of complex
        From `eliminate` [1].
    first : int
        Nodes eliminated before this step are not wanted and left as they are [1].
    voltage : ndarray of complex, shape (nodes,)
        The fixed nodes' entries are given, the others are filled [V].
    """
    for s in range(node.size - 1, first - 1, -1):
        value = 0.0 + 0.0j
        for j in range(start[s], start[s + 1]):
            value += share[j] * voltage[neighbour[j]]
        voltage[node[s]] = value


@inlined
def pair_field(
    node: IntArray,
    start: IntArray,
    neighbour: IntArray,
    share: ComplexArray,
    inverse: ComplexArray,
    a: int,
    b: int,
    first: int,
    field: ComplexArray,
) -> None:
    """Voltages that one ampere driven in at `a` and out at `b` makes in the dead network.

    The same field is the adjoint of the voltage between `a` and `b`: for a branch of admittance y from p to q
    that carries the voltage V_p − V_q, ∂(V_a − V_b)/∂y = −(V_p − V_q)(x_p − x_q).

    Parameters
    ----------
    node, start, neighbour : ndarray of int
        The steps, as in `Elimination` [1].
    share, inverse : ndarray of complex
        From `eliminate` [1], [ohm].
    a, b : int
        Nodes [1].
    first : int
        Nodes eliminated before this step are neither driven nor wanted [1].
    field : ndarray of complex, shape (nodes,)
        Filled [V/A].

    References
    ----------
    .. [1] S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
       Trans. Circuit Theory 16 (1969) 318-323.
    """
    for n in range(field.size):
        field[n] = 0.0
    field[a] += 1.0
    field[b] -= 1.0
    for s in range(first, node.size):
        k = node[s]
        if field[k] != 0.0:
            for j in range(start[s], start[s + 1]):
                field[neighbour[j]] += share[j] * field[k]
    for n in range(_FIXED_COUNT):
        field[n] = 0.0
    for s in range(node.size - 1, first - 1, -1):
        k = node[s]
        value = field[k] * inverse[s]
        for j in range(start[s], start[s + 1]):
            value += share[j] * field[neighbour[j]]
        field[k] = value
