"""What meters show on one circuit, and how that changes with every unknown.

A program holds one hypothesis on one arrangement of readings as arrays. Its unknowns are standard-normal coordinates
(a severity is a plain logarithm of ohms behind them). Every circuit is solved by star-mesh elimination: nodes go one
after another, the admittances among their neighbours grow, nothing is ever subtracted, so a milliohm beside a gigaohm
costs no digits. What a further injection of current into two nodes does (the adjoint) gives the derivative by every
admittance at once.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

VOLTAGE, CURRENT, RESISTANCE, PROXIMITY, NEUTRAL_DURING, DEAD = range(6)
SOUND, LOW, HIGH = range(3)
FIXED = 3
"""Nodes 0 to 2 of each circuit are the grounded midpoint and the two source terminals."""


class Program(NamedTuple):
    """One hypothesis on one arrangement of readings; D unknowns, S severities, E elements, C circuits, R readings."""

    size: int
    """D; the severities follow behind, each as (s - middle) / scale."""
    element_log: ComplexArray
    """Logarithm of the admittance at the medians [ln S]; (E,)."""
    element_least: FloatArray
    """Sound resistance in series with it [ohm]; (E,)."""
    element_scaled: IntArray
    """1: its admittance goes with the length that floats; (E,)."""
    term_start: IntArray
    term_unknown: IntArray
    term_factor: ComplexArray
    """What an unknown adds to the logarithm."""
    term_bend: FloatArray
    """How much further the unknown goes where the load may not be connected; 0: not [1]; (T,)."""
    bend_law: FloatArray
    """Beyond which value it does, and over how much it goes half of that [1]; (2,)."""
    position: int
    """Unknown of the floating share of the run; -1: none."""
    position_spread: float
    nodes: IntArray
    """Nodes of each circuit; (C,)."""
    base: ComplexArray
    """Constant admittances [S]; (C, M, M), lower triangle."""
    at_start: IntArray
    at_low: IntArray
    at_high: IntArray
    at_element: IntArray
    """Elements of each circuit between two of its nodes."""
    phasor: ComplexArray
    """Of the two legs [1]; (2,)."""
    supply: FloatArray
    """Kind of level, its unknown, and four constants of its law; (6,)."""
    asymmetry: IntArray
    """Unknown of each circuit's leg asymmetry; -1: none; (C,)."""
    asymmetry_scale: float
    inject_node: IntArray
    return_node: IntArray
    """Nodes of each circuit that other loads' neutral current flows into, and out of again; -1: none; (C,)."""
    inject: FloatArray
    """Its unknown, and its law: `bounded` [A, 1, 1]."""
    reading_start: IntArray
    reading_kind: IntArray
    node_a: IntArray
    node_b: IntArray
    meter: ComplexArray
    """Admittance of the voltmeter [S]; (R,)."""
    edge_element: IntArray
    """Element that a clamp is round; -1: a constant."""
    edge_constant: ComplexArray
    asked_a: IntArray
    asked_b: IntArray
    """Nodes whose voltage is asked for while the meter is connected."""
    gain: IntArray
    gain_scale: FloatArray


def only(p: Program, rows: IntArray) -> Program:
    """The same circuit with some of its readings.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    rows : ndarray of int
        Which, ascending [1].

    Returns
    -------
    Program
        Its reading k is reading rows[k].
    """
    each = ("reading_kind", "node_a", "node_b", "meter", "edge_element", "edge_constant", "asked_a", "asked_b", "gain")
    chosen = {name: getattr(p, name)[rows] for name in (*each, "gain_scale")}
    return p._replace(reading_start=np.searchsorted(rows, p.reading_start), **chosen)


class Work(NamedTuple):
    """Scratch for one program."""

    y: ComplexArray
    slope: ComplexArray
    a: ComplexArray
    inverse: ComplexArray
    v: ComplexArray
    x: ComplexArray


