"""The answers of the catalogue routes: what each name means, its limits, and its source."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.assessment import ModelRelease, Severity
from feedproof.contract.estimates import ConductorName, Probability
from feedproof.contract.estimates import about as _about
from feedproof.contract.words import example

Source = Annotated[str, _about("Where it comes from; says so where it is from memory.", "ANSI C84.1 range A")]
Meaning = Annotated[str, _about("What it means, in words.", "The neutral of the branch circuit is interrupted.")]


class Measure(Struct, frozen=True, kw_only=True):
    """A number with its unit."""

    value: Annotated[float, example(120.0)]
    """The number, in `unit`."""
    unit: Annotated[str, example("V")]
    """Its unit."""


class FaultEntry(Struct, frozen=True, kw_only=True):
    """One fault that the service can name."""

    name: Annotated[str, example("open_neutral", words="FaultCode")]
    """As answers write it, and as `base_rates` takes it."""
    meaning: Meaning
    limits: Annotated[str, example("1 kΩ or more in series.")]
    """Where the fault begins and ends."""
    source: Source
    conductors: Annotated[list[ConductorName], example(["N"])]
    """Conductors that it may sit on; empty where it sits on none."""
    base_rate: Annotated[float, Meta(ge=0.0, le=1.0, examples=[0.05])]
    """Share of visits with this fault, before any reading [1]: what `base_rates` stands in for."""


class FaultCatalogue(Struct, frozen=True, kw_only=True):
    """All faults that the service can name."""

    faults: Annotated[list[FaultEntry], example([])]
    """The faults. The list may grow."""
    model: Annotated[ModelRelease, example({"version": "1.0.0", "priors_digest": "9f86..."})]
    """The model whose base rates these are."""


class CautionSource(Struct, frozen=True, kw_only=True):
    """One source of a caution."""

    source: Source
    status: Annotated[str, example("practice")]
    """How well the source is known: `read`, `secondary` (a copy was read), `memory`, `computed` or `practice` (there is
    none)."""


class CautionForm(Struct, frozen=True, kw_only=True):
    """A caution's words for one kind of case."""

    title: Annotated[str, example("If the neutral reads 30 V or more: treat it as live")]
    """Short and imperative."""
    text: Annotated[str, example("If the neutral reads 30 V or more, treat it as live.")]
    """The same in full."""


class CautionEntry(Struct, frozen=True, kw_only=True):
    """One caution that the service can give."""

    code: Annotated[str, example("licensed_work", words="CautionCode")]
    """As answers write it."""
    severity: Annotated[Severity, example("notice")]
    """`danger`, `warning` or `notice`, where the hazard is likely or shown; where it is only possible, or only
    unproven, a danger is given as a warning."""
    title: Annotated[str, example("Treat the neutral as live")]
    """What to do, short and imperative."""
    text: Annotated[str, example("Local codes decide; where they differ from this answer, follow them.")]
    """The same in full."""
    possible: Annotated[CautionForm | None, example(None)]
    """The same where the hazard is only possible. Null: it has no such form."""
    meanwhile: Annotated[CautionForm | None, example(None)]
    """The same where the answer names a further reading. Null: it has no such form."""
    shown: Annotated[CautionForm | None, example(None)] = None
    """The same where a reading shows it; `{read}` stands for that reading. Null: it has no such form."""
    because: Annotated[str, example("The neutral may stand {volts} V high.")]
    """What sets it off; figures of the job stand in braces."""
    basis: Annotated[list[CautionSource], example([{"source": "Common practice, no source", "status": "practice"}])]
    """Its sources."""


class CautionCatalogue(Struct, frozen=True, kw_only=True):
    """All cautions that the service can give."""

    language: Annotated[str, example("en")]
    """Language of the texts (BCP 47), chosen by Accept-Language."""
    cautions: Annotated[list[CautionEntry], example([])]
    """The cautions. The list may grow."""


class SystemLeg(Struct, frozen=True, kw_only=True):
    """One leg of a supply system."""

    conductor: Annotated[str, example("L2", words="ConductorCode")]
    """`L1` or `L2`."""
    voltage: Annotated[Measure, example({"value": 120.0, "unit": "V"})]
    """Nominal, to neutral."""
    angle: Annotated[Measure, example({"value": 180.0, "unit": "deg"})]
    """Phase against L1."""


