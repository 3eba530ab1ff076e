"""From a hypothesis and a scene to the arrays that the compiled model runs on.

One place decides which unknowns a hypothesis has. An unknown that cannot move any of the readings by more than
a small part of their scatter (a sound joint's milliohms when no load runs, a stray across conductors that are
both held) is set to its median instead of being carried along.
"""

import cmath
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct

from feedproof.circuit import topology as net
from feedproof.circuit.reduction import reduce_circuits
from feedproof.faults.hypotheses import Hypothesis
from feedproof.faults.priors import PRIORS, Priors
from feedproof.inference.arrays import Program, rows_of_largest
from feedproof.inference.forward import (
    CURRENT,
    NEUTRAL_DURING,
    NORMAL,
    PROXIMITY,
    RESISTANCE,
    TRUNCATED,
    UNIFORM,
    VOLTAGE,
)
from feedproof.inference.laws import tabulated
from feedproof.inference.likelihood import Observations, empty_observations
from feedproof.inference.normal import normal_cdf
from feedproof.inference.runs import explained_resistance, sound_run
from feedproof.inference.scene import Scene, SceneReading
from feedproof.instruments.scatter import gain_spread, meter_admittance, scatter_floor, scatter_relative
from feedproof.readings import ClampAmmeter, Conductor, Ohmmeter, ProximityDetector, Voltmeter

Key = tuple[str | int, ...]

NOMINAL = 120.0
#: Series resistances that are tried for the detection limits [ohm].
PROBE_RANGE = (0.02, 1.0e9)
_KIND = {"voltage": VOLTAGE, "current": CURRENT, "resistance": RESISTANCE, "proximity": PROXIMITY}
_PAIRS = (("L1", "L2"), ("L1", "N"), ("L1", "G"), ("L2", "N"), ("L2", "G"), ("N", "G"))
#: How far out an unknown load may lie [standard deviations].
_FARTHEST = 6.0
_HEAVY = ("running", "test_load")


class SeriesTerm(Struct, frozen=True):
    """One resistance on a conductor's path: `exp(unknown)`, or a constant."""

    section: str
    coordinate: int
    """Coordinate of its logarithm; −1: constant."""
    resistance: float
    """The constant [ohm]."""


class Built(Struct, frozen=True, kw_only=True):
    """A compiled hypothesis with the names of what is in it."""

    program: Program
    keys: tuple[Key, ...]
    """Name of each coordinate: the same unknown has the same name in every program."""
    order: tuple[int, ...]
    """The program's reading r is number order[r] of the readings asked for."""
    series: dict[Conductor, tuple[SeriesTerm, ...]]
    """Resistances on the way from the panel, downstream order."""
    shape: tuple[int, ...]
    """Coordinates, elements, readings, and rows of the largest circuit: programs of one shape need the same scratch."""


