"""The generative model once more, from its description, to hold the compiled one against.

Plain and slow: the circuit is a list of named branches for the dense reference solver, the unknowns' laws and the
readings' scatter are those of `scipy.stats`. Of the package only the records, the published priors, the conductor
tables and that solver are used; nothing compiled.

Where the inference sets an unknown that hardly matters to its median, this model keeps it: `laws` names every one.
An unknown is known by a key, the same as the inference's where it has the same unknown. A pair of conductors whose own
stray is missing from the values has all of its strays at their medians.
"""

import cmath
import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any

from scipy import stats

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.faults.hypotheses import Hypothesis
from feedproof.faults.priors import PRIORS
from feedproof.inference.scene import Scene, SceneReading
from feedproof.readings import CONDUCTORS, ClampAmmeter, Meter, Ohmmeter, ProximityDetector, Run, Voltmeter
from support.network import Branch, FixedVoltage, Network, Node, capacitor, extended, impedance, resistor
from support.solver import branch_current, driving_point_impedance, thevenin, voltmeter_reading

Key = tuple[str | int, ...]
Law = Any  # a frozen distribution of scipy.stats

NOMINAL = 120.0
MIDPOINT: Node = ("source", "N")
POINTS = {"service_panel": "panel", "receptacle": "receptacle", "appliance_terminals": "terminals"}
PAIRS = tuple(combinations(CONDUCTORS, 2))
ORDER: tuple[str, ...] = CONDUCTORS


def sound_run(run: Run) -> tuple[float, float]:
    """Median [ohm] and logarithmic spread of one sound conductor of the branch circuit."""
    if run.size is None or run.length is None:
        return PRIORS.branch_resistance, PRIORS.branch_spread
    celsius = 30.0 if run.temperature is None else run.temperature
    metal = resistance_per_metre(run.size, run.material or "copper", celsius) * run.length
    return metal + PRIORS.joint_resistance, PRIORS.known_run_spread


def explained(run: Run) -> float:
    """Where `high_resistance` begins [ohm]."""
    if run.size is None or run.length is None:
        return PRIORS.unexplained_resistance
    return PRIORS.known_run_margin * sound_run(run)[0] + PRIORS.known_run_allowance


def lognormal(median: float, spread: float) -> Law:
    """Law of the logarithm of a quantity."""
    return stats.norm(math.log(median), spread)


def log_uniform(low: float, high: float) -> Law:
    """The same where only the ends are known."""
    return stats.uniform(math.log(low), math.log(high) - math.log(low))


def no_less(median: float, spread: float, least: float) -> Law:
    """Law of the logarithm of a resistance that is never below an end."""
    return stats.truncnorm(math.log(least / median) / spread, 6.0, loc=math.log(median), scale=spread)


def _supply_law(band: str) -> Law:
    low, high = (math.log(x) for x in PRIORS.supply_range)
    center, spread, ends = {
        "low": (low, PRIORS.low_spread, (math.log(PRIORS.low_floor), low)),
        "high": (high, PRIORS.high_spread, (high, math.log(PRIORS.high_ceiling))),
    }.get(band, (math.log(PRIORS.supply_center), PRIORS.supply_spread, (low, high)))
    cuts = [(end - center) / spread for end in ends]
    return stats.truncnorm(*cuts, loc=center, scale=spread)


def laws(hypothesis: Hypothesis, scene: Scene) -> dict[Key, Law]:
    """Every unknown of a hypothesis with its law; most are logarithms of a quantity in SI units.

    Parameters
    ----------
    hypothesis : Hypothesis
        The state of the supply.
    scene : Scene
        In its orientation.
    """
    p, run = PRIORS, scene.supply.run
    band = hypothesis.band if hypothesis.band in {"low", "high"} else "sound"
    found: dict[Key, Law] = {("supply", band): _supply_law(band)}
    found |= _fault_laws(hypothesis, scene)
    for m, meter in enumerate(scene.meters):
        if not isinstance(meter, ProximityDetector):
            found["gain", m] = stats.norm(0.0, max(meter.accuracy_percent / 100.0 / math.sqrt(3.0), 1e-6))
    at_service = any(s.section == "service" for s in hypothesis.series)
    for s in range(len(scene.states)):
        found["lean", s] = stats.norm(0.0, p.changing_asymmetry if at_service else p.leg_asymmetry)
    for c in CONDUCTORS:
        found["run", c] = lognormal(*sound_run(run))
        found["cord", c] = lognormal(p.cord_resistance, p.cord_spread)
    for place in ("run", "wiring"):
        found["strays", place] = stats.norm(0.0, p.run_length_spread if run.length is None else p.stray_spread)
        found["damp", place] = stats.norm(0.0, p.leakage_spread)
        for a, b in PAIRS:
            found["stray", place, a, b] = stats.norm(0.0, p.pair_spread)
    for s, state in enumerate(scene.states):
        found |= _appliance_laws(s, scene)
        for number, load in enumerate(state.loads):
            found["load", s, number] = stats.norm(0.0, max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3.0))
    return found


