"""What the inference hands to the advice layer: numbers and names, no wording."""

from msgspec import Struct

from feedproof.readings import Conductor, Point


class Interval(Struct, frozen=True, kw_only=True):
    """Posterior median and 90 % credible interval of one quantity."""

    value: float
    low: float
    high: float
    bound: str
    """`two_sided`, `at_least` or `at_most`."""


class Candidate(Struct, frozen=True, kw_only=True):
    """One fault (with its conductor, its place and a second fault, where it has them)."""

    fault: str
    conductor: Conductor | None
    location: str | None
    also: tuple[tuple[str, Conductor | None], ...]
    """(fault, conductor) of the second fault of a pair."""
    probability: float
    log_evidence: float
    """[nat]"""


class NeutralVoltage(Struct, frozen=True, kw_only=True):
    """Neutral to the grounded point at the panel [V]."""

    load_state: str
    point: Point
    during_reading: int | None
    interval: Interval
    angle: float | None = None
    """Phase of the neutral against leg L1 [deg]; None: the posterior does not tell the side."""


class PathResistance(Struct, frozen=True, kw_only=True):
    """Series resistance from panel to point [ohm], and the heat in it [W] at a known load current."""

    conductor: Conductor
    point: Point
    interval: Interval
    heat: Interval | None
    sound: tuple[float, float] | None = None
    """Prior 90 % span of a sound path of this run [ohm]."""


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


class Prospect(Struct, frozen=True, kw_only=True):
    """A reading that could be taken next, with its expected information."""

    kind: str
    conductors: tuple[Conductor, ...]
    """Two for a voltage or a resistance, one for proximity and current."""
    point: Point
    meter: str | None
    """Name of the caller's meter; None where it is one of the common kinds."""
    meter_kind: str
    """`high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`."""
    load_state: str
    load_state_kind: str
    information: float
    """Mutual information between fault and reading [bit]."""
    separates: tuple[tuple[str, Conductor | None], tuple[str, Conductor | None]] | None
    """The two faults that it tells apart best, most probable first."""


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