class _Builder:
    """Collects unknowns and branch elements; the only state is the lists that become arrays."""

    def __init__(self, hypothesis: Hypothesis, scene: Scene, readings: Sequence[SceneReading], priors: Priors) -> None:
        self.hypothesis, self.scene, self.priors = hypothesis, scene, priors
        self.readings = readings
        self.keys: dict[Key, int] = {}
        self.coordinates: list[tuple[int, float, float, float, float]] = []
        self.circuits = sorted({(r.state, r.kind != "resistance") for r in readings})
        self.base = np.zeros((len(self.circuits), net.EDGE_COUNT), np.complex128)
        self.elements: list[tuple[int, int, complex, list[tuple[int, complex]]]] = []
        self.series: dict[Conductor, list[SeriesTerm]] = {"L1": [], "L2": [], "N": [], "G": []}
        self.landing = {"L1": "L1", "L2": "L2", "N": "N", "G": "G"} | dict(hypothesis.landing)
        self.omega = 2.0 * math.pi * scene.supply.frequency
        self.shift = -1
        self.energized = sum(1 << c for c, (_, on) in enumerate(self.circuits) if on)
        self.everywhere = (1 << len(self.circuits)) - 1
        self.connected = sum(1 << c for c, (s, _) in enumerate(self.circuits) if scene.states[s].kind != "disconnected")

    # --- unknowns ---------------------------------------------------------------------------------------

    def normal(self, key: Key, mean: float, deviation: float) -> int:
        return self._coordinate(key, (NORMAL, mean, deviation, 0.0, 0.0))

    def uniform(self, key: Key, low: float, high: float) -> int:
        return self._coordinate(key, (UNIFORM, low, high - low, 0.0, 0.0))

    def truncated(self, key: Key, mean: float, deviation: float, low: float, high: float) -> int:
        below = normal_cdf((low - mean) / deviation)
        width = normal_cdf((high - mean) / deviation) - below
        return self._coordinate(key, (TRUNCATED, mean, deviation, below, width))

    def _coordinate(self, key: Key, law: tuple[int, float, float, float, float]) -> int:
        if key not in self.keys:
            self.keys[key] = len(self.coordinates)
            self.coordinates.append(law)
        return self.keys[key]

    # --- elements ---------------------------------------------------------------------------------------

    def constant(self, a: int, b: int, admittance: complex, mask: int) -> None:
        edge = net.edge_number(a, b)
        for c in range(len(self.circuits)):
            if mask >> c & 1:
                self.base[c, edge] += admittance

    def variable(self, a: int, b: int, mask: int, logarithm: complex, *terms: tuple[int, complex]) -> None:
        if mask:
            self.elements.append((net.edge_number(a, b), mask, logarithm, list(terms)))

    # --- the parts of the circuit -------------------------------------------------------------------------

    def supply(self) -> int:
        p = self.priors
        low, high = (math.log(x) for x in p.supply_range)
        if self.hypothesis.band == "low":
            return self.truncated(("supply", "low"), low, p.low_spread, math.log(p.low_floor), low)
        if self.hypothesis.band == "high":
            return self.truncated(("supply", "high"), high, p.high_spread, high, math.log(p.high_ceiling))
        return self.truncated(("supply", "sound"), math.log(p.supply_center), p.supply_spread, low, high)

    def service(self) -> None:
        p = self.priors
        faults = {s.conductor: s.severity for s in self.hypothesis.series if s.section == "service"}
        for conductor, source, panel in (("L1", net.S1, net.P1), ("L2", net.S2, net.P2)):
            if self.hypothesis.band == "off":
                low, high = (math.log(r) for r in p.breaker_open)
                unknown = self.uniform(("off",), low, high)
                self.variable(source, panel, self.energized, 0j, (unknown, -1.0))
            elif conductor in faults:
                self._series_fault(source, panel, "service", conductor, faults[conductor], self.energized)
            else:
                self.constant(source, panel, 1.0 / p.service_leg_resistance, self.energized)
        if "N" in faults:
            self._weak_service_neutral(faults["N"])
        else:
            self.constant(net.X0, net.PN, 1.0 / p.service_neutral_resistance, self.everywhere)
            self.constant(net.X0, net.PN, 1.0 / p.electrode_resistance, self.everywhere)
        if {"L1", "L2"} & set(faults):
            # What the building has on the lost leg pulls it towards the neutral.
            house = self.normal(("house",), math.log(p.house_resistance), p.house_spread)
            for panel in (net.P1, net.P2):
                self.variable(panel, net.PN, self.energized, 0j, (house, -1.0))

    def _weak_service_neutral(self, severity: str) -> None:
        """The building behind a weak service neutral, reduced to what the panel sees of it (Thevenin).

        The building's own loads shift the panel's neutral by some voltage, and hold it there through the
        parallel of those loads, the grounding electrode and what is left of the neutral.
        """
        p = self.priors
        median, spread = p.open_return if severity == "open" else p.weak_return
        remaining = self.normal(("return", severity), math.log(median), spread)
        self.variable(net.X0, net.PN, self.everywhere, 0j, (remaining, -1.0))
        self.shift = self.normal(("shift", severity), 0.0, p.open_shift if severity == "open" else p.weak_shift)

    def _series_fault(self, a: int, b: int, section: str, conductor: str, severity: str, mask: int) -> int:
        p = self.priors
        if severity == "any":
            low, high = PROBE_RANGE
        elif severity == "open":
            low, high = p.open_resistance, p.open_ceiling
        else:
            sound = p.unexplained_resistance if section != "branch" else explained_resistance(self.scene.supply.run, p)
            low, high = sound, p.open_resistance
        unknown = self.uniform(("fault", section, conductor), math.log(low), math.log(high))
        self.variable(a, b, mask, 0j, (unknown, -1.0))
        return unknown

    def path(self) -> None:
        p = self.priors
        faults = {(s.section, s.conductor): s.severity for s in self.hypothesis.series}
        loaded = any(on and self.scene.states[s].kind in _HEAVY for s, on in self.circuits)
        ohms = [r for r in self.readings if r.kind == "resistance"]
        touched = {c for r in ohms for c in r.conductors}
        if loaded:
            touched |= {"L1", "L2", "N"}
        resistance, spread = sound_run(self.scene.supply.run, p)
        absent = self.scene.supply.equipment_ground == "absent"
        at_terminals = any(r.point == "appliance_terminals" for r in self.readings)
        for conductor in self.series:
            a, b = net.PANEL[conductor], net.RECEPTACLE[conductor]
            if conductor == "G" and absent:
                self.constant(a, b, 1.0 / p.open_ceiling, self.everywhere)
            elif ("branch", conductor) in faults:
                unknown = self._series_fault(a, b, "branch", conductor, faults["branch", conductor], self.everywhere)
                self.series[conductor].append(SeriesTerm("branch", unknown, 0.0))
            elif conductor in touched:
                unknown = self.normal(("run", conductor), math.log(resistance), spread)
                self.variable(a, b, self.everywhere, 0j, (unknown, -1.0))
                self.series[conductor].append(SeriesTerm("branch", unknown, 0.0))
            else:
                self.constant(a, b, 1.0 / resistance, self.everywhere)
                self.series[conductor].append(SeriesTerm("branch", -1, resistance))
            a, b = b, net.TERMINALS[conductor]
            if ("cord", conductor) in faults:
                unknown = self._series_fault(a, b, "cord", conductor, faults["cord", conductor], self.connected)
                self.series[conductor].append(SeriesTerm("cord", unknown, 0.0))
            elif conductor in touched and at_terminals:
                unknown = self.normal(("cord", conductor), math.log(p.cord_resistance), p.cord_spread)
                self.variable(a, b, self.connected, 0j, (unknown, -1.0))
                self.series[conductor].append(SeriesTerm("cord", unknown, 0.0))
            else:
                self.constant(a, b, 1.0 / p.cord_resistance, self.connected)
                self.series[conductor].append(SeriesTerm("cord", -1, p.cord_resistance))

    def strays(self) -> None:
        p = self.priors
        broken = {s.conductor for s in self.hypothesis.series if s.severity != "high" and s.section == "branch"}
        floating = {s.conductor for s in self.hypothesis.series if s.severity != "high" and s.section != "cord"}
        if any(s.section == "service" and s.conductor == "N" for s in self.hypothesis.series):
            floating.discard("N")
        if self.hypothesis.band == "off":
            floating |= {"L1", "L2"}
        at_cord = {s.conductor for s in self.hypothesis.series if s.severity != "high" and s.section == "cord"}
        read = {self.landing[c] for r in self.readings for c in r.conductors}
        run = self.scene.supply.run
        length = p.run_length if run.length is None else run.length
        spread = p.run_length_spread if run.length is None else p.stray_spread
        run_capacitance = math.log(self.omega * p.stray_capacitance * length)
        cord_capacitance = math.log(self.omega * p.cord_stray_capacitance)
        leakage = math.log(p.leakage_resistance)
        contact = math.log(self.omega * p.contact_capacitance)
        for place, nodes, mask, loose, cut, size in (
            ("run", net.RECEPTACLE, self.everywhere, floating, broken, run_capacitance),
            ("wiring", net.TERMINALS, self.connected, at_cord, at_cord, cord_capacitance),
        ):
            for first, second in _PAIRS:
                a, b = nodes[first], nodes[second]
                alternating = mask & self.energized
                # Where nobody reads a floating conductor, its strays are as good as their medians.
                if loose & read and loose & {first, second}:
                    common = self.normal(("strays", place), 0.0, spread)
                    own = self.normal(("stray", place, first, second), 0.0, p.pair_spread)
                    damp = self.normal(("damp", place), 0.0, p.leakage_spread)
                    coupled: list[tuple[int, complex]] = [(common, 1.0), (own, 1.0)]
                    leaking: list[tuple[int, complex]] = [(damp, -1.0), (own, 1.0)]
                    if cut & {first, second} and contact < size:
                        # Beyond the break floats all between a bare contact and the whole of the section.
                        middle = 0.5 * (contact - size)
                        law = middle, -2.0 * p.position_spread * middle, 3.0 * middle, 0.0
                        share = self.truncated(("position", place), *law)
                        coupled.append((share, 1.0))
                        leaking.append((share, p.leakage_share_power))
                    self.variable(a, b, alternating, size + 0.5j * math.pi, *coupled)
                    self.variable(a, b, mask, -leakage, *leaking)
                else:
                    self.constant(a, b, 1j * math.exp(size), alternating)
                    self.constant(a, b, math.exp(-leakage), mask)

    def appliance(self) -> None:
        p = self.priors
        if self.scene.supply.frame_bonded_to_neutral:
            self._load("N", "G", self.connected, complex(-math.log(p.frame_bond_resistance)))
        one_leg = self.scene.supply.system == "single_phase_120"
        seen: set[int] = set()
        for state, _ in self.circuits:
            condition = self.scene.states[state]
            if condition.kind == "disconnected" or state in seen:
                continue
            seen.add(state)
            mask = sum(1 << c for c, (s, _) in enumerate(self.circuits) if s == state)
            for number, load in enumerate(condition.loads):
                unknown = self.normal(
                    ("load", state, number), 0.0, max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3)
                )
                impedance = complex(load.resistance, load.reactance)
                self._load(load.between[0], load.between[1], mask, -cmath.log(impedance), (unknown, -1.0))
            if condition.kind == "test_load" and condition.loads:
                continue
            self._unknown_loads(state, mask, one_leg=one_leg, known=bool(condition.loads))

    def _unknown_loads(self, state: int, mask: int, *, one_leg: bool, known: bool) -> None:
        p = self.priors
        running = self.scene.states[state].kind in _HEAVY
        across = (
            (p.running_resistance, p.running_spread) if running else (p.idle_across_resistance, p.idle_across_spread)
        )
        side = (p.idle_resistance, p.idle_spread)
        if running and known:
            side = (p.running_beside_resistance, p.running_beside_spread)
        elif running:
            side = (p.running_auxiliary_resistance, p.running_auxiliary_spread)
        angle = self.normal(("angle", state), 0.0, p.load_angle)
        pairs = [("L1", "N", side, 1j)] if one_leg else [("L1", "N", side, 1j), ("L2", "N", side, -1j)]
        if not one_leg and not known:
            pairs.append(("L1", "L2", across, 0j))
        for first, second, (resistance, spread), turn in pairs:
            least = p.least_side_resistance if turn else p.least_across_resistance
            median = math.log(resistance)
            ends = math.log(least), median + _FARTHEST * spread
            unknown = self.truncated(("appliance", state, first, second), median, spread, *ends)
            terms: list[tuple[int, complex]] = [(unknown, -1.0)]
            if turn:
                terms.append((angle, turn))
            self._load(first, second, mask, 0j, *terms)

    def _load(self, first: str, second: str, mask: int, logarithm: complex, *terms: tuple[int, complex]) -> None:
        a, b = (net.TERMINALS[self.landing[label]] for label in (first, second))
        self.variable(a, b, mask, logarithm, *terms)

    # --- readings -----------------------------------------------------------------------------------------

    def reading(self, r: SceneReading) -> tuple[int, int, int, complex, int, int, int]:
        """(kind, node a, node b, meter admittance, edge, gain coordinate, neutral asked for) of one reading."""
        nodes = net.NODES[r.point]
        landed = [c if r.point == "service_panel" else self.landing[c] for c in r.conductors]
        meter = self.scene.meters[r.meter] if r.meter >= 0 else None
        gain = -1
        if isinstance(meter, Voltmeter | ClampAmmeter | Ohmmeter) and r.kind != "neutral_during":
            gain = self.normal(("gain", r.meter), 0.0, gain_spread(meter))
        load = 0j
        if isinstance(meter, Voltmeter):
            load = meter_admittance(meter, self.scene.supply.frequency)
        if r.kind == "neutral":
            return VOLTAGE, nodes[landed[0]], net.PN, 0j, -1, -1, net.PN
        if r.kind == "neutral_during":
            neutral = net.PN if r.point == "service_panel" else nodes[self.landing["N"]]
            return NEUTRAL_DURING, nodes[landed[0]], nodes[landed[1]], load, -1, -1, neutral
        if r.kind == "proximity":
            return PROXIMITY, nodes[landed[0]], net.X0, 0j, -1, -1, net.PN
        if r.kind == "current":
            upstream, downstream = self._current_edge(r, landed[0])
            return CURRENT, upstream, downstream, 0j, net.edge_number(upstream, downstream), gain, net.PN
        return _KIND[r.kind], nodes[landed[0]], nodes[landed[1]], load, -1, gain, net.PN

    def _current_edge(self, r: SceneReading, conductor: str) -> tuple[int, int]:
        connected = self.scene.states[r.state].kind != "disconnected"
        if r.point == "service_panel" or not connected:
            return net.PANEL[conductor], net.RECEPTACLE[conductor]
        return net.RECEPTACLE[conductor], net.TERMINALS[conductor]


