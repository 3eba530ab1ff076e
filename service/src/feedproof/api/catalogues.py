"""The catalogue routes: data of the package, encoded once."""

from collections.abc import Callable, Hashable
from functools import cache

import msgspec
from litestar import Response, get
from msgspec import Struct

from feedproof.advice.texts import offered_languages
from feedproof.api import entries
from feedproof.api.bodies import AnyRequest
from feedproof.api.negotiation import best_language
from feedproof.api.validators import Encoded, encoded, give


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
