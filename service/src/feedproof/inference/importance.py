"""Draws from the nested approximation, each weighed against the model itself."""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import PROXIMITY, RESISTANCE, FloatArray, IntArray, Program, Work, make_work, predict
from feedproof.inference.grid import log_sum
from feedproof.inference.laplace import Scratch, make_scratch, solve_upper
from feedproof.inference.likelihood import STUDENT_PEAK, Observations, Readings, log_likelihood, slopes
from feedproof.inference.settling import basis_of, settle, student, turned

_SPREAD = 1.15
"""Scale of Student's law against the root of the precision; where one reading decides, sqrt(1.25) is its own [1]."""
_TURNED = (0.05, 0.5)
"""Share of the draws that look where a phasor has turned round, at least and at most [1]."""
_UNLIKELY = 6.0
"""Where that explains the readings worse by this than the mode that it was turned from, no draw looks there [nat]."""
_SPOT = 3.0
"""Where a meter shows less than so many of its floors, the ring that the phasor lies on is a spot [1]."""
_STRAIGHT = 1e-6
"""Less of a rise across a cell is none [nat]."""


class Cells(NamedTuple):
    """Cells of severities between neighbouring nodes."""

    upto: FloatArray
    """Mass up to the end of each cell [1]; (C,)."""
    low: FloatArray
    high: FloatArray
    """[ln ohm]; (C, S)."""
    rise: FloatArray
    """By how much the logarithm of the mass rises from the low to the high end [nat]; (C, S)."""
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
def _prepared(
    p: Program,
    o: Observations,
    mode: FloatArray,
    now: FloatArray,
    w: Work,
    at: Scratch,
    weight: FloatArray,
    basis: FloatArray,
    shift: FloatArray,
    jacobian: FloatArray,
    rows: FloatArray,
) -> int:
    """Weights, basis and turned phasor of one mode at one node, filled in; how many directions readings decide.

    The last entry of `shift` is the share of its draws that look where the phasor has turned round.
    """
    size, count, nothing = p.size, o.kind.size, np.zeros((0, 0))
    for d in range(mode.size):
        now[d] = mode[d]
    predict(p, now, w, at.shown, jacobian)
    slopes(o, at.shown, at.slope, weight, at.curvature)
    for r in range(count):
        scatter = o.floor[r] ** 2
        if o.kind[r] == PROXIMITY or o.over_range[r]:
            weight[r] = 0.0
        elif o.kind[r] != RESISTANCE and weight[r] > 0.2 / scatter and o.value[r] < _SPOT * o.floor[r]:
            weight[r] = weight[r + count] = 1.0 / (0.8 * scatter + 0.5 * o.value[r] ** 2)
    turned(at.shown, jacobian, weight, size, shift)
    decided = basis_of(jacobian, weight, size, rows, basis)
    if shift[size] > 0.0:
        gain = -log_likelihood(o, at.shown)
        start, beta = np.zeros(size), np.zeros(size)
        for d in range(size):
            start[d] = mode[d] + shift[d]
            gain += 0.5 * mode[d] ** 2
        settle(p, o, weight, basis, decided, now, start, w, at, jacobian, rows, beta)
        predict(p, now, w, at.shown, nothing)
        gain += log_likelihood(o, at.shown)
        for d in range(size):
            gain -= 0.5 * now[d] ** 2
        likely = gain > -_UNLIKELY
        shift[size] = min(max(1.0 / (1.0 + math.exp(-gain)), _TURNED[0]), _TURNED[1]) if likely else 0.0
    return decided


@compiled
def _place(cells: Cells, u: FloatArray, x: FloatArray, size: int) -> tuple[int, float, float, float]:
    """Put the severities of one draw in `x`.

    Gives the cell that they lie in, how far they are across it, and the logarithms of the density that they are drawn
    by and of their prior's.
    """
    c = 0
    while c < cells.upto.size - 1 and u[0] > cells.upto[c]:
        c += 1
    upto = cells.upto[c - 1] if c > 0 else 0.0
    share = cells.upto[c] - upto
    log_q, log_p, where = math.log(share), cells.log_prior[c], 0.0
    for s in range(x.size - size):
        along = u[1] if s else min(max((u[0] - upto) / share, 0.0), 1.0)
        low, high, rise = cells.low[c, s], cells.high[c, s], cells.rise[c, s]
        if abs(rise) > _STRAIGHT:
            grown = math.expm1(rise)
            along = math.log1p(along * grown) / rise
            log_q += math.log(rise / grown) + rise * along
        severity = low + along * (high - low)
        log_q -= math.log(high - low)
        log_p += cells.slope[c, s] * severity
        x[size + s] = (severity - cells.middle[s]) / cells.scale[s]
        where += along / (x.size - size)
    return c, where, log_q, log_p


@compiled
def _picked(u: float, log_share: FloatArray, near: int) -> tuple[int, float]:
    """Mode that a number in (0, 1) falls to at a node, as twice its number, and the shares of those before it [1]."""
    pick, before = 0, 0.0
    while pick < log_share.shape[0] - 1 and u > before + math.exp(log_share[pick, near]):
        before += math.exp(log_share[pick, near])
        pick += 1
    return 2 * pick, before


