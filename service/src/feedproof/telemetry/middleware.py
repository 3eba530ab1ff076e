"""The outermost layer: ids, metrics and the log line, in one pass over each request.

References
----------
W3C Trace Context, section 3.2 (`traceparent`): version, trace-id, parent-id, flags; all-zero ids are invalid.
"""

import re
import secrets
import time
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any, NamedTuple, Protocol, cast
from uuid import UUID

from feedproof.telemetry.logging import logger
from feedproof.telemetry.metrics import METHODS, Metrics

_TRACEPARENT = re.compile(rb"([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")


class Trace(NamedTuple):
    """Ids of one request."""

    request_id: str
    """Of this request alone: a random UUID."""
    trace_id: str
    """Of the caller's trace, or a new one."""
    span_id: str
    """Of this service's part of it."""
    flags: str
    parent_id: str = ""
    """Of the caller's part of it, where there is one."""

    @property
    def traceparent(self) -> str:
        """As a header of the answer."""
        return f"00-{self.trace_id}-{self.span_id}-{self.flags}"


def start_trace(traceparent: bytes | None) -> Trace:
    """Continue the caller's trace, or start one where its header is missing or invalid.

    Parameters
    ----------
    traceparent : bytes or None
        The request's `traceparent` header.
    """
    entropy = secrets.token_bytes(24)
    request_id = str(UUID(bytes=entropy[:16], version=4))
    span_id = entropy[16:].hex()
    if traceparent is not None and (found := _TRACEPARENT.fullmatch(traceparent)):
        version, trace_id, parent_id, flags, rest = (
            part.decode("ascii", "replace") if part else "" for part in found.groups()
        )
        usable = version != "ff" and (version != "00" or not rest)
        if usable and int(trace_id, 16) and int(parent_id, 16):
            return Trace(request_id, trace_id, span_id, flags, parent_id)
    return Trace(request_id, secrets.token_hex(16), span_id, "00")


Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

TRACE = "feedproof.trace"
NOTES = "feedproof.notes"
HEADERS = "feedproof.headers"
ENDS = "feedproof.ends"
LEFT = "feedproof.left"
"""Under which the server puts what tells whether the client has closed the connection."""
GONE = "gone"
"""Note of a request whose client went away before there was an answer."""
STATUS_GONE = 499
"""For the log and the metrics only; nothing was sent."""
MANAGEMENT = frozenset({"/health/live", "/health/ready", "/metrics"})
"""Paths for whoever operates the service: neither logged nor traced."""


def trace_of(scope: Mapping[str, object]) -> Trace:
    """Ids of the request, for whoever answers it."""
    return cast("Trace", scope[TRACE])


def note(scope: Mapping[str, object], **facts: str | float) -> None:
    """Add facts to the request's log line. Never a reading, never the caller's reference."""
    cast("dict[str, str | float]", scope[NOTES]).update(facts)


def add_header(scope: Mapping[str, object], name: bytes, value: bytes) -> None:
    """Have a header sent with the answer, whatever it will be. The name in small letters."""
    cast("list[tuple[bytes, bytes]]", scope[HEADERS]).append((name, value))


def at_end(scope: Mapping[str, object], call: Callable[[], None]) -> None:
    """Have something done once the request is over, however it ends."""
    cast("list[Callable[[], None]]", scope[ENDS]).append(call)


def _header(scope: Scope, name: bytes) -> bytes | None:
    return next((value for key, value in scope["headers"] if key == name), None)


class Spans(Protocol):
    """What makes spans, where somebody wants them."""

    def begin(self, trace: Trace, method: str, /) -> tuple[Trace, Callable[[str, int], None]]:
        """Begin a request's span: give its ids, and what ends it with the route and the status."""


class Telemetry:
    """ASGI middleware round the whole application, so that 404 and 405 are counted too.

    Parameters
    ----------
    app : ASGI application
    metrics : Metrics
    model : str, optional
        Version of the model, for a header of every answer.
    spans : Spans, optional
        Makes spans of requests; left out, there are none.
    """

    def __init__(self, app: App, metrics: Metrics, model: str | None = None, spans: Spans | None = None) -> None:
        self.app = app
        self.spans = spans
        self.metrics = metrics
        self.always = () if model is None else ((b"model-version", model.encode()),)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begin = time.perf_counter()
        trace = start_trace(_header(scope, b"traceparent"))
        end_span: Callable[[str, int], None] | None = None
        if self.spans and scope["path"] not in MANAGEMENT:
            trace, end_span = self.spans.begin(trace, scope["method"])
        notes: dict[str, str | float] = {}
        scope[TRACE] = trace
        scope[NOTES] = notes
        extra: list[tuple[bytes, bytes]] = []
        ends: list[Callable[[], None]] = []
        scope[HEADERS] = extra
        scope[ENDS] = ends
        method = scope["method"]
        status = 500

        async def mark(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [
                    *message.get("headers", ()),
                    *extra,
                    *self.always,
                    (b"request-id", trace.request_id.encode()),
                    (b"traceparent", trace.traceparent.encode()),
                ]
            await send(message)

        self.metrics.in_flight.inc()
        try:
            await self.app(scope, receive, mark)
        finally:
            for end in ends:
                end()
            if notes.get(GONE):
                status = STATUS_GONE
            self.metrics.in_flight.dec()
            taken = time.perf_counter() - begin
            route = scope.get("path_template") or "unmatched"
            self.metrics.duration.labels(route, f"{status // 100}xx").observe(taken)
            if end_span:
                end_span(route, status)
            self.metrics.requests.labels(method if method in METHODS else "other", route, str(status)).inc()
            if route not in MANAGEMENT:
                logger().info(
                    "request",
                    method=method,
                    route=route,
                    status=status,
                    duration_ms=round(taken * 1e3, 3),
                    request_id=trace.request_id,
                    trace_id=trace.trace_id,
                    **notes,
                )
