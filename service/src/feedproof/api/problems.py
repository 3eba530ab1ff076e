"""Every refusal, as problem details, and the page that each problem type resolves to.

References
----------
RFC 9457, Problem Details for HTTP APIs: `title` is the type's own, `detail` the occurrence's.
RFC 9110, HTTP Semantics: 401 carries WWW-Authenticate, 405 Allow, 429 and 503 Retry-After.
"""

import html
from collections.abc import Mapping

import msgspec
from litestar import Response, get
from litestar.exceptions import HTTPException
from litestar.params import FromPath
from msgspec import Struct

from feedproof.api.bodies import AnyRequest
from feedproof.contract.problem import MEDIA_TYPE, Problem, RequestFault
from feedproof.errors import FeedproofError, MalformedRequest, NotReady, Overloaded, RefusedRequest, TooLarge
from feedproof.telemetry.logging import logger
from feedproof.telemetry.middleware import Scope, Send, note, trace_of

_ENCODER = msgspec.json.Encoder()


class ProblemType(Struct, frozen=True, kw_only=True):
    """One kind of problem."""

    name: str
    title: str
    status: int
    meaning: str
    remedy: str

    @property
    def uri(self) -> str:
        """What `type` holds: a path of this service."""
        return f"/problems/{self.name}"


TIME_LIMIT = ProblemType(
    # Not 503 or 504: those many clients and gateways send again by themselves, to the next process.
    name="time-limit-exceeded",
    title="Time limit exceeded",
    status=500,
    meaning=(
        "The answer was not ready in the time that a request may take here, and what was being computed for it was"
        " ended. Nothing may be concluded about the supply."
    ),
    remedy="Do not send it again as it is: it would take as long. Send fewer readings or load states at once.",
)
NOT_READY = ProblemType(
    name="not-ready",
    title="Not ready",
    status=503,
    meaning="The service is starting, or about to stop. Nothing was computed.",
    remedy="Wait as long as the Retry-After header says, or ask another copy of the service.",
)
PROBLEM_TYPES: tuple[ProblemType, ...] = (
    ProblemType(
        name="malformed-request",
        title="Malformed request",
        status=400,
        meaning=(
            "The body is no JSON document in UTF-8, or has a name twice in one object, or is not the gzip that it is"
            " said to be, or a query parameter is not known."
        ),
        remedy="Send one JSON document in UTF-8, each name once in its object, and no query parameters.",
    ),
    ProblemType(
        name="unauthorized",
        title="Unauthorized",
        status=401,
        meaning="This installation asks for a key, and none that it knows was sent.",
        remedy="Send the key as `Authorization: Bearer <key>` or as `Api-Key: <key>`.",
    ),
    ProblemType(
        name="not-found",
        title="Not found",
        status=404,
        meaning="There is nothing at this path.",
        remedy="See the routes in /docs or /openapi.json.",
    ),
    ProblemType(
        name="method-not-allowed",
        title="Method not allowed",
        status=405,
        meaning="The path exists, but not for this method.",
        remedy="Use a method from the answer's Allow header.",
    ),
    ProblemType(
        name="not-acceptable",
        title="Not acceptable",
        status=406,
        meaning="None of the media types in the request's Accept header can be given.",
        remedy="Ask for one of the media types that `detail` lists.",
    ),
    ProblemType(
        name="request-timeout",
        title="Request timeout",
        status=408,
        meaning="The request did not arrive in the time that the service waits for it.",
        remedy="Send it again; look at the network between where it keeps happening.",
    ),
    ProblemType(
        name="content-too-large",
        title="Content too large",
        status=413,
        meaning="The body, packed or unpacked, or one line of a batch, is larger than the service takes.",
        remedy="Send less at once: one visit's readings, or the batch route for many visits.",
    ),
    ProblemType(
        name="unsupported-media-type",
        title="Unsupported media type",
        status=415,
        meaning="The Content-Type is not one that the route takes, or the body has a Content-Encoding besides gzip.",
        remedy="Send a media type of the answer's Accept-Post header, plain or as gzip.",
    ),
    ProblemType(
        name="invalid-reading-set",
        title="Invalid reading set",
        status=422,
        meaning="The body is a JSON document, but not a valid request. Nothing was computed.",
        remedy="Mend every entry of `errors`: each has a JSON pointer, what is wrong, and what is accepted there.",
    ),
    ProblemType(
        name="too-many-requests",
        title="Too many requests",
        status=429,
        meaning="This caller has sent more requests than it may.",
        remedy="Wait as long as the Retry-After header says. Every request here is safe to send again.",
    ),
    ProblemType(
        name="request-header-fields-too-large",
        title="Request header fields too large",
        status=431,
        meaning="The request's line and headers are larger or more than the service takes.",
        remedy="Send fewer and shorter headers; everything about a visit belongs in the body.",
    ),
    ProblemType(
        name="internal-error",
        title="Internal error",
        status=500,
        meaning="The service failed. The request is not at fault, and nothing may be concluded about the supply.",
        remedy="Report the request id in `instance` to whoever runs the service.",
    ),
    TIME_LIMIT,
    ProblemType(
        name="overloaded",
        title="Overloaded",
        status=503,
        meaning="The service has as much work as it takes on.",
        remedy="Wait as long as the Retry-After header says. Every request here is safe to send again.",
    ),
    NOT_READY,
)
BY_STATUS: Mapping[int, ProblemType] = {
    kind.status: kind for kind in PROBLEM_TYPES if kind not in (TIME_LIMIT, NOT_READY)
}
"""The usual type of each status."""
BY_NAME: Mapping[str, ProblemType] = {kind.name: kind for kind in PROBLEM_TYPES}

