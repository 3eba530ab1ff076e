"""Bounds on connections: how many there are, and how long one may take over a request's head.

The server as it comes reads and parses, bounds the size of a head, refuses what is no HTTP, and closes what is idle
after an answer. Behind it stands only what no gateway may be there to do: a connection that sends no request in time is
closed, one that is idle makes room for one that is new, and some room is kept for whoever asks for the health. A head
is held to its bound again once it is whole, since the server looks at one only while it is not.

References
----------
RFC 9112, HTTP/1.1, 3.2.2 (absolute-form), 6.1 (Transfer-Encoding and Content-Length together), 9.5 (timeouts).
RFC 6585, 5 (431).
"""

import asyncio
import re
import sys
from collections.abc import Callable
from typing import Any
from urllib.parse import unquote

import h11
import msgspec
from msgspec import Struct
from uvicorn.protocols.http.h11_impl import H11Protocol

from feedproof.api import problems
from feedproof.contract.problem import MEDIA_TYPE
from feedproof.telemetry.middleware import LEFT, App, Receive, Scope, Send

STATE = "feedproof.connection"
"""Under which the state of a request holds its connection."""
VERSIONS = frozenset({"1.0", "1.1"})
"""The parser takes any, and asks for a Host in 1.1 alone (RFC 9110, 15.6.6: 505)."""
BUSY = 503
KEPT_SHARE = 8
"""One connection in so many is kept for requests that need no room: the health and the metrics."""
DETAILS = {
    400: "no request in HTTP/1.1 that can be understood in one way only",
    431: "the line and headers of the request are larger than the service takes",
    BUSY: "the service holds as many connections as it takes",
}
BOTH_LENGTHS = frozenset({b"transfer-encoding", b"content-length"})
_ABSOLUTE = re.compile(rb"https?://[^/]*(/.*)?", re.IGNORECASE)


def _encode_problem(status: int) -> bytes:
    problem = problems.make_problem(status, DETAILS[status], "")
    return msgspec.json.encode(msgspec.structs.replace(problem, instance="about:blank"))


