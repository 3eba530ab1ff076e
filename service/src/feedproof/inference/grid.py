"""Which severities a place is climbed at, and the mass over them: plain sums over nodes.

Node k of mode m is row m * most + k of everything that is kept. Nodes are numbered as they come; `order` sorts them.
"""

import math

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import FloatArray, IntArray

_NO_SPLIT_BELOW = 5.0
"""Nodes this far below the best need no neighbours [nat]."""
_NARROW, _WIDE = 0.2, 6.0
"""No nodes nearer than the one, none further apart than the other where there is mass [ln ohm]."""
_BEND = 1.0
"""By how much the logarithm of the mass may bend between two nodes [nat]."""
APART = 0.25
"""Modes nearer than this in every coordinate are one [1]."""


@compiled
def log_sum(a: float, b: float) -> float:
    """Logarithm of the sum of two numbers given by their logarithms [1].

    Parameters
    ----------
    a, b : float
        Logarithms [1].
    """
    top = max(a, b)
    return top if top == -np.inf else top + math.log(math.exp(a - top) + math.exp(b - top))


@compiled
def log_piece(first: float, last: float, width: float) -> float:
    """Logarithm of the integral of a function whose own logarithm runs straight between two ends [1].

    Parameters
    ----------
    first, last : float
        Logarithms at the ends [1].
    width : float
        Between them [1].
    """
    bend = abs(last - first)
    mean = math.log(-math.expm1(-bend) / bend) if bend > 1e-9 else 0.0
    return max(first, last) + mean + math.log(width)


@compiled
def log_prior(pieces: FloatArray, s: float) -> float:
    """Logarithm of a severity's density [1].

    Parameters
    ----------
    pieces : ndarray, shape (P, 4)
        Rows (low, high, a, b): between low and high the density is exp(a + b s) [1].
    s : float
        Severity [ln ohm].
    """
    for k in range(pieces.shape[0]):
        if s <= pieces[k, 1] or k == pieces.shape[0] - 1:
            return pieces[k, 2] + pieces[k, 3] * s
    return -np.inf


@compiled
def merge(x: FloatArray, mass: FloatArray, size: int, most: int, count: int, modes: int) -> FloatArray:
    """Take out of each mode's mass where it is the same as an earlier one.

    Parameters
    ----------
    x : ndarray, shape (rows, D + S)
        Modes [1].
    mass : ndarray, shape (rows,)
        Logarithms of the mass at each; minus infinity is put where it is counted already [nat].
    size : int
        D [1].
    most : int
        Rows kept for each mode [1].
    count : int
        Nodes [1].
    modes : int
        Modes [1].

    Returns
    -------
    ndarray, shape (count,)
        Log mass by node, over all modes [nat].
    """
    whole = np.full(count, -np.inf)
    for k in range(count):
        for m in range(modes):
            row = m * most + k
            for earlier in range(m):
                other = earlier * most + k
                far = 0.0
                for d in range(size):
                    far = max(far, abs(x[row, d] - x[other, d]))
                if far <= APART and mass[other] > -np.inf:
                    mass[row] = -np.inf
            whole[k] = log_sum(whole[k], mass[row])
    return whole


@compiled
def first_nodes(
    pieces: FloatArray, at: float, spread: float, steps: FloatArray, nodes: FloatArray, order: IntArray
) -> tuple[int, int]:
    """Nodes at the ends of the pieces and round the peak.

    Parameters
    ----------
    pieces : ndarray, shape (P, 4)
        As in `log_prior` [1].
    at : float
        The peak [ln ohm].
    spread : float
        Of the severity round it [ln ohm].
    steps : ndarray
        Where to put nodes, in spreads from the peak [1].
    nodes : ndarray, shape (most, 1)
        Filled, in the order of coming [ln ohm].
    order : ndarray of int, shape (most,)
        Filled: sorts the nodes [1].

    Returns
    -------
    tuple of int
        How many, and the one at the peak [1].
    """
    wanted = np.empty(pieces.shape[0] + 2 + steps.size)
    wanted[0] = pieces[0, 0]
    for k in range(pieces.shape[0]):
        wanted[k + 1] = pieces[k, 1]
    n = pieces.shape[0] + 1
    edges = n
    wanted[n] = at
    n += 1
    for t in steps:
        wanted[n] = at + t * spread
        n += 1
    low, high = pieces[0, 0], pieces[-1, 1]
    count = 0
    for k in range(n):
        s = wanted[k]
        if s < low or s > high:
            continue
        near = False
        for j in range(count):
            if abs(nodes[j, 0] - s) < (1e-9 if k < edges else 0.25 * min(spread, 1.0)):
                near = True
        if near:
            continue
        nodes[count, 0] = s
        place = count
        while place > 0 and nodes[order[place - 1], 0] > s:
            order[place] = order[place - 1]
            place -= 1
        order[place] = count
        count += 1
    origin = 0
    for j in range(count):
        if abs(nodes[j, 0] - at) < abs(nodes[origin, 0] - at):
            origin = j
    return count, origin


