"""The generative model, compiled: from standard-normal coordinates to what every meter would show.

Each unknown of a circuit (supply voltage, a joint's resistance, a stray, a load, a meter's gain) is a function
of one coordinate z that is standard normal a priori. The logarithm of every branch admittance is affine in the
unknowns, so one rule gives all derivatives: with the field V of the sources and the adjoint x of a reading,
∂(reading)/∂(ln y) = −y (V_p − V_q)(x_p − x_q) for a branch from p to q.

What no unknown moves is solved beforehand, see `feedproof.circuit.reduction`; what is left is a circuit of the nodes
where something varies, often of none. Eight draws go side by side, see `feedproof.circuit.lanes`.
"""

import math
from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import called, compiled, counting_nothing, shared
from feedproof.circuit.kernel import drive, eliminate, settle_field, source_field, weighted
from feedproof.circuit.lanes import LANES, cosine_sine, exponential, larger, load, room, root, splat, store
from feedproof.circuit.reduction import MOST_EDGES, Reduced
from feedproof.circuit.topology import NODE_COUNT, S1, S2, X0
from feedproof.inference.laws import NORMAL, TRUNCATED, UNIFORM, FloatArray, interpolated, unknowns

__all__ = ["NORMAL", "TRUNCATED", "UNIFORM", "FloatArray"]

IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

VOLTAGE, CURRENT, RESISTANCE, PROXIMITY, NEUTRAL_DURING = 0, 1, 2, 3, 4

#: Below this a reading has no direction [V, A or ohm].
_NONE = 1e-9


class Program(NamedTuple):
    """One hypothesis on one arrangement of readings, as arrays.

    D coordinates, E variable branch elements, C circuits, R readings.
    """

    reduced: Reduced
    """The circuits without what does not vary."""
    coordinate_kind: IntArray
    """`NORMAL`, `UNIFORM` or `TRUNCATED` normal; shape (D,)."""
    location: FloatArray
    """Mean, or lower end; shape (D,)."""
    scale: FloatArray
    """Standard deviation, or width; shape (D,)."""
    law_tables: FloatArray
    """Of the laws that are not normal, from `tabulated`; shape (K, rows, 2)."""
    law: IntArray
    """Which of the tables, −1 for a normal one; shape (D,)."""
    supply: int
    """Coordinate of the logarithm of the supply voltage over nominal."""
    nominal: float
    """[V]"""
    phasor: ComplexArray
    """Leg phasors over nominal; shape (2,)."""
    energized: IntArray
    """1 where the sources are on; shape (C,)."""
    asymmetry: IntArray
    """Coordinate of the legs' asymmetry, or −1; shape (C,)."""
    shift: int
    """Coordinate of a shift of the legs that all circuits share, or −1."""
    element_edge: IntArray
    """Edge of the graph of each variable element; shape (E,)."""
    every: IntArray
    """1 for each element: the derivatives by all are wanted; shape (E,)."""
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
    """Edge of the graph whose current is read, or −1; shape (R,)."""
    gain: IntArray
    """Coordinate of the meter's gain, or −1; shape (R,)."""


class Work(NamedTuple):
    """Scratch arrays of one thread; complex ones have shape (rows, 2, lanes)."""

    coordinate: FloatArray
    unknown: FloatArray
    slope: FloatArray
    element: FloatArray
    admittance: FloatArray
    share: FloatArray
    inverse: FloatArray
    spread: FloatArray
    voltage: FloatArray
    adjoint: FloatArray
    shown: FloatArray
    jacobian: FloatArray
    """Its first dimension is zero until someone asks for derivatives."""


