"""The generative model once more: what each meter would show, and how probable each reading is.

Plain and slow: the circuit is that of `support.model_circuit`, solved by the second solver; the readings' scatter is
that of `scipy.stats`.
"""

import math
from collections.abc import Mapping

from msgspec import Struct
from scipy import stats

from feedproof.faults.priors import PRIORS
from feedproof.inference import Candidate, Circuits, Name
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
from support.model_circuit import MIDPOINT, PANELS, POINTS, Circuit
from support.network import Branch, Network, Node, capacitor, extended, resistor
from support.solver import branch_current, driving_point_impedance, thevenin, voltmeter_reading

#: Not one circuit that shows what is read: each reading is of one of two, or of none.
NOT_ONE_CIRCUIT = ("intermittent_connection", "tester_dead")


class Neutral(Struct, frozen=True, kw_only=True):
    """The neutral to the panel's grounded point, which is asked for and never read."""

    load_state: str
    point: Point
    during: VoltageReading | None = None
    """While this reading's voltmeter is connected; None: undisturbed."""


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
    site: Candidate, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float], question: Reading | Neutral
) -> Asked:
    """The network of one reading, and what is read of it.

    Parameters
    ----------
    site, circuits : Candidate, Circuits
        What is wrong, and which kind of circuit it stands for: its source's phasors.
    visit : ReadingSet
        Supply, meters and load states.
    values : mapping of Name to float
        Unknowns; one that is missing is at its median.
    question : Reading or Neutral
        What is read; its value is not looked at.
    """
    circuit = Circuit(site, circuits, visit, values, question.load_state)
    network = circuit.network(energized=not isinstance(question, ResistanceReading))
    if isinstance(question, Neutral):
        pair = circuit.contact("N", POINTS[question.point]), ("panel", "G")
        if question.during is None:
            return Asked(kind="ideal", network=network, pair=pair)
        a, b = (circuit.contact(c, POINTS[question.point]) for c in question.during.between)
        own = _meter_branch(_voltmeter(visit, question.during), a, b, visit.supply.frequency)
        return Asked(kind="ideal", network=extended(network, own), pair=pair)
    if isinstance(question, ProximityReading):
        return Asked(
            kind="ideal", network=network, pair=(circuit.contact(question.at, POINTS[question.point]), MIDPOINT)
        )
    gain = 1.0 + _accuracy(visit.meters[question.meter]) * values.get(("gain", question.meter), 0.0)
    if isinstance(question, CurrentReading):
        at_cord = question.point == "appliance_terminals" and circuit.connected
        _, wire = circuit.contact(question.through, "terminals" if at_cord else "receptacle")
        if POINTS[question.point] in PANELS:
            # There one clamps a wire, wherever it lands.
            wire = question.through
        branch = 4 * at_cord + list[str](CONDUCTORS).index(wire)
        ends = network.branches[branch]
        return Asked(kind="current", network=network, pair=(ends.start, ends.end), branch=branch, gain=gain)
    a, b = (circuit.contact(c, POINTS[question.point]) for c in question.between)
    if isinstance(question, ResistanceReading):
        return Asked(kind="resistance", network=network, pair=(a, b), gain=gain)
    own = _meter_branch(_voltmeter(visit, question), a, b, visit.supply.frequency)
    load = 1.0 / sum(branch.admittance for branch in own)
    return Asked(kind="voltage", network=network, pair=(a, b), load=load, gain=gain)


def _accuracy(meter: Meter) -> float:
    """Standard deviation of a meter's common error [1]."""
    if isinstance(meter, ProximityDetector):
        return 0.0
    return max(meter.accuracy_percent / 100.0 / math.sqrt(3.0), 1e-6)


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
    site: Candidate, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float], question: Reading | Neutral
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


def reading_log_likelihood(
    reading: Reading, meter: Meter, shown: float, *, inconsistent: bool, unfed: bool = False
) -> float:
    """Logarithm of the likelihood of one reading where a meter would show so much [nat]."""
    p = PRIORS
    if isinstance(reading, ProximityReading) or isinstance(meter, ProximityDetector):
        if not (isinstance(reading, ProximityReading) and isinstance(meter, ProximityDetector)):
            raise TypeError("a detector signals or does not")
        false, missed = (
            (p.proximity_inconsistent,) * 2 if inconsistent else (p.proximity_false_signal, p.proximity_missed_signal)
        )
        rise = stats.fisk(c=p.proximity_steepness, scale=meter.threshold).cdf(max(shown, 1e-3))
        signals = false + (1.0 - false - missed) * rise
        return math.log(signals if reading.detected else 1.0 - signals)
    misread = p.inconsistent_share if inconsistent else p.unfed_misread_share if unfed else p.misread_share
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


def log_likelihood(site: Candidate, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float]) -> float:
    """Logarithm of the likelihood of all readings [nat]; parameters as of `asked`."""
    inconsistent = site.fault == "readings_inconsistent"
    found = 0.0
    for r in visit.readings:
        shown = expected(site, circuits, visit, values, r)
        found += reading_log_likelihood(
            r, visit.meters[r.meter], shown, inconsistent=inconsistent, unfed=_unfed(site, r, shown)
        )
    return found


def _unfed(site: Candidate, reading: Reading, shown: float) -> bool:
    """Whether a voltmeter shows nothing there, whatever slips: nothing is fed, or the meter is dead."""
    if not isinstance(reading, VoltageReading):
        return False
    beyond = site.fault == "breaker_open" and POINTS[reading.point] not in PANELS
    return beyond or site.fault == "no_supply" or (site.fault == "tester_dead" and shown == 0.0)
