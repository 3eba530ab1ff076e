"""Draws from the nested approximation, each weighed against the model itself."""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import FloatArray, IntArray, Program, make_work, predict
from feedproof.inference.laplace import solve_upper
from feedproof.inference.likelihood import Readings, log_likelihood

WIDER = 1.1
"""How much wider than the approximation draws are made [1]."""


class Cells(NamedTuple):
    """Cells of severities between neighbouring nodes."""

    upto: FloatArray
    """Mass up to the end of each cell [1]; (C,)."""
    low: FloatArray
    high: FloatArray
    """[ln ohm]; (C, S)."""
    first: IntArray
    last: IntArray
    """Nodes at two opposite corners; (C,)."""
    log_prior: FloatArray
    slope: FloatArray
    """Logarithm of the prior's density: at 0, and its slopes; (C,), (C, S)."""
    middle: FloatArray
    scale: FloatArray
    """Of the working units [ln ohm]; (S,)."""


@compiled
def importance(
    p: Program,
    readings: Readings,
    cells: Cells,
    z: FloatArray,
    factor: FloatArray,
    log_share: FloatArray,
    u: FloatArray,
    eps: FloatArray,
    x: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> None:
    """Draw from the nested approximation and weigh every draw against the model itself.

    A cell of severities is drawn by its mass, a severity evenly in it, a mode by its share, and the other unknowns by
    Student's law with five degrees of freedom round that mode.

    Parameters
    ----------
    p : Program
        The circuit.
    readings : Readings
        In the program's order.
    cells : Cells
        Cells between neighbouring nodes.
    z, factor, log_share : ndarray, shapes (M, K, D), (M, K, D, D), (M, K)
        Modes, lower Cholesky factors of their precisions, and logarithms of their shares of each node's mass [1].
    u : ndarray, shape (N, 3)
        Evenly spread numbers in (0, 1) [1].
    eps : ndarray, shape (N, D + 5)
        Standard-normal numbers [1].
    x, shown, log_weight : ndarray, shapes (N, D + S), (N, R), (N,)
        Filled: draws [1], what meters show of each [V, A, ohm], and the logarithm of prior times likelihood over the
        proposal [nat].
    """
    o = readings[0]
    size, severities, modes = p.size, x.shape[1] - p.size, z.shape[0]
    w, nothing = make_work(p), np.zeros((0, 0))
    dz = np.zeros(size)
    constant = math.lgamma(0.5 * (5.0 + size)) - math.lgamma(2.5) - 0.5 * size * math.log(5.0 * math.pi)
    for i in range(x.shape[0]):
        c = 0
        while c < cells.upto.size - 1 and u[i, 0] > cells.upto[c]:
            c += 1
        before = cells.upto[c - 1] if c > 0 else 0.0
        share = cells.upto[c] - before
        t = min(max((u[i, 0] - before) / share, 0.0), 1.0)
        log_q, log_p, where = math.log(share), cells.log_prior[c], t
        for s in range(severities):
            at = t if s == 0 else u[i, 1]
            low, high = cells.low[c, s], cells.high[c, s]
            severity = low + at * (high - low)
            log_q -= math.log(high - low)
            log_p += cells.slope[c, s] * severity
            x[i, size + s] = (severity - cells.middle[s]) / cells.scale[s]
            if s == 1:
                where = 0.5 * (t + at)
        a, b = cells.first[c], cells.last[c]
        near = a if where < 0.5 else b
        pick, gathered = 0, math.exp(log_share[0, near])
        while pick < modes - 1 and u[i, 2] > gathered:
            pick += 1
            gathered += math.exp(log_share[pick, near])
        chi = 0.0
        for d in range(size, size + 5):
            chi += eps[i, d] ** 2
        stretch = WIDER * math.sqrt(5.0 / max(chi, 1e-3))
        for d in range(size):
            dz[d] = eps[i, d] * stretch
        solve_upper(factor[pick, near], size, dz)
        for d in range(size):
            x[i, d] = (1.0 - where) * z[pick, a, d] + where * z[pick, b, d] + dz[d]
            log_p -= 0.5 * x[i, d] ** 2
        log_p -= 0.5 * size * math.log(2.0 * math.pi)
        density = -np.inf
        for m in range(modes):
            if log_share[m, near] == -np.inf:
                continue
            for d in range(size):
                dz[d] = x[i, d] - (1.0 - where) * z[m, a, d] - where * z[m, b, d]
            q, own = 0.0, log_share[m, near] + constant
            for d in range(size):
                y = 0.0
                for k in range(d, size):
                    y += factor[m, near, k, d] * dz[k]
                q += y * y
                own += math.log(factor[m, near, d, d] / WIDER)
            own -= 0.5 * (5.0 + size) * math.log1p(q / (5.0 * WIDER**2))
            high = max(density, own)
            density = high + math.log(math.exp(density - high) + math.exp(own - high))
        predict(p, x[i], w, shown[i], nothing, False)
        log_weight[i] = log_likelihood(o, shown[i]) + log_p - log_q - density