@compiled
def make_work(program: Program) -> Work:
    """Allocate scratch for `predict`."""
    d, e, r = program.location.size, program.element_edge.size, program.reading_kind.size
    return Work(
        room(d),
        room(d),
        room(d),
        room(e * 2).reshape(e, 2, LANES),
        room(MOST_EDGES * 2).reshape(MOST_EDGES, 2, LANES),
        room(MOST_EDGES * 2).reshape(MOST_EDGES, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(r),
        room(r * d).reshape(r, d, LANES),
    )


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
    column = np.zeros(z.shape[0])
    location, scale, which = program.location[d], program.scale[d], program.law[d]
    for i in range(z.shape[0]):
        inner = z[i, d]
        if which >= 0:
            inner, _ = interpolated(program.law_tables, which, z[i, d])
        column[i] = location + scale * inner
    return column


@counting_nothing
def _elements(program: Program, unknown: FloatArray, element: FloatArray) -> None:
    """Admittances of all variable elements from the unknowns; shape (E, 2, lanes) [S]."""
    element_log, term_start = program.element_log, program.term_start
    term_coordinate, term_factor = program.term_coordinate, program.term_factor
    for e in range(element_log.size):
        size, angle = splat(element_log[e].real), splat(element_log[e].imag)
        turns = False
        for k in range(term_start[e], term_start[e + 1]):
            value, factor = load(unknown, term_coordinate[k]), term_factor[k]
            size += factor.real * value
            if factor.imag != 0.0:
                angle += factor.imag * value
                turns = True
        size = exponential(size)
        if turns:
            cosine, sine = cosine_sine(angle)
            store(element, (e, 0), size * cosine)
            store(element, (e, 1), size * sine)
        else:
            store(element, (e, 0), size * math.cos(element_log[e].imag))
            store(element, (e, 1), size * math.sin(element_log[e].imag))


@counting_nothing
def _predict_lanes(
    program: Program,
    z: FloatArray,
    work: Work,
    shown: FloatArray,
    jacobian: FloatArray,
    moved: IntArray,
    derive: bool,
) -> None:
    """As `predict_lanes`, which calls this by its address."""
    # Each array is taken out of its tuple once: in compiled code every such access counts references.
    reduced = program.reduced
    step_start, start, free_stop = reduced.step_start, reduced.start, reduced.free_stop
    neighbour, edge, pair_start, pair_edge = reduced.neighbour, reduced.edge, reduced.pair_start, reduced.pair_edge
    base_start, base, own_edge = reduced.base_start, reduced.base, reduced.element_edge
    tail, head = reduced.element_tail, reduced.element_head
    weight_start, weight_node, weight = reduced.weight_start, reduced.weight_node, reduced.weight
    far_start, far_node, far_weight = reduced.far_start, reduced.far_node, reduced.far_weight
    impedance, far_impedance, branch = reduced.impedance, reduced.far_impedance, reduced.branch
    phasor, energized, asymmetry = program.phasor, program.energized, program.asymmetry
    element_edge = program.element_edge
    term_start, term_coordinate, term_factor = program.term_start, program.term_coordinate, program.term_factor
    reading_start, reading_kind = program.reading_start, program.reading_kind
    node_a, node_b, meter, through_edge = (
        program.node_a,
        program.node_b,
        program.meter_admittance,
        program.through_edge,
    )
    gain_of, supply, shift, nominal = program.gain, program.supply, program.shift, program.nominal
    location, scale, law_tables, law = program.location, program.scale, program.law_tables, program.law
    t, dt, element, y = work.unknown, work.slope, work.element, work.admittance
    share, inverse, spread, v, x = work.share, work.inverse, work.spread, work.voltage, work.adjoint
    unknowns(location, scale, law_tables, law, z, t, dt)
    _elements(program, t, element)
    zero, one = splat(0.0), splat(1.0)
    level = nominal * exponential(load(t, supply))
    if derive:
        for r in range(reading_kind.size):
            for d in range(location.size):
                store(jacobian, (r, d), zero)
    for c in range(energized.size):
        first, last, origin = step_start[c], step_start[c + 1], base_start[c]
        for n in range(origin, base_start[c + 1]):
            store(y, (n - origin, 0), splat(base[n].real))
            store(y, (n - origin, 1), splat(base[n].imag))
        for e in range(element_edge.size):
            n = own_edge[c, e]
            if n >= 0:
                store(y, (n, 0), load(y, (n, 0)) + load(element, (e, 0)))
                store(y, (n, 1), load(y, (n, 1)) + load(element, (e, 1)))
        eliminate(first, last, start, free_stop, edge, pair_start, pair_edge, y, share, inverse)
        if energized[c]:
            lean = zero if asymmetry[c] < 0 else load(t, asymmetry[c])
            if shift >= 0:
                lean += load(t, shift)
            more, less = one + lean, one - lean
            store(v, (X0, 0), zero)
            store(v, (X0, 1), zero)
            store(v, (S1, 0), more * phasor[0].real)
            store(v, (S1, 1), more * phasor[0].imag)
            store(v, (S2, 0), less * phasor[1].real)
            store(v, (S2, 1), less * phasor[1].imag)
            source_field(first, last, start, neighbour, share, v)
            if derive and asymmetry[c] >= 0:
                # What the voltages gain where one leg gains what the other loses.
                store(spread, (X0, 0), zero)
                store(spread, (X0, 1), zero)
                store(spread, (S1, 0), splat(phasor[0].real))
                store(spread, (S1, 1), splat(phasor[0].imag))
                store(spread, (S2, 0), splat(-phasor[1].real))
                store(spread, (S2, 1), splat(-phasor[1].imag))
                source_field(first, last, start, neighbour, share, spread)
        last_a, last_b = -1, -1
        own_re, own_im, factor, last_gain = zero, zero, one, -1
        for r in range(reading_start[c], reading_start[c + 1]):
            kind, through, gain = reading_kind[r], through_edge[r], gain_of[r]
            begin, end = weight_start[r], weight_start[r + 1]
            during = kind == NEUTRAL_DURING
            met = derive or during or kind == RESISTANCE or meter[r] != 0.0
            if met and (during or node_a[r] != last_a or node_b[r] != last_b):
                own_re, own_im = drive(
                    first, last, start, free_stop, neighbour, share, inverse, weight_node, weight, begin, end, x
                )
                if derive or during:
                    settle_field(first, last, start, free_stop, neighbour, share, inverse, x)
                last_a, last_b = node_a[r], node_b[r]
                own_re += impedance[r].real
                own_im += impedance[r].imag
            across_re, across_im = zero, zero
            if kind != RESISTANCE:
                across_re, across_im = weighted(weight_node, weight, begin, end, v)
            # What the reading's derivative by an admittance is multiplied with.
            outer_re, outer_im = one, zero
            meter_re, meter_im = meter[r].real, meter[r].imag
            if kind == RESISTANCE:
                seen_re, seen_im = own_re, own_im
            elif kind == CURRENT:
                outer_re, outer_im = splat(branch[r].real), splat(branch[r].imag)
                for e in range(element_edge.size):
                    if element_edge[e] == through and own_edge[c, e] >= 0:
                        outer_re += load(element, (e, 0))
                        outer_im += load(element, (e, 1))
                seen_re = outer_re * across_re - outer_im * across_im
                seen_im = outer_re * across_im + outer_im * across_re
            elif meter_re == 0.0 and meter_im == 0.0:
                seen_re, seen_im = across_re, across_im
            else:
                # Connecting the meter moves the node: V_th Z_m / (Z_m + Z_th).
                held_re, held_im = 1.0 + (own_re * meter_re - own_im * meter_im), own_re * meter_im + own_im * meter_re
                squared = 1.0 / (held_re * held_re + held_im * held_im)
                outer_re, outer_im = held_re * squared, -held_im * squared
                seen_re = outer_re * across_re - outer_im * across_im
                seen_im = outer_re * across_im + outer_im * across_re
            # The current that the meter draws.
            drawn_re, drawn_im = zero, zero
            if kind in (VOLTAGE, NEUTRAL_DURING):
                drawn_re, drawn_im = seen_re * meter_re - seen_im * meter_im, seen_re * meter_im + seen_im * meter_re
            if during:
                # The neutral while the meter is across the pair, not what the meter shows.
                begin, end = far_start[r], far_start[r + 1]
                far_re, far_im = weighted(far_node, far_weight, begin, end, x)
                far_re += far_impedance[r].real
                far_im += far_impedance[r].imag
                seen_re, seen_im = weighted(far_node, far_weight, begin, end, v)
                seen_re -= far_re * drawn_re - far_im * drawn_im
                seen_im -= far_re * drawn_im + far_im * drawn_re
            magnitude = root(seen_re * seen_re + seen_im * seen_im)
            if gain != last_gain:
                factor = one if gain < 0 else exponential(load(t, gain))
                last_gain = gain
            scaled = factor if kind == RESISTANCE else factor * level
            store(shown, r, magnitude * scaled)
            if not derive or during:
                continue
            if gain >= 0:
                store(jacobian, (r, gain), load(jacobian, (r, gain)) + load(shown, r) * load(dt, gain))
            if kind != RESISTANCE:
                store(jacobian, (r, supply), load(jacobian, (r, supply)) + load(shown, r) * load(dt, supply))
            unit = scaled / larger(magnitude, splat(_NONE))
            # conj(seen) / |seen| times the outer derivative: what turns a change of the phasor into one of the reading.
            aim_re = unit * (seen_re * outer_re + seen_im * outer_im)
            aim_im = unit * (seen_re * outer_im - seen_im * outer_re)
            if kind != RESISTANCE and asymmetry[c] >= 0:
                spread_re, spread_im = weighted(weight_node, weight, begin, end, spread)
                by_lean = aim_re * spread_re - aim_im * spread_im
                d = asymmetry[c]
                store(jacobian, (r, d), load(jacobian, (r, d)) + by_lean * load(dt, d))
                if shift >= 0:
                    store(jacobian, (r, shift), load(jacobian, (r, shift)) + by_lean * load(dt, shift))
            for e in range(element_edge.size):
                if moved[e] == 0 or own_edge[c, e] < 0:
                    continue
                p, q = tail[c, e], head[c, e]
                beside_re, beside_im = load(x, (p, 0)) - load(x, (q, 0)), load(x, (p, 1)) - load(x, (q, 1))
                if kind == RESISTANCE:
                    along_re, along_im = beside_re, beside_im
                else:
                    # With the meter in the circuit.
                    along_re = load(v, (p, 0)) - load(v, (q, 0)) - (beside_re * drawn_re - beside_im * drawn_im)
                    along_im = load(v, (p, 1)) - load(v, (q, 1)) - (beside_re * drawn_im + beside_im * drawn_re)
                change_re = beside_im * along_im - beside_re * along_re
                change_im = -(beside_re * along_im + beside_im * along_re)
                if kind == CURRENT and element_edge[e] == through:
                    # More admittance, more current: the element's own change, over the outer derivative above.
                    squared = 1.0 / (outer_re * outer_re + outer_im * outer_im)
                    change_re += (across_re * outer_re + across_im * outer_im) * squared
                    change_im += (across_im * outer_re - across_re * outer_im) * squared
                y_re, y_im = load(element, (e, 0)), load(element, (e, 1))
                weight_re, weight_im = aim_re * y_re - aim_im * y_im, aim_re * y_im + aim_im * y_re
                turned_re = weight_re * change_re - weight_im * change_im
                turned_im = weight_re * change_im + weight_im * change_re
                for k in range(term_start[e], term_start[e + 1]):
                    d = term_coordinate[k]
                    change = turned_re * term_factor[k].real - turned_im * term_factor[k].imag
                    store(jacobian, (r, d), load(jacobian, (r, d)) + change * load(dt, d))


def _types_of_arguments() -> tuple[Any, ...]:
    """Types of the arguments of `predict_lanes`, from the shapes that the records state."""
    ints, floats, cplx = np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.complex128)
    table, none = np.zeros((0, 0), np.int64), np.zeros(0, np.int64)
    reduced = Reduced(*(none,) * 8, cplx, table, table, table, none, none, cplx, cplx, none, none, cplx, cplx, cplx)
    program = Program(
        reduced=reduced,
        coordinate_kind=ints,
        location=floats,
        scale=floats,
        law_tables=np.zeros((0, 0, 0)),
        law=ints,
        supply=0,
        nominal=0.0,
        phasor=cplx,
        energized=ints,
        asymmetry=ints,
        shift=0,
        element_edge=ints,
        every=ints,
        element_log=cplx,
        term_start=ints,
        term_coordinate=ints,
        term_factor=cplx,
        reading_start=ints,
        reading_kind=ints,
        node_a=ints,
        node_b=ints,
        meter_admittance=cplx,
        through_edge=ints,
        gain=ints,
    )
    lanes, complex_lanes = np.zeros((0, 0)), np.zeros((0, 0, 0))
    work = Work(*(lanes,) * 3, *(complex_lanes,) * 7, lanes, complex_lanes)
    return tuple(numba.typeof(x) for x in (program, lanes, work, lanes, complex_lanes, ints, True))


