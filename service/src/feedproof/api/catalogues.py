"""The catalogue routes: data of the package and of this installation, encoded once, and not sent again to who has it.

References
----------
RFC 9110, HTTP Semantics, 8.8.3 (ETag), 13.1.2 (If-None-Match), 15.4.5 (304). RFC 9111, HTTP Caching.
"""

import hashlib
from collections.abc import Callable, Hashable, Mapping
from functools import cache

import msgspec
from litestar import Response, get
from litestar.di import NamedDependency
from msgspec import Struct

from feedproof.advice.texts import offered_languages
from feedproof.api import entries
from feedproof.api.bodies import AnyRequest, choose
from feedproof.api.representations import JSON, best_language
from feedproof.settings import Settings

KEPT = "public, max-age=300"
"""Cache-Control of such answers: a new version is seen within five minutes."""


class Encoded(Struct, frozen=True):
    """A JSON document with its version."""

    body: bytes
    etag: str


def encoded(body: bytes) -> Encoded:
    """Name the version of a document. Weak: the same one may go out under different content codings."""
    return Encoded(body, f'W/"{hashlib.sha256(body).hexdigest()[:32]}"')


def matches(if_none_match: str | None, etag: str) -> bool:
    """Whether the caller has this version: weak comparison (RFC 9110, 8.8.3.2)."""
    if if_none_match is None:
        return False
    given = {tag.strip().removeprefix("W/") for tag in if_none_match.split(",")}
    return "*" in given or etag.removeprefix("W/") in given


def give(request: AnyRequest, document: Encoded, headers: Mapping[str, str] | None = None) -> Response[bytes]:
    """Answer with a document, or with 304 where the caller has it.

    Raises
    ------
    HTTPException
        406, where JSON is not acceptable.
    """
    choose(request, (JSON,))
    sent = {"ETag": document.etag, "Cache-Control": KEPT, "Vary": "Accept", **(headers or {})}
    if matches(request.headers.get("if-none-match"), document.etag):
        return Response(b"", status_code=304, headers=sent)
    return Response(document.body, media_type=JSON, headers=sent)


@cache
def _encoded(make: Callable[..., Struct], *arguments: Hashable) -> Encoded:
    return encoded(msgspec.json.encode(make(*arguments)))


def catalogue(request: AnyRequest, make: Callable[..., Struct], *arguments: Hashable) -> Response[bytes]:
    """Answer with what is made of the arguments, or with 304 where the caller has it."""
    return give(request, _encoded(make, *arguments))


@get("/v1/faults", name="list_faults", summary="The faults that can be found")
async def list_faults(request: AnyRequest) -> Response[bytes]:
    """What each fault means, its limits, its source, and its base rate before any reading."""
    return catalogue(request, entries.faults)


@get("/v1/cautions", name="list_cautions", summary="The cautions that can be given")
async def list_cautions(request: AnyRequest) -> Response[bytes]:
    """Each caution with its severity, text and basis, in the language that Accept-Language asks for."""
    language = best_language(request.headers.get("accept-language"), offered_languages())
    headers = {"Vary": "Accept, Accept-Language", "Content-Language": language}
    return give(request, _encoded(entries.cautions, language), headers)


@get("/v1/supply-systems", name="list_supply_systems", summary="The supply systems that can be stated")
async def list_supply_systems(request: AnyRequest) -> Response[bytes]:
    """Each system with its conductors, nominal voltages and phases."""
    return catalogue(request, entries.supply_systems)


@get("/v1/meters", name="list_meters", summary="The kinds of meter and their typical figures")
async def list_meters(request: AnyRequest) -> Response[bytes]:
    """Each kind with the figures that stand for what a request leaves out, and their basis."""
    return catalogue(request, entries.meters)


@get("/v1/conductors", name="list_conductors", summary="Conductor sizes and their resistance")
async def list_conductors(request: AnyRequest) -> Response[bytes]:
    """Each listed size with cross-section and resistance at 75 degC. Sizes between them are accepted and computed."""
    return catalogue(request, entries.conductors)


@get("/v1/receptacles", name="list_receptacles", summary="The receptacles that can be stated")
async def list_receptacles(request: AnyRequest) -> Response[bytes]:
    """Each with its rating, its contacts, what they are called, and which conductors it lacks."""
    return catalogue(request, entries.receptacles)


@get("/v1/observations", name="list_observations", summary="What a person may have seen")
async def list_observations(request: AnyRequest) -> Response[bytes]:
    """Each code with what it means and what is not meant. They shift odds and alone establish nothing."""
    return catalogue(request, entries.observations)


@get("/v1/units", name="list_units", summary="The accepted units and bounds")
async def list_units(request: AnyRequest) -> Response[bytes]:
    """The closed list of units by dimension, and the bounds outside which each physical input is refused."""
    return catalogue(request, entries.units)


@get("/v1/model", name="show_model", summary="The model that answers")
async def show_model(request: AnyRequest) -> Response[bytes]:
    """Version and digest of the model, and its base rates in the form that a request takes."""
    return catalogue(request, entries.model)


@get("/v1/limits", name="list_limits", summary="The sizes and rates to keep to")
async def list_limits(request: AnyRequest, settings: NamedDependency[Settings]) -> Response[bytes]:
    """Every size and rate of this installation, with the status of what is beyond it."""
    return catalogue(request, entries.limits, settings)


HANDLERS = (
    list_faults,
    list_cautions,
    list_supply_systems,
    list_meters,
    list_conductors,
    list_receptacles,
    list_observations,
    list_units,
    show_model,
    list_limits,
)