def _fault_laws(hypothesis: Hypothesis, scene: Scene) -> dict[Key, Law]:
    """What only a faulty supply has."""
    p = PRIORS
    found: dict[Key, Law] = {}
    if hypothesis.band == "off":
        found["off",] = log_uniform(*p.breaker_open)
    for fault in hypothesis.series:
        opened = fault.severity == "open"
        if (fault.section, fault.conductor) == ("service", "N"):
            found["return", fault.severity] = lognormal(*(p.open_return if opened else p.weak_return))
            found["shift", fault.severity] = stats.norm(0.0, p.open_shift if opened else p.weak_shift)
            continue
        if fault.section == "service":
            found["house",] = lognormal(p.house_resistance, p.house_spread)
        least = explained(scene.supply.run) if fault.section == "branch" else p.unexplained_resistance
        ends = (p.open_resistance, p.open_ceiling) if opened else (least, p.open_resistance)
        found["fault", fault.section, fault.conductor] = log_uniform(*ends)
    return found


def _appliance_laws(s: int, scene: Scene) -> dict[Key, Law]:
    """What the appliance draws that nobody has stated."""
    p, state = PRIORS, scene.states[s]
    if state.kind == "disconnected" or (state.kind == "test_load" and state.loads):
        return {}
    running = state.kind in {"running", "test_load"}
    side = p.idle_resistance, p.idle_spread
    if running and state.loads:
        side = p.running_beside_resistance, p.running_beside_spread
    elif running:
        side = p.running_auxiliary_resistance, p.running_auxiliary_spread
    across = p.idle_across_resistance, p.idle_across_spread
    if running:
        across = p.running_resistance, p.running_spread
    found: dict[Key, Law] = {("angle", s): stats.norm(0.0, p.load_angle)}
    found["appliance", s, "L1", "N"] = no_less(*side, p.least_side_resistance)
    if scene.supply.system != "single_phase_120":
        found["appliance", s, "L2", "N"] = no_less(*side, p.least_side_resistance)
        if not state.loads:
            found["appliance", s, "L1", "L2"] = no_less(*across, p.least_across_resistance)
    return found


def medians(hypothesis: Hypothesis, scene: Scene) -> dict[Key, float]:
    """Every unknown at its median, but for the strays' own, which are left out."""
    return {key: float(law.median()) for key, law in laws(hypothesis, scene).items() if key[0] != "stray"}


