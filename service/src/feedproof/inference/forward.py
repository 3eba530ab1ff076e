"""The generative model, compiled: from standard-normal coordinates to what every meter would show.

Each unknown of a circuit (supply voltage, a joint's resistance, a stray, a load, a meter's gain) is a function
of one coordinate z that is standard normal a priori. The logarithm of every branch admittance is affine in the
unknowns, so one rule gives all derivatives: with the field V of the sources and the adjoint x of a reading,
∂(reading)/∂(ln y) = −y (V_p − V_q)(x_p − x_q) for a branch from p to q.

What no unknown moves is solved beforehand, see `feedproof.circuit.reduction`; what is left is a circuit of the nodes
where something varies, often of none. Draws go side by side, see `feedproof.circuit.lanes`.
"""

import math

import numpy as np

from feedproof.circuit.compiling import called, compiled, counting_nothing, shared
from feedproof.circuit.kernel import drive, eliminate, settle_field, source_field, weighted
from feedproof.circuit.lanes import WIDE, cosine_sine, exponential, get, larger, load, put, root, store, width
from feedproof.circuit.topology import S1, S2, X0
from feedproof.inference.arrays import IntArray, Program, Work, types_of_arguments
from feedproof.inference.laws import NORMAL, TRUNCATED, UNIFORM, FloatArray, interpolated, unknowns

__all__ = ["NORMAL", "TRUNCATED", "UNIFORM", "FloatArray"]

VOLTAGE, CURRENT, RESISTANCE, PROXIMITY, NEUTRAL_DURING = 0, 1, 2, 3, 4

#: Below this a reading has no direction [V, A or ohm].
_NONE = 1e-9


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
        size, angle = element_log[e].real, element_log[e].imag
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
    level = nominal * exponential(load(t, supply))
    if derive:
        for r in range(reading_kind.size):
            for d in range(location.size):
                store(jacobian, (r, d), 0.0)
    for c in range(energized.size):
        first, last, origin = step_start[c], step_start[c + 1], base_start[c]
        moves = False
        for n in range(origin, base_start[c + 1]):
            store(y, (n - origin, 0), base[n].real)
            store(y, (n - origin, 1), base[n].imag)
        for e in range(element_edge.size):
            n = own_edge[c, e]
            if n >= 0:
                store(y, (n, 0), load(y, (n, 0)) + load(element, (e, 0)))
                store(y, (n, 1), load(y, (n, 1)) + load(element, (e, 1)))
                moves = moves or moved[e] != 0
        # The adjoint is wanted where a branch's part in the derivatives is.
        seeks = derive and moves
        eliminate(first, last, start, free_stop, edge, pair_start, pair_edge, y, share, inverse)
        if energized[c]:
            lean = 0.0 if asymmetry[c] < 0 else load(t, asymmetry[c])
            if shift >= 0:
                lean += load(t, shift)
            more, less = 1.0 + lean, 1.0 - lean
            store(v, (X0, 0), 0.0)
            store(v, (X0, 1), 0.0)
            store(v, (S1, 0), more * phasor[0].real)
            store(v, (S1, 1), more * phasor[0].imag)
            store(v, (S2, 0), less * phasor[1].real)
            store(v, (S2, 1), less * phasor[1].imag)
            source_field(first, last, start, neighbour, share, v)
            if derive and asymmetry[c] >= 0:
                # What the voltages gain where one leg gains what the other loses.
                store(spread, (X0, 0), 0.0)
                store(spread, (X0, 1), 0.0)
                store(spread, (S1, 0), phasor[0].real)
                store(spread, (S1, 1), phasor[0].imag)
                store(spread, (S2, 0), -phasor[1].real)
                store(spread, (S2, 1), -phasor[1].imag)
                source_field(first, last, start, neighbour, share, spread)
        last_a, last_b = -1, -1
        own_re, own_im, factor, last_gain = 0.0, 0.0, 1.0, -1
        for r in range(reading_start[c], reading_start[c + 1]):
            kind, through, gain = reading_kind[r], through_edge[r], gain_of[r]
            begin, end = weight_start[r], weight_start[r + 1]
            during = kind == NEUTRAL_DURING
            met = seeks or during or kind == RESISTANCE or meter[r] != 0.0
            if met and (during or node_a[r] != last_a or node_b[r] != last_b):
                own_re, own_im = drive(
                    first, last, start, free_stop, neighbour, share, inverse, weight_node, weight, begin, end, x
                )
                if seeks or during:
                    settle_field(first, last, start, free_stop, neighbour, share, inverse, x)
                last_a, last_b = node_a[r], node_b[r]
                own_re += impedance[r].real
                own_im += impedance[r].imag
            across_re, across_im = 0.0, 0.0
            if kind != RESISTANCE:
                across_re, across_im = weighted(weight_node, weight, begin, end, v)
            # What the reading's derivative by an admittance is multiplied with.
            outer_re, outer_im = 1.0, 0.0
            meter_re, meter_im = meter[r].real, meter[r].imag
            if kind == RESISTANCE:
                seen_re, seen_im = own_re, own_im
            elif kind == CURRENT:
                outer_re, outer_im = branch[r].real, branch[r].imag
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
            drawn_re, drawn_im = 0.0, 0.0
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
                factor = 1.0 if gain < 0 else exponential(load(t, gain))
                last_gain = gain
            scaled = factor if kind == RESISTANCE else factor * level
            store(shown, r, magnitude * scaled)
            if not derive or during:
                continue
            if gain >= 0:
                store(jacobian, (r, gain), load(jacobian, (r, gain)) + load(shown, r) * load(dt, gain))
            if kind != RESISTANCE:
                store(jacobian, (r, supply), load(jacobian, (r, supply)) + load(shown, r) * load(dt, supply))
            unit = scaled / larger(magnitude, _NONE)
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


_typed = shared(_predict_lanes, (types_of_arguments(1), types_of_arguments(2)), "predict_lanes")


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
    """What every meter would show, without its random error, and the derivatives, for draws side by side.

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
    for lane in range(width(lanes, 0)):
        i = min(first + lane, last)
        for d in range(z.shape[1]):
            put(lanes, d, lane, z[i, d])


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
        Scratch, from `make_work`.
    shown : ndarray, shape (N, R)
        Filled: magnitudes [V, A or ohm].
    jacobian : ndarray, shape (R, D)
        Filled with ∂ shown / ∂ z of the last draw, if it has any elements; zero for `NEUTRAL_DURING`, which is
        asked for but never read [V, A or ohm].
    """
    draws, readings = shown.shape
    derive = jacobian.size > 0
    for first in range(0, draws, WIDE):
        into_lanes(z, first, work.coordinate)
        predict_lanes(
            program, work.coordinate, work, work.shown, work.jacobian, program.every, derive and first + WIDE >= draws
        )
        for lane in range(min(WIDE, draws - first)):
            for r in range(readings):
                shown[first + lane, r] = get(work.shown, r, lane)
    if derive:
        for r in range(readings):
            for d in range(z.shape[1]):
                jacobian[r, d] = get(work.jacobian, (r, d), (draws - 1) % WIDE)
