"""What is answered: what the readings say of the supply, and what to do about it.

Every number has its unit beside it or in brackets here. Words from lists that may grow are plain `str`, so that this
client reads the answers of a later service; `feedproof_sdk.names` has those known today. Fields that this client does
not know are passed over.

An answer is a statement about readings, and never that a supply is free of danger.
"""

from msgspec import Struct

from feedproof_sdk.types.answer import Answer


class FaultPart(Struct, frozen=True, kw_only=True):
    """A further fault that is present at the same time."""

    fault: str
    conductor: str | None


class Part(Struct, frozen=True, kw_only=True):
    """A narrower place under the finding's."""

    place: str
    probability: float
    """[1]"""


class Finding(Struct, frozen=True, kw_only=True):
    """Where the trouble is, given these readings: what decides who acts."""

    place: str
    """The narrowest place that holds the probability which the determination asks for."""
    title: str
    """The finding in words."""
    parts: tuple[Part, ...]
    """Narrower places under it, most probable first."""
    degree: str | None
    """`open`, `high_resistance`; None: the readings do not tell, or it has none."""
    degree_probability: float | None
    """Of that degree, given the place [1]."""
    fault: str
    """One of `names.Fault`, or a later one."""
    conductor: str | None
    """`L1`, `L2`, `N` or `G`; None: on none, or on a leg that is not told."""
    location: str | None
    """`upstream_of_<point>`, `between_<point>_and_<point>`; None: the readings do not tell."""
    probability: float
    """Posterior probability of the place and conductor, all degrees together [1]."""
    also: tuple[FaultPart, ...]
    """Further faults of the same finding, where two are present at once."""


class Reason(Struct, frozen=True, kw_only=True):
    """One reason of the confidence."""

    code: str
    text: str
    readings: tuple[int, ...]
    """Indexes into the request's `readings`."""


class Confidence(Struct, frozen=True, kw_only=True):
    """How far the finding can be leaned on, with reasons that a person can act on."""

    level: str
    """One of `names.ConfidenceLevel`."""
    reasons: tuple[Reason, ...]


class Candidate(Struct, frozen=True, kw_only=True):
    """A fault that was considered and has at least 0.1 % of the probability."""

    fault: str
    """One of `names.Fault`, or a later one."""
    conductor: str | None
    place: str
    title: str
    """The fault in words."""
    probability: float
    """Posterior probability of the fault at all of its places, of which `place` is the likeliest [1]."""
    log_evidence: float
    """Natural logarithm of the marginal likelihood of all readings under this fault [nat]."""
    also: tuple[FaultPart, ...]


class Estimate(Struct, frozen=True, kw_only=True):
    """A quantity with its 90 % credible interval."""

    value: float
    """The posterior median, in `unit`."""
    low: float
    high: float
    unit: str
    bound: str
    """One of `names.Bound`: `at_least` and `at_most` where the readings bound it on one side only."""
    limit: float | None
    """The one figure of a one-sided bound, in `unit`; None: it is two-sided."""
    told_by: str
    """`readings`; `prior` where they have not narrowed it: nothing was measured."""
    display: str
    """As a person writes it."""


class NeutralToGround(Estimate, frozen=True, kw_only=True):
    """Voltage of the neutral to the grounded point at the service panel, in one load state."""

    title: str
    load_state: str
    point: str
    during_reading: int | None
    """Index of the low-impedance reading during which it holds; None: with no meter connected."""
    angle: float | None
    """Phase against leg L1 [deg]; None: the readings do not tell."""


class NeutralToEarth(Estimate, frozen=True, kw_only=True):
    """Voltage of the panel's neutral, and of all that is bonded to it, to the transformer's grounded point."""

    title: str
    load_state: str


class BreakPosition(Estimate, frozen=True, kw_only=True):
    """Where along the run a conductor is open: metres from the outlet back to the break."""

    title: str
    conductor: str | None


class Expected(Struct, frozen=True, kw_only=True):
    """The span in which nine of ten such readings fall. For proximity: the chance of a signal."""

    low: float
    high: float


class ConductorResistance(Estimate, frozen=True, kw_only=True):
    """Series resistance of one conductor in one section."""

    title: str
    conductor: str
    point: str
    section: str
    """`branch` (from its panel to the point), `feeder` or `service`."""
    heat: Estimate | None
    """Heat in it at the load current; None: no load current is known."""
    sound: Expected | None
    """What a sound path of this run would have, nine times of ten [ohm]."""


