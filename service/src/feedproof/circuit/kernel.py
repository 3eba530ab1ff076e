"""Compiled nodal analysis of a reduced circuit, draws side by side: star-mesh elimination, fields, adjoints.

The nodal equations are solved by eliminating one node after another. Removing node k with branch admittances
y_kn to its neighbours leaves between any two of them the extra admittance

    y_nm += y_kn y_km / Σ_l y_kl            (star-mesh transformation)

Only branch admittances appear; the diagonal of the admittance matrix is never formed and nothing is ever
subtracted. So an open of a gigaohm beside a joint of a milliohm costs no digits, which plain Gaussian
elimination on the admittance matrix cannot promise.

Complex arrays have shape (rows, 2, lanes): the real parts, then the imaginary parts. Step `first` eliminates the first
node after the fixed ones, and so on; see `feedproof.circuit.reduction.Reduced` for the lists.

References
----------
.. [1] A. Rosen, "A new network theorem", J. IEE 62 (1924) 916-918: star-mesh transformation.
.. [2] W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions for Markov
   chains", Operations Research 33 (1985) 1107-1116: elimination without subtraction.
"""

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import counting_nothing
from feedproof.circuit.lanes import Lanes, load, store
from feedproof.circuit.reduction import FIXED_COUNT
from feedproof.circuit.topology import IntArray

LaneArray = NDArray[np.float64]
"""Its last axes are those of the lanes."""

ComplexArray = NDArray[np.complex128]


@counting_nothing
def eliminate(
    first: int,
    last: int,
    start: IntArray,
    free_stop: IntArray,
    edge: IntArray,
    pair_start: IntArray,
    pair_edge: IntArray,
    admittance: LaneArray,
    share: LaneArray,
    inverse: LaneArray,
) -> None:
    """Eliminate all unknown nodes of a circuit in place.

    Parameters
    ----------
    first, last : int
        The circuit's steps are first:last [1].
    start, free_stop, edge, pair_start, pair_edge : ndarray of int
        The steps, as in `Reduced` [1].
    admittance : ndarray, shape (edges, 2, lanes)
        Branch admittances [S]; on return those of the reduced stars.
    share : ndarray, shape (neighbours, 2, lanes)
        Filled with y_kn / Σ y_k, the share that each neighbour has in an eliminated node's voltage; it begins with
        those of the circuit's first step [1].
    inverse : ndarray, shape (steps, 2, lanes)
        Filled with 1 / Σ y_k [ohm].
    """
    origin = start[first]
    for s in range(first, last):
        here, free, end = start[s], free_stop[s], start[s + 1]
        total_re, total_im = 0.0, 0.0
        for j in range(here, end):
            total_re += load(admittance, (edge[j], 0))
            total_im += load(admittance, (edge[j], 1))
        squared = 1.0 / (total_re * total_re + total_im * total_im)
        inverse_re, inverse_im = total_re * squared, -total_im * squared
        store(inverse, (s - first, 0), inverse_re)
        store(inverse, (s - first, 1), inverse_im)
        pair = pair_start[s]
        for j in range(here, end):
            y_re, y_im = load(admittance, (edge[j], 0)), load(admittance, (edge[j], 1))
            share_re, share_im = y_re * inverse_re - y_im * inverse_im, y_re * inverse_im + y_im * inverse_re
            store(share, (j - origin, 0), share_re)
            store(share, (j - origin, 1), share_im)
            if j >= free:
                continue
            for m in range(j + 1, end):
                gains, other = pair_edge[pair], edge[m]
                y_re, y_im = load(admittance, (other, 0)), load(admittance, (other, 1))
                gained_re, gained_im = share_re * y_re - share_im * y_im, share_re * y_im + share_im * y_re
                store(admittance, (gains, 0), load(admittance, (gains, 0)) + gained_re)
                store(admittance, (gains, 1), load(admittance, (gains, 1)) + gained_im)
                pair += 1


@counting_nothing
def source_field(
    first: int,
    last: int,
    start: IntArray,
    neighbour: IntArray,
    share: LaneArray,
    voltage: LaneArray,
) -> None:
    """Voltages of all nodes from those of the fixed ones.

    Parameters
    ----------
    first, last : int
        The circuit's steps are first:last [1].
    start, neighbour : ndarray of int
        The steps, as in `Reduced` [1].
    share : ndarray, shape (neighbours, 2, lanes)
        From `eliminate` [1].
    voltage : ndarray, shape (nodes, 2, lanes)
        The fixed nodes' entries are given, the others are filled [V].
    """
    origin = start[first]
    for s in range(last - 1, first - 1, -1):
        value_re, value_im = 0.0, 0.0
        for j in range(start[s], start[s + 1]):
            n = neighbour[j]
            share_re, share_im = load(share, (j - origin, 0)), load(share, (j - origin, 1))
            v_re, v_im = load(voltage, (n, 0)), load(voltage, (n, 1))
            value_re += share_re * v_re - share_im * v_im
            value_im += share_re * v_im + share_im * v_re
        store(voltage, (FIXED_COUNT + s - first, 0), value_re)
        store(voltage, (FIXED_COUNT + s - first, 1), value_im)


