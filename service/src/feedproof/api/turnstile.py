"""Refuses work that there is no room for before anything else is done with it.

Under a crowd the refusals are most of what there is to do. Through routing, validation of headers and the exception
handler one costs half a millisecond of the event loop, which the computing threads then wait for; here a fraction of
it. What is refused is the same as at the desk, and so are the answer and the counts; only that a caller without a key,
or one that sends too much, is told of that when there is room again.
"""

from contextlib import suppress

from litestar.exceptions import HTTPException

from feedproof.api import problems
from feedproof.api.desk import Desk
from feedproof.contract.problem import MEDIA_TYPE
from feedproof.telemetry.middleware import App, Receive, Scope, Send, note, trace_of

ASSESS = "/v1/assessments"


class Turnstile:
    """ASGI middleware: answers 503 where the desk's queue is full.

    Parameters
    ----------
    app : ASGI application
    desk : Desk
        Whose queue it is.
    """

    def __init__(self, app: App, desk: Desk) -> None:
        self.app = app
        self.desk = desk

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] != ASSESS or scope["method"] != "POST" or not self.desk.full:
            await self.app(scope, receive, send)
            return
        # The body is taken in all the same: a connection that is closed on a client still writing loses the answer.
        with suppress(HTTPException):
            while (await receive()).get("more_body", False):
                pass
        problem, headers = problems.describe(self.desk.refuse(), trace_of(scope).request_id)
        body = problems.encode(problem)
        scope["path_template"] = ASSESS
        note(scope, problem=problem.type)
        head = {**headers, "Cache-Control": "no-store", "Content-Type": MEDIA_TYPE, "Content-Length": str(len(body))}
        raw = [(name.lower().encode(), value.encode()) for name, value in head.items()]
        await send({"type": "http.response.start", "status": problem.status, "headers": raw})
        await send({"type": "http.response.body", "body": body, "more_body": False})
