"""The answers of the catalogue routes: what each name means, its limits, and its source."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.assessment import ModelRelease, Severity
from feedproof.contract.estimates import ConductorName, Probability
from feedproof.contract.estimates import about as _about

Source = Annotated[str, _about("Where it comes from; says so where it is from memory.", "ANSI C84.1 range A")]
Meaning = Annotated[str, _about("What it means, in words.", "The neutral of the branch circuit is interrupted.")]


class Measure(Struct, frozen=True, kw_only=True):
    """A number with its unit."""

    value: Annotated[float, _about("The number, in `unit`.", 120.0)]
    unit: Annotated[str, _about("Its unit.", "V")]


class FaultEntry(Struct, frozen=True, kw_only=True):
    """One fault that the service can name."""

    name: Annotated[
        str, _about("As answers write it, and as `base_rates` takes it.", "open_neutral", words="FaultCode")
    ]
    meaning: Meaning
    limits: Annotated[str, _about("Where the fault begins and ends.", "1 kΩ or more in series.")]
    source: Source
    conductors: Annotated[
        list[ConductorName], _about("Conductors that it may sit on; empty where it sits on none.", ["N"])
    ]
    base_rate: Annotated[
        float,
        Meta(
            ge=0.0,
            le=1.0,
            description="Share of visits with this fault, before any reading [1]: what `base_rates` stands in for.",
            examples=[0.05],
        ),
    ]


class FaultCatalogue(Struct, frozen=True, kw_only=True):
    """All faults that the service can name."""

    faults: Annotated[list[FaultEntry], _about("The faults. The list may grow.", [])]
    model: Annotated[
        ModelRelease, _about("The model whose base rates these are.", {"version": "1.0.0", "priors_digest": "9f86..."})
    ]


class CautionSource(Struct, frozen=True, kw_only=True):
    """One source of a caution."""

    source: Source
    status: Annotated[
        str,
        _about(
            "How well the source is known: `read`, `secondary` (a copy was read), `memory`, `computed` or `practice`"
            " (there is none).",
            "practice",
        ),
    ]


class CautionForm(Struct, frozen=True, kw_only=True):
    """A caution's words for one kind of case."""

    title: Annotated[str, _about("Short and imperative.", "If the neutral reads 30 V or more: treat it as live")]
    text: Annotated[str, _about("The same in full.", "If the neutral reads 30 V or more, treat it as live.")]


class CautionEntry(Struct, frozen=True, kw_only=True):
    """One caution that the service can give."""

    code: Annotated[str, _about("As answers write it.", "licensed_work", words="CautionCode")]
    severity: Annotated[
        Severity,
        _about(
            "`danger`, `warning` or `notice`, where the hazard is likely or shown; where it is only possible, or only"
            " unproven, a danger is given as a warning.",
            "notice",
        ),
    ]
    title: Annotated[str, _about("What to do, short and imperative.", "Treat the neutral as live")]
    text: Annotated[
        str, _about("The same in full.", "Local codes decide; where they differ from this answer, follow them.")
    ]
    possible: Annotated[
        CautionForm | None, _about("The same where the hazard is only possible. Null: it has no such form.", None)
    ]
    meanwhile: Annotated[
        CautionForm | None,
        _about("The same where the answer names a further reading. Null: it has no such form.", None),
    ]
    because: Annotated[
        str, _about("What sets it off; figures of the job stand in braces.", "The neutral may stand {volts} V high.")
    ]
    basis: Annotated[
        list[CautionSource],
        _about("Its sources.", [{"source": "Common practice, no source", "status": "practice"}]),
    ]


class CautionCatalogue(Struct, frozen=True, kw_only=True):
    """All cautions that the service can give."""

    language: Annotated[str, _about("Language of the texts (BCP 47), chosen by Accept-Language.", "en")]
    cautions: Annotated[list[CautionEntry], _about("The cautions. The list may grow.", [])]


class SystemLeg(Struct, frozen=True, kw_only=True):
    """One leg of a supply system."""

    conductor: Annotated[str, _about("`L1` or `L2`.", "L2", words="ConductorCode")]
    voltage: Annotated[Measure, _about("Nominal, to neutral.", {"value": 120.0, "unit": "V"})]
    angle: Annotated[Measure, _about("Phase against L1.", {"value": 180.0, "unit": "deg"})]


