"""What the catalogues list: data of the package and of this installation in the form that goes over the wire."""

import msgspec

from feedproof.advice.texts import Form, Texts, called, caution_texts, in_language
from feedproof.advice.wording import joined, rounded, short_conductor
from feedproof.circuit.conductors import CONDUCTOR_SIZES
from feedproof.circuit.receptacles import HARDWIRED, RECEPTACLES, Receptacle
from feedproof.contract import catalogue as wire
from feedproof.contract import words
from feedproof.contract.assessment import ModelRelease
from feedproof.contract.quantities import DIMENSIONS, QUANTITIES, SMALLEST
from feedproof.faults.catalogue import FAULTS
from feedproof.faults.observations import OBSERVATIONS
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.faults.seen import OBSERVED
from feedproof.instruments.typical import TYPICAL_METERS
from feedproof.parsing import budget
from feedproof.readings import LEG_ANGLES, NOMINAL_BETWEEN_LEGS, NOMINAL_TO_NEUTRAL, Supply, SystemName
from feedproof.settings import Settings

_SYSTEM_MEANINGS: dict[SystemName, str] = {
    "split_phase_120_240": "Two legs of one centre-tapped transformer winding, in opposite phase.",
    "wye_120_208": "Two of the three legs of a 208Y/120 V wye.",
    "single_phase_120": "One leg and the neutral.",
    "high_leg_delta_120_240": (
        "A 240 V delta with one winding centre-tapped. L1 and L2 are taken to be the two 120 V legs."
    ),
}
_TAKES = {
    "voltmeter": "voltage",
    "proximity_detector": "proximity",
    "clamp_ammeter": "current",
    "ohmmeter": "resistance",
}


def faults() -> wire.FaultCatalogue:
    """All faults."""
    return wire.FaultCatalogue(
        faults=msgspec.convert(FAULTS, list[wire.FaultEntry], from_attributes=True),
        model=ModelRelease(version=MODEL_VERSION, priors_digest=priors_digest()),
    )


def cautions(language: str) -> wire.CautionCatalogue:
    """All cautions, in one language; a text that it lacks is given in English."""
    who = called("utility", language)

    def words(texts: Texts) -> str:
        return in_language(texts, language).format(called=who, read="{read}")

    def form(given: Form | None) -> wire.CautionForm | None:
        return None if given is None else wire.CautionForm(title=words(given.title), text=words(given.text))

    return wire.CautionCatalogue(
        language=language,
        cautions=[
            wire.CautionEntry(
                code=caution.code,
                severity=caution.severity,
                title=words(caution.title),
                text=words(caution.text),
                possible=form(caution.possible),
                meanwhile=form(caution.meanwhile),
                shown=form(caution.shown),
                because=in_language(caution.because, language),
                basis=msgspec.convert(caution.basis, list[wire.CautionSource], from_attributes=True),
            )
            for caution in caution_texts()
        ],
    )


def supply_systems() -> wire.SupplySystemCatalogue:
    """All supply systems."""

    def between(system: SystemName) -> wire.Measure | None:
        volts = NOMINAL_BETWEEN_LEGS.get(system)
        return None if volts is None else wire.Measure(value=volts, unit="V")

    return wire.SupplySystemCatalogue(
        supply_systems=[
            wire.SupplySystemEntry(
                name=system,
                meaning=meaning,
                conductors=list(Supply(system=system).conductors),
                legs=[
                    wire.SystemLeg(
                        conductor=leg,
                        voltage=wire.Measure(value=NOMINAL_TO_NEUTRAL, unit="V"),
                        angle=wire.Measure(value=angle, unit="deg"),
                    )
                    for leg, angle in LEG_ANGLES[system].items()
                ],
                between_legs=between(system),
                source="ANSI C84.1 nominal systems (from memory)",
            )
            for system, meaning in _SYSTEM_MEANINGS.items()
        ]
    )


def meters() -> wire.MeterCatalogue:
    """All kinds of meter with their typical figures."""
    return wire.MeterCatalogue(
        meters=[
            wire.MeterEntry(
                name=meter.name,
                kind=meter.kind,
                meaning=meter.meaning,
                reading=_TAKES[meter.kind],
                figures=msgspec.convert(meter.figures, list[wire.TypicalFigure], from_attributes=True),
            )
            for meter in TYPICAL_METERS
        ]
    )


def conductors() -> wire.ConductorCatalogue:
    """All listed conductor sizes; six significant digits."""

    def measure(value: float, unit: str) -> wire.Measure:
        return wire.Measure(value=rounded(value), unit=unit)

    return wire.ConductorCatalogue(
        conductors=[
            wire.ConductorEntry(
                size=size.name,
                area=measure(size.area, "mm2"),
                copper=measure(size.copper, "ohm/km"),
                aluminum=measure(size.aluminum, "ohm/km"),
                source=size.source,
            )
            for size in CONDUCTOR_SIZES
        ]
    )


def _receptacle(receptacle: Receptacle) -> wire.ReceptacleEntry:
    legs = {1: "one leg", 2: "two legs"}[receptacle.legs]
    contacts = joined([legs, *(short_conductor(c) for c in ("N", "G") if c in receptacle.conductors)])
    missing = [short_conductor(c) for c in ("N", "G") if c not in receptacle.conductors]
    locking = "Locking." if receptacle.name.startswith("L") else "Straight blades."
    return wire.ReceptacleEntry(
        code=receptacle.name,
        title=f"{receptacle.voltage}, {receptacle.current:g} A, {contacts}",
        meaning=f"{locking} {' '.join(f'No {word}.' for word in missing)}".strip(),
        limits="A contact is no proof of a conductor behind it; nothing is read to a contact that is not there.",
        voltage=receptacle.voltage,
        current=wire.Measure(value=receptacle.current, unit="A"),
        conductors=list(receptacle.conductors),
        contacts=msgspec.convert(receptacle.contacts, list[wire.ContactEntry], from_attributes=True),
        source=receptacle.source,
    )