@counting_nothing
def drive(
    first: int,
    last: int,
    start: IntArray,
    free_stop: IntArray,
    neighbour: IntArray,
    share: LaneArray,
    inverse: LaneArray,
    node: IntArray,
    weight: ComplexArray,
    begin: int,
    end: int,
    field: LaneArray,
) -> tuple[Lanes, Lanes]:
    """What one ampere driven through a pair of nodes meets, and where it goes.

    Parameters
    ----------
    first, last : int
        The circuit's steps are first:last [1].
    start, free_stop, neighbour : ndarray of int
        The steps, as in `Reduced` [1].
    share, inverse : ndarray, shapes (neighbours, 2, lanes), (steps, 2, lanes)
        From `eliminate` [1], [ohm].
    node, weight : ndarray, shape (W,)
        At which nodes how much of the ampere arrives [1].
    begin, end : int
        Those of this pair are begin:end [1].
    field : ndarray, shape (nodes, 2, lanes)
        Filled with the current that passes through each node as it is eliminated, for `settle_field` [1].

    Returns
    -------
    tuple of lanes
        Impedance of the pair in this circuit, real and imaginary part [ohm].
    """
    origin = start[first]
    own_re, own_im = 0.0, 0.0
    for n in range(FIXED_COUNT, FIXED_COUNT + last - first):
        store(field, (n, 0), 0.0)
        store(field, (n, 1), 0.0)
    for w in range(begin, end):
        store(field, (node[w], 0), weight[w].real)
        store(field, (node[w], 1), weight[w].imag)
    for s in range(first, last):
        k = FIXED_COUNT + s - first
        k_re, k_im = load(field, (k, 0)), load(field, (k, 1))
        inverse_re, inverse_im = load(inverse, (s - first, 0)), load(inverse, (s - first, 1))
        square_re, square_im = k_re * k_re - k_im * k_im, 2.0 * k_re * k_im
        own_re += square_re * inverse_re - square_im * inverse_im
        own_im += square_re * inverse_im + square_im * inverse_re
        for j in range(start[s], free_stop[s]):
            n = neighbour[j]
            share_re, share_im = load(share, (j - origin, 0)), load(share, (j - origin, 1))
            store(field, (n, 0), load(field, (n, 0)) + (share_re * k_re - share_im * k_im))
            store(field, (n, 1), load(field, (n, 1)) + (share_re * k_im + share_im * k_re))
    return own_re, own_im


@counting_nothing
def settle_field(
    first: int,
    last: int,
    start: IntArray,
    free_stop: IntArray,
    neighbour: IntArray,
    share: LaneArray,
    inverse: LaneArray,
    field: LaneArray,
) -> None:
    """Voltages that one ampere through a pair of nodes makes in the dead network, after `drive`.

    The same field is the adjoint of the voltage between the pair, `a` and `b`: for a branch of admittance y from p to q
    that carries the voltage V_p − V_q, ∂(V_a − V_b)/∂y = −(V_p − V_q)(x_p − x_q).

    Parameters
    ----------
    first, last : int
        The circuit's steps are first:last [1].
    start, free_stop, neighbour : ndarray of int
        The steps, as in `Reduced` [1].
    share, inverse : ndarray, shapes (neighbours, 2, lanes), (steps, 2, lanes)
        From `eliminate` [1], [ohm].
    field : ndarray, shape (nodes, 2, lanes)
        From `drive`; filled [V/A].

    References
    ----------
    .. [1] S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
       Trans. Circuit Theory 16 (1969) 318-323.
    """
    origin = start[first]
    for n in range(FIXED_COUNT):
        store(field, (n, 0), 0.0)
        store(field, (n, 1), 0.0)
    for s in range(last - 1, first - 1, -1):
        k = FIXED_COUNT + s - first
        k_re, k_im = load(field, (k, 0)), load(field, (k, 1))
        inverse_re, inverse_im = load(inverse, (s - first, 0)), load(inverse, (s - first, 1))
        value_re, value_im = k_re * inverse_re - k_im * inverse_im, k_re * inverse_im + k_im * inverse_re
        for j in range(start[s], free_stop[s]):
            n = neighbour[j]
            share_re, share_im = load(share, (j - origin, 0)), load(share, (j - origin, 1))
            v_re, v_im = load(field, (n, 0)), load(field, (n, 1))
            value_re += share_re * v_re - share_im * v_im
            value_im += share_re * v_im + share_im * v_re
        store(field, (k, 0), value_re)
        store(field, (k, 1), value_im)


@counting_nothing
def weighted(node: IntArray, weight: ComplexArray, begin: int, end: int, field: LaneArray) -> tuple[Lanes, Lanes]:
    """Voltage across a pair of nodes, from those of the nodes that it depends on.

    Parameters
    ----------
    node, weight : ndarray, shape (W,)
        The nodes, and what each counts for [1].
    begin, end : int
        Those of this pair are begin:end [1].
    field : ndarray, shape (nodes, 2, lanes)
        Their voltages [V].

    Returns
    -------
    tuple of lanes
        Real and imaginary part [V].
    """
    re, im = 0.0, 0.0
    for w in range(begin, end):
        v_re, v_im = load(field, (node[w], 0)), load(field, (node[w], 1))
        re += weight[w].real * v_re - weight[w].imag * v_im
        im += weight[w].real * v_im + weight[w].imag * v_re
    return re, im
