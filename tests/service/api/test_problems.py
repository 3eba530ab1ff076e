"""Problem details: everywhere, with a page for each type, and nothing of the inside."""

from typing import Any

import pytest
from litestar import Litestar, get
from litestar.testing import TestClient

from feedproof.api.health import Readiness
from feedproof.api.problems import PROBLEM_TYPES, answer_error
from feedproof.api.response_headers import ResponseHeaders
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import Telemetry

Client = TestClient[Any]

# Frozen: clients tell problems apart by these. Add to them, never rename.
TYPES = {
    "malformed-request": 400,
    "unauthorized": 401,
    "not-found": 404,
    "method-not-allowed": 405,
    "not-acceptable": 406,
    "request-timeout": 408,
    "content-too-large": 413,
    "unsupported-media-type": 415,
    "invalid-reading-set": 422,
    "too-many-requests": 429,
    "request-header-fields-too-large": 431,
    "internal-error": 500,
    "time-limit-exceeded": 500,
    "not-ready": 503,
    "overloaded": 503,
}


def test_the_types_are_frozen() -> None:
    assert {kind.name: kind.status for kind in PROBLEM_TYPES} == TYPES


@pytest.mark.parametrize("name", TYPES)
def test_each_type_resolves_to_its_page(client: Client, name: str) -> None:
    page = client.get(f"/problems/{name}")
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert f"<code>/problems/{name}</code>" in page.text
    assert f"HTTP status {TYPES[name]}" in page.text


@pytest.mark.parametrize("path", ["/nope", "/v1", "/v1/assessments/1", "/problems/nope", "/v2/faults", "/%00", "/%ff"])
def test_what_is_not_there_is_404(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["type"] == "/problems/not-found"


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("GET", "/v1/assessments", "OPTIONS, POST"),
        ("HEAD", "/v1/assessments/batch", "OPTIONS, POST"),
        ("POST", "/v1/faults", "GET, HEAD, OPTIONS"),
        ("DELETE", "/openapi.json", "GET, HEAD, OPTIONS"),
        ("TRACE", "/docs", "GET, HEAD, OPTIONS"),
    ],
)
def test_another_method_is_405_with_allow(client: Client, method: str, path: str, allow: str) -> None:
    answer = client.request(method, path)
    assert answer.status_code == 405
    assert answer.headers["allow"] == allow
    if method != "HEAD":
        assert answer.json()["type"] == "/problems/method-not-allowed"


class _SecretError(Exception):
    pass


@get("/fails", sync_to_thread=False)
def _fails() -> None:
    raise _SecretError("/secret/path and 247 V")


def test_a_failure_tells_nothing_of_the_inside() -> None:
    routes: Any = Litestar(
        [_fails], exception_handlers={Exception: answer_error}, openapi_config=None, logging_config=None
    )
    app: Any = Telemetry(ResponseHeaders(routes, (), Readiness()), Metrics())
    with TestClient(app) as client:
        answer = client.get("/fails")
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json() == {
        "type": "/problems/internal-error",
        "title": "Internal error",
        "status": 500,
        "detail": "the service failed; the request id is in instance",
        "instance": f"urn:uuid:{answer.headers['request-id']}",
    }


def test_no_page_holds_a_path_or_a_type_of_the_inside(client: Client) -> None:
    for path in ("/nope", "/docs/nope", "/problems/x"):
        assert not any(word in client.get(path).text for word in ("Traceback", ".py", "litestar", "msgspec", "Error("))
