"""The generative model, compiled: from standard-normal coordinates to what every meter would show.

Each unknown of a circuit (supply voltage, a joint's resistance, a stray, a load, a meter's gain) is a function
of one coordinate z that is standard normal a priori. The logarithm of every branch admittance is affine in the
unknowns, so one rule gives all derivatives: with the field V of the sources and the adjoint x of a reading,
∂(reading)/∂(ln y) = −y (V_p − V_q)(x_p − x_q) for a branch from p to q.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled, inlined
from feedproof.circuit.kernel import eliminate, pair_field, source_field
from feedproof.circuit.topology import EDGE_COUNT, EDGE_ENDS, NODE_COUNT, PN, S1, S2, Elimination
from feedproof.inference.normal import normal_cdf, normal_pdf, normal_quantile

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

NORMAL, UNIFORM, TRUNCATED = 0, 1, 2
VOLTAGE, CURRENT, RESISTANCE, PROXIMITY, NEUTRAL_DURING = 0, 1, 2, 3, 4

_TAIL, _HEAD = EDGE_ENDS[0].copy(), EDGE_ENDS[1].copy()


class Program(NamedTuple):
    """One hypothesis on one arrangement of readings, as arrays.

    D coordinates, E variable branch elements, C circuits, R readings.
    """

    steps_open: Elimination
    """Elimination without the appliance."""
    steps_connected: Elimination
    """Elimination with it."""
    coordinate_kind: IntArray
    """`NORMAL`, `UNIFORM` or `TRUNCATED` normal; shape (D,)."""
    location: FloatArray
    """Mean, or lower end; shape (D,)."""
    scale: FloatArray
    """Standard deviation, or width; shape (D,)."""
    cdf_low: FloatArray
    """Truncated: standard normal probability below the lower cut; shape (D,)."""
    cdf_width: FloatArray
    """Truncated: probability between the cuts; shape (D,)."""
    supply: int
    """Coordinate of the logarithm of the supply voltage over nominal."""
    nominal: float
    """[V]"""
    phasor: ComplexArray
    """Leg phasors over nominal; shape (2,)."""
    connected: IntArray
    """1 where the appliance is connected; shape (C,)."""
    energized: IntArray
    """1 where the sources are on; shape (C,)."""
    asymmetry: IntArray
    """Coordinate of the legs' asymmetry, or −1; shape (C,)."""
    shift: int
    """Coordinate of a shift of the legs that all circuits share, or −1."""
    first_wanted: IntArray
    """Step of the elimination before which no node is read; shape (C,)."""
    base: ComplexArray
    """Admittance of the elements that do not vary; shape (C, edges) [S]."""
    element_edge: IntArray
    """Edge of each variable element; shape (E,)."""
    element_mask: IntArray
    """Bit c set: present in circuit c; shape (E,)."""
    element_log: ComplexArray
    """Logarithm of the admittance at all unknowns zero; shape (E,)."""
    term_start: IntArray
    """Terms of element e are term_start[e]:term_start[e+1]; shape (E+1,)."""
    term_coordinate: IntArray
    term_factor: ComplexArray
    """∂ ln y / ∂ unknown."""
    reading_start: IntArray
    """Readings of circuit c are reading_start[c]:reading_start[c+1]; shape (C+1,)."""
    reading_kind: IntArray
    node_a: IntArray
    node_b: IntArray
    meter_admittance: ComplexArray
    """[S]; shape (R,)."""
    through_edge: IntArray
    """Edge whose current is read, or −1; for `NEUTRAL_DURING` the neutral's node; shape (R,)."""
    gain: IntArray
    """Coordinate of the meter's gain, or −1; shape (R,)."""


class Work(NamedTuple):
    """Scratch arrays of one thread."""

    unknown: FloatArray
    slope: FloatArray
    element: ComplexArray
    admittance: ComplexArray
    branch: ComplexArray
    share: ComplexArray
    inverse: ComplexArray
    field_1: ComplexArray
    field_2: ComplexArray
    voltage: ComplexArray
    adjoint: ComplexArray
    loaded: ComplexArray


@compiled
def make_work(program: Program) -> Work:
    """Allocate scratch for `predict`."""
    d, e = program.location.size, program.element_edge.size
    c = np.complex128
    return Work(
        np.zeros(d),
        np.zeros(d),
        np.zeros(e, c),
        np.zeros(EDGE_COUNT, c),
        np.zeros(EDGE_COUNT, c),
        np.zeros(program.steps_connected.neighbour.size, c),
        np.zeros(NODE_COUNT, c),
        np.zeros(NODE_COUNT, c),
        np.zeros(NODE_COUNT, c),
        np.zeros(NODE_COUNT, c),
        np.zeros(NODE_COUNT, c),
        np.zeros(NODE_COUNT, c),
    )


