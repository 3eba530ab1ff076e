"""Keys and rates: off by default, and strict once they are set."""

import hashlib
import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from litestar.testing import TestClient

from feedproof.api.access import CALLERS_KEPT, RateLimit, header
from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.telemetry.middleware import MANAGEMENT

KEYS = ("first key", "second key")
DIGESTS = tuple(hashlib.sha256(key.encode()).hexdigest() for key in KEYS)


def client_with(**settings: Any) -> TestClient[Any]:
    return TestClient(create_app(Settings(warm_up=False, **settings)))


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"authorization": "Bearer third key"},
        {"authorization": "Basic first key"},
        {"authorization": DIGESTS[0]},
        {"authorization": f"Bearer {DIGESTS[0]}"},
        {"api-key": ""},
        {"api-key": "first key "[:-2]},
    ],
)
def test_without_a_known_key_nothing_is_answered(headers: dict[str, str]) -> None:
    with client_with(api_keys=DIGESTS) as client:
        for method, path in (("GET", "/v1/faults"), ("POST", "/v1/assessments")):
            answer = client.request(method, path, headers=headers)
            assert answer.status_code == 401
            assert answer.headers["www-authenticate"].startswith("Bearer")
            assert answer.json()["type"] == "/problems/unauthorized"
            assert not any(key in answer.text for key in KEYS)


@pytest.mark.parametrize(
    "headers", [{"authorization": "Bearer first key"}, {"authorization": "bearer second key"}, {"api-key": "first key"}]
)
def test_each_known_key_is_let_in(headers: dict[str, str]) -> None:
    with client_with(api_keys=DIGESTS) as client:
        assert client.get("/v1/faults", headers=headers).status_code == 200


@pytest.mark.parametrize("path", ["/health/live", "/metrics", "/docs", "/openapi.json", "/problems/unauthorized"])
def test_what_is_open_stays_open(path: str) -> None:
    with client_with(api_keys=DIGESTS) as client:
        assert client.get(path).status_code == 200


def test_a_caller_that_sends_too_much_is_told_when_to_come_back() -> None:
    with client_with(rate_per_second=0.5, rate_burst=3, api_keys=DIGESTS) as client:
        first = {"api-key": "first key"}
        assert [client.get("/v1/faults", headers=first).status_code for _ in range(4)] == [200, 200, 200, 429]
        refused = client.get("/v1/faults", headers=first)
        assert refused.headers["retry-after"] == "2"
        assert refused.json()["type"] == "/problems/too-many-requests"
        assert client.get("/v1/faults", headers={"api-key": "second key"}).status_code == 200
        assert client.get("/health/live").status_code == 200


def test_a_batch_takes_as_many_tokens_as_it_has_lines() -> None:
    """As many as the same sets sent one by one."""
    with client_with(rate_per_second=0.001, rate_burst=5) as client:
        kind = {"content-type": "application/x-ndjson"}
        assert len(client.post("/v1/assessments/batch", content=b"x\n\n" * 4, headers=kind).content.splitlines()) == 4
        assert [client.get("/v1/faults").status_code for _ in range(2)] == [200, 429]


@pytest.mark.parametrize("path", ["//metrics", "/metrics/", "/%6detrics", "/health//live", "/v1/%66aults", "/docs/"])
def test_another_spelling_of_a_path_is_found_nowhere(path: str) -> None:
    app: Any = create_app(Settings(warm_up=False, log_level="error"))
    with TestClient(app) as client:
        answer = client.get(f"http://testserver.local{path}")
        assert answer.status_code == 404
        assert answer.json()["type"] == "/problems/not-found"


@pytest.mark.parametrize("path", sorted(MANAGEMENT))
def test_management_has_its_port_and_nothing_else_is_there(path: str) -> None:
    app: Any = create_app(Settings(warm_up=False, log_level="error"), management=9000)
    with TestClient(app) as client:
        assert client.get(f"http://testserver.local:9000{path}").status_code == 200
        assert client.get(f"http://testserver.local:8240{path}").status_code == 404
        assert client.get("http://testserver.local:9000/v1/faults").status_code == 404
        assert client.get("http://testserver.local:8240/v1/faults").status_code == 200


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@given(
    rate=st.floats(0.1, 50.0),
    burst=st.integers(1, 20),
    pauses=st.lists(st.floats(0.0, 2.0), min_size=1, max_size=100),
)
def test_no_span_of_time_holds_more_than_the_bucket_and_what_flowed_in(
    rate: float, burst: int, pauses: list[float]
) -> None:
    clock = Clock()
    buckets = RateLimit(rate, burst, clock)
    allowed = []
    for pause in pauses:
        clock.now += pause
        if buckets.take("one").allowed:
            allowed.append(clock.now)
    for i, begin in enumerate(allowed):
        for j in range(i, len(allowed)):
            assert j - i + 1 <= burst + rate * (allowed[j] - begin) + 1e-6


def test_after_the_wait_that_was_named_the_next_one_passes() -> None:
    clock = Clock()
    buckets = RateLimit(0.5, 3, clock)
    assert [buckets.take("one").allowed for _ in range(4)] == [True, True, True, False]
    refused = buckets.take("one")
    assert math.isclose(refused.wait, 2.0)
    clock.now += refused.wait + 1e-9
    assert buckets.take("one").allowed
    assert buckets.take("two").allowed


def test_headers_say_quota_window_rest_and_time() -> None:
    buckets = RateLimit(0.5, 3, Clock())
    assert buckets.policy == '"default";q=3;w=6'
    assert header(buckets.take("one")) == '"default";r=2;t=2'
    assert header(buckets.take("one")) == '"default";r=1;t=4'


def test_what_a_batch_takes_on_credit_is_waited_for() -> None:
    clock = Clock()
    buckets = RateLimit(10.0, 5, clock)
    assert buckets.take_on_credit("one", 5) == 0.0
    assert math.isclose(buckets.take_on_credit("one", 20), 2.0)
    assert not buckets.take("one").allowed
    clock.now += 2.2
    assert buckets.take("one").allowed


def test_callers_are_forgotten_before_memory_is_full() -> None:
    buckets = RateLimit(1.0, 1, Clock())
    for number in range(CALLERS_KEPT + 100):
        buckets.take(str(number))
    assert len(buckets._levels) == CALLERS_KEPT


def test_the_log_names_the_address_of_a_refused_caller_without_a_key_and_of_no_other(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The in-process client comes from an address of this name."""
    rate = {"rate_per_second": 0.001, "rate_burst": 1}
    with client_with(api_keys=DIGESTS, **rate) as keyed, client_with(**rate) as free:
        known = {"api-key": KEYS[0]}
        answers = [keyed.get("/v1/faults"), *(keyed.get("/v1/faults", headers=known) for _ in range(2))]
        answers += [free.get("/v1/faults") for _ in range(2)]
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert [answer.status_code for answer in answers] == [401, 200, 429, 200, 429]
    assert [line.get("address") for line in lines] == ["testclient", None, None, None, "testclient"]
    assert [bool(line.get("key")) for line in lines] == [False, True, True, False, False]