@compiled
def make_work(p: Program) -> Work:
    """Scratch for one program."""
    e, m = p.element_log.size, p.base.shape[1]
    return Work(
        np.zeros(e, np.complex128),
        np.zeros(e, np.complex128),
        np.zeros((m, m), np.complex128),
        np.zeros(m, np.complex128),
        np.zeros(m, np.complex128),
        np.zeros(m, np.complex128),
    )


@compiled
def inverse_of(z: complex) -> complex:
    """One over a number, without the guards against overflow that no admittance needs [1].

    Parameters
    ----------
    z : complex
        Not 0 [1].
    """
    square = z.real * z.real + z.imag * z.imag
    return complex(z.real / square, -z.imag / square)


@compiled
def magnitude_of(z: complex) -> float:
    """Magnitude, without the guards against overflow that no voltage needs [1].

    Parameters
    ----------
    z : complex
        Of a size whose square is a number [1].
    """
    return math.sqrt(z.real * z.real + z.imag * z.imag)


@compiled
def bent(value: float, bend: float, law: FloatArray) -> tuple[float, float]:
    """Value of an unknown with what it goes further where the load may not be connected, and the derivative [1].

    Parameters
    ----------
    value : float
        [1].
    bend : float
        How much further at most [1].
    law : ndarray, shape (2,)
        Beyond which value, and over how much it goes half of that [1].
    """
    beyond = value - law[0]
    if bend == 0.0 or beyond <= 0.0:
        return value, 1.0
    square, within = beyond**2, law[1] ** 2
    share = square / (within + square)
    return value + bend * share, 1.0 + 2.0 * bend * beyond * within / (within + square) ** 2


@compiled
def bounded(value: float, most: float, square: float, floor: float) -> tuple[float, float]:
    """What is mostly little and never more than so much, of a standard normal, and the derivative.

    Parameters
    ----------
    value : float
        Standard normal [1].
    most : float
        Its bound [A].
    square : float
        Square of where it bends [1].
    floor : float
        The same times the share of the slope that is left about 0 [1].

    Returns
    -------
    tuple of float
        Value and derivative [A].
    """
    own = value**2
    q = own + square
    whole = q * math.sqrt(q)
    share = value * (own + floor) / whole
    return most * share, most * ((3.0 * own + floor) / whole - 3.0 * value * share / q)


@compiled
def elements(p: Program, x: FloatArray, w: Work) -> float:
    """Admittance of every element, and its derivative by its own logarithm, into the scratch.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    x : ndarray, shape (D + S,)
        Coordinates of the unknowns, then of the severities [1].
    w : Work
        Scratch.

    Returns
    -------
    float
        Derivative of the logarithm of what floats by the position's unknown [1].
    """
    logs, least, scaled, ys, slopes = p.element_log, p.element_least, p.element_scaled, w.y, w.slope
    term_start, term_unknown, term_factor = p.term_start, p.term_unknown, p.term_factor
    share, share_slope = 1.0, 0.0
    if p.position >= 0:
        share = 1.0 / (1.0 + math.exp(-p.position_spread * x[p.position]))
        share_slope = p.position_spread * (1.0 - share)
    for e in range(logs.size):
        log = logs[e]
        for t in range(term_start[e], term_start[e + 1]):
            log += term_factor[t] * bent(x[term_unknown[t]], p.term_bend[t], p.bend_law)[0]
        size = math.exp(-log.real)
        z = complex(size, 0.0) if log.imag == 0.0 else complex(size * math.cos(log.imag), -size * math.sin(log.imag))
        y = inverse_of(least[e] + z)
        slope = y * y * z
        if scaled[e]:
            y *= share
            slope *= share
        ys[e] = y
        slopes[e] = slope
    return share_slope


@compiled
def level(p: Program, x: FloatArray) -> tuple[float, float]:
    """Logarithm of the supply's level against nominal, and its derivative by its unknown.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    x : ndarray, shape (D + S,)
        Coordinates of the unknowns, then of the severities [1].

    Returns
    -------
    tuple of float
        Both [1].
    """
    kind, unknown = int(p.supply[0]), int(p.supply[1])
    u = x[unknown]
    if kind == SOUND:
        low, high = p.supply[2], p.supply[3]
        share = 1.0 / (1.0 + math.exp(-(p.supply[4] + p.supply[5] * u)))
        return low + (high - low) * share, (high - low) * p.supply[5] * share * (1.0 - share)
    far = math.exp(p.supply[3] + p.supply[4] * u)
    if kind == LOW:
        return p.supply[2] - far, -far * p.supply[4]
    return p.supply[2] + far, far * p.supply[4]


