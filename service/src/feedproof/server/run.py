"""Start the service, in this process or in several that it looks after."""

import os
import shutil
import socket
import sys
import tempfile
from typing import Any, cast

import uvicorn
from uvicorn.supervisors import Multiprocess

from feedproof.api.health import Readiness
from feedproof.app import create_app
from feedproof.server.draining import Draining
from feedproof.server.protocol import GuardedProtocol, Limits
from feedproof.settings import Settings, from_environment
from feedproof.telemetry.logging import configure, logger
from feedproof.telemetry.metrics import SHARED, Metrics
from feedproof.telemetry.middleware import App, Receive, Scope, Send
from feedproof.telemetry.sink import Sink

SWITCH = 0.001
"""How soon a computing thread lets the event loop have its turn [s]."""
WORKER_SILENCE = 30
"""How long a process may be silent before it is replaced [s]."""


class Served:
    """The application, and what the protocol under it needs to know.

    Parameters
    ----------
    settings : Settings
        In effect.
    """

    def __init__(self, settings: Settings) -> None:
        # A person at a terminal reads along; elsewhere whoever reads the log must not hold the service up.
        self.sink = None if sys.stderr.isatty() else Sink(sys.stderr.fileno())
        self.metrics = Metrics()
        readiness = Readiness()
        app = cast("App", create_app(settings, readiness, self.sink, self.metrics))
        self.app: App = Draining(app, readiness, settings.drain_seconds)
        self.limits = Limits(
            head_seconds=settings.head_seconds,
            head_bytes=settings.max_head_bytes,
            stall_seconds=settings.idle_seconds,
            connections=settings.max_connections,
        )

    def refused(self, status: int, reason: str) -> None:
        """Count what was refused before it was a request."""
        self.metrics.requests.labels("other", "unmatched", str(status)).inc()
        self.metrics.refused.labels(reason).inc()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        await self.app(scope, receive, send)
        if scope["type"] == "lifespan" and self.sink:
            self.sink.close()


def served() -> Served:
    """Make the application of one of several processes, from the environment."""
    sys.setswitchinterval(SWITCH)
    return Served(from_environment())


def _config(settings: Settings, app: Served | str) -> uvicorn.Config:
    return uvicorn.Config(
        cast("Any", app),
        factory=isinstance(app, str),
        workers=settings.processes,
        http=GuardedProtocol,
        ws="none",
        lifespan="on",
        interface="asgi3",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=settings.keep_alive_seconds,
        timeout_graceful_shutdown=settings.stop_seconds,
        timeout_worker_healthcheck=WORKER_SILENCE,
    )


def listen(settings: Settings) -> socket.socket:
    """Open the socket to listen on.

    Raises
    ------
    OSError
        If the address is not to be had.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    return socket.create_server((settings.host, settings.port), family=family, backlog=2048)


def _announce(listener: socket.socket, settings: Settings) -> None:
    host, port = listener.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host
    logger().info("listening", url=f"http://{shown}:{port}", processes=settings.processes, threads=settings.workers)


def _several(settings: Settings, listener: socket.socket) -> None:
    folder = tempfile.mkdtemp(prefix="feedproof-metrics-")
    os.environ[SHARED] = folder
    configure(settings.log_format, settings.log_level)
    try:
        _announce(listener, settings)
        Multiprocess(_config(settings, "feedproof.server.run:served"), sockets=[listener]).run()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def serve(settings: Settings, listener: socket.socket) -> int:
    """Serve until told to stop.

    Parameters
    ----------
    settings : Settings
        In effect; the same as in the environment where there are several processes.
    listener : socket
        From `listen`.

    Returns
    -------
    int
        Exit status.

    Raises
    ------
    ValueError
        If a key file is named and cannot be read.
    """
    if settings.processes > 1:
        _several(settings, listener)
        return 0
    sys.setswitchinterval(SWITCH)
    app = Served(settings)
    _announce(listener, settings)
    uvicorn.Server(_config(settings, app)).run(sockets=[listener])
    return 0