@lru_cache(maxsize=2048)
def build(hypothesis: Hypothesis, scene: Scene, readings: tuple[SceneReading, ...], priors: Priors = PRIORS) -> Built:
    """Arrays of one hypothesis on one arrangement of readings.

    Nothing here depends on what was read, only on what was asked; so callers pass scenes without values, and
    the arrays of an arrangement that comes again are reused.

    Parameters
    ----------
    hypothesis : Hypothesis
        The state of the supply.
    scene : Scene
        Mirrored already where the hypothesis asks for it; without values.
    readings : tuple of SceneReading
        The readings (and quantities asked for) to predict, without values; not necessarily the scene's own.
    priors : Priors, optional
        The priors in force.

    Returns
    -------
    Built
        The program; its readings are sorted by circuit, see `Built.order`.
    """
    b = _Builder(hypothesis, scene, readings, priors)
    supply = b.supply()
    rows = [b.reading(r) for r in readings]
    own_shift = any(s.section == "service" for s in hypothesis.series)
    lean = [
        b.normal(("lean", state), 0.0, priors.changing_asymmetry if own_shift else priors.leg_asymmetry) if on else -1
        for state, on in b.circuits
    ]
    b.service()
    b.path()
    b.strays()
    b.appliance()
    circuit_of = {pair: c for c, pair in enumerate(b.circuits)}
    where = [circuit_of[r.state, r.kind != "resistance"] for r in readings]
    order = sorted(range(len(readings)), key=lambda i: (where[i], rows[i][1:3], i))
    law = np.array(b.coordinates, dtype=float).reshape(-1, 5)
    tables, which = tabulated([(kind, low, width) for kind, _, _, low, width in b.coordinates])
    terms = [term for element in b.elements for term in element[3]]
    counts = [len(element[3]) for element in b.elements]
    ints, cplx = np.int64, np.complex128
    element_edge = np.array([e[0] for e in b.elements], ints)
    reading_start = np.searchsorted([where[i] for i in order], range(len(b.circuits) + 1)).astype(ints)
    node_a, node_b, through_edge = (np.array([rows[i][k] for i in order], ints) for k in (1, 2, 4))
    program = Program(
        reduced=reduce_circuits(
            b.base,
            element_edge,
            np.array([e[1] for e in b.elements], ints),
            reading_start,
            node_a,
            node_b,
            np.array([rows[i][6] for i in order], ints),
            np.full(len(order), net.PN),
            through_edge,
        ),
        coordinate_kind=law[:, 0].astype(ints),
        location=law[:, 1].copy(),
        scale=law[:, 2].copy(),
        law_tables=tables,
        law=which,
        supply=supply,
        nominal=NOMINAL,
        phasor=np.array(hypothesis.phasors, cplx),
        energized=np.array([on for _, on in b.circuits], ints),
        asymmetry=np.array(lean, ints),
        shift=b.shift,
        element_edge=element_edge,
        every=np.ones_like(element_edge),
        element_log=np.array([e[2] for e in b.elements], cplx),
        term_start=np.concatenate(([0], np.cumsum(counts))).astype(ints),
        term_coordinate=np.array([t[0] for t in terms], ints),
        term_factor=np.array([t[1] for t in terms], cplx),
        reading_start=reading_start,
        reading_kind=np.array([rows[i][0] for i in order], ints),
        node_a=node_a,
        node_b=node_b,
        meter_admittance=np.array([rows[i][3] for i in order], cplx),
        through_edge=through_edge,
        gain=np.array([rows[i][5] for i in order], ints),
    )
    return Built(
        program=program,
        keys=tuple(b.keys),
        order=tuple(order),
        series={c: tuple(t) for c, t in b.series.items()},
        shape=(len(b.keys), len(b.elements), len(order), *rows_of_largest(program)),
    )


