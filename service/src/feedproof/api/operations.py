"""What the published document says of each operation, beside what its handler says itself."""

from msgspec import Struct

from feedproof.api.ndjson import MEDIA_TYPES as LINES
from feedproof.api.representations import JSON, PUBLISHED

ALWAYS = (400, 405, 431, 500, 503)
ON_READ = (*ALWAYS, 406)
ON_BODY = (*ON_READ, 408, 413, 415, 422)
ON_STREAM = (*ON_READ, 408, 415)
WITH_KEYS = (401, 429)


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
        "The assessment.",
        Body(media_type=JSON, schema="Assessment"),
        links=("FaultsExplained", "CautionsExplained"),
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
    "SimulatedReadingsAssessed": {
        "operationId": "assess",
        # No requestBody: several generators refuse a whole document for one that is an object.
        "description": (
            "The simulated readings are in the form that an assessment takes: send them as its `readings`, with the"
            " `supply`, `appliance`, `meters` and `load_states` that the simulation was asked for."
        ),
    },
    "FaultsExplained": {
        "operationId": "list_faults",
        "description": "What each fault in `finding` and `candidates` means, its limits and its source.",
    },
    "CautionsExplained": {
        "operationId": "list_cautions",
        "description": "All cautions that can be given, those of the answer among them, with their sources.",
    },
    **{
        f"{operation.bodies[0].schema or 'Document'}StillTheSame": _still_the_same(name)
        for name, operation in OPERATIONS.items()
        if "IfNoneMatch" in operation.parameters
    },
}
"""What one operation's answer gives to the next."""

TAGS = {
    "Assessments": "The main job: readings in, an assessment out.",
    "Simulations": "The model run forward, for training, tests and planning.",
    "Catalogues": "What every name means, its limits, and its source.",
    "Documentation": "This contract, for people and for programs.",
    "Operation": "For whoever runs the service.",
}

_TEXT = {"type": "string"}

PARAMETERS: dict[str, dict[str, object]] = {
    "AcceptLanguage": {
        "name": "Accept-Language",
        "in": "header",
        "description": "Languages that the caller reads (RFC 9110, 12.5.4). English where none of them is there.",
        "schema": _TEXT,
        "example": "en-US, en;q=0.8",
    },
    "IfNoneMatch": {
        "name": "If-None-Match",
        "in": "header",
        "description": "ETag of the version that the caller has: 304 where it is still the one.",
        "schema": _TEXT,
        "example": 'W/"0123456789abcdef0123456789abcdef"',
    },
    "Traceparent": {
        "name": "traceparent",
        "in": "header",
        "description": "Trace of the caller (W3C Trace Context), passed on. One that is not valid is not used.",
        "schema": _TEXT,
        "example": "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
    },
    "ProblemName": {
        "name": "name",
        "in": "path",
        "required": True,
        "description": "Last part of a problem's `type`.",
        "schema": _TEXT,
        "example": "invalid-reading-set",
    },
}

HEADERS: dict[str, tuple[str, str]] = {
    "Request-Id": ("Id of this request, also in the log.", "6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11"),
    "Model-Version": ("Version of the model that this service answers with.", "1.1.1"),
    "traceparent": (
        "Trace of the request (W3C Trace Context).",
        "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
    ),
    "Cache-Control": ("How long the answer may be kept.", "no-store"),
    "Vary": ("Request headers that the answer depends on.", "Accept, Accept-Encoding"),
    "ETag": ("Version of the answer, weak.", 'W/"0123456789abcdef0123456789abcdef"'),
    "Content-Language": ("Language of the texts.", "en"),
    "Retry-After": ("When to try again [s].", "1"),
    "Allow": ("Methods that the path takes.", "GET, HEAD, OPTIONS"),
    "Accept-Post": ("Media type that the route takes.", JSON),
    "RateLimit": ("What is left of what this caller may send, where that is bounded.", '"default";r=19;t=1'),
    "RateLimit-Policy": ("What this caller may send, where that is bounded.", '"default";q=20;w=1'),
    "WWW-Authenticate": ("How to send a key.", 'Bearer realm="feedproof"'),
}
ON_EVERY_ANSWER = ("Request-Id", "Model-Version", "traceparent")
PROBLEM_HEADERS = {
    401: ("WWW-Authenticate",),
    405: ("Allow",),
    415: ("Accept-Post",),
    429: ("Retry-After", "RateLimit", "RateLimit-Policy"),
    503: ("Retry-After",),
}
