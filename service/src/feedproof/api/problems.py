"""Every refusal, as problem details, and the page that each problem type resolves to.

References
----------
RFC 9457, Problem Details for HTTP APIs: `title` is the type's own, `detail` the occurrence's.
RFC 9110, HTTP Semantics: 401 carries WWW-Authenticate, 405 Allow, 429 and 503 Retry-After.
"""

import html
import tomllib
from collections.abc import Mapping
from importlib.resources import files

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


PROBLEM_TYPES = msgspec.convert(
    tomllib.loads(files("feedproof.api").joinpath("data/problems.toml").read_text(encoding="utf-8"))["problems"],
    tuple[ProblemType, ...],
)
BY_NAME: Mapping[str, ProblemType] = {kind.name: kind for kind in PROBLEM_TYPES}
BY_STATUS: Mapping[int, ProblemType] = {
    kind.status: next(usual for usual in PROBLEM_TYPES if usual.status == kind.status) for kind in PROBLEM_TYPES
}
"""The usual type of each status: the first that has it."""
TIME_LIMIT, NOT_READY = BY_NAME["time-limit-exceeded"], BY_NAME["not-ready"]

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


async def send_problem(scope: Scope, send: Send, problem: Problem, headers: Mapping[str, str]) -> None:
    """Answer a request with a problem before it has come to a route."""
    note(scope, problem=problem.type)
    body = msgspec.json.encode(problem)
    head = {**headers, "Cache-Control": "no-store", "Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
    raw = [(name.lower().encode(), value.encode()) for name, value in head.items()]
    await send({"type": "http.response.start", "status": problem.status, "headers": raw})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


def _respond(problem: Problem, headers: Mapping[str, str]) -> Response[bytes]:
    return Response(
        msgspec.json.encode(problem),
        status_code=problem.status,
        media_type=MEDIA_TYPE,
        headers={**headers, "Cache-Control": "no-store"},
    )


def answer_error(request: AnyRequest, error: Exception) -> Response[bytes]:
    """Answer any error with problem details; the only exception handler of the application."""
    trace = trace_of(request.scope)
    if isinstance(error, FeedproofError):
        problem, headers = describe(error, trace.request_id)
    elif isinstance(error, HTTPException):
        status, detail = error.status_code, _DETAILS.get(error.status_code) or error.detail
        if status == 413:  # noqa: PLR2004
            detail = f"the body is larger than {request.route_handler.resolve_request_max_body_size()} bytes"
        problem = make_problem(status, detail, trace.request_id)
        headers = dict(error.headers or {})
        if status == 405:  # noqa: PLR2004
            # Of a path that is known, which log and metrics tell from one that is not.
            other = headers["allow"].partition(",")[0]
            *_, template = request.app.asgi_router.handle_routing(path=request.scope["path"], method=other)
            request.scope["path_template"] = template
    else:
        problem, headers = make_problem(500, _DETAILS[500], trace.request_id), {}
    note(request.scope, problem=problem.type)
    if problem.errors:
        note(request.scope, faults=len(problem.errors))
    if problem.status == 500:  # noqa: PLR2004
        logger().error("failure", request_id=trace.request_id, exc_info=error)
    return _respond(problem, headers)


@get("/problems/{name:str}", name="describe_problem", summary="What a problem type means")
async def describe_problem(name: FromPath[str]) -> Response[str]:
    """Give the page that a problem's `type` resolves to."""
    kind = BY_NAME.get(name)
    if kind is None:
        raise HTTPException(status_code=404)
    fields = {
        field: html.escape(str(getattr(kind, field))) for field in ("title", "uri", "status", "meaning", "remedy")
    }
    return Response(
        files("feedproof.api").joinpath("data/problem.html").read_text(encoding="utf-8").format(**fields),
        media_type="text/html",
        headers={"Cache-Control": "public, max-age=3600"},
    )
