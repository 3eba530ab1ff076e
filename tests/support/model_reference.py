"""The generative model once more, from its description, to hold the compiled one against.

Plain and slow: the circuit is a list of named branches for the second solver, the unknowns' laws and the readings'
scatter are those of `scipy.stats`. Of the package only the records, the published priors and the conductor tables are
used; nothing compiled. What each fault does to the circuit is stated here once more, from the catalogue's words.

Where an inference sets an unknown that hardly matters to its median, this model keeps it: `laws` names every one, and
an inference's unknowns have the same names. A pair of conductors whose own stray is missing from the values has all of
its strays at their medians.
"""

import cmath
import math
from collections.abc import Mapping

from msgspec import Struct
from scipy import stats

from feedproof.faults.priors import PRIORS
from feedproof.inference import Circuits, Name, Site
from feedproof.readings import (
    CONDUCTORS,
    ClampAmmeter,
    CurrentReading,
    Meter,
    Ohmmeter,
    Point,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    VoltageReading,
    Voltmeter,
)
from support.model_laws import PAIRS, Fault, broken, fault_of, whole_capacitance
from support.network import Branch, FixedVoltage, Network, Node, capacitor, extended, impedance, resistor
from support.solver import branch_current, driving_point_impedance, thevenin, voltmeter_reading

NOMINAL = 120.0
MIDPOINT: Node = ("source", "N")
POINTS = {"service_panel": "panel", "receptacle": "receptacle", "appliance_terminals": "terminals"}
ORDER: tuple[str, ...] = CONDUCTORS


class Neutral(Struct, frozen=True, kw_only=True):
    """The neutral to the panel's grounded point, which is asked for and never read."""

    load_state: str
    point: Point
    during: VoltageReading | None = None
    """While this reading's voltmeter is connected; None: undisturbed."""


class _Circuit:
    """The branches of one circuit, and which of them carries each conductor's current."""

    def __init__(
        self, circuits: Circuits, fault: Fault, visit: ReadingSet, values: Mapping[Name, float], state: str
    ) -> None:
        self.circuits, self.fault, self.visit, self.values, self.state = circuits, fault, visit, values, state
        self.connected = visit.load_states[state].kind != "disconnected"
        self.landing = fault.landing

    def ohms(self, *key: str) -> float:
        return math.exp(self.values[key])

    def series(self, section: str, conductor: str) -> float:
        """Resistance of one section of one conductor [ohm]."""
        if (section, conductor) in self.fault.series:
            return self.ohms("fault", section, conductor)
        if section == "branch" and conductor == "G" and self.visit.supply.equipment_ground == "absent":
            return PRIORS.open_ceiling
        return self.ohms("run" if section == "branch" else section, conductor)

    def weak_return(self) -> Name | None:
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
            if self.fault.band == "off":
                ohms = self.ohms("off")
            elif ("service", leg) in self.fault.series:
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
        p, f = PRIORS, self.visit.supply.frequency
        places = [("run", "receptacle"), *([("wiring", "terminals")] if self.connected else [])]
        found = []
        for place, at in places:
            farad, cut = whole_capacitance(place, self.visit.supply.run), broken(self.fault, place)
            for a, b in PAIRS:
                size, leak = 1.0, p.leakage_resistance
                own = self.values.get(("stray", place, a, b))
                if own is not None:
                    # What lies closer has more capacitance, and leaks more.
                    size = math.exp(self.values["strays", place] + own)
                    leak *= math.exp(self.values["damp", place] - own)
                    if cut & {a, b}:
                        # Only what lies beyond the break floats.
                        part = math.exp(self.values.get(("position", place), 0.0))
                        size, leak = size * part, leak / part**p.leakage_share_power
                if energized:
                    found.append(capacitor(node(at, a), node(at, b), farad * size, f))
                found.append(resistor(node(at, a), node(at, b), leak))
        return found

    def appliance(self) -> list[Branch]:
        if not self.connected:
            return []
        found = []
        if self.visit.supply.frame_bonded_to_neutral:
            found.append(resistor(self.contact("N"), self.contact("G"), PRIORS.frame_bond_resistance))
        for number, load in enumerate(self.visit.load_states[self.state].loads):
            z = complex(load.resistance, load.reactance) * math.exp(self.values["load", self.state, str(number)])
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
            z * level * factor for z, factor in zip(self.circuits.phasors, (1.0 + lean, 1.0 - lean), strict=True)
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


class Asked(Struct, frozen=True, kw_only=True):
    """A circuit with what is asked of it, ready for any solver."""

    kind: str
    """`voltage`, `current`, `resistance`, or `ideal`: a voltage without a meter that reads it."""
    network: Network
    pair: tuple[Node, Node]
    branch: int = -1
    """Of the network, whose current is asked for."""
    load: complex = complex(math.inf)
    """Impedance of the meter across the pair [ohm]."""
    gain: float = 1.0
    """What the meter shows of what it should [1]."""


