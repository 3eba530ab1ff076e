"""One hypothesis on one arrangement of readings as arrays, and the scratch that compiled code works in."""

from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled
from feedproof.circuit.lanes import LANES, ROWS, room, wide_room
from feedproof.circuit.reduction import Reduced
from feedproof.circuit.topology import NODE_COUNT
from feedproof.inference.laws import FloatArray, IntArray

__all__ = ["FloatArray", "IntArray"]

ComplexArray = NDArray[np.complex128]


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
    """shape (R, D, lanes)."""


@compiled
def rows_of_largest(program: Program) -> tuple[int, int]:
    """Most edges and most neighbours of all steps together that one of the reduced circuits has [1].

    Parameters
    ----------
    program : Program
        Hypothesis and readings.
    """
    reduced, edges, neighbours = program.reduced, 0, 0
    for c in range(program.energized.size):
        edges = max(edges, reduced.base_start[c + 1] - reduced.base_start[c])
        first, last = reduced.step_start[c], reduced.step_start[c + 1]
        neighbours = max(neighbours, reduced.start[last] - reduced.start[first])
    return edges, neighbours


@compiled
def make_work(program: Program) -> Work:
    """Allocate scratch for draws: for `predict`, and for `predict_lanes` at their width."""
    d, e, r = program.location.size, program.element_edge.size, program.reading_kind.size
    edges, neighbours = rows_of_largest(program)
    return Work(
        wide_room(d),
        wide_room(d),
        wide_room(d),
        wide_room(e * 2).reshape(e, 2, ROWS, LANES),
        wide_room(edges * 2).reshape(edges, 2, ROWS, LANES),
        wide_room(neighbours * 2).reshape(neighbours, 2, ROWS, LANES),
        wide_room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, ROWS, LANES),
        wide_room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, ROWS, LANES),
        wide_room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, ROWS, LANES),
        wide_room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, ROWS, LANES),
        wide_room(r),
        wide_room(r * d).reshape(r, d, ROWS, LANES),
    )


@compiled
def make_climbing_work(program: Program) -> Work:
    """Allocate scratch for climbs: for `predict_lanes` at their width."""
    d, e, r = program.location.size, program.element_edge.size, program.reading_kind.size
    edges, neighbours = rows_of_largest(program)
    return Work(
        room(d),
        room(d),
        room(d),
        room(e * 2).reshape(e, 2, LANES),
        room(edges * 2).reshape(edges, 2, LANES),
        room(neighbours * 2).reshape(neighbours, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(NODE_COUNT * 2).reshape(NODE_COUNT, 2, LANES),
        room(r),
        room(r * d).reshape(r, d, LANES),
    )


def types_of_arguments(axes: int) -> tuple[Any, ...]:
    """Types of the arguments of `predict_lanes`, for the compiler, from the shapes that the records state.

    Parameters
    ----------
    axes : int
        How many axes the lanes have: one for climbs, two for draws [1].

    Returns
    -------
    tuple
        In the order of the arguments.
    """
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
    lanes, complex_lanes = np.zeros((0,) * (axes + 1)), np.zeros((0,) * (axes + 2))
    work = Work(*(lanes,) * 3, *(complex_lanes,) * 7, lanes, complex_lanes)
    return tuple(numba.typeof(x) for x in (program, lanes, work, lanes, complex_lanes, ints, True))