@compiled
def outward(order: IntArray, count: int, origin: int, base: int, source: int, tasks: IntArray) -> int:
    """List the climbs of one mode from one node outward, each from its neighbour.

    Parameters
    ----------
    order : ndarray of int
        Sorts the nodes [1].
    count : int
        Nodes [1].
    origin : int
        Where to begin [1].
    base : int
        First row of the mode [1].
    source : int
        Row that the first climb starts from [1].
    tasks : ndarray of int, shape (T, 5)
        Filled in its first two columns, as `search` takes them [1].

    Returns
    -------
    int
        How many.
    """
    place = 0
    while order[place] != origin:
        place += 1
    n = 0
    for j in range(place, count):
        tasks[n, 0] = source if j == place else base + order[j - 1]
        tasks[n, 1] = base + order[j]
        n += 1
    for j in range(place - 1, -1, -1):
        tasks[n, 0], tasks[n, 1] = base + order[j + 1], base + order[j]
        n += 1
    return n


@compiled
def halve(
    pieces: FloatArray,
    nodes: FloatArray,
    order: IntArray,
    count: int,
    whole: FloatArray,
    most: int,
    modes: int,
    tasks: IntArray,
) -> tuple[int, int]:
    """Put a node between two wherever the mass bends.

    Parameters
    ----------
    pieces : ndarray, shape (P, 4)
        As in `log_prior` [1].
    nodes : ndarray, shape (most, 1)
        Added to [ln ohm].
    order : ndarray of int, shape (most,)
        Kept sorting [1].
    count : int
        Nodes so far [1].
    whole : ndarray, shape (count,)
        Log mass by node [nat].
    most : int
        Rows kept for each mode [1].
    modes : int
        Modes [1].
    tasks : ndarray of int, shape (T, 5)
        Filled in its first two columns, as `search` takes them [1].

    Returns
    -------
    tuple of int
        The new count, and how many climbs that asks for [1].
    """
    f, slope = np.empty(count), np.empty(max(count - 1, 1))
    top = -np.inf
    for j in range(count):
        s = nodes[order[j], 0]
        f[j] = whole[order[j]] + log_prior(pieces, s)
        top = max(top, f[j])
    for j in range(count - 1):
        slope[j] = (f[j + 1] - f[j]) / (nodes[order[j + 1], 0] - nodes[order[j], 0])
    old = order[:count].copy()
    new, n, shift = count, 0, 0
    for j in range(count - 1):
        left, right = old[j], old[j + 1]
        width = nodes[right, 0] - nodes[left, 0]
        if width < _NARROW or max(f[j], f[j + 1]) < top - _NO_SPLIT_BELOW or new >= most:
            continue
        bend = max(abs(slope[j] - slope[max(j - 1, 0)]), abs(slope[min(j + 1, count - 2)] - slope[j])) * width
        if bend <= _BEND and width <= _WIDE:
            continue
        nodes[new, 0] = 0.5 * (nodes[left, 0] + nodes[right, 0])
        for k in range(count + shift, j + 1 + shift, -1):
            order[k] = order[k - 1]
        order[j + 1 + shift] = new
        shift += 1
        near = left if f[j] >= f[j + 1] else right
        for m in range(modes):
            tasks[n, 0], tasks[n, 1] = m * most + near, m * most + new
            n += 1
        new += 1
    return new, n


@compiled
def integral(
    pieces: FloatArray, nodes: FloatArray, order: IntArray, count: int, whole: FloatArray, found: FloatArray
) -> None:
    """Mass of each piece of the prior.

    Parameters
    ----------
    pieces : ndarray, shape (P, 4)
        As in `log_prior` [1].
    nodes : ndarray, shape (count, 1)
        Severities [ln ohm].
    order : ndarray of int
        Sorts the nodes [1].
    count : int
        Nodes [1].
    whole : ndarray, shape (count,)
        Log mass by node [nat].
    found : ndarray, shape (P,)
        Filled: logarithms [nat].
    """
    found[:] = -np.inf
    for j in range(count - 1):
        a, b = nodes[order[j], 0], nodes[order[j + 1], 0]
        middle, k = 0.5 * (a + b), 0
        while k < pieces.shape[0] - 1 and middle > pieces[k, 1]:
            k += 1
        first = whole[order[j]] + pieces[k, 2] + pieces[k, 3] * a
        last = whole[order[j + 1]] + pieces[k, 2] + pieces[k, 3] * b
        found[k] = log_sum(found[k], log_piece(first, last, b - a))
