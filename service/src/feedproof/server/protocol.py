"""HTTP/1.1 on one connection, with a bound on everything that a client decides.

The server's own protocol waits for ever for a request's head, lets it grow for ever, and goes on reading a body that
has been refused already. A client that sends slowly, or nothing, would hold its connection until it tires. And where
a client offers to go over to another protocol, its parser leaves the request's body unread.

References
----------
RFC 9112, HTTP/1.1, 9.5 (timeouts), 9.6 (closing a connection in stages). RFC 6585, 5 (431). RFC 9110, 7.8 (Upgrade: a
server may ignore it), 15.5.9 (408).
"""

import asyncio
from collections.abc import Callable
from typing import Any, ClassVar, Protocol, cast
from uuid import uuid4

import httptools
from msgspec import Struct
from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol, RequestResponseCycle

from feedproof.api.problems import encode, make_problem
from feedproof.contract.problem import MEDIA_TYPE

LINGER = 2.0
"""How long what follows a refusal is read and dropped, so that the refusal arrives [s]."""
MOST_HEADERS = 100


class Limits(Struct, frozen=True, kw_only=True):
    """Bounds on connections."""

    head_seconds: float
    """For a request's head to arrive [s]."""
    head_bytes: int
    """Size of a request's head [byte]."""
    stall_seconds: float
    """For a client to read on [s]."""
    connections: int
    """Open at once."""


class Guarded(Protocol):
    """What the protocol needs to know of the application it serves."""

    limits: Limits
    refused: Callable[[int, str], None]
    """Told the status and the reason of every refusal that the application does not see."""


class TooLarge(Exception):
    """The head is larger than it may be."""


