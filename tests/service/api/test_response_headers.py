"""HTTP as expected: HEAD, OPTIONS, compression, cross-origin calls, traces."""

import gzip
from datetime import UTC, datetime
from typing import Any

import brotli  # type: ignore[import-untyped]
import pytest
from litestar import Litestar, get
from litestar.testing import TestClient

from feedproof.api.health import Readiness
from feedproof.api.response_headers import KEY, Lifecycle, ResponseHeaders

Client = TestClient[Any]

GETS = [
    "/v1/faults",
    "/v1/cautions",
    "/openapi.json",
    "/docs",
    "/docs/docs.js",
    "/health/live",
    "/metrics",
    "/problems/not-found",
]


def raw(client: Client, path: str, **headers: str) -> tuple[Any, bytes]:
    """Give the answer with its body as it was sent."""
    with client.stream("GET", path, headers={"accept-encoding": "", **headers}) as answer:
        return answer, b"".join(answer.iter_raw())


@pytest.mark.parametrize("path", GETS)
def test_head_is_get_without_the_body(client: Client, path: str) -> None:
    head = client.head(path, headers={"accept-encoding": "identity"})
    get = client.get(path, headers={"accept-encoding": "identity"})
    assert (head.status_code, head.content) == (200, b"")
    if path != "/metrics":
        assert head.headers["content-length"] == str(len(get.content))
    assert head.headers["content-type"] == get.headers["content-type"]
    assert head.headers.get("etag") == get.headers.get("etag")


@pytest.mark.parametrize("path", [*GETS, "/v1/assessments"])
def test_options_names_the_methods(client: Client, path: str) -> None:
    answer = client.options(path)
    assert answer.status_code == 204
    assert answer.headers["allow"] == ("OPTIONS, POST" if path == "/v1/assessments" else "GET, HEAD, OPTIONS")


def test_a_large_body_is_compressed_where_it_is_asked_for(client: Client) -> None:
    _, plain = raw(client, "/v1/conductors")
    for coding, unpack in (("gzip", gzip.decompress), ("br", brotli.decompress)):
        answer, packed = raw(client, "/v1/conductors", **{"accept-encoding": coding})
        assert answer.headers["content-encoding"] == coding
        assert answer.headers["content-length"] == str(len(packed))
        assert len(packed) < len(plain)
        assert unpack(packed) == plain
        assert "Accept-Encoding" in answer.headers["vary"].split(", ")


@pytest.mark.parametrize("accepted", ["identity", "gzip;q=0", "gzip;q=0, br;q=0", "zstd", ""])
def test_no_body_is_compressed_that_nobody_asked_for(client: Client, accepted: str) -> None:
    answer, body = raw(client, "/v1/conductors", **{"accept-encoding": accepted})
    assert "content-encoding" not in answer.headers
    assert body.startswith(b"{")
    assert "Accept-Encoding" in answer.headers["vary"].split(", ")


def test_a_small_body_is_left_alone(client: Client) -> None:
    answer, _ = raw(client, "/health/live", **{"accept-encoding": "gzip"})
    assert "content-encoding" not in answer.headers


def test_only_a_stated_origin_may_call_from_a_browser(client: Client) -> None:
    ask = {"access-control-request-method": "POST"}
    allowed = client.options("/v1/assessments", headers=ask | {"origin": "https://forms.example"})
    assert allowed.status_code == 204
    assert allowed.headers["access-control-allow-origin"] == "https://forms.example"
    assert "POST" in allowed.headers["access-control-allow-methods"]
    # WHATWG Fetch, CORS-safelisted request-header: neither is one for the bodies that are taken here.
    assert {"Content-Type", "Content-Encoding"} <= set(allowed.headers["access-control-allow-headers"].split(", "))
    other = client.options("/v1/assessments", headers=ask | {"origin": "https://other.example"})
    assert "access-control-allow-origin" not in other.headers
    answer = client.get("/v1/faults", headers={"origin": "https://forms.example"})
    assert answer.headers["access-control-allow-origin"] == "https://forms.example"
    assert "Request-Id" in answer.headers["access-control-expose-headers"]
    assert "Origin" in answer.headers["vary"].split(", ")
    assert "access-control-allow-origin" not in client.get("/v1/faults").headers


def test_a_trace_is_passed_on_and_every_answer_has_an_id(client: Client) -> None:
    given = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"
    for path in ("/v1/faults", "/nope"):
        answer = client.get(path, headers={"traceparent": given})
        version, trace_id, span_id, flags = answer.headers["traceparent"].split("-")
        assert (version, trace_id, flags) == ("00", "4bf92f3577b34da6a3ce929d0e0e4736", "01")
        assert span_id != "00f067aa0ba902b7"
        assert answer.headers["request-id"]


def test_no_answer_may_be_read_as_another_type(client: Client) -> None:
    for path in [*GETS, "/nope"]:
        assert client.get(path).headers["x-content-type-options"] == "nosniff"


def test_the_server_does_not_name_itself(client: Client) -> None:
    assert "server" not in client.get("/health/live").headers


# Dates and forms of RFC 9745, section 2.1, and RFC 8594, section 3.
GOING = Lifecycle(
    deprecated=datetime(2023, 6, 30, 23, 59, 59, tzinfo=UTC),
    sunset=datetime(2024, 6, 30, 23, 59, 59, tzinfo=UTC),
    guide="https://service.example/docs#v2",
)


@get("/old", opt={KEY: GOING}, sync_to_thread=False)
def _old() -> str:
    return "still here"


@get("/new", sync_to_thread=False)
def _new() -> str:
    return "here to stay"


def test_a_deprecated_operation_sends_both_headers() -> None:
    routes: Any = Litestar([_old, _new], openapi_config=None, logging_config=None)
    app: Any = ResponseHeaders(routes, (), Readiness())
    with TestClient(app) as client:
        old, new = client.get("/old"), client.get("/new")
    assert old.headers["deprecation"] == "@1688169599"
    assert old.headers["sunset"] == "Sun, 30 Jun 2024 23:59:59 GMT"
    assert 'rel="deprecation"' in old.headers["link"]
    assert not {"deprecation", "sunset", "link"} & set(new.headers)
