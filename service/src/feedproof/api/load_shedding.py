"""Refuses work that there is no room for before anything else is done with it.

Under a crowd the refusals are most of what there is to do. Through routing, validation of headers and the exception
handler one costs half a millisecond of the event loop, which the computing threads then wait for; here a fraction of
it. What is refused is the same as at the executor, and so are the answer and the counts; a caller without a key is told
of that first, and one that sends too much when there is room again.
"""

from collections.abc import Callable
from contextlib import suppress

from litestar.exceptions import HTTPException

from feedproof.api import problems
from feedproof.api.executor import Executor
from feedproof.contract.problem import MEDIA_TYPE
from feedproof.telemetry.middleware import App, Receive, Scope, Send, note, trace_of

ASSESS = frozenset({"/v1/assessments", "/v1/assessments/screen", "/v1/assessments/note"})


class LoadShedding:
    """ASGI middleware: answers 503 where the executor's queue is full.

    Parameters
    ----------
    app : ASGI application
    executor : Executor
        Whose queue it is.
    may_call : callable
        Tells of a request whether its caller may call at all.
    """

    def __init__(self, app: App, executor: Executor, may_call: Callable[[Scope], bool]) -> None:
        self.app = app
        self.executor = executor
        self.may_call = may_call

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        busy = scope["type"] == "http" and scope["path"] in ASSESS and scope["method"] == "POST" and self.executor.full
        # Who may not call is told so, and not to come back later.
        if not busy or not self.may_call(scope):
            await self.app(scope, receive, send)
            return
        # The body is taken in all the same: a connection that is closed on a client still writing loses the answer.
        with suppress(HTTPException):
            while (await receive()).get("more_body", False):
                pass
        problem, headers = problems.describe(self.executor.refuse(), trace_of(scope).request_id)
        body = problems.encode(problem)
        scope["path_template"] = scope["path"]
        note(scope, problem=problem.type)
        head = {**headers, "Cache-Control": "no-store", "Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
        raw = [(name.lower().encode(), value.encode()) for name, value in head.items()]
        await send({"type": "http.response.start", "status": problem.status, "headers": raw})
        await send({"type": "http.response.body", "body": body, "more_body": False})