_DETAILS = {
    404: "nothing is found at this path",
    405: "this method is not allowed here; see the Allow header",
    500: "the service failed; the request id is in instance",
}


def make_problem(
    which: int | ProblemType, detail: str, request_id: str, errors: list[RequestFault] | None = None
) -> Problem:
    """Make the problem details of one occurrence, of a type or of the usual type of a status."""
    kind = BY_STATUS.get(which, BY_STATUS[400 if which < 500 else 500]) if isinstance(which, int) else which  # noqa: PLR2004
    return Problem(
        type=kind.uri,
        title=kind.title,
        status=kind.status,
        detail=detail,
        instance=f"urn:uuid:{request_id}",
        errors=errors or [],
    )


def describe(error: FeedproofError, request_id: str) -> tuple[Problem, dict[str, str]]:
    """Map an error of the package to problem details and headers."""
    match error:
        case RefusedRequest():
            return make_problem(422, f"{error}; see errors", request_id, error.faults), {}
        case MalformedRequest():
            return make_problem(400, str(error), request_id), {}
        case TooLarge():
            return make_problem(413, str(error), request_id), {}
        case NotReady():
            return make_problem(NOT_READY, str(error), request_id), {"Retry-After": str(error.retry_after)}
        case Overloaded():
            return make_problem(503, str(error), request_id), {"Retry-After": str(error.retry_after)}
    return make_problem(500, _DETAILS[500], request_id), {}


def on_line(problem: Problem, number: int, reference: str | None = None) -> Problem:
    """Name the line of a batch that a problem is about, and its reference."""
    return msgspec.structs.replace(problem, line=number, reference=reference)


def encode(problem: Problem) -> bytes:
    """Encode for the wire."""
    return _ENCODER.encode(problem)


async def send_problem(scope: Scope, send: Send, problem: Problem, headers: Mapping[str, str]) -> None:
    """Answer a request with a problem before it has come to a route."""
    note(scope, problem=problem.type)
    body = encode(problem)
    head = {**headers, "Cache-Control": "no-store", "Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
    raw = [(name.lower().encode(), value.encode()) for name, value in head.items()]
    await send({"type": "http.response.start", "status": problem.status, "headers": raw})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


def _respond(problem: Problem, headers: Mapping[str, str]) -> Response[bytes]:
    return Response(
        encode(problem),
        status_code=problem.status,
        media_type=MEDIA_TYPE,
        headers={**headers, "Cache-Control": "no-store"},
    )


def _too_large(request: AnyRequest) -> str:
    return f"the body is larger than {request.route_handler.resolve_request_max_body_size()} bytes"


def answer_error(request: AnyRequest, error: Exception) -> Response[bytes]:
    """Answer any error with problem details; the only exception handler of the application."""
    trace = trace_of(request.scope)
    if isinstance(error, FeedproofError):
        problem, headers = describe(error, trace.request_id)
    elif isinstance(error, HTTPException):
        status = error.status_code
        detail = _too_large(request) if status == 413 else _DETAILS.get(status) or error.detail  # noqa: PLR2004
        problem = make_problem(status, detail, trace.request_id)
        headers = dict(error.headers or {})
    else:
        problem, headers = make_problem(500, _DETAILS[500], trace.request_id), {}
    note(request.scope, problem=problem.type)
    if problem.errors:
        note(request.scope, faults=len(problem.errors))
    if problem.status == 500:  # noqa: PLR2004
        logger().error("failure", request_id=trace.request_id, exc_info=error)
    return _respond(problem, headers)


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="stylesheet" href="/docs/docs.css">
</head>
<body>
<main>
<h1>{title}</h1>
<p>Problem type <code>{uri}</code>, HTTP status {status}.</p>
<h2>What it means</h2>
<p>{meaning}</p>
<h2>What to do</h2>
<p>{remedy}</p>
<p><a href="/docs">Documentation</a></p>
</main>
</body>
</html>
"""


@get(
    "/problems/{name:str}",
    name="describe_problem",
    summary="What a problem type means",
)
async def describe_problem(name: FromPath[str]) -> Response[bytes]:
    """Give the page that a problem's `type` resolves to."""
    kind = BY_NAME.get(name)
    if kind is None:
        raise HTTPException(status_code=404)
    fields = {
        field: html.escape(str(getattr(kind, field))) for field in ("title", "uri", "status", "meaning", "remedy")
    }
    return Response(
        _PAGE.format(**fields).encode(),
        media_type="text/html",
        headers={"Cache-Control": "public, max-age=3600"},
    )