def asked(
    site: Site, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float], question: Reading | Neutral
) -> Asked:
    """The network of one reading, and what is read of it.

    Parameters
    ----------
    site, circuits : Site, Circuits
        What is wrong, and which kind of circuit it stands for: its source's phasors.
    visit : ReadingSet
        Supply, meters and load states.
    values : mapping of Name to float
        Every unknown.
    question : Reading or Neutral
        What is read; its value is not looked at.
    """
    circuit = _Circuit(circuits, fault_of(site), visit, values, question.load_state)
    network = circuit.network(energized=not isinstance(question, ResistanceReading))
    if isinstance(question, Neutral):
        pair = circuit.place(question.point, "N"), node("panel", "N")
        if question.during is None:
            return Asked(kind="ideal", network=network, pair=pair)
        a, b = (circuit.place(question.point, c) for c in question.during.between)
        own = _meter_branch(_voltmeter(visit, question.during), a, b, visit.supply.frequency)
        return Asked(kind="ideal", network=extended(network, own), pair=pair)
    if isinstance(question, ProximityReading):
        return Asked(kind="ideal", network=network, pair=(circuit.place(question.point, question.at), MIDPOINT))
    gain = math.exp(values["gain", question.meter])
    if isinstance(question, CurrentReading):
        conductor = question.through
        if question.point == "service_panel" or not circuit.connected:
            branch = ORDER.index(conductor if question.point == "service_panel" else circuit.landing[conductor])
        else:
            branch = 4 + ORDER.index(circuit.landing[conductor])
        ends = network.branches[branch]
        return Asked(kind="current", network=network, pair=(ends.start, ends.end), branch=branch, gain=gain)
    a, b = (circuit.place(question.point, c) for c in question.between)
    if isinstance(question, ResistanceReading):
        return Asked(kind="resistance", network=network, pair=(a, b), gain=gain)
    own = _meter_branch(_voltmeter(visit, question), a, b, visit.supply.frequency)
    load = 1.0 / sum(branch.admittance for branch in own)
    return Asked(kind="voltage", network=network, pair=(a, b), load=load, gain=gain)


def _voltmeter(visit: ReadingSet, reading: VoltageReading) -> Voltmeter:
    meter = visit.meters[reading.meter]
    if not isinstance(meter, Voltmeter):
        raise TypeError("a voltage is read with a voltmeter")
    return meter


def solved(question: Asked) -> float:
    """What is read, by the second solver [V, A or ohm]."""
    if question.kind == "current":
        return abs(branch_current(question.network, question.branch)) * question.gain
    if question.kind == "resistance":
        return abs(driving_point_impedance(question.network, question.pair)) * question.gain
    return voltmeter_reading(thevenin(question.network, question.pair), question.load) * question.gain


def expected(
    site: Site, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float], question: Reading | Neutral
) -> float:
    """What a meter would show without random error, its common gain error included; see `asked` [V, A or ohm]."""
    return solved(asked(site, circuits, visit, values, question))


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


def reading_log_likelihood(reading: Reading, meter: Meter, shown: float, *, inconsistent: bool) -> float:
    """Logarithm of the likelihood of one reading where a meter would show so much [nat]."""
    p = PRIORS
    if isinstance(reading, ProximityReading) or isinstance(meter, ProximityDetector):
        if not (isinstance(reading, ProximityReading) and isinstance(meter, ProximityDetector)):
            raise TypeError("a detector signals or does not")
        false, missed = (0.4, 0.4) if inconsistent else (p.proximity_false_signal, p.proximity_missed_signal)
        rise = stats.fisk(c=p.proximity_steepness, scale=meter.threshold).cdf(max(shown, 1e-3))
        signals = false + (1.0 - false - missed) * rise
        return math.log(signals if reading.detected else 1.0 - signals)
    misread = p.inconsistent_share if inconsistent else p.misread_share
    value = reading.value
    if isinstance(reading, ResistanceReading):
        if reading.over_range:
            beyond = stats.fisk(c=20.0, scale=value).cdf(shown)
            return math.log((1.0 - misread) * beyond + 0.5 * misread)
        strange = 1.0 / (max(value, 0.1) * math.log(10.0) * p.misread_decades_ohms)
    else:
        strange = 1.0 / (p.misread_range_volts if isinstance(reading, VoltageReading) else p.misread_range_amperes)
    core = stats.t(p.tail_degrees, loc=shown, scale=scatter(meter, shown)).pdf(value)
    return math.log((1.0 - misread) * core + misread * strange)


def log_likelihood(site: Site, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float]) -> float:
    """Logarithm of the likelihood of all readings [nat]; parameters as of `asked`."""
    inconsistent = fault_of(site).inconsistent
    return sum(
        reading_log_likelihood(
            r, visit.meters[r.meter], expected(site, circuits, visit, values, r), inconsistent=inconsistent
        )
        for r in visit.readings
    )
