"""What the inference hands to whoever calls it: numbers and names, no wording, and nothing of how they were found.

All of it is in the request's own conductors, labels and indexes, and in SI units. The functions that give it stand in
`feedproof.inference`; an engine behind them may be of any kind.
"""

from collections.abc import Hashable, Mapping
from typing import NamedTuple, Protocol

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from feedproof.readings import Conductor, Load, Point, ReadingSet

Part = tuple[str, Conductor | None]
"""A fault by its name, and its conductor."""
Name = tuple[str, ...]
"""Of an unknown of the circuit: what it is, then the conductors, load states or meters that it belongs to. The same
unknown has the same name at every site and in every reading set."""
NEUTRAL_IN_DOUBT = 0.05
"""From this probability of a bad neutral upstream on nothing is plugged in: every frame may be live [1]."""
_LEAST_OHMS = 0.1
"""Resistances below this are one: an ohmmeter's leads and contacts have as much [ohm]."""


class Site(Struct, frozen=True, kw_only=True):
    """What may be wrong with a supply, and where: what an inference weighs."""

    fault: str
    """Name in `feedproof.faults.catalogue`."""
    conductor: Conductor | None
    location: str | None
    """Stretch of the path between two points that were read, or upstream of the first."""
    also: tuple[Part, ...]
    """The second fault of a pair."""

    @property
    def parts(self) -> frozenset[Part]:
        """Every fault that is there, with its conductor."""
        return frozenset({(self.fault, self.conductor), *self.also})


class Interval(Struct, frozen=True, kw_only=True):
    """Posterior median and 90 % credible interval of one quantity."""

    value: float
    low: float
    high: float
    bound: str
    """`two_sided`, `at_least` or `at_most`."""


class Candidate(Site, frozen=True, kw_only=True):
    """A site with what the readings say of it."""

    base_rate: float
    """Before any reading; over all candidates they sum to 1 [1]."""
    probability: float
    """After all readings; over all candidates they sum to 1 [1]."""
    place: str = ""
    """Narrowest place of the tree."""
    also_place: str | None = None
    """Place of the second fault of a pair."""
    degree: str | None = None
    """`open`, `high_resistance`; None: it has none."""
    log_evidence: float
    """Logarithm of the likelihood of all readings, integrated over all that is unknown at this site [nat]."""


class NeutralVoltage(Struct, frozen=True, kw_only=True):
    """Neutral to the grounded point at the panel [V]."""

    load_state: str
    point: Point
    during_reading: int | None
    interval: Interval
    told_by: str = "readings"
    """`readings`, or `prior` where they have not narrowed it."""


class PathResistance(Struct, frozen=True, kw_only=True):
    """Series resistance from panel to point [ohm], and the heat in it [W] at a known load current."""

    conductor: Conductor
    point: Point
    interval: Interval
    heat: Interval | None
    sound: tuple[float, float] | None = None
    """Prior 90 % span of a sound path of this run [ohm]."""
    section: str = "branch"
    """`branch` (from the panel to the point), `feeder` or `service`."""
    told_by: str = "readings"
    """`readings`, or `prior` where they have not narrowed it."""


class EarthVoltage(Struct, frozen=True, kw_only=True):
    """Neutral, and all that is bonded to it, to the transformer's grounded point [V]."""

    load_state: str
    interval: Interval
    told_by: str = "readings"
    """`readings`, or `prior` where they have not narrowed it."""


class BreakPosition(Struct, frozen=True, kw_only=True):
    """How much of the run floats behind an open: metres from the outlet back to the break [m]."""

    conductor: Conductor | None
    interval: Interval


class Limit(Struct, frozen=True, kw_only=True):
    """Smallest series resistance that would have shown [ohm]; None: nothing would have."""

    conductor: Conductor
    resistance: float | None


class ReadingEvidence(Struct, frozen=True, kw_only=True):
    """One reading against a sound supply and against the finding."""

    reading: int
    observed: float
    unit: str
    sound: tuple[float, float]
    finding: tuple[float, float]
    bits: float
    test_current: float | None = None
    """Current drawn by a low-impedance voltmeter during the reading [A]."""
    over_range: bool = False
    """What was read lies above `observed`, no one knows how far."""

    def far_outside(self, grace: float = 0.0) -> bool:
        """Whether it lies farther outside what the finding gives, nine times of ten, than that is wide.

        Parameters
        ----------
        grace : float
            So much more [V, A, ohm].
        """
        low, high = self.finding
        if self.unit == "1":  # of a proximity detector, the finding gives a chance
            return False
        if self.unit == "ohm":
            # Resistances spread over decades: what counts is how many times as wide.
            low, high = max(low, _LEAST_OHMS), max(high, _LEAST_OHMS)
            low, high = low * (low / high), high * (high / low)
        else:
            low, high = low - (high - low), high + (high - low)
        return self.observed > high + grace or (self.observed < low - grace and not self.over_range)


class Expectation(Struct, frozen=True, kw_only=True):
    """What a reading would show at one place: the middle 80 % of what is still possible [V, A or ohm]."""

    place: str
    conductor: Conductor | None
    low: float
    high: float


class Prospect(Struct, frozen=True, kw_only=True):
    """A reading that could be taken next, or something to look or ask for, with its expected information."""

    kind: str
    """Of a reading; or `observation`, and then only `observation` and `information` say something."""
    conductors: tuple[Conductor, ...]
    """Two for a voltage or a resistance, one for proximity and current."""
    point: Point
    meter: str | None
    """Name of the caller's meter; None where it is one of the common kinds."""
    meter_kind: str
    """`high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`."""
    load_state: str
    load_state_kind: str
    loads: tuple[Load, ...] = ()
    """Known loads of the state."""
    state_is_new: bool = False
    """The request does not define it."""
    information: float
    """Mutual information between what decides the action and the reading [bit]."""
    separates: tuple[Part, Part] | None
    """The two places that it tells apart best, most probable first."""
    repeats: int | None = None
    """Index of the request's reading that it takes again."""
    expected: tuple[Expectation, ...] = ()
    """At the leading places."""
    observation: str | None = None
    """Code of what to look or ask for."""


