"""What each name means, its limits, and its source. Every list may grow."""

from msgspec import Struct

from feedproof_sdk.types.answer import Answer
from feedproof_sdk.types.assessment import ModelRelease


class Measure(Struct, frozen=True, kw_only=True):
    """A number with its unit."""

    value: float
    unit: str


class FaultEntry(Struct, frozen=True, kw_only=True):
    """One fault that the service can name."""

    name: str
    meaning: str
    limits: str
    source: str
    conductors: tuple[str, ...]
    base_rate: float
    """Share of visits with this fault, before any reading [1]: what `base_rates` stands in for."""


class FaultCatalogue(Answer, frozen=True, kw_only=True):
    """All faults that the service can name."""

    faults: tuple[FaultEntry, ...]
    model: ModelRelease


class CautionSource(Struct, frozen=True, kw_only=True):
    """One source of a caution."""

    source: str
    status: str
    """How well the source is known: `read`, `secondary`, `memory`, `computed` or `practice`."""


class CautionForm(Struct, frozen=True, kw_only=True):
    """A caution's words for one kind of case."""

    title: str
    text: str


class CautionEntry(Struct, frozen=True, kw_only=True):
    """One caution that the service can give."""

    code: str
    severity: str
    """Where the hazard is likely or shown; where it is only possible, a danger is given as a warning."""
    title: str
    text: str
    possible: CautionForm | None
    """The same where the hazard is only possible."""
    meanwhile: CautionForm | None
    """The same where the answer names a further reading."""
    shown: CautionForm | None
    """The same where a reading shows it, with `{read}` for that reading."""
    because: str
    """What sets it off; figures of the job stand in braces."""
    basis: tuple[CautionSource, ...]


class CautionCatalogue(Answer, frozen=True, kw_only=True):
    """All cautions that the service can give."""

    language: str
    """Language of the texts (BCP 47)."""
    cautions: tuple[CautionEntry, ...]


class SystemLeg(Struct, frozen=True, kw_only=True):
    """One leg of a supply system."""

    conductor: str
    voltage: Measure
    """Nominal, to neutral."""
    angle: Measure
    """Phase against L1."""


class SupplySystemEntry(Struct, frozen=True, kw_only=True):
    """One supply system."""

    name: str
    meaning: str
    conductors: tuple[str, ...]
    legs: tuple[SystemLeg, ...]
    between_legs: Measure | None
    """Nominal, leg to leg; None: there is one leg."""
    source: str


class SupplySystemCatalogue(Answer, frozen=True, kw_only=True):
    """All supply systems that a request can state."""

    supply_systems: tuple[SupplySystemEntry, ...]


class TypicalFigure(Struct, frozen=True, kw_only=True):
    """What stands for a figure of a meter that a request leaves out."""

    field: str
    value: float
    unit: str
    basis: str


class MeterEntry(Struct, frozen=True, kw_only=True):
    """One common kind of meter."""

    name: str
    """As `next_readings` writes it."""
    kind: str
    """As requests write it."""
    meaning: str
    reading: str
    """The kind of reading that it takes."""
    figures: tuple[TypicalFigure, ...]


class MeterCatalogue(Answer, frozen=True, kw_only=True):
    """All kinds of meter, with the figures that stand for what a request leaves out."""

    meters: tuple[MeterEntry, ...]


class ConductorEntry(Struct, frozen=True, kw_only=True):
    """One conductor size."""

    size: str
    area: Measure
    copper: Measure
    """Direct-current resistance at 75 degC."""
    aluminum: Measure
    """Direct-current resistance at 75 degC."""
    source: str


class ConductorCatalogue(Answer, frozen=True, kw_only=True):
    """Conductor sizes with their resistance. The service also takes sizes between them."""

    conductors: tuple[ConductorEntry, ...]


class ContactEntry(Struct, frozen=True, kw_only=True):
    """One contact of a receptacle."""

    conductor: str
    letter: str
    """Mark of its terminal: X and Y the legs, W the neutral, G the ground."""
    name: str


class ReceptacleEntry(Struct, frozen=True, kw_only=True):
    """One receptacle that a reading set can state."""

    code: str
    title: str
    meaning: str
    limits: str
    voltage: str | None
    """Rated; None: none of its own."""
    current: Measure | None
    """Rated; None: none of its own."""
    conductors: tuple[str, ...]
    """Those that have a contact; empty: those that the reading set states."""
    contacts: tuple[ContactEntry, ...]
    source: str


class ReceptacleCatalogue(Answer, frozen=True, kw_only=True):
    """All receptacles that a reading set can state."""

    receptacles: tuple[ReceptacleEntry, ...]


class ObservationLikelihood(Struct, frozen=True, kw_only=True):
    """How probable an observation is where one place is at fault."""

    where: str | None
    """Where it was seen; None: not stated."""
    place: str | None
    """None: any place that is not listed."""
    probability: float
    """[1]"""


class ObservationEntry(Struct, frozen=True, kw_only=True):
    """One observation that a reading set can state."""

    code: str
    title: str
    meaning: str
    limits: str
    where: tuple[str, ...]
    """What may be said of where it was seen; empty: that is not asked."""
    likelihoods: tuple[ObservationLikelihood, ...]
    """How much it speaks for each place: the service's own judgment."""
    source: str


class ObservationCatalogue(Answer, frozen=True, kw_only=True):
    """All observations that a reading set can state."""

    observations: tuple[ObservationEntry, ...]


class UnitEntry(Struct, frozen=True, kw_only=True):
    """The units that are accepted for one dimension."""

    dimension: str
    unit: str
    """The unit of a bare number."""
    accepted: tuple[str, ...]
    pattern: str
    """Regular expression (ECMA-262) of every string that is accepted."""


class BoundEntry(Struct, frozen=True, kw_only=True):
    """The bounds outside which one physical input is refused."""

    quantity: str
    dimension: str
    low: float
    high: float
    unit: str
    why: str


class UnitCatalogue(Answer, frozen=True, kw_only=True):
    """The closed list of units, and the bounds of every physical input."""

    units: tuple[UnitEntry, ...]
    bounds: tuple[BoundEntry, ...]
    smallest: float
    """Magnitudes below it are refused, zero and capacitances excepted, in the unit of the field."""


class ModelDescription(Answer, frozen=True, kw_only=True):
    """The model that answers."""

    model: ModelRelease
    base_rates: dict[str, float]
    """Share of visits with each fault, before any reading [1], as `base_rates` of a reading set takes them."""


class LimitEntry(Struct, frozen=True, kw_only=True):
    """One size or rate to keep to."""

    code: str
    meaning: str
    value: float
    """The most that is taken, in `unit`."""
    unit: str
    status: int
    """HTTP status of what is beyond it."""


class LimitCatalogue(Answer, frozen=True, kw_only=True):
    """The sizes and rates of an installation. What is not listed is not limited, idle connections excepted."""

    limits: tuple[LimitEntry, ...]
