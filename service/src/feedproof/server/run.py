"""Start the service, in this process: one process, as many copies of it as whoever starts it wants.

Several processes behind one socket would need somebody to look after them, and metrics that they share; whatever starts
containers or units does that already, and sends each copy its share of the requests.
"""

import asyncio
import gc
import signal
import socket
import sys
from types import FrameType
from typing import TYPE_CHECKING, Any, cast

import uvicorn
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from feedproof.api.health import Readiness
from feedproof.app import create_app
from feedproof.gc_tuning import collect_seldom
from feedproof.server.connections import Connections, Limits
from feedproof.settings import Settings
from feedproof.telemetry.logging import logger
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import MANAGEMENT, App, Receive, Scope, Send
from feedproof.telemetry.sink import Sink

if TYPE_CHECKING:
    from feedproof.telemetry.spans import Spans

SWITCH = 0.001
"""How soon a computing thread lets the event loop have its turn [s]."""


def _spans() -> "Spans":
    # Imported only where it is wanted: it comes with an extra, and takes time and memory.
    try:
        from feedproof.telemetry.spans import Spans  # noqa: PLC0415
    except ImportError as error:
        raise ValueError(f"FEEDPROOF_TRACING needs the extra `tracing`: {error}") from None
    return Spans()


class Service:
    """The application of this process, and the connections under it.

    Parameters
    ----------
    settings : Settings
        In effect.
    management : int, optional
        TCP port on which health and metrics are asked for, where that is one of its own.
    """

    def __init__(self, settings: Settings, management: int | None = None) -> None:
        # A person at a terminal reads along; elsewhere whoever reads the log must not hold the service up.
        self.sink = None if sys.stderr.isatty() else Sink(sys.stderr.fileno())
        self.metrics = Metrics()
        self.readiness = Readiness()
        self.spans = _spans() if settings.tracing else None
        limits = Limits(
            head_seconds=settings.head_seconds,
            head_bytes=settings.max_head_bytes,
            connections=settings.max_connections,
        )
        self.connections = Connections(limits, self.refused)
        app = cast("App", create_app(settings, self.readiness, self.sink, self.metrics, management, self.spans))
        if settings.trusted_proxies:
            app = cast("App", ProxyHeadersMiddleware(cast("Any", app), list(settings.trusted_proxies)))
        self.app = self.connections.bounded(app, MANAGEMENT)
        collect_seldom()

    def refused(self, status: int, reason: str) -> None:
        """Count what was refused before it was a request."""
        self.metrics.requests.labels("other", "unmatched", str(status)).inc()
        self.metrics.refuse(reason)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection, or the server's own start and stop."""
        await self.app(scope, receive, send)
        if scope["type"] == "lifespan":
            if self.spans:
                self.spans.close()
            if self.sink:
                self.sink.close()


class Server(uvicorn.Server):
    """The server, with a pause between the signal to stop and stopping.

    In the pause `/health/ready` says no, requests are still answered, and each answer asks its client to connect anew,
    which then leads elsewhere.

    Parameters
    ----------
    config : Config
    readiness : Readiness
        Told that the service is about to stop.
    pause : float
        [s]
    """

    def __init__(self, config: uvicorn.Config, readiness: Readiness, pause: float) -> None:
        super().__init__(config)
        self._readiness = readiness
        self._pause = pause
        self._loop: asyncio.AbstractEventLoop | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, and remember in which loop."""
        self._loop = asyncio.get_running_loop()
        await super().startup(sockets=sockets)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin the pause; a second signal is for those who do not want to wait."""
        if sig != signal.SIGTERM or self._readiness.draining or self._loop is None:
            super().handle_exit(sig, frame)
            return
        self._readiness.draining = True
        self._loop.call_soon_threadsafe(self._begin, sig, frame)

    def _begin(self, sig: int, frame: FrameType | None) -> None:
        logger().info("stopping", pause_s=self._pause)
        asyncio.get_running_loop().call_later(self._pause, super().handle_exit, sig, frame)


def configure(settings: Settings, service: Service) -> uvicorn.Config:
    """Give the server its settings."""
    return uvicorn.Config(
        cast("Any", service),
        # Of the server's two parsers the one that reads a body behind an offer of another protocol (RFC 9110, 7.8).
        http=cast("Any", service.connections.protocol),
        h11_max_incomplete_event_size=settings.max_head_bytes,
        ws="none",
        lifespan="on",
        interface="asgi3",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=settings.keep_alive_seconds,
        timeout_graceful_shutdown=settings.stop_seconds,
    )


def listen(host: str, port: int, stall_seconds: float) -> socket.socket:
    """Open a socket to listen on.

    Parameters
    ----------
    host : str
        Address.
    port : int
        TCP port; 0 takes a free one.
    stall_seconds : float
        After how long a client that reads nothing loses its connection, where the system can [s].

    Raises
    ------
    OSError
        If the address is not to be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.create_server((host, port), family=family, backlog=2048)
    if hasattr(socket, "TCP_USER_TIMEOUT"):
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, round(1e3 * stall_seconds))
    return listener


def url_of(listener: socket.socket) -> str:
    """Address of what listens."""
    host, port = listener.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def serve(settings: Settings, listener: socket.socket, management: socket.socket | None = None) -> int:
    """Serve until told to stop.

    Parameters
    ----------
    settings : Settings
        In effect.
    listener : socket
        From `listen`.
    management : socket, optional
        Another, for health and metrics alone.

    Returns
    -------
    int
        Exit status.

    Raises
    ------
    ValueError
        If a key file is named and cannot be read, or spans are wanted without what makes them.
    """
    sys.setswitchinterval(SWITCH)
    # Before what is loaded is left alone, what loading left over goes.
    gc.collect()
    service = Service(settings, management.getsockname()[1] if management else None)
    more = {"management": url_of(management)} if management else {}
    logger().info("listening", url=url_of(listener), threads=settings.workers, **more)
    sockets = [listener, management] if management else [listener]
    Server(configure(settings, service), service.readiness, settings.drain_seconds).run(sockets=sockets)
    return 0
