"""Refuses work that there is no room for before anything else is done with it.

Under a crowd the refusals are most of what there is to do. Through routing, validation of headers and the exception
handler one costs half a millisecond of the event loop, which the computing threads then wait for; here a fraction of
it. What is refused is the same as at the executor, and so are the answer and the counts; a caller without a key is told
of that first, and one that sends too much when there is room again.

Clients that ask again as soon as they are refused would still take all there is. So refusals are paced: the first are
told at once, those beyond the pace up to three seconds later, which costs a timer and a connection and no more. As many
connections as may be held so are left for whoever asks next.
"""

import asyncio
import math
import time
from collections.abc import Callable, MutableMapping

from litestar.exceptions import HTTPException

from feedproof.api import problems
from feedproof.api.executor import Executor
from feedproof.api.health import Readiness
from feedproof.errors import ServiceError
from feedproof.telemetry.middleware import App, Message, Receive, Scope, Send, trace_of

ASSESS = frozenset({"/v1/assessments", "/v1/assessments/screen", "/v1/assessments/note"})
COMPUTED = ASSESS | {"/v1/assessments/batch", "/v1/simulations"}
PACE = 100.0
"""Refusals that are told at once [1/s]: a tenth of a processor, at 1 ms each with their connection."""
LONGEST_HOLD = 3.0
"""How long a refusal beyond the pace is held at most [s]."""
TOGETHER = 0.1
"""Those held are told together so often [s]: one after the other without a pause they cost two thirds."""


async def _received(receive: Receive) -> Message | HTTPException:
    """Give the first that arrives of a body, or why none does."""
    try:
        return await receive()
    except HTTPException as error:
        return error


def _is_whole(first: Message | HTTPException | None) -> bool:
    return isinstance(first, MutableMapping) and not first.get("more_body", False)


class LoadShedding:
    """ASGI middleware: answers 503 where the executor's queue is full, or the service is not warm yet.

    Parameters
    ----------
    app : ASGI application
    executor : Executor
        Whose queue it is.
    may_call : callable
        Tells of a request whether its caller may call at all.
    readiness : Readiness
        Whether the service is warm.
    most_held : int
        Refusals held at once; those beyond are told at once.
    """

    def __init__(
        self,
        app: App,
        executor: Executor,
        may_call: Callable[[Scope], bool],
        readiness: Readiness,
        most_held: int,
    ) -> None:
        self.app = app
        self.executor = executor
        self.may_call = may_call
        self.readiness = readiness
        self._most_held = most_held
        self._held = 0
        self._next = 0.0
        self._under_way = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        asked = scope["type"] == "http" and scope["method"] == "POST" and scope["path"] in COMPUTED
        if asked and not self.readiness.warm:
            if self.may_call(scope):
                await self._refuse(self.readiness.refuse(), scope, send)
                return
        elif asked and scope["path"] in ASSESS:
            await self._visit(scope, receive, send)
            return
        await self.app(scope, receive, send)

    async def _visit(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a visit through while there is room for it; who may not call is told so, and not to come back later."""
        busy, first = self.executor.full, None
        # Who waits to be asked for the body is first looked at by the application.
        if not busy and all(name != b"expect" for name, _ in scope["headers"]):
            first = await _received(receive)
            # Of a crowd that comes at once, all find the queue empty: whoever is on the way to it counts too. But not
            # before the whole body is there, or clients that never send theirs would keep the others out.
            busy = self.executor.full or (_is_whole(first) and self._under_way >= self.executor.room)
        if busy and self.may_call(scope):
            error = self.executor.refuse()
            wait = self._hold()
            self._held += 1
            try:
                await asyncio.sleep(wait)
            finally:
                self._held -= 1
            await self._refuse(error, scope, send)
            return
        left = [] if first is None else [first]
        held = int(_is_whole(first))
        self._under_way += held

        async def receive_again() -> Message:
            again = left.pop() if left else await receive()
            if isinstance(again, HTTPException):
                raise again
            return again

        async def answer(message: Message) -> None:
            nonlocal held
            # Not until it has been sent: a client may be slow to read it.
            self._under_way -= held
            held = 0
            await send(message)

        try:
            await self.app(scope, receive_again, answer)
        finally:
            self._under_way -= held

    def _hold(self) -> float:
        """How long to hold a refusal [s]."""
        now = time.monotonic()
        wait = max(0.0, self._next - now)
        self._next = now + min(wait + 1.0 / PACE, LONGEST_HOLD)
        if not wait or self._held >= self._most_held:
            return 0.0
        return math.ceil((now + wait) / TOGETHER) * TOGETHER - now

    @staticmethod
    async def _refuse(error: ServiceError, scope: Scope, send: Send) -> None:
        problem, headers = problems.describe(error, trace_of(scope).request_id)
        scope["path_template"] = scope["path"]
        await problems.send_problem(scope, send, problem, headers)
