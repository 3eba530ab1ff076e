"""What every answer gets: HEAD wherever there is GET, compression, cross-origin headers, safe defaults.

And how an operation is announced to go away: nothing in v1 is deprecated, but that is what v2 will use.

References
----------
RFC 9110, HTTP Semantics, 9.3.2 (HEAD), 12.5.3 and 12.5.5 (Accept-Encoding, Vary). WHATWG Fetch, CORS protocol.
RFC 9745 (Deprecation: a structured date), RFC 8594 (Sunset: an HTTP date; Link relations).
"""

import gzip
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from email.utils import format_datetime

import brotli  # type: ignore[import-untyped]
from msgspec import Struct

from feedproof.api.health import Readiness
from feedproof.api.representations import best_coding
from feedproof.api.timeouts import CLOSE
from feedproof.telemetry.middleware import App, Message, Receive, Scope, Send

KEY = "lifecycle"
"""Under which a handler's `opt` holds its lifecycle."""


class Lifecycle(Struct, frozen=True, kw_only=True):
    """Since when an operation is deprecated, until when it answers, and where to read what to use."""

    deprecated: datetime
    """With a time zone."""
    sunset: datetime
    """With the time zone UTC."""
    guide: str
    """Address of the page that says what to use in its place."""

    def headers(self) -> dict[str, str]:
        """Headers of every answer of the operation."""
        return {
            "Deprecation": f"@{int(self.deprecated.timestamp())}",
            "Sunset": format_datetime(self.sunset, usegmt=True),
            "Link": f'<{self.guide}>; rel="deprecation"; type="text/html", <{self.guide}>; rel="sunset"',
        }


def lifecycle_of(scope: Mapping[str, object]) -> Lifecycle | None:
    """Lifecycle of the operation that answers, where it has one."""
    handler = scope.get("route_handler")
    found = getattr(handler, "opt", {}).get(KEY)
    return found if isinstance(found, Lifecycle) else None


SMALLEST = 1024
"""A body below this is not compressed [byte]: the header would eat the gain."""
COMPRESSIBLE = ("application/json", "application/problem+json", "text/", "image/svg+xml", "application/javascript")
CODINGS: dict[str, Callable[[bytes], bytes]] = {
    "br": lambda body: brotli.compress(body, quality=4),
    # The time stamp in the header is left out: the same answer has the same bytes.
    "gzip": lambda body: gzip.compress(body, compresslevel=5, mtime=0),
}
SAFE = ((b"x-content-type-options", b"nosniff"), (b"referrer-policy", b"no-referrer"))
ASKABLE = b"Accept, Accept-Language, Api-Key, Authorization, Content-Encoding, Content-Type, If-None-Match, traceparent"
EXPOSED = (
    b"Request-Id, Model-Version, traceparent, ETag, Retry-After, RateLimit, RateLimit-Policy, Deprecation, Sunset, Link"
)


def _get(headers: Sequence[tuple[bytes, bytes]], name: bytes) -> str | None:
    for key, value in headers:
        if key.lower() == name:
            return value.decode("latin-1")
    return None


def _with_head(allow: bytes) -> bytes:
    methods = {method.strip() for method in allow.split(b",")}
    return b", ".join(sorted(methods | {b"HEAD"} if b"GET" in methods else methods))


class ResponseHeaders:
    """ASGI middleware next to the application."""

    def __init__(self, app: App, cors_origins: Sequence[str], readiness: Readiness) -> None:
        self.app = app
        self.readiness = readiness
        self.origins = frozenset(cors_origins)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        origin = _get(scope["headers"], b"origin") if self.origins else None
        allowed = origin if origin is not None and (origin in self.origins or "*" in self.origins) else None
        if allowed and scope["method"] == "OPTIONS" and _get(scope["headers"], b"access-control-request-method"):
            await self._preflight(allowed, send)
            return
        head = scope["method"] == "HEAD"
        # A copy: the server keeps using its own scope, and expects a body after GET.
        inner = {**scope, "method": "GET"} if head else scope
        # Of a service that is about to stop: the next request should go elsewhere.
        always = (*SAFE, CLOSE) if self.readiness.draining else SAFE
        outgoing = _Outgoing(send, inner, head=head, origin=allowed, cors=bool(self.origins), always=always)
        try:
            await self.app(inner, receive, outgoing)
        finally:
            # The matched route, for log and metrics.
            if "path_template" in inner:
                scope["path_template"] = inner["path_template"]

    async def _preflight(self, origin: str, send: Send) -> None:
        headers = [
            (b"access-control-allow-origin", origin.encode("latin-1")),
            (b"access-control-allow-methods", b"GET, HEAD, POST, OPTIONS"),
            (b"access-control-allow-headers", ASKABLE),
            (b"access-control-max-age", b"600"),
            (b"vary", b"Origin"),
        ]
        await send({"type": "http.response.start", "status": 204, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


class _Outgoing:
    """Changes one answer on its way out."""

    def __init__(
        self,
        send: Send,
        scope: Scope,
        *,
        head: bool,
        origin: str | None,
        cors: bool,
        always: Sequence[tuple[bytes, bytes]],
    ) -> None:
        self.always = always
        self.send = send
        self.head = head
        self.scope = scope
        self.origin = origin
        self.cors = cors
        self.start: Message | None = None

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.start = message
        elif message["type"] == "http.response.body":
            await self._body(message)
        else:
            await self.send(message)

    async def _body(self, message: Message) -> None:
        start, self.start = self.start, None
        body, more = message.get("body", b""), message.get("more_body", False)
        if start is not None:
            headers = [(k, _with_head(v) if k.lower() == b"allow" else v) for k, v in start.get("headers", ())]
            headers += self.always
            lifecycle = lifecycle_of(self.scope)
            if lifecycle is not None:
                headers += [(name.lower().encode(), text.encode()) for name, text in lifecycle.headers().items()]
            kind = _get(headers, b"content-type") or ""
            vary = [_get(headers, b"vary")] if _get(headers, b"vary") else []
            if not more and kind.startswith(COMPRESSIBLE) and _get(headers, b"content-encoding") is None:
                vary.append("Accept-Encoding")
                coding = (
                    best_coding(_get(self.scope["headers"], b"accept-encoding"), tuple(CODINGS))
                    if len(body) >= SMALLEST
                    else None
                )
                if coding:
                    body = CODINGS[coding](body)
                    headers = [(k, v) for k, v in headers if k.lower() != b"content-length"]
                    headers += [(b"content-encoding", coding.encode()), (b"content-length", str(len(body)).encode())]
            if self.cors:
                vary.append("Origin")
                if self.origin:
                    headers.append((b"access-control-allow-origin", self.origin.encode("latin-1")))
                    headers.append((b"access-control-expose-headers", EXPOSED))
            if vary:
                headers = [(k, v) for k, v in headers if k.lower() != b"vary"]
                headers.append((b"vary", ", ".join(v for v in vary if v).encode("latin-1")))
            await self.send({**start, "headers": headers})
        if self.head:
            if not more:
                await self.send({"type": "http.response.body", "body": b"", "more_body": False})
            return
        await self.send({"type": "http.response.body", "body": body, "more_body": more})