@inlined
def unknown(
    kind: int,
    location: float,
    scale: float,
    cdf_low: float,
    cdf_width: float,
    z: float,
    d: int,
    value: FloatArray,
    slope: FloatArray,
) -> None:
    """One unknown and its slope from its standard-normal coordinate.

    Parameters
    ----------
    kind : int
        `NORMAL`, `UNIFORM` or `TRUNCATED` [1].
    location, scale, cdf_low, cdf_width : float
        The law, as in `Program` [1].
    z : float
        Coordinate [1].
    d : int
        Which one [1].
    value, slope : ndarray, shape (D,)
        Entry `d` is filled: the unknown, mostly a logarithm, and its derivative [1].
    """
    if kind == NORMAL:
        value[d] = location + scale * z
        slope[d] = scale
    elif kind == UNIFORM:
        value[d] = location + scale * normal_cdf(z)
        slope[d] = scale * normal_pdf(z)
    else:
        inner = normal_quantile(cdf_low + cdf_width * normal_cdf(z))
        value[d] = location + scale * inner
        slope[d] = scale * cdf_width * normal_pdf(z) / normal_pdf(inner)


@compiled
def unknown_column(program: Program, z: FloatArray, d: int) -> FloatArray:
    """Unknown number `d` of each draw.

    Parameters
    ----------
    program : Program
        The hypothesis.
    z : ndarray, shape (N, D)
        Draws [1].
    d : int
        Which unknown [1].

    Returns
    -------
    ndarray, shape (N,)
        The unknown, mostly a logarithm [1].
    """
    value, slope = np.zeros(z.shape[1]), np.zeros(z.shape[1])
    column = np.zeros(z.shape[0])
    kind, location, scale = program.coordinate_kind[d], program.location[d], program.scale[d]
    cdf_low, cdf_width = program.cdf_low[d], program.cdf_width[d]
    for i in range(z.shape[0]):
        unknown(kind, location, scale, cdf_low, cdf_width, z[i, d], d, value, slope)
        column[i] = value[d]
    return column