def observe(
    scene: Scene, readings: Sequence[SceneReading], order: Sequence[int], *, inconsistent: bool, priors: Priors = PRIORS
) -> Observations:
    """What was read, in a program's order.

    Parameters
    ----------
    scene : Scene
        Its meters set the scatter.
    readings : sequence of SceneReading
        With their values.
    order : sequence of int
        `Built.order`.
    inconsistent : bool
        Count each reading as misread with the share of `readings_inconsistent`.
    priors : Priors, optional
        The priors in force.

    Returns
    -------
    Observations
        Arrays of shape (R,).
    """
    return _in_order(scene, tuple(readings), tuple(order), inconsistent, priors)


@lru_cache(maxsize=64)
def _in_order(
    scene: Scene, readings: tuple[SceneReading, ...], order: tuple[int, ...], inconsistent: bool, priors: Priors
) -> Observations:
    """What was read: most hypotheses have it in one of few orders."""
    whole, rows = _observed(scene, readings, inconsistent, priors), np.array(order, np.int64)
    return Observations._make(column[rows] for column in whole)


@lru_cache(maxsize=32)
def _observed(scene: Scene, readings: tuple[SceneReading, ...], inconsistent: bool, priors: Priors) -> Observations:
    """What was read, in the readings' own order: every hypothesis asks for it, one after another."""
    o = empty_observations(len(readings))
    misread = priors.inconsistent_share if inconsistent else priors.misread_share
    for row, r in enumerate(readings):
        meter = scene.meters[r.meter]
        value = 0.0 if r.value is None else r.value
        o.kind[row], o.value[row] = _KIND[r.kind], value
        if isinstance(meter, ProximityDetector):
            o.floor[row], o.relative[row] = meter.threshold, priors.proximity_steepness
            o.misread[row], o.misread_density[row] = priors.proximity_false_signal, priors.proximity_missed_signal
            if inconsistent:
                o.misread[row] = o.misread_density[row] = 0.4
            continue
        o.floor[row], o.relative[row] = scatter_floor(meter), scatter_relative(meter)
        o.over_range[row] = int(r.over_range)
        o.misread[row] = misread
        if r.kind == "voltage":
            o.misread_density[row] = 1.0 / priors.misread_range_volts
        elif r.kind == "current":
            o.misread_density[row] = 1.0 / priors.misread_range_amperes
        else:
            o.misread_density[row] = 1.0 / (max(value, 0.1) * math.log(10.0) * priors.misread_decades_ohms)
    return o
