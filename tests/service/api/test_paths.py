"""One spelling of each path, and health and metrics on a port of their own."""

from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.api.paths import MANAGEMENT
from feedproof.app import create_app
from feedproof.settings import Settings


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
