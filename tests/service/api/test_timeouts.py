"""Requests that take too long, and clients that are silent or gone, in the middleware alone."""

import asyncio
import json
from collections.abc import Callable
from typing import Any

import pytest

from feedproof.api.timeouts import Timeouts
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import LEFT, App, Message, Receive, Scope, Send, Telemetry

Feed = Callable[[], Any]


async def exchange(
    app: App, messages: list[Message | float], *, path: str = "/v1/assessments", stays: int = 1000
) -> list[Message]:
    """Run one request whose client sends the messages, numbers being pauses [s], and then nothing more.

    It leaves after so many messages of the answer.
    """
    waiting = list(messages)
    sent: list[Message] = []

    async def receive() -> Message:
        while waiting:
            message = waiting.pop(0)
            if not isinstance(message, float):
                return message
            await asyncio.sleep(message)
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: Message) -> None:
        sent.append(dict(message))

    scope: Scope = {"type": "http", "method": "POST", "path": path, "headers": []}
    scope[LEFT] = lambda: len(sent) >= stays
    await Telemetry(app, Metrics())(scope, receive, send)
    return sent


async def slow(scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG001
    while (await receive()).get("more_body"):
        pass
    await asyncio.sleep(5.0)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b""})


WHOLE: Message = {"type": "http.request", "body": b"{}", "more_body": False}
PART: Message = {"type": "http.request", "body": b"{", "more_body": True}
GONE: Message = {"type": "http.disconnect"}


@pytest.mark.parametrize(
    ("messages", "status", "kind"),
    [
        ([WHOLE], 500, "time-limit-exceeded"),
        ([PART], 408, "request-timeout"),
        ([PART, 0.1, PART], 408, "request-timeout"),
    ],
)
def test_a_request_ends_at_its_deadline_with_a_problem_that_asks_nobody_to_come_back(
    messages: list[Message | float], status: int, kind: str
) -> None:
    refusals: list[str] = []
    app = Timeouts(slow, lambda: 0.2, 60.0, refusals.append)
    start, body = asyncio.run(exchange(app, messages))
    headers = dict(start["headers"])
    assert start["status"] == status
    assert headers[b"content-type"] == b"application/problem+json"
    assert headers[b"connection"] == b"close"
    assert b"retry-after" not in headers
    problem = json.loads(body["body"])
    assert (problem["status"], problem["type"]) == (status, f"/problems/{kind}")
    assert refusals == ["deadline"]


def test_a_client_that_goes_away_ends_the_work_for_it() -> None:
    ended: list[str] = []

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await slow(scope, receive, send)
        except asyncio.CancelledError:
            ended.append("cancelled")
            raise

    async def scene() -> list[Message]:
        return await asyncio.wait_for(
            exchange(Timeouts(app, lambda: 60.0, 60.0, ended.append), [WHOLE, 0.05, GONE]), 2.0
        )

    assert asyncio.run(scene()) == []
    assert ended == ["cancelled"]


def test_a_server_that_stops_says_so() -> None:
    async def scene() -> list[Message]:
        sent: list[Message] = []

        async def receive() -> Message:
            return WHOLE

        async def send(message: Message) -> None:
            sent.append(dict(message))

        scope: Scope = {"type": "http", "method": "POST", "path": "/v1/assessments", "headers": []}
        app = Telemetry(Timeouts(slow, lambda: None, 60.0, lambda _: None), Metrics())

        async def patient_receive() -> Message:
            if sent or scope.get("asked"):
                await asyncio.Event().wait()
            scope["asked"] = True
            return await receive()

        task = asyncio.create_task(app(scope, patient_receive, send))
        await asyncio.sleep(0.05)
        task.cancel()
        await task
        return sent

    start, body = asyncio.run(scene())
    assert start["status"] == 503
    assert json.loads(body["body"])["type"] == "/problems/not-ready"


def test_a_stream_may_last_but_not_be_silent() -> None:
    async def lines(scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG001
        await send({"type": "http.response.start", "status": 200, "headers": []})
        while (await receive()).get("more_body"):
            await send({"type": "http.response.body", "body": b"x\n", "more_body": True})
        await send({"type": "http.response.body", "body": b""})

    app = Timeouts(lines, lambda: 0.1, 0.3, lambda _: None)
    lasting: list[Message | float] = [PART, 0.15, PART, 0.15, PART, 0.15, WHOLE]
    sent = asyncio.run(exchange(app, lasting, path="/v1/assessments/batch"))
    assert [message["type"] for message in sent].count("http.response.body") == 4
    cut = asyncio.run(exchange(app, [PART, 0.5, PART], path="/v1/assessments/batch"))
    assert not any(message["type"] == "http.response.body" and not message.get("more_body") for message in cut)


def test_a_stream_that_never_begins_is_told_so_like_any_other_body() -> None:
    """RFC 9110, 15.5.9."""
    refusals: list[str] = []
    app = Timeouts(slow, lambda: None, 60.0, refusals.append, batch_idle=0.1)
    start, body = asyncio.run(exchange(app, [], path="/v1/assessments/batch"))
    assert start["status"] == 408
    assert dict(start["headers"])[b"connection"] == b"close"
    assert json.loads(body["body"])["type"] == "/problems/request-timeout"
    assert refusals == ["deadline"]


def test_of_a_stream_nothing_more_is_answered_when_its_client_has_left() -> None:
    async def endless(scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG001
        await send({"type": "http.response.start", "status": 200, "headers": []})
        while True:
            await send({"type": "http.response.body", "body": b"x\n", "more_body": True})

    app = Timeouts(endless, lambda: None, 60.0, lambda _: None)
    assert len(asyncio.run(exchange(app, [WHOLE], path="/v1/assessments/batch", stays=5))) == 5
