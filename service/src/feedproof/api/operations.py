"""What the published document says of each operation, beside what its handler says itself."""

import tomllib
from importlib.resources import files
from typing import Any

from msgspec import Struct

from feedproof.api.ndjson import MEDIA_TYPES as LINES
from feedproof.api.representations import JSON, PUBLISHED

ALWAYS = (400, 405, 431, 500, 503)
ON_READ = (*ALWAYS, 406)
ON_BODY = (*ON_READ, 408, 413, 415, 422)
ON_STREAM = (*ON_READ, 408, 415)
WITH_KEYS = (401, 429)


SAID: dict[str, Any] = tomllib.loads(files("feedproof.api").joinpath("data/document.toml").read_text(encoding="utf-8"))
"""What neither a route nor a type says."""


class Body(Struct, frozen=True, kw_only=True):
    """A body, of a request or an answer, in one media type."""

    media_type: str
    schema: str | None = None
    """Component; None: text."""
    line: str | None = None
    """Component of each line, for a stream of lines."""
    about: str = ""


class Operation(Struct, frozen=True, kw_only=True):
    """What the handler cannot say."""

    tag: str
    answer: str
    """What a 200 holds."""
    bodies: tuple[Body, ...]
    requests: tuple[Body, ...] = ()
    """The request's body, in each media type that is taken."""
    parameters: tuple[str, ...] = ()
    """Component parameters."""
    headers: tuple[str, ...] = ()
    """Component headers of a 200, beside those of every answer."""
    problems: tuple[int, ...] = ON_READ
    keyed: bool = False
    """Whether a key may be asked for."""
    links: tuple[str, ...] = ()
    """Component links of a 200: what can be asked next with what it holds."""


_KEPT = ("ETag", "Cache-Control", "Vary")


def _catalogue(schema: str, answer: str, *, translated: bool = False) -> Operation:
    return Operation(
        tag="Catalogues",
        answer=answer,
        bodies=(Body(media_type=JSON, schema=schema),),
        parameters=("IfNoneMatch", "AcceptLanguage") if translated else ("IfNoneMatch",),
        headers=(*_KEPT, "Content-Language") if translated else _KEPT,
        problems=(*ON_READ, *WITH_KEYS),
        keyed=True,
        links=(f"{schema}StillTheSame",),
    )


def _assessing(
    answer: str,
    *bodies: Body,
    requests: tuple[Body, ...] = (Body(media_type=JSON, schema="AssessmentRequest"),),
    problems: tuple[int, ...] = ON_BODY,
    links: tuple[str, ...] = (),
) -> Operation:
    return Operation(
        tag="Assessments",
        answer=answer,
        requests=requests,
        bodies=bodies,
        parameters=("AcceptLanguage",),
        headers=("Cache-Control", "Vary", "Content-Language"),
        problems=(*problems, *WITH_KEYS),
        keyed=True,
        links=links,
    )


def _open(tag: str, answer: str, body: Body, *parameters: str, problems: tuple[int, ...] = ALWAYS) -> Operation:
    return Operation(
        tag=tag, answer=answer, bodies=(body,), parameters=parameters, headers=("Cache-Control",), problems=problems
    )


_HEALTH = Body(media_type=JSON, schema="Health")

OPERATIONS: dict[str, Operation] = {
    "assess": _assessing(
        "The assessment.", Body(media_type=JSON, schema="Assessment"), links=("FaultsExplained", "CautionsExplained")
    ),
    "assess_for_screen": _assessing(
        "What a screen shows first, in 4 kB or less.", Body(media_type=JSON, schema="Screen")
    ),
    "render_note": _assessing(
        "The hand-off note, in the form that Accept asks for.",
        *(Body(media_type=kind, about=meaning) for kind, meaning in PUBLISHED.items() if kind != JSON),
    ),
    "assess_batch": _assessing(
        "One line per line of the request, in the same order: an assessment, or a problem with its `line`.",
        *(Body(media_type=kind, line="Assessment", about="One assessment or problem per line.") for kind in LINES),
        requests=tuple(
            Body(media_type=kind, line="AssessmentRequest", about="One reading set per line, each at most 256 KiB.")
            for kind in LINES
        ),
        problems=ON_STREAM,
    ),
    "simulate": Operation(
        tag="Simulations",
        answer="The readings that a person would see.",
        requests=(
            Body(media_type=JSON, schema="SimulationRequest", about="A fault, a circuit, meters, what to read."),
        ),
        bodies=(Body(media_type=JSON, schema="Simulation"),),
        headers=("Cache-Control", "Vary"),
        problems=(*ON_BODY, *WITH_KEYS),
        keyed=True,
        links=("SimulatedReadingsAssessed",),
    ),
    "list_faults": _catalogue("FaultCatalogue", "All faults."),
    "list_cautions": _catalogue("CautionCatalogue", "All cautions.", translated=True),
    "list_supply_systems": _catalogue("SupplySystemCatalogue", "All supply systems."),
    "list_meters": _catalogue("MeterCatalogue", "All kinds of meter."),
    "list_conductors": _catalogue("ConductorCatalogue", "All listed conductor sizes."),
    "list_receptacles": _catalogue("ReceptacleCatalogue", "All receptacles."),
    "list_observations": _catalogue("ObservationCatalogue", "All observations."),
    "list_units": _catalogue("UnitCatalogue", "All units and bounds."),
    "show_model": _catalogue("ModelDescription", "The model."),
    "list_limits": _catalogue("LimitCatalogue", "All limits of this installation."),
    "describe_problem": _open(
        "Documentation",
        "The page of the problem type.",
        Body(media_type="text/html", about="A page for a person."),
        "ProblemName",
        problems=(*ALWAYS, 404),
    ),
    "show_docs": _open(
        "Documentation",
        "The documentation, with a form to try the service.",
        Body(media_type="text/html", about="A page for a person; needs nothing from elsewhere."),
    ),
    "show_document": Operation(
        tag="Documentation",
        answer="This document.",
        bodies=(Body(media_type=JSON, about="OpenAPI 3.1."),),
        parameters=("IfNoneMatch",),
        headers=_KEPT,
        problems=ON_READ,
        links=("DocumentStillTheSame",),
    ),
    "live": _open("Operation", "The process runs.", _HEALTH),
    "ready": _open("Operation", "Requests are taken.", _HEALTH),
    "metrics": _open(
        "Operation",
        "Counts, durations and findings; no readings.",
        Body(media_type="text/plain", about="The Prometheus text format."),
    ),
}


def _still_the_same(operation: str) -> dict[str, object]:
    return {
        "operationId": operation,
        "parameters": {"If-None-Match": "$response.header.ETag"},
        "description": "Asked again with the version that the caller has: 304 while it is still the one.",
    }


LINKS: dict[str, dict[str, object]] = {
    **SAID["links"],
    **{
        f"{operation.bodies[0].schema or 'Document'}StillTheSame": _still_the_same(name)
        for name, operation in OPERATIONS.items()
        if "IfNoneMatch" in operation.parameters
    },
}
"""What one operation's answer gives to the next."""

ON_EVERY_ANSWER = ("Request-Id", "Model-Version", "traceparent")
PROBLEM_HEADERS = {
    401: ("WWW-Authenticate",),
    405: ("Allow",),
    415: ("Accept-Post",),
    429: ("Retry-After", "RateLimit", "RateLimit-Policy"),
    503: ("Retry-After",),
}
