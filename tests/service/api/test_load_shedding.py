"""What is refused by load shedding is what the executor would have refused, word for word."""

import asyncio
import hashlib
import time
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from feedproof.api.executor import Executor
from feedproof.api.health import Readiness
from feedproof.api.load_shedding import LONGEST_HOLD, TOGETHER, LoadShedding
from feedproof.api.timeouts import Timeouts
from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import App, Message, Scope, Telemetry

WARM = Readiness()
WARM.warm = True

Answer = tuple[int, dict[str, str], bytes]


async def asked(
    app: App, path: str, method: str, receive: Callable[[], Awaitable[Message]], *headers: tuple[bytes, bytes]
) -> Answer:
    scope: Scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"here"), (b"content-type", b"application/json"), *headers],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
        "state": {},
    }
    sent: list[Message] = []

    async def send(message: Message) -> None:
        sent.append(message)

    await app(scope, receive, send)
    given = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    return sent[0]["status"], given, b"".join(message.get("body", b"") for message in sent[1:])


def in_pieces(*pieces: bytes) -> tuple[Callable[[], Awaitable[Message]], list[bytes]]:
    """Give the body of a request in pieces, and what has not been taken of it."""
    left = list(pieces)

    async def receive() -> Message:
        if not left:
            await asyncio.sleep(60.0)
        return {"type": "http.request", "body": left.pop(0), "more_body": bool(left)}

    return receive, left


def refusing(monkeypatch: pytest.MonkeyPatch, *, early: bool) -> tuple[App, Metrics]:
    """Give the application with an executor that is full, which is found before routing or only when it is asked."""
    monkeypatch.setattr(Executor, "full", property(lambda _: True))
    if not early:
        monkeypatch.setattr(LoadShedding, "__call__", lambda self, *given: self.app(*given))
    metrics = Metrics()
    app: Any = create_app(Settings(warm_up=False, log_level="error"), metrics=metrics)
    return app, metrics


def told(monkeypatch: pytest.MonkeyPatch, *, early: bool, body: bytes) -> tuple[Answer, float, float]:
    app, metrics = refusing(monkeypatch, early=early)
    receive, left = in_pieces(body[:9], body[9:])
    answer = asyncio.run(asked(app, "/v1/assessments", "POST", receive))
    assert not left
    refused = metrics.refused.labels("queue_full")._value.get()
    counted = metrics.requests.labels("POST", "/v1/assessments", "503")._value.get()
    return answer, refused, counted


def test_the_answer_and_the_counts_are_those_of_the_executor(
    monkeypatch: pytest.MonkeyPatch, example_requests: dict[str, bytes]
) -> None:
    found = {}
    for early in (True, False):
        with monkeypatch.context() as patched:
            (status, headers, body), refused, counted = told(patched, early=early, body=example_requests["plan"])
        own = headers.pop("request-id")
        headers.pop("traceparent")
        found[early] = status, headers, body.replace(own.encode(), b""), refused, counted
    assert found[True] == found[False]
    assert found[True][0] == 503
    assert int(found[True][1]["retry-after"]) >= 1
    assert found[True][3:] == (1.0, 1.0)


@pytest.mark.parametrize(
    ("path", "method"),
    [("/v1/assessments", "GET"), ("/v1/faults", "GET"), ("/health/live", "GET"), ("/v1/units", "GET")],
)
def test_only_what_needs_the_executor_is_turned_away(monkeypatch: pytest.MonkeyPatch, path: str, method: str) -> None:
    app, _ = refusing(monkeypatch, early=True)
    status, _, _ = asyncio.run(asked(app, path, method, in_pieces(b"")[0]))
    assert status == (405 if path == "/v1/assessments" else 200)