class SupplySystemEntry(Struct, frozen=True, kw_only=True):
    """One supply system."""

    name: Annotated[str, example("split_phase_120_240", words="SupplySystemCode")]
    """As requests write it."""
    meaning: Meaning
    conductors: Annotated[list[ConductorName], example(["L1", "L2", "N", "G"])]
    """The conductors at the outlet."""
    legs: Annotated[
        list[SystemLeg],
        example(
            [{"conductor": "L1", "voltage": {"value": 120.0, "unit": "V"}, "angle": {"value": 0.0, "unit": "deg"}}]
        ),
    ]
    """Its legs."""
    between_legs: Annotated[Measure | None, example({"value": 240.0, "unit": "V"})]
    """Nominal, leg to leg. Null: there is one leg."""
    source: Source


class SupplySystemCatalogue(Struct, frozen=True, kw_only=True):
    """All supply systems that a request can state."""

    supply_systems: Annotated[list[SupplySystemEntry], example([])]
    """The systems. The list may grow."""


class TypicalFigure(Struct, frozen=True, kw_only=True):
    """What stands for a figure of a meter that a request leaves out."""

    field: Annotated[str, example("input_impedance")]
    """The field of the request."""
    value: Annotated[float, example(10e6)]
    """The typical value, in `unit`."""
    unit: Annotated[str, example("ohm")]
    """Its unit."""
    basis: Annotated[str, example("from memory")]
    """Where it comes from."""


class MeterEntry(Struct, frozen=True, kw_only=True):
    """One common kind of meter."""

    name: Annotated[str, example("low_impedance_voltmeter", words="MeterCode")]
    """As `next_readings` writes it."""
    kind: Annotated[str, example("voltmeter")]
    """As requests write it."""
    meaning: Meaning
    reading: Annotated[str, example("voltage", words="ReadingKind")]
    """The kind of reading that it takes."""
    figures: Annotated[
        list[TypicalFigure],
        example([{"field": "input_impedance", "value": 3000.0, "unit": "ohm", "basis": "from memory"}]),
    ]
    """Typical figures."""


class MeterCatalogue(Struct, frozen=True, kw_only=True):
    """All kinds of meter, with the figures that stand for what a request leaves out."""

    meters: Annotated[list[MeterEntry], example([])]
    """The kinds. The list may grow."""


class ConductorEntry(Struct, frozen=True, kw_only=True):
    """One conductor size."""

    size: Annotated[str, example("6 AWG")]
    """As requests write it."""
    area: Annotated[Measure, example({"value": 13.3, "unit": "mm2"})]
    """Cross-section of metal."""
    copper: Annotated[Measure, example({"value": 1.61, "unit": "ohm/km"})]
    """Direct-current resistance of copper at 75 degC."""
    aluminum: Annotated[Measure, example({"value": 2.65, "unit": "ohm/km"})]
    """Direct-current resistance of aluminum at 75 degC."""
    source: Source


class ConductorCatalogue(Struct, frozen=True, kw_only=True):
    """Conductor sizes with their resistance. Sizes between them are computed."""

    conductors: Annotated[list[ConductorEntry], example([])]
    """Thin to thick, gauges before square millimetres."""


class ContactEntry(Struct, frozen=True, kw_only=True):
    """One contact of a receptacle."""

    conductor: Annotated[str, example("N", words="ConductorCode")]
    """As requests write it."""
    letter: Annotated[str, example("W")]
    """Mark of its terminal: X and Y the legs, W the neutral, G the ground."""
    name: Annotated[str, example("neutral contact, silver terminal W")]
    """What it is called, and how it looks."""


class ReceptacleEntry(Struct, frozen=True, kw_only=True):
    """One receptacle that a request can state."""

    code: Annotated[str, example("14-50R")]
    """As requests write it: a NEMA WD 6 designation, or `hardwired`."""
    title: Annotated[str, example("125/250 V, 50 A, two legs, neutral and ground")]
    """In short."""
    meaning: Meaning
    limits: Annotated[str, example("Nothing is read to a contact that is not there.")]
    """What follows for the readings."""
    voltage: Annotated[str | None, example("125/250 V")]
    """Rated voltage. Null: none of its own."""
    current: Annotated[Measure | None, example({"value": 50.0, "unit": "A"})]
    """Rated current. Null: none of its own."""
    conductors: Annotated[list[ConductorName], example(["L1", "L2", "N", "G"])]
    """Conductors that have a contact. Empty: those that the request states."""
    contacts: Annotated[list[ContactEntry], example([])]
    """Its contacts."""
    source: Source


