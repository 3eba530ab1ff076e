"""An operation that is going to go away says so, in its answers and in the document."""

from datetime import UTC, datetime
from typing import Any

from litestar import Litestar, get
from litestar.testing import TestClient

from feedproof.api.lifecycle import KEY, Lifecycle
from feedproof.api.response_headers import ResponseHeaders

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
    app: Any = ResponseHeaders(routes)
    with TestClient(app) as client:
        old, new = client.get("/old"), client.get("/new")
    assert old.headers["deprecation"] == "@1688169599"
    assert old.headers["sunset"] == "Sun, 30 Jun 2024 23:59:59 GMT"
    assert 'rel="deprecation"' in old.headers["link"]
    assert not {"deprecation", "sunset", "link"} & set(new.headers)