class Hazards(Struct, frozen=True, kw_only=True):
    """Posterior probabilities over all faults of what can hurt a person [1]."""

    neutral_above_30_volts: float
    """The neutral stands above 30 V to ground in some load state, or would with the appliance connected."""
    neutral_fault: float
    """The branch neutral is open or of high resistance."""
    service_neutral_fault: float
    frame_live: float
    """The frame may be live: bonded to a faulty neutral, ground transposed, or ground open beside a fault."""
    heat_above_5_watts: float
    heat_above_30_watts: float
    leg_live: float
    """At least one leg is live."""
    feeder_neutral_fault: float = 0.0
    earth_above_30_volts: float = 0.0
    """The panel's neutral, and every frame bonded to it, stands above 30 V to earth."""
    ground_open: float = 0.0
    """The equipment ground does not lead to the source."""
    ground_current: float = 0.0
    """Load current flows on the equipment ground."""
    false_ground: float = 0.0
    """Neutral and ground are joined beyond the panel."""


class Outcome(Struct, frozen=True, kw_only=True):
    """All that was inferred from one reading set."""

    candidates: tuple[Candidate, ...]
    """Sorted, most probable first; the first is the finding. All of them, also the improbable."""
    neutral_voltages: tuple[NeutralVoltage, ...]
    resistances: tuple[PathResistance, ...]
    limits: tuple[Limit, ...]
    evidence: tuple[ReadingEvidence, ...]
    prospects: tuple[Prospect, ...]
    """Sorted, most worth taking first, hazard already weighed."""
    hazards: Hazards
    earth_voltages: tuple[EarthVoltage, ...] = ()
    break_position: BreakPosition | None = None
    unexplained: tuple[int, ...] = ()
    """Readings that the finding itself does not explain: outside what it lets one expect, all but one in a thousand."""


class Truth(Site, frozen=True, kw_only=True):
    """One circuit, with what an outcome estimates of it."""

    fault_resistances: tuple[float | None, ...]
    """Series resistance of the fault, and of each of `also` [ohm]; None: it has none. Of a service neutral what is left
    to hold the panel's neutral."""
    resistances: dict[tuple[Conductor, Point], float]
    """From the panel to the point that `Outcome.resistances` speaks of; of the service up to its panel, of a feeder up
    to the sub-panel [ohm]."""
    neutral_voltages: dict[tuple[str, Point, int | None], float]
    """Neutral to the panel's grounded point by load state, point and, while a voltmeter is connected, index of its
    reading [V]."""


class Circuits(Protocol):
    """The circuits that a site may stand for, as a prior over the unit cube, and the readings' likelihood over it.

    Each unknown of a circuit is a function of one coordinate that is uniform between 0 and 1 before any reading.
    """

    @property
    def share(self) -> float:
        """Of the site's base rate, where a site has several kinds of circuit; they sum to 1 [1]."""

    @property
    def phasors(self) -> tuple[complex, complex]:
        """Voltages of L1 and L2 at the source, relative to the nominal leg voltage [1]."""

    @property
    def contacts_open(self) -> bool:
        """Whether the appliance has nothing connected while it is idle."""

    @property
    def names(self) -> tuple[Name, ...]:
        """The unknowns, in the order of the coordinates."""

    def log_likelihood(self, cube: NDArray[np.float64]) -> float:
        """Logarithm of the likelihood of all readings at coordinates of shape (len(names),) [nat]."""

    def values(self, cube: NDArray[np.float64]) -> dict[Name, float]:
        """Each unknown at coordinates of shape (len(names),): standard normal, but for a severity [ln ohm]."""

    def shown(self, values: Mapping[Name, float]) -> tuple[float, ...]:
        """What each reading's meter would show without random error [V, A or ohm].

        Parameters
        ----------
        values : mapping of Name to float
            Unknowns; those that are missing are at their medians [1].

        Raises
        ------
        ValueError
            If a value lies outside its unknown's law, or no unknown has that name.
        """

    def truth(self, values: Mapping[Name, float]) -> Truth:
        """The circuit that these unknowns make; what else a quantity of it hangs on is at its median.

        Parameters
        ----------
        values : mapping of Name to float
            As `shown` takes them [1].
        """


class Likeness(NamedTuple):
    """What makes two reading sets alike to the inference."""

    arrangement: Hashable
    """Equal: the same is read of the same circuit with the same meters. What was prepared for one serves the other."""
    content: Hashable
    """Equal: the same was read too, and base rates are the same. Their outcomes differ in labels and order only."""


class Simulation(Struct, frozen=True, kw_only=True):
    """A stated fault on a stated circuit, and the readings to take of it."""

    fault: str
    conductor: Conductor | None = None
    location: str | None = None
    resistance: float | None = None
    """Series resistance of the fault [ohm]; None: the middle of what its name covers."""
    supply_voltage: float | None = None
    """Leg to grounded point at the source [V]; None: the usual one."""
    readings: ReadingSet
    """Supply, meters, load states, and the readings to take; their values are not looked at."""
    seed: int | None = None
    """With a seed: unknown parts of the circuit, meter errors and the reader's scatter are drawn. Without:
    everything at its median, and what an errorless meter shows."""
