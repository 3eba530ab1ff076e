"""How long a request may take, and how long its client may be silent.

References
----------
RFC 9110, HTTP Semantics, 15.5.9 (408), 15.6.4 (503). RFC 9112, HTTP/1.1, 9.6 (closing a connection in stages).
"""

import asyncio
from collections.abc import Callable
from contextlib import suppress

from litestar.exceptions import HTTPException

from feedproof.api import problems
from feedproof.telemetry.middleware import GONE, LEFT, App, Message, Receive, Scope, Send, note, trace_of

STREAMS = frozenset({"/v1/assessments/batch"})
"""Paths whose requests may last as long as something is sent."""
RETRY_AFTER = "2"
LATE = "the body did not arrive in time"
LINGER = 2.0
"""How long the rest of a body is read and dropped before a request is refused for what came first [s].

A connection that is closed on a client still writing loses the answer."""
CLOSE = (b"connection", b"close")


class _Exchange:
    """State of one request and its answer."""

    def __init__(self, scope: Scope, receive: Receive, send: Send, idle: float) -> None:
        self._receive = receive
        self._send = send
        self._idle = idle
        # A client that sent `Expect: 100-continue` sends no body before it is asked to.
        self._asks_first = any(name == b"expect" for name, _ in scope["headers"])
        self._stream = scope["path"] in STREAMS
        self._left: Callable[[], bool] = scope.get(LEFT, lambda: False)
        self.complete = False
        """Whether the whole body is there."""
        self.started = False
        """Whether the answer has begun."""
        self.cut = ""
        """Why the body will never be there whole."""
        self.on_complete: Callable[[], None] = lambda: None

    async def receive(self) -> Message:
        if self.complete:
            return await self._receive()
        try:
            async with asyncio.timeout(self._idle):
                message = await self._receive()
        except TimeoutError:
            self.cut = "slow"
            raise HTTPException(status_code=408, detail=LATE) from None
        if message["type"] == "http.disconnect":
            self._end_without_client()
        if not message.get("more_body", False):
            self.complete = True
            self.on_complete()
        return message

    async def send(self, message: Message) -> None:
        if not self.started and not self.complete and not (self._stream and message["status"] < 400):  # noqa: PLR2004
            await self._drop_rest()
            if not self.complete:
                message["headers"] = [*message.get("headers", ()), CLOSE]
        self.started = True
        await self._send(message)
        # Much can be answered of what has arrived before it is read on, and sending fails without a word.
        if self._stream and message.get("more_body") and self._left():
            self._end_without_client()

    def _end_without_client(self) -> None:
        self.cut = GONE
        raise HTTPException(status_code=400, detail="the body did not arrive whole")

    async def _drop_rest(self) -> None:
        if self.cut or self._asks_first or self.complete:
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(LINGER):
                while not self.complete:
                    message = await self._receive()
                    self.complete = not message.get("more_body", False)

    async def wait_until_gone(self) -> None:
        while (await self._receive())["type"] != "http.disconnect":
            pass


class Timeouts:
    """ASGI middleware: ends what takes too long, and stops working for clients that have gone.

    Parameters
    ----------
    app : ASGI application
    longest : callable
        Gives the longest time from a request's head to its answer, streams excepted; None: any [s].
    idle : float
        How long a client may send nothing while its body is awaited [s].
    refused : callable
        Told `deadline` whenever a request is ended.
    batch_idle : float, optional
        The same within a batch [s].
    """

    def __init__(
        self,
        app: App,
        longest: Callable[[], float | None],
        idle: float,
        refused: Callable[[str], None],
        batch_idle: float | None = None,
    ) -> None:
        self.app = app
        self.longest = longest
        self.idle = idle
        self.batch_idle = idle if batch_idle is None else batch_idle
        self.refused = refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if scope["path"] in STREAMS:
            await self._stream(scope, _Exchange(scope, receive, send, self.batch_idle))
        else:
            await self._single(scope, _Exchange(scope, receive, send, self.idle))

    async def _stream(self, scope: Scope, exchange: _Exchange) -> None:
        try:
            await self.app(scope, exchange.receive, exchange.send)
        except asyncio.CancelledError:
            if exchange.started:
                raise
            await self._answer(scope, exchange, problems.NOT_READY, "the service is stopping")
        except Exception:
            # After the answer has begun, cutting it short is the only way to report a request body that was cut.
            if not exchange.cut:
                raise
            if exchange.cut != GONE and not exchange.started:
                await self._answer(scope, exchange, 408, LATE)
        self._take_note(scope, exchange)

    async def _single(self, scope: Scope, exchange: _Exchange) -> None:
        request = asyncio.current_task()
        watches: list[asyncio.Task[None]] = []
        gone = False

        async def watch() -> None:
            nonlocal gone
            await exchange.wait_until_gone()
            gone = True
            if request is not None:
                request.cancel()

        exchange.on_complete = lambda: watches.append(asyncio.create_task(watch()))
        try:
            async with asyncio.timeout(self.longest()):
                await self.app(scope, exchange.receive, exchange.send)
            self._take_note(scope, exchange)
        except TimeoutError:
            await self._end(scope, exchange)
        except asyncio.CancelledError:
            if gone and request is not None:
                request.uncancel()
                note(scope, **{GONE: True})
            elif exchange.started:
                raise
            else:
                await self._answer(scope, exchange, problems.NOT_READY, "the service is stopping")
        finally:
            for task in watches:
                task.cancel()
                with suppress(asyncio.CancelledError):
                    await task

    def _take_note(self, scope: Scope, exchange: _Exchange) -> None:
        if exchange.cut == GONE:
            note(scope, **{GONE: True})
        elif exchange.cut:
            note(scope, cut=exchange.cut)
            self.refused("deadline")

    async def _end(self, scope: Scope, exchange: _Exchange) -> None:
        self.refused("deadline")
        if exchange.started:
            note(scope, cut="deadline")
        elif exchange.complete:
            await self._answer(scope, exchange, problems.TIME_LIMIT, "it took longer than a request may take")
        else:
            # The time is over: the rest of the body is not waited for.
            exchange.cut = "slow"
            await self._answer(scope, exchange, 408, LATE)

    @staticmethod
    async def _answer(scope: Scope, exchange: _Exchange, which: int | problems.ProblemType, detail: str) -> None:
        problem = problems.make_problem(which, detail, trace_of(scope).request_id)
        headers = {"Connection": "close"} if exchange.complete else {}
        if problem.status == 503:  # noqa: PLR2004
            headers["Retry-After"] = RETRY_AFTER
        await problems.send_problem(scope, exchange.send, problem, headers)