@pytest.mark.parametrize("most", [300, 20])
def test_refusals_beyond_the_pace_are_held_and_none_for_long(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    held: list[float] = []
    hold = LoadShedding._hold

    def holding(shedding: LoadShedding) -> float:
        held.append(hold(shedding))
        return held[-1]

    monkeypatch.setattr(LoadShedding, "_hold", holding)
    executor = Executor(workers=1, queue=-1)
    executor._turns.total_tokens = 0
    assert executor.full

    async def never(*_: object) -> None:
        raise AssertionError

    app = Telemetry(
        Timeouts(LoadShedding(never, executor, lambda _: True, WARM, most), lambda: None, 60.0, lambda _: None),
        Metrics(),
    )

    async def crowd() -> list[float]:
        begun = time.monotonic()

        async def one() -> float:
            status, _, _ = await asked(app, "/v1/assessments", "POST", in_pieces(b"{}")[0])
            assert status == 503
            return time.monotonic() - begun

        return sorted(await asyncio.gather(*(one() for _ in range(400))))

    taken = asyncio.run(crowd())
    # By what they are held, not by the clock alone: a busy machine adds to that.
    assert held[0] == 0.0
    assert 0.1 < max(held) <= LONGEST_HOLD + TOGETHER
    # Beyond so many at once they are told at once, so as to leave connections to others.
    assert sum(wait > 0.0 for wait in held) <= most
    if most == 300:
        assert 0.5 < taken[200] < taken[-1]


def test_of_those_that_come_at_once_no_more_are_let_through_than_there_is_room_for() -> None:
    """Also before the first of them has reached the queue; a body that has not come whole takes no room."""
    executor = Executor(workers=2, queue=3)
    entered: list[bytes] = []

    async def application(_: Scope, receive: Callable[[], Awaitable[Message]], send: Any) -> None:
        body = (await receive())["body"]
        entered.append(body)
        await asyncio.sleep(60.0 if body == b"{" else 0.1)
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"", "more_body": False})

    shedding = LoadShedding(application, executor, lambda _: True, WARM, 256)
    app = Telemetry(Timeouts(shedding, lambda: None, 60.0, lambda _: None), Metrics())

    async def crowd(count: int) -> list[int]:
        asking = (asked(app, "/v1/assessments", "POST", in_pieces(b"{}")[0]) for _ in range(count))
        return sorted(status for status, _, _ in await asyncio.gather(*asking))

    async def come() -> list[list[int]]:
        slow = [asyncio.create_task(asked(app, "/v1/assessments", "POST", in_pieces(b"{", b"}")[0])) for _ in range(20)]
        await asyncio.sleep(0.05)
        found = [await crowd(12), await crowd(12)]
        for one in slow:
            one.cancel()
        await asyncio.gather(*slow, return_exceptions=True)
        return found

    assert asyncio.run(come()) == [[200] * 5 + [503] * 7] * 2
    assert entered.count(b"{") == 20


@pytest.mark.parametrize("path", ["/v1/assessments", "/v1/assessments/batch", "/v1/simulations"])
def test_before_it_is_warm_nothing_is_computed_and_it_says_that_it_starts(path: str) -> None:
    readiness = Readiness()
    app: Any = create_app(Settings(log_level="error"), readiness)
    for where, method in ((path, "POST"), ("/health/ready", "GET")):
        status, headers, body = asyncio.run(asked(app, where, method, in_pieces(b"{}")[0]))
        assert (status, headers["retry-after"]) == (503, "2")
        assert b'"/problems/not-ready"' in body
        assert b"starting" in body
    assert asyncio.run(asked(app, "/v1/faults", "GET", in_pieces(b"")[0]))[0] == 200
    readiness.warm = readiness.draining = True
    assert b"stopping" in asyncio.run(asked(app, "/health/ready", "GET", in_pieces(b"")[0]))[2]


@pytest.mark.parametrize("path", ["/v1/assessments", "/v1/assessments/screen", "/v1/assessments/note"])
def test_a_caller_without_a_key_is_told_that_and_not_to_come_back(monkeypatch: pytest.MonkeyPatch, path: str) -> None:
    monkeypatch.setattr(Executor, "full", property(lambda _: True))
    digest = hashlib.sha256(b"k3y").hexdigest()
    app: Any = create_app(Settings(warm_up=False, log_level="error", api_keys=(digest,)))
    found = [
        asyncio.run(asked(app, path, "POST", in_pieces(b"{}")[0], *sent))[0]
        for sent in ((), ((b"api-key", b"other"),), ((b"api-key", b"k3y"),), ((b"authorization", b"Bearer k3y"),))
    ]
    assert found == [401, 401, 503, 503]
