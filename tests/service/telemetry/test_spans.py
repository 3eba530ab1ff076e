"""Spans: one of each request and of each stage of its answer, in the caller's trace, and nothing of what was sent."""

import json
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest
from opentelemetry.sdk.trace import ReadableSpan
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from opentelemetry.trace import SpanKind, StatusCode

from feedproof.api import assessments
from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.telemetry.spans import Spans
from support.operated_service import running

Asked = tuple[TestClient[Any], InMemorySpanExporter]
JSON = {"Content-Type": "application/json"}
TRACE, CALLER = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
GIVEN = {**JSON, "traceparent": f"00-{TRACE}-{CALLER}-01"}


@pytest.fixture
def visit(root: Path) -> bytes:
    """Give a visit."""
    return (root / "examples" / "requests" / "low_impedance.json").read_bytes()


@pytest.fixture
def asked() -> Iterator[Asked]:
    """Give a client, and what keeps the spans."""
    kept = InMemorySpanExporter()
    with TestClient(create_app(Settings(warm_up=False), spans=Spans(SimpleSpanProcessor(kept)))) as client:
        yield client, kept


def by_name(spans: Sequence[ReadableSpan]) -> dict[str, ReadableSpan]:
    found = {span.name: span for span in spans}
    assert len(found) == len(spans)
    return found


def text_of(spans: Sequence[ReadableSpan]) -> str:
    return "".join(span.to_json() for span in spans)


def test_a_request_and_its_stages_are_part_of_the_callers_trace(asked: Asked, visit: bytes) -> None:
    client, kept = asked
    answer = client.post("/v1/assessments", content=visit, headers=GIVEN)
    assert answer.status_code == 200
    spans = by_name(kept.get_finished_spans())
    whole = spans.pop("POST /v1/assessments")
    assert whole.kind is SpanKind.SERVER
    assert (whole.attributes or {})["http.response.status_code"] == 200
    assert whole.parent is not None
    assert f"{whole.parent.span_id:016x}" == CALLER
    assert list(spans) == ["parse", "infer", "compose"]
    assert answer.headers["traceparent"] == f"00-{TRACE}-{whole.context.span_id:016x}-01"
    for part in spans.values():
        assert f"{part.context.trace_id:032x}" == TRACE
        assert part.parent is not None
        assert part.parent.span_id == whole.context.span_id
        assert (whole.start_time or 0) <= (part.start_time or 0) <= (part.end_time or 0) <= (whole.end_time or 0)


def test_without_a_caller_s_trace_one_begins(asked: Asked, visit: bytes) -> None:
    client, kept = asked
    told = [client.post("/v1/assessments", content=visit, headers=JSON).headers["traceparent"] for _ in range(2)]
    begun = [span.context for span in kept.get_finished_spans() if span.parent is None]
    assert told == [f"00-{own.trace_id:032x}-{own.span_id:016x}-{own.trace_flags:02x}" for own in begun]
    assert all(own.trace_flags.sampled for own in begun)
    assert begun[0].trace_id != begun[1].trace_id


def test_a_caller_that_keeps_no_spans_of_its_own_gets_none(asked: Asked, visit: bytes) -> None:
    """W3C Trace Context, 3.2.2.5.1: the sampled flag; the standard sampler goes by it."""
    client, kept = asked
    client.post("/v1/assessments", content=visit, headers={**JSON, "traceparent": f"00-{TRACE}-{CALLER}-00"})
    assert kept.get_finished_spans() == ()


def test_each_line_of_a_batch_has_its_stages(asked: Asked, visit: bytes) -> None:
    client, kept = asked
    lines = (json.dumps(json.loads(visit)).encode() + b"\n") * 3
    client.post("/v1/assessments/batch", content=lines, headers={"Content-Type": "application/x-ndjson"})
    names = [span.name for span in kept.get_finished_spans()]
    assert {name: names.count(name) for name in names} == {
        "parse": 3, "infer": 3, "compose": 3, "POST /v1/assessments/batch": 1
    }  # fmt: skip


def test_nothing_of_what_was_sent_is_in_a_span_also_where_it_fails(
    asked: Asked, visit: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, kept = asked
    client.post("/v1/assessments", content=b'{"reference": "s3cret"', headers=JSON)

    def fail(raw: bytes) -> None:
        raise RuntimeError(raw.decode())

    monkeypatch.setattr(assessments, "read_request", fail)
    document = {**json.loads(visit), "reference": "s3cret"}
    assert client.post("/v1/assessments", content=json.dumps(document), headers=JSON).status_code == 500
    spans = kept.get_finished_spans()
    assert [span.name for span in spans] == ["parse", "POST /v1/assessments"] * 2
    assert [span.status.status_code for span in spans][-1] is StatusCode.ERROR
    assert "s3cret" not in text_of(spans)


def test_probes_have_no_spans(asked: Asked) -> None:
    client, kept = asked
    for path in ("/health/live", "/health/ready", "/metrics"):
        client.get(path)
    assert kept.get_finished_spans() == ()


def test_the_name_that_the_deployment_gives_counts(monkeypatch: pytest.MonkeyPatch, visit: bytes) -> None:
    monkeypatch.setenv("OTEL_SERVICE_NAME", "depot")
    kept = InMemorySpanExporter()
    with TestClient(create_app(Settings(warm_up=False), spans=Spans(SimpleSpanProcessor(kept)))) as client:
        client.post("/v1/assessments", content=visit, headers=JSON)
    assert {span.resource.attributes["service.name"] for span in kept.get_finished_spans()} == {"depot"}


def test_the_service_sends_them_to_a_collector_and_the_last_before_it_stops(
    visit: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """OTLP, 1.10: ExportTraceServiceRequest by POST to /v1/traces under the endpoint."""
    taken: list[tuple[str, bytes]] = []

    class Collector(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            taken.append((self.path, self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Collector) as collector:
        threading.Thread(target=collector.serve_forever, daemon=True).start()
        monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", f"http://127.0.0.1:{collector.server_port}")
        with running(tmp_path, warm_up="false", tracing="true") as service:
            assert service.post(visit)[0] == 200
            service.stop()
        collector.shutdown()
    assert {path for path, _ in taken} == {"/v1/traces"}
    sent = [ExportTraceServiceRequest.FromString(body) for _, body in taken]
    spans = [span.name for one in sent for of in one.resource_spans for by in of.scope_spans for span in by.spans]
    assert sorted(spans) == ["POST /v1/assessments", "compose", "infer", "parse"]


def test_off_it_is_not_even_loaded() -> None:
    script = (
        "import sys, feedproof.server.run, feedproof.cli;"
        "sys.exit(any(name.startswith('opentelemetry') for name in sys.modules))"
    )
    assert not Settings().tracing
    assert subprocess.run([sys.executable, "-c", script], check=False, timeout=120).returncode == 0