@compiled
def predict(program: Program, z: FloatArray, work: Work, shown: FloatArray, jacobian: FloatArray) -> None:
    """What every meter would show, without its random error, and the derivatives, for many draws.

    Parameters
    ----------
    program : Program
        Hypothesis and readings.
    z : ndarray, shape (N, D)
        Coordinates [1].
    work : Work
        Scratch.
    shown : ndarray, shape (N, R)
        Filled: magnitudes [V, A or ohm].
    jacobian : ndarray, shape (R, D)
        Filled with ∂ shown / ∂ z of the last draw, if it has any elements; zero for `NEUTRAL_DURING`, which is
        asked for but never read [V, A or ohm].
    """
    # Each array is taken out of its tuple once: in compiled code every such access counts references.
    coordinate_kind, location, scale = program.coordinate_kind, program.location, program.scale
    cdf_low, cdf_width = program.cdf_low, program.cdf_width
    base, phasor, connected, energized = program.base, program.phasor, program.connected, program.energized
    asymmetry, first_wanted = program.asymmetry, program.first_wanted
    element_edge, element_mask, element_log = program.element_edge, program.element_mask, program.element_log
    term_start, term_coordinate, term_factor = program.term_start, program.term_coordinate, program.term_factor
    reading_start, reading_kind = program.reading_start, program.reading_kind
    node_a, node_b, meter, through_edge = (
        program.node_a,
        program.node_b,
        program.meter_admittance,
        program.through_edge,
    )
    gain_of, supply, shift, nominal = program.gain, program.supply, program.shift, program.nominal
    open_node, open_start, open_neighbour = (
        program.steps_open.node,
        program.steps_open.start,
        program.steps_open.neighbour,
    )
    open_edge, open_pair_start, open_pair_edge = (
        program.steps_open.edge,
        program.steps_open.pair_start,
        program.steps_open.pair_edge,
    )
    full_node, full_start, full_neighbour = (
        program.steps_connected.node,
        program.steps_connected.start,
        program.steps_connected.neighbour,
    )
    full_edge, full_pair_start, full_pair_edge = (
        program.steps_connected.edge,
        program.steps_connected.pair_start,
        program.steps_connected.pair_edge,
    )
    t, dt, element, y, branch = work.unknown, work.slope, work.element, work.admittance, work.branch
    share, inverse, field_1, field_2 = work.share, work.inverse, work.field_1, work.field_2
    v, x, loaded = work.voltage, work.adjoint, work.loaded
    with_jacobian = jacobian.size > 0
    for i in range(z.shape[0]):
        for d in range(z.shape[1]):
            unknown(coordinate_kind[d], location[d], scale[d], cdf_low[d], cdf_width[d], z[i, d], d, t, dt)
        for e in range(element_edge.size):
            logarithm = element_log[e]
            for k in range(term_start[e], term_start[e + 1]):
                logarithm += term_factor[k] * t[term_coordinate[k]]
            size = math.exp(logarithm.real)
            if logarithm.imag == 0.0:
                element[e] = size
            else:
                element[e] = complex(size * math.cos(logarithm.imag), size * math.sin(logarithm.imag))
        level = nominal * math.exp(t[supply])
        if with_jacobian:
            jacobian[:, :] = 0.0
        for c in range(connected.size):
            for n in range(EDGE_COUNT):
                y[n] = base[c, n]
            for e in range(element_edge.size):
                if (element_mask[e] >> c) & 1:
                    y[element_edge[e]] += element[e]
            for n in range(EDGE_COUNT):
                branch[n] = y[n]
            lean = 0.0 if asymmetry[c] < 0 else t[asymmetry[c]]
            if shift >= 0:
                lean += t[shift]
            for n in range(NODE_COUNT):
                field_1[n] = 0.0
                field_2[n] = 0.0
            if energized[c]:
                field_1[S1] = phasor[0]
                field_2[S2] = phasor[1]
            first = 0 if with_jacobian else first_wanted[c]
            if connected[c]:
                eliminate(full_node, full_start, full_edge, full_pair_start, full_pair_edge, y, share, inverse)
                source_field(full_node, full_start, full_neighbour, share, first, field_1)
                source_field(full_node, full_start, full_neighbour, share, first, field_2)
            else:
                eliminate(open_node, open_start, open_edge, open_pair_start, open_pair_edge, y, share, inverse)
                source_field(open_node, open_start, open_neighbour, share, first, field_1)
                source_field(open_node, open_start, open_neighbour, share, first, field_2)
            for n in range(NODE_COUNT):
                v[n] = (1.0 + lean) * field_1[n] + (1.0 - lean) * field_2[n]
            last_a, last_b = -1, -1
            for r in range(reading_start[c], reading_start[c + 1]):
                a, b = node_a[r], node_b[r]
                if a != last_a or b != last_b:
                    if connected[c]:
                        pair_field(full_node, full_start, full_neighbour, share, inverse, a, b, first, x)
                    else:
                        pair_field(open_node, open_start, open_neighbour, share, inverse, a, b, first, x)
                    last_a, last_b = a, b
                kind, through, gain = reading_kind[r], through_edge[r], gain_of[r]
                across = v[a] - v[b]
                relief = 1.0 + 0.0j
                outer = 1.0 + 0.0j
                if kind == RESISTANCE:
                    phasor_shown = x[a] - x[b]
                elif kind == CURRENT:
                    outer = branch[through]
                    phasor_shown = outer * across
                else:
                    # Connecting the meter moves the node: V_th Z_m / (Z_m + Z_th).
                    relief = 1.0 / (1.0 + meter[r] * (x[a] - x[b]))
                    phasor_shown = across * relief
                    if kind == NEUTRAL_DURING:
                        # The neutral while the meter is across the pair, not what the meter shows.
                        pull = meter[r] * phasor_shown
                        phasor_shown = v[through] - v[PN] - (x[through] - x[PN]) * pull
                magnitude = abs(phasor_shown)
                factor = 1.0 if gain < 0 else math.exp(t[gain])
                if kind != RESISTANCE:
                    factor *= level
                shown[i, r] = magnitude * factor
                if not with_jacobian or kind == NEUTRAL_DURING:
                    continue
                if gain >= 0:
                    jacobian[r, gain] += shown[i, r] * dt[gain]
                if kind != RESISTANCE:
                    jacobian[r, supply] += shown[i, r] * dt[supply]
                direction = np.conj(phasor_shown) / max(magnitude, 1e-9) * factor
                if kind != RESISTANCE and asymmetry[c] >= 0:
                    spread = field_1[a] - field_1[b] - field_2[a] + field_2[b]
                    change_by_lean = (direction * outer * relief * spread).real
                    jacobian[r, asymmetry[c]] += change_by_lean * dt[asymmetry[c]]
                    if shift >= 0:
                        jacobian[r, shift] += change_by_lean * dt[shift]
                drawn = 0.0j
                if kind == VOLTAGE:
                    drawn = meter[r] * phasor_shown
                for n in range(NODE_COUNT):
                    loaded[n] = x[n] if kind == RESISTANCE else v[n] - x[n] * drawn
                for e in range(element_edge.size):
                    if not (element_mask[e] >> c) & 1:
                        continue
                    edge = element_edge[e]
                    p, q = _TAIL[edge], _HEAD[edge]
                    sensitivity = -(loaded[p] - loaded[q]) * (x[p] - x[q]) * relief * outer
                    if kind == CURRENT and edge == through:
                        sensitivity += across
                    change = direction * sensitivity * element[e]
                    for k in range(term_start[e], term_start[e + 1]):
                        d = term_coordinate[k]
                        jacobian[r, d] += (change * term_factor[k]).real * dt[d]
