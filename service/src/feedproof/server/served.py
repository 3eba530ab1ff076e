"""The application of one process, and what the protocol under it needs to know."""

import sys
from typing import cast

from feedproof.api.health import Readiness
from feedproof.app import create_app
from feedproof.collector import collect_seldom
from feedproof.server.draining import Draining
from feedproof.server.protocol import Limits
from feedproof.settings import Settings, from_environment
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import App, Receive, Scope, Send
from feedproof.telemetry.sink import Sink

SWITCH = 0.001
"""How soon a computing thread lets the event loop have its turn [s]."""


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
        collect_seldom()

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