class GuardedProtocol(HttpToolsProtocol):
    """One connection."""

    REASONS: ClassVar[dict[int, tuple[str, str]]] = {
        400: ("malformed", "this is no HTTP/1.1 request"),
        408: ("slow_head", "the request's head did not arrive in time"),
        431: ("large_head", "the request's line and headers are larger than the service takes"),
        503: ("connections", "the service holds as many connections as it takes"),
    }

    def __init__(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401 - the server's business
        super().__init__(*arguments, **named)
        self._guarded = cast("Guarded", self.app)
        self._limits = self._guarded.limits
        self._head_timer: asyncio.TimerHandle | None = None
        self._stall_timer: asyncio.TimerHandle | None = None
        self._linger_timer: asyncio.TimerHandle | None = None
        self._in_head = True
        self._body_complete = True
        self._head_size = 0
        self._too_large = False
        self._read_again = False

    # The connection

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, in place of an idle one where there are too many."""
        super().connection_made(transport)
        if len(self.connections) > self._limits.connections and not self._make_room():
            self._refuse(503)
            return
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        for timer in (self._head_timer, self._stall_timer, self._linger_timer):
            if timer is not None:
                timer.cancel()
        super().connection_lost(exc)

    @property
    def _answering(self) -> RequestResponseCycle | None:
        """The request being answered; the base class holds none before the first one."""
        cycle = cast("RequestResponseCycle | None", self.cycle)
        return None if cycle is None or cycle.response_complete else cycle

    @property
    def is_idle(self) -> bool:
        """Whether no request is being answered."""
        return self._answering is None

    def _make_room(self) -> bool:
        for other in self.connections:
            if other is not self and isinstance(other, GuardedProtocol) and other.is_idle:
                other.transport.abort()
                return True
        return False

    # The head

    def _await_head(self) -> None:
        if self._head_timer is None:
            self._head_timer = self.loop.call_later(self._limits.head_seconds, self._head_is_late)

    def _head_is_late(self) -> None:
        self._head_timer = None
        if not self.is_idle:
            # Part of the next request's head came while this one is being answered.
            self._await_head()
        elif self._head_size:
            self._refuse(408)
        else:
            self.transport.close()

    def _feed(self, data: bytes) -> None:
        """Give the parser what has arrived, as if nobody had offered another protocol."""
        while True:
            try:
                self.parser.feed_data(data)
            except httptools.HttpParserUpgrade as offer:
                if not self._read_again:
                    return
                data = self._head_without_offer() + data[offer.args[0] :]
                self._read_again = False
                self.parser = httptools.HttpRequestParser(self)
                self.parser.set_dangerous_leniencies(lenient_data_after_close=True)
            except httptools.HttpParserError:
                self.send_400_response("")
                return
            else:
                return

    def _head_without_offer(self) -> bytes:
        """Head of the request that was read last, to be read again."""
        line = self.parser.get_method() + b" " + self.url + b" HTTP/" + self.parser.get_http_version().encode()
        kept = (name + b": " + value for name, value in self.headers if name != b"upgrade")
        return b"\r\n".join((line, *kept, b"", b""))

    def data_received(self, data: bytes) -> None:
        """Take what has arrived."""
        self._unset_keepalive_if_required()
        self._feed(data)
        if self._in_head and not self.transport.is_closing():
            self._head_size += len(data)
            self._await_head()
            if self._head_size > self._limits.head_bytes:
                self._refuse(431)

    def _grow(self, size: int) -> None:
        self._head_size += size
        if self._head_size > self._limits.head_bytes or len(self.headers) > MOST_HEADERS:
            self._too_large = True
            raise TooLarge

    def on_message_begin(self) -> None:
        """Begin a request."""
        self._in_head = True
        self._head_size = 0
        super().on_message_begin()

    def on_url(self, url: bytes) -> None:
        """Take a piece of the request's target."""
        self._grow(len(url))
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Take a header."""
        self._grow(len(name) + len(value) + 4)
        super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """End the head."""
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None
        # After CONNECT there is no HTTP either, but that is not an offer.
        self._read_again = self.parser.should_upgrade() and self.parser.get_method() != b"CONNECT"
        if self._read_again:
            return
        self._in_head = False
        self._body_complete = False
        super().on_headers_complete()

    # The body and the answer

    def on_message_complete(self) -> None:
        """End the request."""
        if self._read_again:
            return
        self._body_complete = True
        if self._linger_timer is not None:
            self._linger_timer.cancel()
            self._linger_timer = None
        super().on_message_complete()

    def on_response_complete(self) -> None:
        """End the answer; what is left of the body is not waited for."""
        super().on_response_complete()
        if not self._body_complete and not self.transport.is_closing():
            self._linger_timer = self.loop.call_later(LINGER, self.transport.abort)

    def pause_writing(self) -> None:
        """Wait for a client that does not read, but not for ever."""
        super().pause_writing()
        if self._stall_timer is None:
            self._stall_timer = self.loop.call_later(self._limits.stall_seconds, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on."""
        if self._stall_timer is not None:
            self._stall_timer.cancel()
            self._stall_timer = None
        super().resume_writing()

    # Refusals

    def send_400_response(self, msg: str) -> None:  # noqa: ARG002 - what the parser said may hold what was sent
        """Refuse what is no request."""
        self._refuse(431 if self._too_large else 400)

    def _refuse(self, status: int) -> None:
        if self.transport.is_closing():
            return
        reason, detail = self.REASONS[status]
        body = encode(make_problem(status, detail, str(uuid4())))
        head = [
            *self.server_state.default_headers,
            (b"content-type", MEDIA_TYPE.encode()),
            (b"content-length", str(len(body)).encode()),
            (b"cache-control", b"no-store"),
            (b"connection", b"close"),
        ]
        if status == 503:  # noqa: PLR2004
            head.append((b"retry-after", b"2"))
        answering = self._answering
        if answering is None or not answering.response_started:
            lines = b"".join(name + b": " + value + b"\r\n" for name, value in head)
            self.transport.write(STATUS_LINE[status] + lines + b"\r\n" + body)
        self.transport.close()
        self._guarded.refused(status, reason)
