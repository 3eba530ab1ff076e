"""One log line per request, with nothing in it that the caller said."""

import json
from collections.abc import Iterator
from typing import Any
from uuid import UUID

import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import start_trace

REQUEST = {
    "reference": "SECRET-REFERENCE",
    "meters": {"secret-meter": {"kind": "voltmeter"}},
    "readings": [
        {
            "kind": "voltage",
            "between": ["L1", "L2"],
            "value": "241.37 V",
            "meter": "secret-meter",
            "load_state": "disconnected",
        }
    ],
}


@pytest.fixture
def client(capsys: pytest.CaptureFixture[str]) -> Iterator[TestClient[Any]]:  # noqa: ARG001 - the log goes where it goes at the start
    with TestClient(create_app(Settings(warm_up=False))) as client:
        yield client


def test_a_line_says_what_happened_and_nothing_of_what_was_read(
    client: TestClient[Any], capsys: pytest.CaptureFixture[str]
) -> None:
    answer = client.post("/v1/assessments", json=REQUEST)
    refused = client.post("/v1/assessments", json=REQUEST | {"colour": "SECRET-COLOUR"})
    written = capsys.readouterr().err
    lines = [json.loads(line) for line in written.splitlines()]
    assert [line["status"] for line in lines] == [200, 422]
    assert lines[0]["route"] == "/v1/assessments"
    assert lines[0]["request_id"] == answer.headers["request-id"]
    assert lines[0]["trace_id"] == answer.headers["traceparent"].split("-")[1]
    assert lines[0]["fault"] == answer.json()["finding"]["fault"]
    assert lines[1]["request_id"] == refused.headers["request-id"]
    assert lines[1]["problem"] == "/problems/invalid-reading-set"
    for secret in ("SECRET", "secret", "241.37"):
        assert secret not in written


def test_health_and_metrics_are_not_logged(client: TestClient[Any], capsys: pytest.CaptureFixture[str]) -> None:
    for path in ("/health/live", "/health/ready", "/metrics"):
        client.get(path)
    assert capsys.readouterr().err == ""


def test_metrics_count_by_route_and_never_by_path(client: TestClient[Any]) -> None:
    client.post("/v1/assessments", json=REQUEST)
    for path in ("/made-up-1", "/made-up-2", "/problems/not-found", "/problems/overloaded"):
        client.get(path)
    client.request("BREW", "/v1/faults")
    for path in ("/v1/assessments/batch", "/problems/overloaded"):
        assert client.request("PATCH", path).status_code == 405
    text = client.get("/metrics").text
    assert 'feedproof_requests_total{method="POST",route="/v1/assessments",status="200"} 1.0' in text
    assert 'feedproof_requests_total{method="GET",route="unmatched",status="404"} 2.0' in text
    assert 'feedproof_requests_total{method="GET",route="/problems/{name}",status="200"} 2.0' in text
    assert 'feedproof_requests_total{method="other",route="/v1/faults",status="405"} 1.0' in text
    for route in ("/v1/assessments/batch", "/problems/{name}"):
        assert f'feedproof_requests_total{{method="PATCH",route="{route}",status="405"}} 1.0' in text
    assert "made-up" not in text
    assert 'feedproof_findings_total{confidence="' in text
    assert "feedproof_build_info" in text


def test_failures_have_a_series_before_the_first_and_durations_a_class(client: TestClient[Any]) -> None:
    before = client.get("/metrics").text
    assert 'feedproof_requests_total{method="POST",route="/v1/assessments",status="500"} 0.0' in before
    assert "feedproof_log_lines_lost_total 0.0" in before
    assert "feedproof_key_file_failures_total 0.0" in before
    assert "feedproof_oldest_computation_seconds 0.0" in before
    client.post("/v1/assessments", json=REQUEST)
    client.post("/v1/assessments", json=REQUEST | {"colour": "red"})
    after = client.get("/metrics").text
    for status in ("2xx", "4xx"):
        assert f'feedproof_request_duration_seconds_count{{class="{status}",route="/v1/assessments"}} 1.0' in after


def test_a_counter_follows_what_is_counted_elsewhere() -> None:
    metrics = Metrics()
    for total in (3.0, 3.0, 5.0):
        Metrics.raise_to(metrics.log_lost, total)
    assert metrics.log_lost._value.get() == 5.0


# The example of the recommendation, section 3.2.3.
GIVEN = b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"


def test_a_valid_trace_is_passed_on_under_a_span_of_our_own() -> None:
    trace = start_trace(GIVEN)
    assert trace.trace_id == "4bf92f3577b34da6a3ce929d0e0e4736"
    assert trace.span_id != "00f067aa0ba902b7"
    assert trace.traceparent == f"00-4bf92f3577b34da6a3ce929d0e0e4736-{trace.span_id}-01"


@pytest.mark.parametrize(
    "header",
    [
        None,
        b"",
        b"00-00000000000000000000000000000000-00f067aa0ba902b7-01",
        b"00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
        b"ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
        b"00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
        GIVEN + b"-more",
        GIVEN[:-1],
        b"\xff" * 55,
    ],
)
def test_an_invalid_one_starts_a_new_trace(header: bytes | None) -> None:
    first, second = start_trace(header), start_trace(header)
    assert first.trace_id != second.trace_id
    assert int(first.trace_id, 16) > 0
    assert first.flags == "00"


def test_a_later_version_may_carry_more() -> None:
    assert start_trace(b"01" + GIVEN[2:] + b"-more").trace_id == "4bf92f3577b34da6a3ce929d0e0e4736"


def test_every_request_has_an_id_of_its_own() -> None:
    ids = {start_trace(GIVEN).request_id for _ in range(100)}
    assert len(ids) == 100
    assert all(UUID(request_id).version == 4 for request_id in ids)