@compiled
def _step_drawn(
    h: FloatArray,
    k: int,
    basis: FloatArray,
    eps: FloatArray,
    now: FloatArray,
    step: FloatArray,
    x: FloatArray,
    log_p: float,
) -> float:
    """Draw a step in the basis of what is decided, and x with it; adds the logarithm of the prior's density there."""
    for j in range(k):
        step[j] = _SPREAD * student(eps[j])
    solve_upper(h, k, step)
    for d in range(x.size):
        x[d] = now[d]
        for j in range(k):
            x[d] += step[j] * basis[j, d]
        log_p -= 0.5 * x[d] ** 2
    return log_p - 0.5 * x.size * math.log(2.0 * math.pi)


@compiled
def _log_density(
    share: float, h: FloatArray, k: int, step: FloatArray, now: FloatArray, beta: FloatArray, size: int
) -> float:
    """Logarithm of a share and of the density round where `settle` has left `now` [nat].

    The step is in the basis of what readings decide, and has Student's law by the factor in `h`; the other directions
    have their prior's.
    """
    found, rest = share - 0.5 * (size - k) * math.log(2.0 * math.pi), 0.0
    for d in range(size):
        rest += now[d] ** 2
    for j in range(k):
        rest -= beta[j] ** 2
        y = 0.0
        for e in range(j, k):
            y += h[e, j] * step[e]
        y /= _SPREAD
        found += math.log(STUDENT_PEAK * h[j, j] / _SPREAD) - 2.5 * math.log1p(0.25 * y * y)
    return found - 0.5 * rest


@compiled
def importance(
    p: Program,
    readings: Readings,
    cells: Cells,
    z: FloatArray,
    log_share: FloatArray,
    u: FloatArray,
    eps: FloatArray,
    x: FloatArray,
    shown: FloatArray,
    log_weight: FloatArray,
) -> None:
    """Draw from the nested approximation and weigh every draw against the model itself.

    A cell of severities is drawn by its mass, a severity in it by a density whose logarithm runs straight, a mode by
    its share; the directions that no reading decides there from their prior; the others, given all these, by Student's
    law with four degrees of freedom round where the readings have them.

    Parameters
    ----------
    p : Program
        The circuit.
    readings : Readings
        In the program's order.
    cells : Cells
        Cells between neighbouring nodes.
    z, log_share : ndarray, shapes (M, K, D + S), (M, K)
        Modes, with the severities of their nodes [1], and logarithms of their shares of each node's mass.
    u : ndarray, shape (N, 3)
        Evenly spread numbers in (0, 1) [1].
    eps : ndarray, shape (N, 2 D)
        Standard-normal numbers [1].
    x, shown, log_weight : ndarray, shapes (N, D + S), (N, R), (N,)
        Filled: draws [1], what meters show of each [V, A, ohm], and the logarithm of prior times likelihood over the
        proposal [nat].
    """
    o = readings[0]
    size, count, modes, nodes = p.size, o.kind.size, z.shape[0], z.shape[1]
    w, nothing, at = make_work(p), np.zeros((0, 0)), make_scratch(p, size)
    bases, weights = np.zeros((modes * nodes, size, size)), np.zeros((modes * nodes, 2 * count))
    known, shift = np.full(modes * nodes, -1), np.zeros((modes * nodes, size + 1))
    start, now, beta, g = np.zeros(size), np.zeros(x.shape[1]), np.zeros(size), np.zeros((2 * count, size))
    rows, jacobian = np.zeros((2 * count, size)), np.zeros((2 * count, size))
    for i in range(x.shape[0]):
        c, where, log_q, log_p = _place(cells, u[i], x[i], size)
        a, b = cells.first[c], cells.last[c]
        near = a if where < 0.5 else b
        pick, before = _picked(u[i, 2], log_share, near)
        density = -np.inf
        for turn in range(-1, 2 * modes):
            # What is drawn from comes first.
            way = pick if turn < 0 else turn
            m = way // 2
            if turn == pick or log_share[m, near] == -np.inf:
                continue
            node = m * nodes + near
            if known[node] < 0:
                known[node] = _prepared(
                    p, o, z[m, near], now, w, at, weights[node], bases[node], shift[node], jacobian, rows
                )
            round_about = shift[node, size] > 0.0
            if turn < 0 and round_about and u[i, 2] - before > (1.0 - shift[node, size]) * math.exp(log_share[m, near]):
                pick, way = pick + 1, way + 1
            if way % 2 and not round_about:
                continue
            k, basis = known[node], bases[node]
            for d in range(size):
                start[d] = (1.0 - where) * z[m, a, d] + where * z[m, b, d] + (shift[node, d] if way % 2 else 0.0)
            for d in range(x.shape[1]):
                now[d] = eps[i, d] if turn < 0 and d < size else x[i, d]
            settle(p, o, weights[node], basis, k, now, start, w, at, jacobian, g, beta)
            if turn < 0:
                log_p = _step_drawn(at.h, k, basis, eps[i, size:], now, at.step, x[i, :size], log_p)
            else:
                for j in range(k):
                    at.step[j] = 0.0
                    for d in range(size):
                        at.step[j] += (x[i, d] - now[d]) * basis[j, d]
            own = log_share[m, near]
            if round_about:
                own += math.log(shift[node, size] if way % 2 else 1.0 - shift[node, size])
            own = _log_density(own, at.h, k, at.step, now, beta, size)
            density = log_sum(density, own)
        predict(p, x[i], w, shown[i], nothing)
        log_weight[i] = log_likelihood(o, shown[i]) + log_p - log_q - density