class _Circuit:
    """The branches of one circuit, and which of them carries each conductor's current."""

    def __init__(self, hypothesis: Hypothesis, scene: Scene, values: Mapping[Key, float], state: int) -> None:
        self.hypothesis, self.scene, self.values, self.state = hypothesis, scene, values, state
        self.kind = scene.states[state].kind
        self.connected = self.kind != "disconnected"
        self.landing: dict[str, str] = {**{c: c for c in CONDUCTORS}, **dict(hypothesis.landing)}
        self.faults = {(s.section, s.conductor) for s in hypothesis.series}

    def ohms(self, *key: str | int) -> float:
        return math.exp(self.values[key])

    def series(self, section: str, conductor: str) -> float:
        """Resistance of one section of one conductor [ohm]."""
        if (section, conductor) in self.faults:
            return self.ohms("fault", section, conductor)
        if section == "branch" and conductor == "G" and self.scene.supply.equipment_ground == "absent":
            return PRIORS.open_ceiling
        return self.ohms("run" if section == "branch" else section, conductor)

    def weak_return(self) -> Key | None:
        """The key of what is left to hold the panel's neutral, where the service neutral is at fault."""
        return next((key for key in self.values if key[0] == "return"), None)

    def service(self, *, energized: bool) -> list[Branch]:
        p = PRIORS
        left = self.weak_return()
        holds = [p.service_neutral_resistance, p.electrode_resistance] if left is None else [self.ohms(*left)]
        found = [resistor(MIDPOINT, node("panel", "N"), r) for r in holds]
        if not energized:
            return found
        for leg in ("L1", "L2"):
            ohms = p.service_leg_resistance
            if self.hypothesis.band == "off":
                ohms = self.ohms("off")
            elif ("service", leg) in self.faults:
                ohms = self.ohms("fault", "service", leg)
            found.append(resistor(("source", leg), node("panel", leg), ohms))
        if ("house",) in self.values:
            # What the building has on a lost leg pulls it towards the neutral.
            found += [resistor(node("panel", leg), node("panel", "N"), self.ohms("house")) for leg in ("L1", "L2")]
        return found

    def conductors(self) -> list[Branch]:
        """The run, then the cord; the first four are the run's, the next four the cord's."""
        found = [resistor(node("panel", c), node("receptacle", c), self.series("branch", c)) for c in CONDUCTORS]
        if self.connected:
            found += [resistor(node("receptacle", c), node("terminals", c), self.series("cord", c)) for c in CONDUCTORS]
        return found

    def strays(self, *, energized: bool) -> list[Branch]:
        p, f = PRIORS, self.scene.supply.frequency
        length = p.run_length if self.scene.supply.run.length is None else self.scene.supply.run.length
        places = [("run", "receptacle", p.stray_capacitance * length)]
        if self.connected:
            places.append(("wiring", "terminals", p.cord_stray_capacitance))
        found = []
        for place, at, farad in places:
            for a, b in PAIRS:
                size, leak = 1.0, p.leakage_resistance
                own = self.values.get(("stray", place, a, b))
                if own is not None:
                    # What lies closer has more capacitance, and leaks more.
                    size = math.exp(self.values["strays", place] + own)
                    leak *= math.exp(self.values["damp", place] - own)
                if energized:
                    found.append(capacitor(node(at, a), node(at, b), farad * size, f))
                found.append(resistor(node(at, a), node(at, b), leak))
        return found

    def appliance(self) -> list[Branch]:
        if not self.connected:
            return []
        found = []
        if self.scene.supply.frame_bonded_to_neutral:
            found.append(resistor(self.contact("N"), self.contact("G"), PRIORS.frame_bond_resistance))
        for number, load in enumerate(self.scene.states[self.state].loads):
            z = complex(load.resistance, load.reactance) * math.exp(self.values["load", self.state, number])
            found.append(impedance(self.contact(load.between[0]), self.contact(load.between[1]), z.real, z.imag))
        for a, b, turn in (("L1", "N", -1.0), ("L2", "N", 1.0), ("L1", "L2", 0.0)):
            key = ("appliance", self.state, a, b)
            if key in self.values:
                angle = turn * self.values["angle", self.state]
                z = cmath.rect(math.exp(self.values[key]), angle)
                found.append(impedance(self.contact(a), self.contact(b), z.real, z.imag))
        return found

    def contact(self, label: str) -> Node:
        """The terminal that the appliance's contact of a name is joined to."""
        return node("terminals", self.landing[label])

    def network(self, *, energized: bool) -> Network:
        branches = [
            *self.conductors(),
            *self.service(energized=energized),
            *self.strays(energized=energized),
            *self.appliance(),
        ]
        level = NOMINAL * math.exp(next(v for k, v in self.values.items() if k[0] == "supply"))
        # A weak service neutral lets the building's loads move the legs apart, alike in all load states.
        lean = self.values["lean", self.state] + sum(v for k, v in self.values.items() if k[0] == "shift")
        phasors = [
            complex(z) * level * factor
            for z, factor in zip(self.hypothesis.phasors, (1.0 + lean, 1.0 - lean), strict=True)
        ]
        legs = [FixedVoltage(("source", leg), z) for leg, z in zip(("L1", "L2"), phasors, strict=True)]
        fixed = (FixedVoltage(MIDPOINT, 0j), *(legs if energized else ()))
        return Network(branches=tuple(branches), fixed=fixed)

    def place(self, point: str, label: str) -> Node:
        """Where a probe lands that is put on a label."""
        return node(POINTS[point], label if point == "service_panel" else self.landing[label])


def node(point: str, conductor: str) -> Node:
    """Name of a node; neutral and ground are one at the panel."""
    return (point, "N" if point == "panel" and conductor == "G" else conductor)


def _meter_branch(meter: Voltmeter, a: Node, b: Node, frequency: float) -> list[Branch]:
    found = [resistor(a, b, meter.input_impedance)]
    if meter.input_capacitance > 0.0:
        found.append(capacitor(a, b, meter.input_capacitance, frequency))
    return found