def receptacles() -> wire.ReceptacleCatalogue:
    """All receptacles with their contacts, and what stands for none."""
    none = wire.ReceptacleEntry(
        code=HARDWIRED,
        title="No receptacle: wired to the supply",
        meaning="The appliance is wired to its circuit; `receptacle` as a point is its connection box.",
        limits="Which conductors there are is stated by `neutral` and `equipment_ground`.",
        voltage=None,
        current=None,
        conductors=[],
        contacts=[],
        source="a word of this service",
    )
    return wire.ReceptacleCatalogue(receptacles=[*map(_receptacle, RECEPTACLES.values()), none])


def observations() -> wire.ObservationCatalogue:
    """All observations."""
    return wire.ObservationCatalogue(
        observations=[
            wire.ObservationEntry(
                code=seen.code,
                title=seen.title,
                meaning=seen.meaning,
                limits=seen.limits,
                where=list(seen.where),
                likelihoods=[
                    wire.ObservationLikelihood(where=where or None, place=place or None, probability=probability)
                    for (code, where), at in OBSERVED.items()
                    if code == seen.code
                    for place, probability in at.items()
                ],
                source=seen.source,
            )
            for seen in OBSERVATIONS
        ]
    )


def units() -> wire.UnitCatalogue:
    """The closed list of units and every bound."""
    return wire.UnitCatalogue(
        units=[
            wire.UnitEntry(dimension=d.name, unit=d.unit, accepted=list(d.units), pattern=d.pattern) for d in DIMENSIONS
        ],
        bounds=[
            wire.BoundEntry(
                quantity=name,
                dimension=kind.dimension.name,
                low=kind.low,
                high=kind.high,
                unit=kind.dimension.unit,
                why=kind.why,
            )
            for name, kind in QUANTITIES.items()
        ],
        smallest=SMALLEST,
    )


def model() -> wire.ModelDescription:
    """Which model answers, and its base rates."""
    return wire.ModelDescription(
        model=ModelRelease(version=MODEL_VERSION, priors_digest=priors_digest()),
        base_rates={fault.name: fault.base_rate for fault in FAULTS},
    )


def limits(settings: Settings) -> wire.LimitCatalogue:
    """The sizes, times and rates of an installation that a caller may meet."""
    rows = [
        ("body", "The body of one request.", settings.max_body_bytes, "byte", 413),
        ("line", "One line of a batch.", settings.max_line_bytes, "byte", 413),
        ("unpacked", "What a batch that comes as gzip unpacks to.", settings.max_unpacked_bytes, "byte", 413),
        ("head", "Line and headers of one request.", settings.max_head_bytes, "byte", 431),
        ("readings", "Readings of one reading set.", words.MAX_READINGS, "1", 422),
        ("meters", "Meters of one reading set.", words.MAX_METERS, "1", 422),
        ("load_states", "Load states of one reading set.", words.MAX_LOAD_STATES, "1", 422),
        ("loads", "Loads of one load state.", words.MAX_LOADS, "1", 422),
        ("unknowns", budget.UNKNOWNS, budget.MOST_UNKNOWNS, "1", 422),
        ("simulated_unknowns", "The same of a simulation.", budget.MOST_SIMULATED, "1", 422),
        ("work", budget.WORK, budget.MOST_WORK, "1", 422),
        ("observations", "Observations of one reading set.", words.MAX_OBSERVATIONS, "1", 422),
        ("label", "A name of the caller's own.", words.MAX_LABEL, "character", 422),
        ("reference", "The caller's own reference.", words.MAX_REFERENCE, "character", 422),
        ("visit_text", "A text of `visit`.", words.MAX_VISIT_TEXT, "character", 422),
        ("request_time", "From a request's head to its answer, batches excepted.", settings.request_seconds, "s", 500),
        ("silence", "How long nothing of a body may arrive.", settings.idle_seconds, "s", 408),
        ("batch_silence", "The same of a batch.", settings.batch_idle_seconds, "s", 408),
        ("queue", "Requests that wait for a thread of one process.", settings.waiting, "1", 503),
        ("wait", "How long a request may wait for a thread.", settings.queue_seconds, "s", 503),
        ("batches", "Batches that one process answers at once.", settings.max_streams, "1", 503),
        (
            "batches_per_caller",
            "The same of one key, or without keys of one address.",
            settings.max_streams_per_caller,
            "1",
            503,
        ),
        (
            "connections",
            "Connections that one process holds open, one in eight of them for health and metrics.",
            settings.max_connections,
            "1",
            503,
        ),
    ]
    if settings.rate_per_second > 0.0:
        rows += [
            ("rate", "Requests of one key in the long run.", settings.rate_per_second, "1/s", 429),
            ("burst", "Requests of one key at once.", settings.rate_burst, "1", 429),
        ]
    return wire.LimitCatalogue(
        limits=[
            wire.LimitEntry(code=code, meaning=meaning, value=float(value), unit=unit, status=status)
            for code, meaning, value, unit, status in rows
        ]
    )