class Limits(Struct, frozen=True, kw_only=True):
    """Bounds on connections."""

    head_seconds: float
    """For a request's head to arrive [s]."""
    head_bytes: int
    """Of a request's line and headers."""
    connections: int
    """Open at once."""

    @property
    def for_requests(self) -> int:
        """Connections whose requests may be answered at once, the health's not counted."""
        return self.connections - max(1, self.connections // KEPT_SHARE)


class Connections:
    """The connections of one process.

    Parameters
    ----------
    limits : Limits
    refused : callable
        Told the status and the reason of every refusal that the application does not see.
    """

    def __init__(self, limits: Limits, refused: Callable[[int, str], None]) -> None:
        self.limits = limits
        self.refused = refused
        # In the order in which they became idle.
        self.idle: dict[_Connection, None] = {}
        self.busy: set[_Connection] = set()

    def protocol(self, **given: Any) -> asyncio.Protocol:  # noqa: ANN401 - the server's business
        """Make what the server reads one connection with."""
        return _Connection(self, **given)

    def make_room(self) -> None:
        """Close the connection that has been idle for longest, where there are too many."""
        while len(self.idle) + len(self.busy) > self.limits.connections and self.idle:
            next(iter(self.idle)).drop()

    def bounded(self, app: App, unbounded: frozenset[str]) -> App:
        """Refuse requests where as many are being answered as may be.

        Parameters
        ----------
        app : ASGI application
        unbounded : set of str
            Paths that are always answered, in a version of HTTP that is spoken here.

        Returns
        -------
        ASGI application
        """

        async def serve(scope: Scope, receive: Receive, send: Send) -> None:
            connection = scope["state"].get(STATE) if scope["type"] == "http" else None
            if not isinstance(connection, _Connection):
                await app(scope, receive, send)
                return
            scope[LEFT] = connection.left
            connection.begin()
            try:
                _take_absolute_form(scope)
                if scope["http_version"] not in VERSIONS:
                    await self._answer(send, 505, "version", b"text/plain", b"HTTP/1.0 and HTTP/1.1 are spoken here\n")
                elif _size_of_head(scope) > self.limits.head_bytes:
                    await self._answer(send, 431, "head")
                elif {name for name, _ in scope["headers"]} >= BOTH_LENGTHS:
                    await self._answer(send, 400, "head")
                elif len(self.busy) > self.limits.for_requests and scope["path"] not in unbounded:
                    await self._answer(send, BUSY, "connections")
                else:
                    await app(scope, receive, send)
            finally:
                connection.end()

        return serve

    async def _answer(
        self, send: Send, status: int, reason: str, media_type: bytes = MEDIA_TYPE.encode(), body: bytes = b""
    ) -> None:
        self.refused(status, reason)
        body = body or _encode_problem(status)
        headers = [
            (b"content-type", media_type),
            (b"content-length", str(len(body)).encode()),
            (b"cache-control", b"no-store"),
            (b"connection", b"close"),
            *([(b"retry-after", b"2")] if status == BUSY else []),
        ]
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": body})


def _take_absolute_form(scope: Scope) -> None:
    """Take a target with scheme and host for its path: a client may send what a proxy must be sent."""
    if found := _ABSOLUTE.fullmatch(scope["raw_path"]):
        scope["raw_path"] = found[1] or b"/"
        scope["path"] = unquote(scope["raw_path"].decode("ascii"))


def _size_of_head(scope: Scope) -> int:
    """Size of the line and headers, blanks that mean nothing left out [byte]."""
    line = len(scope["method"]) + len(scope["raw_path"]) + len(scope["query_string"]) + len(b"  HTTP/1.1\r\n\r\n")
    return line + sum(len(name) + len(b": \r\n") + len(value) for name, value in scope["headers"])


class _Connection(H11Protocol):
    """One connection; of the server's protocol it changes what asyncio calls, and what is said to no request."""

    def __init__(self, connections: Connections, *, app_state: dict[str, Any], **given: Any) -> None:  # noqa: ANN401
        super().__init__(app_state={**app_state, STATE: self}, **given)
        self._all = connections
        self._open: asyncio.Transport | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._heard = False
        self._requests = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, in place of an idle one where there are too many."""
        super().connection_made(transport)
        self._open = transport
        self._all.idle[self] = None
        self._await_head()
        self._all.make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._forget_timer()
        self._all.idle.pop(self, None)
        self._all.busy.discard(self)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what has arrived; the first of it begins a head."""
        super().data_received(data)
        if self in self._all.idle:
            self._heard = True
            if self._timer is None:
                self._await_head()

    def send_400_response(self, msg: str) -> None:  # noqa: ARG002
        """Refuse what the parser does not take, with its reason for that and as everything else is refused."""
        status = 431 if getattr(sys.exception(), "error_status_hint", 400) == 431 else 400  # noqa: PLR2004
        self._all.refused(status, "head")
        body = _encode_problem(status)
        headers = {"Content-Type": MEDIA_TYPE, "Content-Length": str(len(body)), "Cache-Control": "no-store"}
        response = h11.Response(status_code=status, headers=[*headers.items(), ("Connection", "close")])
        for event in (response, h11.Data(data=body), h11.EndOfMessage()):
            self.transport.write(self.conn.send(event) or b"")
        self.transport.close()

    def begin(self) -> None:
        """Note that a request's head is there."""
        self._forget_timer()
        self._heard = False
        self._requests += 1
        self._all.idle.pop(self, None)
        self._all.busy.add(self)

    def left(self) -> bool:
        """Whether the connection is closed."""
        return self._open is None or self._open.is_closing()

    def end(self) -> None:
        """Note that the request has been answered."""
        self._requests -= 1
        if self._requests:
            return
        self._all.busy.discard(self)
        if not self.left():
            self._all.idle[self] = None
            self._all.make_room()

    def drop(self) -> None:
        """Close the connection, whatever it is doing."""
        self._all.idle.pop(self, None)
        if self._open is not None:
            self._open.abort()

    def _await_head(self) -> None:
        self._timer = asyncio.get_running_loop().call_later(self._all.limits.head_seconds, self._be_late)

    def _forget_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _be_late(self) -> None:
        self._timer = None
        if self in self._all.idle and self._open is not None:
            if self._heard:
                self._all.refused(408, "slow_head")
            self._open.close()
