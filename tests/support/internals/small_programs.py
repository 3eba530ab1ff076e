"""Programs of a few unknowns on the one graph, whose readings can be worked out by hand."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from feedproof.circuit import topology as net
from feedproof.circuit.lanes import LANES
from feedproof.circuit.reduction import reduce_circuits
from feedproof.inference.arrays import Program, make_climbing_work, make_work
from feedproof.inference.forward import CURRENT, NORMAL, RESISTANCE, UNIFORM, VOLTAGE, FloatArray, predict
from feedproof.inference.laws import tabulated
from feedproof.inference.likelihood import Observations, empty_observations, total_log_likelihood
from feedproof.inference.modes import find_modes
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.sampling import sample
from feedproof.inference.weights import log_mean_exp

NOTHING = np.zeros((0, 0))
JOINT = 1e-6
"""Resistance of whatever is not stated [ohm]: no reading notices it."""

Law = tuple[int, float, float]
"""Kind, location and scale of an unknown."""
Element = tuple[int, int, int, float]
"""From node, to node, coordinate, and the factor of the unknown in the logarithm of the admittance."""
Read = tuple[int, int, int, complex]
"""Kind, node a, node b, admittance of the meter [S]."""

LEVEL: Law = (NORMAL, 0.0, 1e-9)
"""A supply that is known."""


def small_program(
    laws: Sequence[Law],
    elements: Sequence[Element] = (),
    readings: Sequence[Read] = (),
    *,
    resistances: dict[tuple[int, int], float] | None = None,
    connected: bool = False,
    phasors: tuple[complex, complex] = (1.0 + 0j, -1.0 + 0j),
    asymmetry: int = -1,
    gain: int = -1,
    neutral: int = net.PN,
) -> Program:
    """Give a program of one circuit.

    Parameters
    ----------
    laws : sequence of (kind, location, scale)
        The unknowns; the first is the logarithm of the supply voltage over 120 V.
    elements : sequence of (node, node, coordinate, factor)
        Branches of admittance exp(factor · unknown) [S], beside what `resistances` has there.
    readings : sequence of (kind, node a, node b, meter admittance)
        What is read.
    resistances : dict of (node, node) to float, optional
        In place of the path's own joints, or beside them [ohm]; infinite leaves the branch out.
    connected : bool
        Whether the appliance's terminals are there.
    phasors : tuple of complex
        Of the legs, over nominal [1].
    asymmetry, gain : int
        Coordinates, or -1 [1].
    neutral : int
        Node that is asked for while a meter is connected [1].
    """
    ints, cplx = np.int64, np.complex128
    series = [*net.SERVICE_EDGES[:3], *net.BRANCH_EDGES, *(net.CORD_EDGES if connected else ())]
    base = np.zeros((1, net.EDGE_COUNT), cplx)
    varied = {net.edge_number(a, b) for a, b, _, _ in elements}
    for edge in series:
        if net.edge_number(*edge) not in varied:
            base[0, net.edge_number(*edge)] = 1.0 / JOINT
    for edge, ohms in (resistances or {}).items():
        base[0, net.edge_number(*edge)] = 0.0 if np.isinf(ohms) else 1.0 / ohms
    tables, which = tabulated([(kind, 0.0, 1.0) for kind, _, _ in laws])
    through = [net.edge_number(a, b) if kind == CURRENT else -1 for kind, a, b, _ in readings]
    element_edge = np.array([net.edge_number(a, b) for a, b, _, _ in elements], ints)
    node_a, node_b = (np.array([reading[k] for reading in readings], ints) for k in (1, 2))
    isolated = any(kind == RESISTANCE for kind, *_ in readings)
    return Program(
        reduced=reduce_circuits(
            base,
            element_edge,
            np.ones(len(elements), ints),
            np.array([0, len(readings)], ints),
            node_a,
            node_b,
            np.full(len(readings), neutral),
            np.full(len(readings), net.PN),
            np.array(through, ints),
        ),
        coordinate_kind=np.array([kind for kind, _, _ in laws], ints),
        location=np.array([location for _, location, _ in laws], float),
        scale=np.array([scale for _, _, scale in laws], float),
        law_tables=tables,
        law=which,
        supply=0,
        nominal=120.0,
        phasor=np.array(phasors, cplx),
        energized=np.array([not isolated], ints),
        asymmetry=np.array([asymmetry], ints),
        shift=-1,
        element_edge=element_edge,
        every=np.ones_like(element_edge),
        element_log=np.zeros(len(elements), cplx),
        term_start=np.arange(len(elements) + 1, dtype=ints),
        term_coordinate=np.array([d for _, _, d, _ in elements], ints),
        term_factor=np.array([factor for *_, factor in elements], cplx),
        reading_start=np.array([0, len(readings)], ints),
        reading_kind=np.array([kind for kind, *_ in readings], ints),
        node_a=node_a,
        node_b=node_b,
        meter_admittance=np.array([y for *_, y in readings], cplx),
        through_edge=np.array(through, ints),
        gain=np.full(len(readings), gain, ints),
    )


def shows(program: Program, z: FloatArray | None = None) -> FloatArray:
    """Give what the meters show at draws of shape (N, D), or at the medians; shape (N, R)."""
    at = np.zeros((1, program.location.size)) if z is None else np.ascontiguousarray(z, dtype=float)
    answer = np.zeros((at.shape[0], program.reading_kind.size))
    predict(program, at, make_work(program), answer, NOTHING)
    return answer


def derivatives(program: Program, z: FloatArray) -> FloatArray:
    """Give the compiled derivatives of all readings at one draw; shape (R, D)."""
    count, size = program.reading_kind.size, program.location.size
    jacobian = np.zeros((count, size))
    predict(program, z.reshape(1, size), make_work(program), np.zeros((1, count)), jacobian)
    return jacobian


def observed(
    kinds: Sequence[int], values: Sequence[float], floor: float, relative: float = 0.0, misread: float = 0.0
) -> Observations:
    """Give observations that all scatter alike; a misread one lies anywhere in 300 units."""
    found = empty_observations(len(values))
    found.kind[:], found.value[:] = kinds, values
    found.floor[:], found.relative[:] = floor, relative
    found.misread[:], found.misread_density[:] = misread, 1.0 / 300.0
    return found


def two_joints(low: float = 0.01, high: float = 100.0) -> Program:
    """Give neutral and ground of unknown resistance, of which an ohmmeter shows the sum: a bent ridge.

    Unknowns: the supply, and the logarithms of both resistances, uniform between their ends.
    """
    uniform: Law = (UNIFORM, np.log(low), np.log(high / low))
    return small_program(
        (LEVEL, uniform, uniform),
        ((net.PN, net.RN, 1, -1.0), (net.PN, net.RG, 2, -1.0)),
        ((RESISTANCE, net.RN, net.RG, 0j),),
    )


def one_voltage(spread: float = 0.1) -> Program:
    """Give a sound leg of unknown voltage, read by an ideal meter: 120 V · exp(spread · z)."""
    return small_program(((NORMAL, 0.0, spread),), (), ((VOLTAGE, net.R1, net.RN, 0j),))


def two_voltages(spread: float = 0.1) -> Program:
    """Give the same leg, read twice."""
    return small_program(((NORMAL, 0.0, spread),), (), ((VOLTAGE, net.R1, net.RN, 0j),) * 2)


class Drawn(NamedTuple):
    """What the sampler gives for a small program."""

    log_evidence: float
    z: FloatArray
    weights: FloatArray
    modes: FloatArray
    scouted: float

    def mean(self, values: FloatArray) -> float:
        """Give the weighted mean of a quantity of each draw."""
        return float(self.weights @ values)


def sampled(
    program: Program,
    observations: Observations,
    *,
    scouts: int = 32,
    enough: float = 1000.0,
    limit: int = 4096,
    settling: bool = False,
    most_modes: int = LANES,
) -> Drawn:
    """Give modes and draws of a small program, as the inference finds them, or by settling what is sharp."""
    size, count, work = program.location.size, observations.kind.size, make_work(program)
    modes, factors, mass = np.zeros((LANES, size)), np.zeros((LANES, size, size)), np.zeros(LANES)
    scratch, screens = (make_climbing_work(program), work), (-np.inf, -np.inf, -np.inf)
    found, scouted, *_ = find_modes(
        program, observations, *scratch, NORMAL_POINTS, scouts, *screens, modes, factors, mass
    )
    found = min(found, most_modes)
    modes, factors, mass = modes[:found], factors[:found], mass[:found]
    z, shown, logs = np.zeros((limit, size)), np.zeros((limit, count)), np.zeros(limit)
    args = (program, observations, work, NORMAL_POINTS)
    made = sample(*args, modes, factors, mass, settling, enough, True, z, shown, logs)
    if not made:
        return Drawn(-np.inf, z[:0], logs[:0], modes, float(scouted))
    weights = np.exp(logs[:made] - logs[:made].max())
    return Drawn(float(log_mean_exp(logs[:made])), z[:made], weights / weights.sum(), modes, float(scouted))


def by_grid(
    program: Program, observations: Observations, axes: Sequence[FloatArray]
) -> tuple[float, FloatArray, FloatArray]:
    """Give log evidence, points and their posterior weights by the trapezoidal rule.

    Parameters
    ----------
    program, observations : Program, Observations
        What is asked.
    axes : sequence of ndarray
        Even steps of each coordinate, to beyond where anything is left; one that no reading feels is held at a single
        value, and so integrated out.
    """
    z = np.ascontiguousarray(np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes)))
    logs = np.array([total_log_likelihood(observations, row) for row in shows(program, z)])
    for d, axis in enumerate(axes):
        if axis.size > 1:
            logs += np.log(axis[1] - axis[0]) - 0.5 * z[:, d] ** 2 - 0.5 * np.log(2.0 * np.pi)
    total = float(np.logaddexp.reduce(logs))
    return total, z, np.exp(logs - total)