class DetectionLimit(Struct, frozen=True, kw_only=True):
    """The smallest series resistance in a conductor that these readings would have shown."""

    conductor: str
    value: float | None
    """In `unit`; None: not even an open conductor would have shown."""
    unit: str
    meaning: str
    """The same in words."""


class Observed(Struct, frozen=True, kw_only=True):
    """What was read. For a proximity reading, 1 where the detector signalled, else 0."""

    value: float
    """Where `over_range`, no figure that was read but the end of the range, or the least that it may have been."""
    unit: str
    over_range: bool
    """The meter showed OL: what was read lies above `value`."""
    display: str
    """The same in words; "OL" where it is that."""


class ReadingIdentity(Struct, frozen=True, kw_only=True):
    """Which reading it was: the request's own words, so that the answer can be read by itself."""

    kind: str
    conductors: tuple[str, ...]
    point: str
    meter: str
    load_state: str
    load_state_kind: str


class Evidence(Struct, frozen=True, kw_only=True):
    """What one reading says, beside all the others."""

    reading: int
    """Index into the request's `readings`."""
    id: str | None
    """The reading's own; None: the request gives it none."""
    observed: Observed
    expected_if_sound: Expected
    expected_under_finding: Expected
    flag: str
    """Against what a sound supply would have given: `low`, `high`, `as_expected`."""
    bits: float
    """Weight of this reading for the finding against a sound supply [bit]; negative: it speaks against."""
    identity: ReadingIdentity | None
    test_current: float | None
    """Current that a low-impedance voltmeter drew during it [A]."""


class Check(Struct, frozen=True, kw_only=True):
    """Readings that no single circuit can give together."""

    code: str
    readings: tuple[int, ...]
    """Indexes into the request's `readings`."""
    ids: tuple[str | None, ...]
    """Their own ids, in the same order; None for one that has none."""
    text: str


class ReadingToTake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A reading as a request has it, without what is read: `Visit.take` adds that."""

    kind: str
    """`voltage`, `proximity`, `current`, `resistance`, or a later one."""
    between: tuple[str, ...] | None = None
    """The two conductors, for a voltage or a resistance."""
    at: str | None = None
    """The conductor, for proximity."""
    through: str | None = None
    """The conductor, for a current."""
    supply: str | None = None
    """`isolated`, for a resistance."""
    meter: str
    load_state: str
    point: str
    repeats: str | None = None
    """Id of the reading that this one takes again, where it has one."""


class LoadToConnect(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A known load."""

    between: tuple[str, ...]
    resistance: float
    """[ohm]"""
    reactance: float | None = None
    """[ohm]; None: none."""
    tolerance_percent: float
    """[%]"""


class StateToMake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A load state as a request defines it."""

    kind: str
    loads: tuple[LoadToConnect, ...] | None = None


class MeterToFetch(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A common meter as a request defines it; what is left out is taken as typical."""

    kind: str
    input_impedance: float | None = None
    """Of a voltmeter [ohm]."""


class Hazard(Struct, frozen=True, kw_only=True):
    """What can hurt somebody while a reading is taken."""

    code: str
    text: str


class Shown(Struct, frozen=True, kw_only=True):
    """What the meter would show if one place were at fault: four of five readings."""

    place: str
    conductor: str | None
    title: str
    low: float
    """In `unit`."""
    high: float
    """In `unit`."""
    unit: str
    display: str


