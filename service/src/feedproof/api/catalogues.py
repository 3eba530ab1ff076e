"""The catalogue routes: data of the package, encoded once, with validators so that clients can keep them.

References
----------
RFC 9110, HTTP Semantics, 8.8.3 (ETag), 13.1.2 (If-None-Match), 15.4.5 (304).
"""

import hashlib
from collections.abc import Callable
from functools import cache

import msgspec
from litestar import Response, get
from litestar.exceptions import HTTPException
from msgspec import Struct

from feedproof.advice.texts import caution_texts, in_language, offered_languages
from feedproof.api.bodies import AnyRequest
from feedproof.api.negotiation import best_language, best_media_type
from feedproof.circuit.conductors import CONDUCTOR_SIZES
from feedproof.contract import catalogue as wire
from feedproof.contract.assessment import ModelIdentity
from feedproof.contract.quantities import DIMENSIONS, QUANTITIES, SMALLEST
from feedproof.door import NOMINAL_BETWEEN_LEGS, NOMINAL_TO_NEUTRAL, SYSTEM_CONDUCTORS
from feedproof.faults.catalogue import FAULTS
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.instruments.typical import TYPICAL_METERS
from feedproof.readings import SystemName

JSON = "application/json"
MAX_AGE = 300
"""How long a catalogue may be used without asking again [s]: a new version is seen within minutes."""

_SYSTEM_MEANINGS: dict[SystemName, str] = {
    "split_phase_120_240": "Two legs of one centre-tapped transformer winding, in opposite phase.",
    "wye_120_208": "Two of the three legs of a 208Y/120 V wye.",
    "single_phase_120": "One leg and the neutral.",
    "high_leg_delta_120_240": (
        "A 240 V delta with one winding centre-tapped. L1 and L2 are taken to be the two 120 V legs."
    ),
}
_LEG_ANGLES: dict[SystemName, tuple[float, ...]] = {
    "split_phase_120_240": (0.0, 180.0),
    "wye_120_208": (0.0, -120.0),
    "single_phase_120": (0.0,),
    "high_leg_delta_120_240": (0.0, 180.0),
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
        faults=[
            wire.FaultEntry(
                name=fault.name,
                meaning=fault.meaning,
                limits=fault.limits,
                source=fault.source,
                conductors=list(fault.conductors),
                base_rate=fault.base_rate,
            )
            for fault in FAULTS
        ],
        model=ModelIdentity(version=MODEL_VERSION, priors_digest=priors_digest()),
    )


def cautions(language: str) -> wire.CautionCatalogue:
    """All cautions, in one language; a text that it lacks is given in English."""
    return wire.CautionCatalogue(
        language=language,
        cautions=[
            wire.CautionEntry(
                code=caution.code,
                severity=caution.severity,
                text=in_language(caution.text, language),
                because=in_language(caution.because, language),
                basis=[wire.CautionSource(source=b.source, status=b.status) for b in caution.basis],
            )
            for caution in caution_texts()
        ],
    )


def supply_systems() -> wire.SupplySystemCatalogue:
    """All supply systems."""

    def leg(index: int, angle: float) -> wire.SystemLeg:
        return wire.SystemLeg(
            conductor=f"L{index + 1}",
            voltage=wire.Measure(value=NOMINAL_TO_NEUTRAL, unit="V"),
            angle=wire.Measure(value=angle, unit="deg"),
        )

    def between(system: SystemName) -> wire.Measure | None:
        volts = NOMINAL_BETWEEN_LEGS.get(system)
        return None if volts is None else wire.Measure(value=volts, unit="V")

    return wire.SupplySystemCatalogue(
        supply_systems=[
            wire.SupplySystemEntry(
                name=system,
                meaning=meaning,
                conductors=list(SYSTEM_CONDUCTORS[system]),
                legs=[leg(index, angle) for index, angle in enumerate(_LEG_ANGLES[system])],
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
                figures=[
                    wire.TypicalFigure(field=f.field, value=f.value, unit=f.unit, basis=f.basis) for f in meter.figures
                ],
            )
            for meter in TYPICAL_METERS
        ]
    )


def conductors() -> wire.ConductorCatalogue:
    """All listed conductor sizes; six significant digits."""

    def measure(value: float, unit: str) -> wire.Measure:
        return wire.Measure(value=float(f"{value:.6g}"), unit=unit)

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


class _Encoded(Struct, frozen=True):
    body: bytes
    etag: str


@cache
def _encoded(make: Callable[..., Struct], *arguments: str) -> _Encoded:
    body = msgspec.json.encode(make(*arguments))
    # Weak: the same catalogue may go out under different content codings.
    return _Encoded(body, f'W/"{hashlib.sha256(body).hexdigest()[:32]}"')


def matches(if_none_match: str | None, etag: str) -> bool:
    """Whether the caller has this version: weak comparison (RFC 9110, 8.8.3.2)."""
    if if_none_match is None:
        return False
    given = {tag.strip().removeprefix("W/") for tag in if_none_match.split(",")}
    return "*" in given or etag.removeprefix("W/") in given


def _give(request: AnyRequest, make: Callable[..., Struct], language: str | None = None) -> Response[bytes]:
    if best_media_type(request.headers.get("accept"), (JSON,)) is None:
        raise HTTPException(status_code=406, detail=f"on offer is {JSON}")
    encoded = _encoded(make) if language is None else _encoded(make, language)
    headers = {
        "ETag": encoded.etag,
        "Cache-Control": f"public, max-age={MAX_AGE}",
        "Vary": "Accept" if language is None else "Accept, Accept-Language",
    }
    if language is not None:
        headers["Content-Language"] = language
    if matches(request.headers.get("if-none-match"), encoded.etag):
        return Response(b"", status_code=304, headers=headers)
    return Response(encoded.body, media_type=JSON, headers=headers)


@get("/v1/faults", name="list_faults", summary="The faults that can be found")
async def list_faults(request: AnyRequest) -> Response[bytes]:
    """What each fault means, its limits, its source, and its base rate before any reading."""
    return _give(request, faults)


@get("/v1/cautions", name="list_cautions", summary="The cautions that can be given")
async def list_cautions(request: AnyRequest) -> Response[bytes]:
    """Each caution with its severity, text and basis, in the language that Accept-Language asks for."""
    return _give(request, cautions, best_language(request.headers.get("accept-language"), offered_languages()))


@get("/v1/supply-systems", name="list_supply_systems", summary="The supply systems that can be stated")
async def list_supply_systems(request: AnyRequest) -> Response[bytes]:
    """Each system with its conductors, nominal voltages and phases."""
    return _give(request, supply_systems)


@get("/v1/meters", name="list_meters", summary="The kinds of meter and their typical figures")
async def list_meters(request: AnyRequest) -> Response[bytes]:
    """Each kind with the figures that stand for what a request leaves out, and their basis."""
    return _give(request, meters)


@get("/v1/conductors", name="list_conductors", summary="Conductor sizes and their resistance")
async def list_conductors(request: AnyRequest) -> Response[bytes]:
    """Each listed size with cross-section and resistance at 75 degC. Sizes between them are accepted and computed."""
    return _give(request, conductors)


@get("/v1/units", name="list_units", summary="The accepted units and bounds")
async def list_units(request: AnyRequest) -> Response[bytes]:
    """The closed list of units by dimension, and the bounds outside which each physical input is refused."""
    return _give(request, units)


HANDLERS = (list_faults, list_cautions, list_supply_systems, list_meters, list_conductors, list_units)
