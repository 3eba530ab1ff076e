"""Refuses work that there is no room for before anything else is done with it.

Under a crowd the refusals are most of what there is to do. Through routing, validation of headers and the exception
handler one costs half a millisecond of the event loop, which the computing threads then wait for; here a fraction of
it. What is refused is the same as at the executor, and so are the answer and the counts; a caller without a key is told
of that first, and one that sends too much when there is room again.

Clients that ask again as soon as they are refused would still take all there is. So refusals are paced: the first are
told at once, those beyond the pace a moment later, which costs a timer and no more.
"""

import asyncio
import time
from collections.abc import Callable

from feedproof.api import problems
from feedproof.api.executor import Executor
from feedproof.api.health import Readiness
from feedproof.contract.problem import MEDIA_TYPE
from feedproof.errors import ServiceError
from feedproof.telemetry.middleware import App, Receive, Scope, Send, note, trace_of

ASSESS = frozenset({"/v1/assessments", "/v1/assessments/screen", "/v1/assessments/note"})
COMPUTED = ASSESS | {"/v1/assessments/batch", "/v1/simulations"}
PACE = 200.0
"""Refusals that are told at once [1/s]: some three hundredths of a processor."""
LONGEST_HOLD = 1.0
"""How long a refusal beyond the pace is held at most [s]."""


class LoadShedding:
    """ASGI middleware: answers 503 where the executor's queue is full, or the service is not warm yet.

    Parameters
    ----------
    app : ASGI application
    executor : Executor
        Whose queue it is.
    may_call : callable
        Tells of a request whether its caller may call at all.
    readiness : Readiness, optional
        Whether the service is warm; left out, it is.
    """

    def __init__(
        self, app: App, executor: Executor, may_call: Callable[[Scope], bool], readiness: Readiness | None = None
    ) -> None:
        self.app = app
        self.executor = executor
        self.may_call = may_call
        self.readiness = readiness
        self._next = 0.0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        asked = scope["type"] == "http" and scope["method"] == "POST" and scope["path"] in COMPUTED
        cold = asked and self.readiness is not None and not self.readiness.warm
        busy = asked and scope["path"] in ASSESS and self.executor.full
        # Who may not call is told so, and not to come back later.
        if not (cold or busy) or not self.may_call(scope):
            await self.app(scope, receive, send)
            return
        if cold and self.readiness is not None:
            await self._refuse(self.readiness.refuse(), scope, send)
            return
        error = self.executor.refuse()
        await asyncio.sleep(self._hold())
        await self._refuse(error, scope, send)

    def _hold(self) -> float:
        """How long to hold a refusal [s]."""
        now = time.monotonic()
        held = max(0.0, self._next - now)
        self._next = now + min(held + 1.0 / PACE, LONGEST_HOLD)
        return held

    @staticmethod
    async def _refuse(error: ServiceError, scope: Scope, send: Send) -> None:
        problem, headers = problems.describe(error, trace_of(scope).request_id)
        body = problems.encode(problem)
        scope["path_template"] = scope["path"]
        note(scope, problem=problem.type)
        head = {**headers, "Cache-Control": "no-store", "Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
        raw = [(name.lower().encode(), value.encode()) for name, value in head.items()]
        await send({"type": "http.response.start", "status": problem.status, "headers": raw})
        await send({"type": "http.response.body", "body": body, "more_body": False})