def expected(hypothesis: Hypothesis, scene: Scene, values: Mapping[Key, float], reading: SceneReading) -> float:
    """What a meter would show without random error, its common gain error included [V, A or ohm].

    Parameters
    ----------
    hypothesis : Hypothesis
        The state of the supply.
    scene : Scene
        In its orientation.
    values : mapping of key to float
        Every unknown.
    reading : SceneReading
        What is read; `neutral` and `neutral_during` have no meter's error.
    """
    circuit = _Circuit(hypothesis, scene, values, reading.state)
    network = circuit.network(energized=reading.kind != "resistance")
    places = [circuit.place(reading.point, c) for c in reading.conductors]
    meter = scene.meters[reading.meter] if reading.meter >= 0 else None
    gain = 1.0
    if meter is not None and not isinstance(meter, ProximityDetector):
        gain = math.exp(values["gain", reading.meter])
    if reading.kind == "neutral":
        return abs(thevenin(network, (places[0], node("panel", "N"))).voltage)
    if reading.kind == "proximity":
        return abs(thevenin(network, (places[0], MIDPOINT)).voltage)
    if reading.kind == "current":
        conductor = reading.conductors[0]
        if reading.point == "service_panel" or not circuit.connected:
            upstream = conductor if reading.point == "service_panel" else circuit.landing[conductor]
            position = ORDER.index(upstream)
        else:
            position = 4 + ORDER.index(circuit.landing[conductor])
        return abs(branch_current(network, position)) * gain
    if reading.kind == "resistance":
        return abs(driving_point_impedance(network, (places[0], places[1]))) * gain
    if not isinstance(meter, Voltmeter):
        raise TypeError("a voltage is read with a voltmeter")
    own = _meter_branch(meter, places[0], places[1], scene.supply.frequency)
    if reading.kind == "neutral_during":
        neutral = circuit.place(reading.point, "N")
        return abs(thevenin(extended(network, own), (neutral, node("panel", "N"))).voltage)
    load = 1.0 / sum(branch.admittance for branch in own)
    return voltmeter_reading(thevenin(network, (places[0], places[1])), load) * gain


def scatter(meter: Voltmeter | ClampAmmeter | Ohmmeter, shown: float) -> float:
    """Scale of a reading's own scatter [V, A or ohm]."""
    p = PRIORS
    person = {Voltmeter: p.person_rounding_volts, Ohmmeter: p.lead_resistance}.get(type(meter), 0.0)
    parts = [meter.accuracy_counts * meter.resolution / math.sqrt(3.0), meter.resolution / math.sqrt(12.0), person]
    if not isinstance(meter, Ohmmeter):
        parts.append(p.supply_drift * shown)
    if not isinstance(meter, Voltmeter):
        parts.append(p.person_rounding_relative * shown)
    return math.sqrt(sum(part * part for part in parts))


def reading_log_likelihood(reading: SceneReading, meter: Meter, shown: float, *, inconsistent: bool) -> float:
    """Logarithm of the likelihood of one reading where a meter would show so much [nat]."""
    p, value = PRIORS, reading.value or 0.0
    if isinstance(meter, ProximityDetector):
        false, missed = (0.4, 0.4) if inconsistent else (p.proximity_false_signal, p.proximity_missed_signal)
        rise = stats.fisk(c=p.proximity_steepness, scale=meter.threshold).cdf(max(shown, 1e-3))
        signals = false + (1.0 - false - missed) * rise
        return math.log(signals if value > 0.5 else 1.0 - signals)
    misread = p.inconsistent_share if inconsistent else p.misread_share
    if reading.over_range:
        beyond = stats.fisk(c=20.0, scale=value).cdf(shown)
        return math.log((1.0 - misread) * beyond + 0.5 * misread)
    strange = {
        "voltage": 1.0 / p.misread_range_volts,
        "current": 1.0 / p.misread_range_amperes,
        "resistance": 1.0 / (max(value, 0.1) * math.log(10.0) * p.misread_decades_ohms),
    }[reading.kind]
    core = stats.t(p.tail_degrees, loc=shown, scale=scatter(meter, shown)).pdf(value)
    return math.log((1.0 - misread) * core + misread * strange)


def log_likelihood(
    hypothesis: Hypothesis, scene: Scene, readings: Sequence[SceneReading], values: Mapping[Key, float]
) -> float:
    """Logarithm of the likelihood of all readings [nat]."""
    return sum(
        reading_log_likelihood(
            r,
            scene.meters[r.meter],
            expected(hypothesis, scene, values, r),
            inconsistent=hypothesis.inconsistent,
        )
        for r in readings
    )
