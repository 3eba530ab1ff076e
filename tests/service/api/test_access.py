"""Keys and rates: off by default, and strict once they are set."""

import hashlib
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.settings import Settings

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