class SupplySystemEntry(Struct, frozen=True, kw_only=True):
    """One supply system."""

    name: Annotated[str, _about("As requests write it.", "split_phase_120_240", words="SupplySystemCode")]
    meaning: Meaning
    conductors: Annotated[list[ConductorName], _about("The conductors at the outlet.", ["L1", "L2", "N", "G"])]
    legs: Annotated[
        list[SystemLeg],
        _about(
            "Its legs.",
            [{"conductor": "L1", "voltage": {"value": 120.0, "unit": "V"}, "angle": {"value": 0.0, "unit": "deg"}}],
        ),
    ]
    between_legs: Annotated[
        Measure | None, _about("Nominal, leg to leg. Null: there is one leg.", {"value": 240.0, "unit": "V"})
    ]
    source: Source


class SupplySystemCatalogue(Struct, frozen=True, kw_only=True):
    """All supply systems that a request can state."""

    supply_systems: Annotated[list[SupplySystemEntry], _about("The systems. The list may grow.", [])]


class TypicalFigure(Struct, frozen=True, kw_only=True):
    """What stands for a figure of a meter that a request leaves out."""

    field: Annotated[str, _about("The field of the request.", "input_impedance")]
    value: Annotated[float, _about("The typical value, in `unit`.", 10e6)]
    unit: Annotated[str, _about("Its unit.", "ohm")]
    basis: Annotated[str, _about("Where it comes from.", "from memory")]


class MeterEntry(Struct, frozen=True, kw_only=True):
    """One common kind of meter."""

    name: Annotated[str, _about("As `next_readings` writes it.", "low_impedance_voltmeter", words="MeterCode")]
    kind: Annotated[str, _about("As requests write it.", "voltmeter")]
    meaning: Meaning
    reading: Annotated[str, _about("The kind of reading that it takes.", "voltage", words="ReadingKind")]
    figures: Annotated[
        list[TypicalFigure],
        _about(
            "Typical figures.",
            [{"field": "input_impedance", "value": 3000.0, "unit": "ohm", "basis": "from memory"}],
        ),
    ]


class MeterCatalogue(Struct, frozen=True, kw_only=True):
    """All kinds of meter, with the figures that stand for what a request leaves out."""

    meters: Annotated[list[MeterEntry], _about("The kinds. The list may grow.", [])]


class ConductorEntry(Struct, frozen=True, kw_only=True):
    """One conductor size."""

    size: Annotated[str, _about("As requests write it.", "6 AWG")]
    area: Annotated[Measure, _about("Cross-section of metal.", {"value": 13.3, "unit": "mm2"})]
    copper: Annotated[
        Measure, _about("Direct-current resistance of copper at 75 degC.", {"value": 1.61, "unit": "ohm/km"})
    ]
    aluminum: Annotated[
        Measure, _about("Direct-current resistance of aluminum at 75 degC.", {"value": 2.65, "unit": "ohm/km"})
    ]
    source: Source


class ConductorCatalogue(Struct, frozen=True, kw_only=True):
    """Conductor sizes with their resistance. Sizes between them are computed."""

    conductors: Annotated[list[ConductorEntry], _about("Thin to thick, gauges before square millimetres.", [])]


class ContactEntry(Struct, frozen=True, kw_only=True):
    """One contact of a receptacle."""

    conductor: Annotated[str, _about("As requests write it.", "N", words="ConductorCode")]
    letter: Annotated[str, _about("Mark of its terminal: X and Y the legs, W the neutral, G the ground.", "W")]
    name: Annotated[str, _about("What it is called, and how it looks.", "neutral contact, silver terminal W")]


class ReceptacleEntry(Struct, frozen=True, kw_only=True):
    """One receptacle that a request can state."""

    code: Annotated[str, _about("As requests write it: a NEMA WD 6 designation, or `hardwired`.", "14-50R")]
    title: Annotated[str, _about("In short.", "125/250 V, 50 A, two legs, neutral and ground")]
    meaning: Meaning
    limits: Annotated[str, _about("What follows for the readings.", "Nothing is read to a contact that is not there.")]
    voltage: Annotated[str | None, _about("Rated voltage. Null: none of its own.", "125/250 V")]
    current: Annotated[Measure | None, _about("Rated current. Null: none of its own.", {"value": 50.0, "unit": "A"})]
    conductors: Annotated[
        list[ConductorName],
        _about("Conductors that have a contact. Empty: those that the request states.", ["L1", "L2", "N", "G"]),
    ]
    contacts: Annotated[list[ContactEntry], _about("Its contacts.", [])]
    source: Source