@compiled
def _add(jacobian: FloatArray, r: int, across: int, d: int, moved: complex) -> None:
    jacobian[r, d] += moved.real
    if across:
        jacobian[r + across, d] += moved.imag


@compiled
def predict(p: Program, x: FloatArray, w: Work, shown: FloatArray, jacobian: FloatArray) -> None:
    """What meters show at one point, and its derivatives.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    x : ndarray, shape (D + S,)
        Coordinates of the unknowns, then of the severities [1].
    w : Work
        Scratch.
    shown : ndarray, shape (R,)
        Filled [V, A, ohm].
    jacobian : ndarray, shape (R, n) or (2 R, n)
        Filled: by the first n of the unknowns and severities [V, A, ohm]. Row R + r has what moves reading r's phasor
        across its own direction. Empty: no derivatives.
    """
    derive = jacobian.size > 0
    share_slope = elements(p, x, w)
    log_level, level_slope = level(p, x)
    size, across = jacobian.shape[1], jacobian.shape[0] - shown.size
    supply_unknown = int(p.supply[1])
    if supply_unknown >= size:
        supply_unknown = -1
    u = 120.0 * math.exp(log_level)
    a, inverse, v, adj = w.a, w.inverse, w.v, w.x
    for c in range(p.nodes.size):
        if p.reading_start[c] == p.reading_start[c + 1]:
            continue
        n = p.nodes[c]
        for k in range(n):
            for i in range(k):
                a[k, i] = p.base[c, k, i]
        for t in range(p.at_start[c], p.at_start[c + 1]):
            a[p.at_high[t], p.at_low[t]] += w.y[p.at_element[t]]
        for k in range(n - 1, FIXED - 1, -1):
            total = 0j
            for i in range(k):
                total += a[k, i]
            inv = inverse_of(total)
            inverse[k] = inv
            for i in range(FIXED, k):
                share = a[k, i] * inv
                if share != 0j:
                    for j in range(i):
                        a[i, j] += a[k, j] * share
        asymmetry, asymmetry_unknown = 0.0, p.asymmetry[c]
        if asymmetry_unknown >= 0:
            asymmetry = p.asymmetry_scale * x[asymmetry_unknown]
        v1, v2 = u * (1.0 + asymmetry) * p.phasor[0], u * (1.0 - asymmetry) * p.phasor[1]
        # Voltages of all nodes.
        for k in range(n):
            v[k] = 0j
        j_node, j_slope = p.inject_node[c], 0.0
        if j_node >= 0:
            current, j_slope = bounded(x[int(p.inject[0])], p.inject[1], p.inject[2], p.inject[3])
            v[j_node], v[p.return_node[c]] = current, -current
            for k in range(j_node, FIXED - 1, -1):
                push = v[k] * inverse[k]
                for i in range(FIXED, k):
                    v[i] += a[k, i] * push
        v[0], v[1], v[2] = 0j, v1, v2
        for k in range(FIXED, n):
            total = v[k]
            for i in range(k):
                total += a[k, i] * v[i]
            v[k] = total * inverse[k]
        to_1, to_2, impedance, solved_a, solved_b = 0j, 0j, 0j, -1, -1
        for r in range(p.reading_start[c], p.reading_start[c + 1]):
            kind, na, nb = p.reading_kind[r], p.node_a[r], p.node_b[r]
            if kind == DEAD:
                shown[r] = 0.0
                if derive:
                    for d in range(size):
                        jacobian[r, d] = jacobian[r + across, d] = 0.0
                continue
            phasor = v[na] - v[nb]
            if kind == VOLTAGE and p.meter[r] == 0j and not derive:
                shown[r] = magnitude_of(phasor)
                continue
            if na != solved_a or nb != solved_b or kind == NEUTRAL_DURING:
                # Readings between the same nodes stand side by side.
                solved_a, solved_b = na, nb
                for k in range(n):
                    adj[k] = 0j
                adj[na] = 1.0 + 0j
                # Less, and not minus one: two contacts may hang on one conductor.
                adj[nb] -= 1.0
                impedance = 0j
                for k in range(max(na, nb), FIXED - 1, -1):
                    if adj[k] != 0j:
                        push = adj[k] * inverse[k]
                        impedance += adj[k] * push
                        for i in range(k):
                            adj[i] += a[k, i] * push
                # What has arrived at a fixed node is the share of its voltage in the difference.
                to_1, to_2 = adj[1] * v1, adj[2] * v2
                adj[0] = adj[1] = adj[2] = 0j
                if derive or kind == NEUTRAL_DURING:
                    for k in range(FIXED, n):
                        total = adj[k]
                        for i in range(FIXED, k):
                            total += a[k, i] * adj[i]
                        adj[k] = total * inverse[k]
            gain = 1.0
            if p.gain[r] >= 0:
                gain += p.gain_scale[r] * x[p.gain[r]]
            edge, factor = -1, 1.0 + 0j
            if kind == CURRENT:
                edge = p.edge_element[r]
                factor = p.edge_constant[r] + (w.y[edge] if edge >= 0 else 0j)
                phasor = factor * phasor
            elif kind == RESISTANCE:
                phasor = impedance
            elif kind == NEUTRAL_DURING:
                meter = p.meter[r]
                through = meter * phasor / (1.0 + meter * impedance)
                qa, qb = p.asked_a[r], p.asked_b[r]
                shown[r] = magnitude_of(v[qa] - v[qb] - through * (adj[qa] - adj[qb]))
                continue
            else:
                factor = inverse_of(1.0 + p.meter[r] * impedance)
                phasor = factor * phasor
            magnitude = magnitude_of(phasor)
            shown[r] = magnitude * gain
            if not derive:
                continue
            for d in range(size):
                jacobian[r, d] = jacobian[r + across, d] = 0.0
            if magnitude < 1e-12 and across == 0:
                continue
            unit = gain * (phasor.conjugate() / magnitude if magnitude >= 1e-12 else 1.0 + 0j)
            if p.gain[r] >= 0:
                jacobian[r, p.gain[r]] = p.gain_scale[r] * magnitude
            if kind != RESISTANCE:
                direct = unit * factor
                if supply_unknown >= 0:
                    moved = direct * (to_1 + to_2) * level_slope
                    _add(jacobian, r, across, supply_unknown, moved)
                if asymmetry_unknown >= 0:
                    moved = direct * (to_1 / (1.0 + asymmetry) - to_2 / (1.0 - asymmetry)) * p.asymmetry_scale
                    _add(jacobian, r, across, asymmetry_unknown, moved)
                if j_node >= 0:
                    along = adj[j_node] - adj[p.return_node[c]]
                    _add(jacobian, r, across, int(p.inject[0]), direct * along * j_slope)
            for t in range(p.at_start[c], p.at_start[c + 1]):
                e = p.at_element[t]
                low, high = p.at_low[t], p.at_high[t]
                dx = adj[high] - adj[low]
                if kind == RESISTANCE:
                    by_y = -dx * dx
                elif kind == CURRENT:
                    by_y = -factor * dx * (v[high] - v[low])
                    if e == edge:
                        by_y += phasor / factor
                else:
                    by_y = factor * (p.meter[r] * phasor * dx * dx - dx * (v[high] - v[low]))
                by_log = unit * by_y * w.slope[e]
                for k in range(p.term_start[e], p.term_start[e + 1]):
                    d = p.term_unknown[k]
                    if d < size:
                        own = bent(x[d], p.term_bend[k], p.bend_law)[1]
                        _add(jacobian, r, across, d, by_log * p.term_factor[k] * own)
                if p.element_scaled[e]:
                    _add(jacobian, r, across, p.position, unit * by_y * w.y[e] * share_slope)
