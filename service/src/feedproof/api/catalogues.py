"""The catalogue routes: data of the package, encoded once, with validators so that clients can keep them.

References
----------
RFC 9110, HTTP Semantics, 8.8.3 (ETag), 13.1.2 (If-None-Match), 15.4.5 (304).
"""

import hashlib
from collections.abc import Callable, Hashable
from functools import cache

import msgspec
from litestar import Response, get
from litestar.exceptions import HTTPException
from msgspec import Struct

from feedproof.advice.texts import offered_languages
from feedproof.api import entries
from feedproof.api.bodies import AnyRequest
from feedproof.api.negotiation import best_language, best_media_type

JSON = "application/json"
MAX_AGE = 300
"""How long a catalogue may be used without asking again [s]: a new version is seen within minutes."""


class _Encoded(Struct, frozen=True):
    body: bytes
    etag: str


@cache
def _encoded(make: Callable[..., Struct], *arguments: Hashable) -> _Encoded:
    body = msgspec.json.encode(make(*arguments))
    # Weak: the same catalogue may go out under different content codings.
    return _Encoded(body, f'W/"{hashlib.sha256(body).hexdigest()[:32]}"')


def matches(if_none_match: str | None, etag: str) -> bool:
    """Whether the caller has this version: weak comparison (RFC 9110, 8.8.3.2)."""
    if if_none_match is None:
        return False
    given = {tag.strip().removeprefix("W/") for tag in if_none_match.split(",")}
    return "*" in given or etag.removeprefix("W/") in given


def give(
    request: AnyRequest, make: Callable[..., Struct], *arguments: Hashable, language: str | None = None
) -> Response[bytes]:
    """Answer with what is made of the arguments, or with 304 where the caller has it.

    Raises
    ------
    HTTPException
        406, where JSON is not acceptable.
    """
    if best_media_type(request.headers.get("accept"), (JSON,)) is None:
        raise HTTPException(status_code=406, detail=f"on offer is {JSON}")
    encoded = _encoded(make, *arguments, *([] if language is None else [language]))
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
    return give(request, entries.faults)


@get("/v1/cautions", name="list_cautions", summary="The cautions that can be given")
async def list_cautions(request: AnyRequest) -> Response[bytes]:
    """Each caution with its severity, text and basis, in the language that Accept-Language asks for."""
    return give(
        request, entries.cautions, language=best_language(request.headers.get("accept-language"), offered_languages())
    )


@get("/v1/supply-systems", name="list_supply_systems", summary="The supply systems that can be stated")
async def list_supply_systems(request: AnyRequest) -> Response[bytes]:
    """Each system with its conductors, nominal voltages and phases."""
    return give(request, entries.supply_systems)


@get("/v1/meters", name="list_meters", summary="The kinds of meter and their typical figures")
async def list_meters(request: AnyRequest) -> Response[bytes]:
    """Each kind with the figures that stand for what a request leaves out, and their basis."""
    return give(request, entries.meters)


@get("/v1/conductors", name="list_conductors", summary="Conductor sizes and their resistance")
async def list_conductors(request: AnyRequest) -> Response[bytes]:
    """Each listed size with cross-section and resistance at 75 degC. Sizes between them are accepted and computed."""
    return give(request, entries.conductors)


@get("/v1/receptacles", name="list_receptacles", summary="The receptacles that can be stated")
async def list_receptacles(request: AnyRequest) -> Response[bytes]:
    """Each with its rating, its contacts, what they are called, and which conductors it lacks."""
    return give(request, entries.receptacles)


@get("/v1/observations", name="list_observations", summary="What a person may have seen")
async def list_observations(request: AnyRequest) -> Response[bytes]:
    """Each code with what it means and what is not meant. They shift odds and alone establish nothing."""
    return give(request, entries.observations)


@get("/v1/units", name="list_units", summary="The accepted units and bounds")
async def list_units(request: AnyRequest) -> Response[bytes]:
    """The closed list of units by dimension, and the bounds outside which each physical input is refused."""
    return give(request, entries.units)


HANDLERS = (
    list_faults,
    list_cautions,
    list_supply_systems,
    list_meters,
    list_conductors,
    list_receptacles,
    list_observations,
    list_units,
)
