"""The outermost layer: ids, metrics and the log line, in one pass over each request."""

import time
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any, cast

from feedproof.telemetry.logging import logger
from feedproof.telemetry.metrics import METHODS, Metrics
from feedproof.telemetry.tracing import Trace, start_trace

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

TRACE = "feedproof.trace"
NOTES = "feedproof.notes"
QUIET_ROUTES = frozenset({"/health/live", "/health/ready", "/metrics"})


def trace_of(scope: Mapping[str, object]) -> Trace:
    """Ids of the request, for whoever answers it."""
    return cast("Trace", scope[TRACE])


def note(scope: Mapping[str, object], **facts: str | int) -> None:
    """Add facts to the request's log line. Never a reading, never the caller's reference."""
    cast("dict[str, str | int]", scope[NOTES]).update(facts)


def _header(scope: Scope, name: bytes) -> bytes | None:
    return next((value for key, value in scope["headers"] if key == name), None)


class Telemetry:
    """ASGI middleware round the whole application, so that 404 and 405 are counted too."""

    def __init__(self, app: App, metrics: Metrics) -> None:
        self.app = app
        self.metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begin = time.perf_counter()
        trace = start_trace(_header(scope, b"traceparent"))
        notes: dict[str, str | int] = {}
        scope[TRACE] = trace
        scope[NOTES] = notes
        method = scope["method"]
        status = 500

        async def mark(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [
                    *message.get("headers", ()),
                    (b"request-id", trace.request_id.encode()),
                    (b"traceparent", trace.traceparent.encode()),
                ]
            await send(message)

        self.metrics.in_flight.inc()
        try:
            await self.app(scope, receive, mark)
        finally:
            self.metrics.in_flight.dec()
            taken = time.perf_counter() - begin
            route = scope.get("path_template") or "unmatched"
            self.metrics.duration.labels(route).observe(taken)
            self.metrics.requests.labels(method if method in METHODS else "other", route, str(status)).inc()
            if route not in QUIET_ROUTES:
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