class _ToTake(Struct, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, and how to take it."""

    id: str
    """The same for the same reading of one visit."""
    title: str
    """What to do, in one line."""
    reading: ReadingToTake | None
    """None: something to look or ask for, see `observation`."""
    observation: str | None
    """One of `names.Observation`, or a later one: where it is so, `Visit.observed` it. None: this is a reading."""
    load_state: StateToMake | None
    """The reading's load state."""
    meter: MeterToFetch | None
    """A common meter that the visit does not list; None: it lists it."""
    steps: tuple[str, ...]
    """How to take it, in order."""


class NextReading(_ToTake, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    meter_kind: str | None
    """One of `names.MeterKind`, or a later one."""
    expect: tuple[Shown, ...]
    """What each of the leading places would show, the most probable first."""
    information: float
    """Expected information about place and who must act [bit]."""
    why: str
    why_code: str
    """The same as a word, see the published document."""
    hazards: tuple[Hazard, ...]


class Caution(Struct, frozen=True, kw_only=True):
    """A caution that applies to this job. Show every one of them."""

    rank: int
    """Place in the order to show them in, 1 first; it says nothing of the severity."""
    code: str
    severity: str
    """One of `names.Severity`."""
    title: str
    """What to do, short, for the top of a screen."""
    text: str
    """The same in full."""
    basis: str
    """Where it comes from."""
    because: str
    """What set it off."""
    because_code: str
    """The same as a word, see the published document."""


class Assumption(Struct, frozen=True, kw_only=True):
    """A value that the request left out and the service filled in."""

    pointer: str
    """JSON pointer to where the request would state it."""
    value: float | str | bool
    unit: str | None
    basis: str


class ModelRelease(Struct, frozen=True, kw_only=True):
    """Which model answered: the same request to the same model gives the same bytes."""

    version: str
    priors_digest: str


class ModelIdentity(ModelRelease, frozen=True, kw_only=True):
    """Which model answered which request."""

    request_digest: str | None
    """SHA-256 of the request in canonical JSON (RFC 8785), hexadecimal."""


class LegVoltage(Struct, frozen=True, kw_only=True):
    """One leg of the supply against the grounded point at the panel."""

    conductor: str
    voltage: float
    """In `unit`."""
    angle: float
    """Phase against leg L1 [deg]."""
    unit: str


class AssessedSupply(Struct, frozen=True, kw_only=True):
    """The supply that the readings were taken to come from."""

    system: str
    frequency: float
    """Line frequency [Hz]."""
    legs: tuple[LegVoltage, ...]


class VisitMeter(Struct, frozen=True, kw_only=True):
    """A meter of the request."""

    name: str
    proved: bool
    """Whether the request states that it was shown to work, both before and after the readings."""


class AssessedVisit(Struct, frozen=True, kw_only=True):
    """The visit as the note heads it: what the request states, in words; None where it states nothing."""

    site: str | None
    appliance: str | None
    """Kind and name, as far as stated."""
    receptacle: str | None
    run: str | None
    """The stated cable of the branch circuit."""
    taken_by: str | None
    taken_at: str | None
    calibration: str | None
    meters: tuple[VisitMeter, ...]
    """The meters of the request, read or not."""


class Assessment(Answer, frozen=True, kw_only=True):
    """What the readings say of the supply, and what to do about it."""

    reference: str | None
    """The request's own."""
    finding: Finding
    """`none_found` is a statement about these readings and their detection limits."""
    determination: str
    """One of `names.Determination`."""
    confidence: Confidence
    candidates: tuple[Candidate, ...]
    """Most probable first."""
    neutral_to_ground: tuple[NeutralToGround, ...]
    """Ground is the grounded point at the panel, not remote earth."""
    resistances: tuple[ConductorResistance, ...]
    detection_limits: tuple[DetectionLimit, ...]
    evidence: tuple[Evidence, ...]
    """Per reading of the request, in its order."""
    checks: tuple[Check, ...]
    next_readings: tuple[NextReading, ...]
    """Most worth taking first, the less hazardous first among near equals; empty: see `next_reason`."""
    disposition: str
    """One of `names.Disposition`."""
    cautions: tuple[Caution, ...]
    """Most severe first. Never empty."""
    assumptions: tuple[Assumption, ...]
    model: ModelIdentity
    supply: AssessedSupply | None
    headline: str
    """What was found, in the one line that a screen shows first."""
    next_action: str
    """What to do first, in one line."""
    refer_to: tuple[str, ...]
    """Who must act: any of `utility`, `electrician`, `technician`."""
    next_reason: str | None
    """One of `names.NextReason`: why there is nothing to read next; None: see `next_readings`."""
    neutral_to_earth: tuple[NeutralToEarth, ...]
    """Per load state; empty behind a generator."""
    break_position: BreakPosition | None
    """Where the run is open, where readings tell."""
    visit: AssessedVisit | None
    """As the request states it, for the head of a note."""