class ReceptacleCatalogue(Struct, frozen=True, kw_only=True):
    """All receptacles that a request can state."""

    receptacles: Annotated[list[ReceptacleEntry], _about("The receptacles. The list may grow.", [])]


class ObservationLikelihood(Struct, frozen=True, kw_only=True):
    """How probable an observation is where one place is at fault."""

    where: Annotated[
        str | None, _about("Where it was seen, as a request states it. Null: not stated.", "whole_building")
    ]
    place: Annotated[
        str | None, _about("The place at fault. Null: any that is not listed.", "service_neutral", words="PlaceCode")
    ]
    probability: Probability


class ObservationEntry(Struct, frozen=True, kw_only=True):
    """One observation that a request can state."""

    code: Annotated[str, _about("As requests write it.", "lights_brighten_and_dim", words="ObservationWord")]
    title: Annotated[str, _about("In short.", "Lights elsewhere brighten and dim")]
    meaning: Meaning
    limits: Annotated[str, _about("What is not meant, and what it does not tell.", "Not for what was switched off.")]
    where: Annotated[
        list[str],
        _about("What may be said of where it was seen. Empty: that is not asked.", ["same_panel", "whole_building"]),
    ]
    likelihoods: Annotated[
        list[ObservationLikelihood],
        _about(
            "How much it speaks for each place: our own judgment, no measurement.",
            [{"where": None, "place": "service_neutral", "probability": 0.5}],
        ),
    ]
    source: Source


class ObservationCatalogue(Struct, frozen=True, kw_only=True):
    """All observations that a request can state. They shift odds and alone establish nothing."""

    observations: Annotated[list[ObservationEntry], _about("The observations. The list may grow.", [])]


class UnitEntry(Struct, frozen=True, kw_only=True):
    """The units that are accepted for one dimension."""

    dimension: Annotated[str, _about("The physical dimension.", "voltage")]
    unit: Annotated[str, _about("The unit of a bare number.", "V")]
    accepted: Annotated[list[str], _about("Every spelling that is accepted, letter case included.", ["V", "mV"])]
    pattern: Annotated[
        str, _about("Regular expression (ECMA-262) of every string that is accepted.", "^[0-9]{1,12} ?(?:V|mV)$")
    ]


class BoundEntry(Struct, frozen=True, kw_only=True):
    """The bounds outside which one physical input is refused."""

    quantity: Annotated[str, _about("The input.", "read_voltage")]
    dimension: Annotated[str, _about("Its physical dimension.", "voltage")]
    low: Annotated[float, _about("Smallest accepted value, in `unit`.", 0.0)]
    high: Annotated[float, _about("Largest accepted value, in `unit`.", 1000.0)]
    unit: Annotated[str, _about("Unit of both.", "V")]
    why: Annotated[str, _about("Where the bounds come from.", "a magnitude; low voltage ends at 1000 V (IEC 60038)")]


class UnitCatalogue(Struct, frozen=True, kw_only=True):
    """The closed list of units, and the bounds of every physical input."""

    units: Annotated[list[UnitEntry], _about("By dimension.", [])]
    bounds: Annotated[list[BoundEntry], _about("By input.", [])]
    smallest: Annotated[
        float, _about("Magnitudes below it are refused, zero excepted (capacitances excepted), in the unit.", 1e-9)
    ]


class ModelDescription(Struct, frozen=True, kw_only=True):
    """The model that answers."""

    model: Annotated[ModelRelease, _about("Which it is.", {"version": "1.0.0", "priors_digest": "9f86..."})]
    base_rates: Annotated[
        dict[str, float],
        _about(
            "Share of visits with each fault, before any reading [1], as `base_rates` of a request takes them.",
            {"none_found": 0.6, "open_neutral": 0.05},
        ),
    ]


class LimitEntry(Struct, frozen=True, kw_only=True):
    """One size or rate that a caller has to keep to."""

    code: Annotated[str, _about("What is limited.", "body")]
    meaning: Meaning
    value: Annotated[float, _about("The most that is taken, in `unit`.", 262144)]
    unit: Annotated[str, _about("Its unit; `1` for a count.", "byte")]
    status: Annotated[int, _about("HTTP status of what is beyond it.", 413)]


class LimitCatalogue(Struct, frozen=True, kw_only=True):
    """The sizes and rates of this installation. What is not listed is not limited."""

    limits: Annotated[list[LimitEntry], _about("The limits. The list may grow.", [])]