TYPES_OF_ARGUMENTS = _types_of_arguments()
"""Of `predict_lanes`, for the compiler."""
_typed = shared(_predict_lanes, TYPES_OF_ARGUMENTS, "predict_lanes")


@called
def _predict_once(
    _: object,
    program: Program,
    z: FloatArray,
    work: Work,
    shown: FloatArray,
    jacobian: FloatArray,
    moved: IntArray,
    derive: bool,
) -> object:
    return _typed(program, z, work, shown, jacobian, moved, derive)


@counting_nothing
def predict_lanes(
    program: Program,
    z: FloatArray,
    work: Work,
    shown: FloatArray,
    jacobian: FloatArray,
    moved: IntArray,
    derive: bool,
) -> None:
    """What every meter would show, without its random error, and the derivatives, for eight draws.

    Parameters
    ----------
    program : Program
        Hypothesis and readings.
    z : ndarray, shape (D, lanes)
        Coordinates [1].
    work : Work
        Scratch.
    shown : ndarray, shape (R, lanes)
        Filled: magnitudes [V, A or ohm].
    jacobian : ndarray, shape (R, D, lanes)
        Filled with ∂ shown / ∂ z where asked for; zero for `NEUTRAL_DURING`, which is asked for but never read
        [V, A or ohm].
    moved : ndarray of int, shape (E,)
        0 where an element's part in the derivatives is not wanted [1].
    derive : bool
        Whether the derivatives are asked for.
    """
    _predict_once(program, z, work, shown, jacobian, moved, derive)


@counting_nothing
def into_lanes(z: FloatArray, first: int, lanes: FloatArray) -> None:
    """Put draws `first` and the next ones side by side; behind the last, the last again.

    Parameters
    ----------
    z : ndarray, shape (N, D)
        Draws [1].
    first : int
        The first to take [1].
    lanes : ndarray, shape (≥D, lanes)
        Filled [1].
    """
    last = z.shape[0] - 1
    for lane in range(LANES):
        i = min(first + lane, last)
        for d in range(z.shape[1]):
            lanes[d, lane] = z[i, d]


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
    draws, readings = shown.shape
    derive = jacobian.size > 0
    for first in range(0, draws, LANES):
        into_lanes(z, first, work.coordinate)
        predict_lanes(
            program, work.coordinate, work, work.shown, work.jacobian, program.every, derive and first + LANES >= draws
        )
        for lane in range(min(LANES, draws - first)):
            for r in range(readings):
                shown[first + lane, r] = work.shown[r, lane]
    if derive:
        jacobian[:, :] = work.jacobian[:, :, (draws - 1) % LANES]
