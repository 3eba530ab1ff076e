"""Whatever the engine does wrong, everybody who waits is told at once, and the log says what it was."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.settings import Settings

Client = TestClient[Any]
FAILURES = [StopIteration(), ZeroDivisionError(), ValueError("of an array"), MemoryError(), AssertionError()]


@pytest.fixture(params=FAILURES, ids=lambda failure: type(failure).__name__)
def failing(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Iterator[Client]:
    """Give a client of a service whose engine fails."""

    def fail(*_: object) -> None:
        raise request.param

    monkeypatch.setattr("feedproof.assess.infer", fail)
    monkeypatch.setattr("feedproof.api.simulations.simulate", fail)
    settings = Settings(warm_up=False, log_format="json", request_seconds=10.0)
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        capsys.readouterr()
        yield client


def failures(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    return [line for line in lines if line["event"] == "failure"]


@pytest.mark.parametrize("form", ["application/json", "text/html", "image/svg+xml", "text/markdown"])
def test_an_assessment_in_every_form(
    failing: Client, example_requests: dict[str, bytes], form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    headers = {"content-type": "application/json", "accept": form}
    answer = failing.post("/v1/assessments", content=example_requests["plan"], headers=headers)
    assert answer.status_code == 500
    assert answer.json()["type"] == "/problems/internal-error"
    (logged,) = failures(capsys)
    assert logged["level"] == "error"
    assert answer.json()["instance"] == f"urn:uuid:{logged['request_id']}"


def test_a_simulation(failing: Client, capsys: pytest.CaptureFixture[str]) -> None:
    answer = failing.post("/v1/simulations", json={"fault": "none_found", "readings": []})
    assert answer.status_code == 500
    assert len(failures(capsys)) == 1


def test_each_line_of_a_batch(
    failing: Client, example_requests: dict[str, bytes], capsys: pytest.CaptureFixture[str]
) -> None:
    line = json.dumps(json.loads(example_requests["plan"])).encode()
    answer = failing.post(
        "/v1/assessments/batch", content=b"\n".join([line] * 3), headers={"content-type": "application/x-ndjson"}
    )
    told = [json.loads(text) for text in answer.text.splitlines()]
    assert [(one["status"], one["type"], one["line"]) for one in told] == [
        (500, "/problems/internal-error", number) for number in range(1, 4)
    ]
    assert len(failures(capsys)) == 3