class ReceptacleCatalogue(Struct, frozen=True, kw_only=True):
    """All receptacles that a request can state."""

    receptacles: Annotated[list[ReceptacleEntry], example([])]
    """The receptacles. The list may grow."""


class ObservationLikelihood(Struct, frozen=True, kw_only=True):
    """How probable an observation is where one place is at fault."""

    where: Annotated[str | None, example("whole_building")]
    """Where it was seen, as a request states it. Null: not stated."""
    place: Annotated[str | None, example("service_neutral", words="PlaceCode")]
    """The place at fault. Null: any that is not listed."""
    probability: Probability


class ObservationEntry(Struct, frozen=True, kw_only=True):
    """One observation that a request can state."""

    code: Annotated[str, example("lights_brighten_and_dim", words="ObservationWord")]
    """As requests write it."""
    title: Annotated[str, example("Lights elsewhere brighten and dim")]
    """In short."""
    meaning: Meaning
    limits: Annotated[str, example("Not for what was switched off.")]
    """What is not meant, and what it does not tell."""
    where: Annotated[list[str], example(["same_panel", "whole_building"])]
    """What may be said of where it was seen. Empty: that is not asked."""
    likelihoods: Annotated[
        list[ObservationLikelihood], example([{"where": None, "place": "service_neutral", "probability": 0.5}])
    ]
    """How much it speaks for each place: our own judgment, no measurement."""
    source: Source


class ObservationCatalogue(Struct, frozen=True, kw_only=True):
    """All observations that a request can state. They shift odds and alone establish nothing."""

    observations: Annotated[list[ObservationEntry], example([])]
    """The observations. The list may grow."""


class UnitEntry(Struct, frozen=True, kw_only=True):
    """The units that are accepted for one dimension."""

    dimension: Annotated[str, example("voltage")]
    """The physical dimension."""
    unit: Annotated[str, example("V")]
    """The unit of a bare number."""
    accepted: Annotated[list[str], example(["V", "mV"])]
    """Every spelling that is accepted, letter case included."""
    pattern: Annotated[str, example("^[0-9]{1,12} ?(?:V|mV)$")]
    """Regular expression (ECMA-262) of every string that is accepted."""


class BoundEntry(Struct, frozen=True, kw_only=True):
    """The bounds outside which one physical input is refused."""

    quantity: Annotated[str, example("read_voltage")]
    """The input."""
    dimension: Annotated[str, example("voltage")]
    """Its physical dimension."""
    low: Annotated[float, example(0.0)]
    """Smallest accepted value, in `unit`."""
    high: Annotated[float, example(1000.0)]
    """Largest accepted value, in `unit`."""
    unit: Annotated[str, example("V")]
    """Unit of both."""
    why: Annotated[str, example("a magnitude; low voltage ends at 1000 V (IEC 60038)")]
    """Where the bounds come from."""


class UnitCatalogue(Struct, frozen=True, kw_only=True):
    """The closed list of units, and the bounds of every physical input."""

    units: Annotated[list[UnitEntry], example([])]
    """By dimension."""
    bounds: Annotated[list[BoundEntry], example([])]
    """By input."""
    smallest: Annotated[float, example(1e-9)]
    """Magnitudes below it are refused, zero excepted (capacitances excepted), in the unit."""


class ModelDescription(Struct, frozen=True, kw_only=True):
    """The model that answers."""

    model: Annotated[ModelRelease, example({"version": "1.0.0", "priors_digest": "9f86..."})]
    """Which it is."""
    base_rates: Annotated[dict[str, float], example({"none_found": 0.6, "open_neutral": 0.05})]
    """Share of visits with each fault, before any reading [1], as `base_rates` of a request takes them."""


class LimitEntry(Struct, frozen=True, kw_only=True):
    """One size or rate that a caller has to keep to."""

    code: Annotated[str, example("body")]
    """What is limited."""
    meaning: Annotated[str, _about("What it means, in words.", "The body of one request.")]
    value: Annotated[float, example(262144)]
    """The most that is taken, in `unit`."""
    unit: Annotated[str, example("byte")]
    """Its unit; `1` for a count."""
    status: Annotated[int, example(413)]
    """HTTP status of what is beyond it."""


class LimitCatalogue(Struct, frozen=True, kw_only=True):
    """The sizes and rates of this installation. What is not listed is not limited, idle connections excepted."""

    limits: Annotated[list[LimitEntry], example([])]
    """The limits. The list may grow."""
