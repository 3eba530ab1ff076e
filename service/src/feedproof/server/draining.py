"""Stopping without losing a request: first say not ready, go on for a while, then close the door."""

import asyncio
import signal
import threading
from types import FrameType
from typing import Any

from feedproof.api.health import Readiness
from feedproof.telemetry.logging import logger
from feedproof.telemetry.middleware import App, Message, Receive, Scope, Send

CLOSE = (b"connection", b"close")


class Draining:
    """ASGI middleware that puts a pause between the signal to stop and the server's acting on it.

    In the pause `/health/ready` says no, requests are still answered, and each answer asks its client to connect
    anew, which then leads elsewhere.

    Parameters
    ----------
    app : ASGI application
    readiness : Readiness
        Told that the service is about to stop.
    pause : float
        [s]
    """

    def __init__(self, app: App, readiness: Readiness, pause: float) -> None:
        self.app = app
        self.readiness = readiness
        self.pause = pause

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection, or the server's own start and stop."""
        if scope["type"] == "lifespan":

            async def notice(message: Message) -> None:
                if message["type"] == "lifespan.startup.complete":
                    self._take_over(signal.SIGTERM)
                await send(message)

            await self.app(scope, receive, notice)
            return

        async def close(message: Message) -> None:
            if self.readiness.draining and message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), CLOSE]
            await send(message)

        await self.app(scope, receive, close)

    def _take_over(self, number: signal.Signals) -> None:
        if threading.current_thread() is not threading.main_thread():
            return
        before: Any = signal.getsignal(number)
        loop = asyncio.get_running_loop()

        def act(frame: FrameType | None) -> None:
            if callable(before):
                before(number, frame)

        def begin(frame: FrameType | None) -> None:
            logger().info("stopping", pause_s=self.pause)
            self.readiness.draining = True
            loop.call_later(self.pause, act, frame)

        def notice(_: int, frame: FrameType | None) -> None:
            # A second signal is for those who do not want to wait.
            if self.readiness.draining:
                act(frame)
            else:
                loop.call_soon_threadsafe(begin, frame)

        signal.signal(number, notice)
