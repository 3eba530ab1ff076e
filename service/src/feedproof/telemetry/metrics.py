"""Metrics in the Prometheus text format, by prometheus-client. Every label takes few, known values."""

import platform
from collections.abc import Callable

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    PlatformCollector,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
)
from prometheus_client.exposition import CONTENT_TYPE_LATEST

from feedproof import __version__

METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
REQUEST_BUCKETS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0)
ENGINE_BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
COMPUTED = ("/v1/assessments", "/v1/assessments/screen", "/v1/assessments/note", "/v1/assessments/batch")
"""Routes whose failures wake somebody."""
REFUSALS = ("queue_full", "queue_wait", "streams", "deadline", "rate", "connections", "head", "slow_head", "version")
"""Why work was turned away."""

# Twice the lines for what `process_start_time_seconds` says once.
disable_created_metrics()  # type: ignore[no-untyped-call]


class Metrics:
    """The metrics of one application."""

    content_type = CONTENT_TYPE_LATEST

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = self._counter("feedproof_requests", "Requests answered.", "method", "route", "status")
        self.duration = Histogram(
            "feedproof_request_duration_seconds",
            "From the request's head to the end of its answer, by route and class of status.",
            ("route", "class"),
            buckets=REQUEST_BUCKETS,
            registry=self.registry,
        )
        self.in_flight = self._gauge("feedproof_requests_in_flight", "Requests being answered.")
        self.queue = self._gauge("feedproof_queue_length", "Pieces of work that wait for a thread.")
        self.computing = self._gauge("feedproof_computing", "Pieces of work being computed.")
        self.workers = self._gauge("feedproof_workers", "Threads that compute.")
        self.ready = self._gauge("feedproof_ready", "Whether the process takes requests: 1 or 0.")
        self.queue_wait = Histogram(
            "feedproof_queue_wait_seconds",
            "How long work waited for a thread.",
            buckets=ENGINE_BUCKETS,
            registry=self.registry,
        )
        self.engine = Histogram(
            "feedproof_engine_seconds",
            "How long one reading set was computed.",
            buckets=ENGINE_BUCKETS,
            registry=self.registry,
        )
        self.refused = self._counter("feedproof_refused", "Work turned away, by reason.", "reason")
        for reason in REFUSALS:
            self.refused.labels(reason)
        self.findings = self._counter(
            "feedproof_findings",
            "Assessments by the fault found, the determination and the level of confidence.",
            "fault",
            "determination",
            "confidence",
        )
        self.lines = self._counter("feedproof_batch_lines", "Lines of batches, by outcome.", "outcome")
        for outcome in ("answered", "refused", "failed"):
            self.lines.labels(outcome)
        self.oldest = self._gauge(
            "feedproof_oldest_computation_seconds", "How long the oldest piece of work has been computed; 0: none is."
        )
        self.log_lost = self._counter("feedproof_log_lines_lost", "Log lines that could not be written.")
        self.key_failures = self._counter("feedproof_key_file_failures", "How often the key file could not be read.")
        for route in COMPUTED:
            # A rate needs a series from before the first failure.
            for status in ("200", "500", "503"):
                self.requests.labels("POST", route, status)
        self._on_show: list[Callable[[], None]] = []
        ProcessCollector(registry=self.registry)
        PlatformCollector(registry=self.registry)

    def _counter(self, name: str, about: str, *labels: str) -> Counter:
        return Counter(name, about, labels, registry=self.registry)

    def _gauge(self, name: str, about: str) -> Gauge:
        return Gauge(name, about, registry=self.registry)

    def identify(self, model_version: str) -> None:
        """Say what runs here."""
        labels = {"version": __version__, "model": model_version, "python": platform.python_version()}
        Gauge("feedproof_build_info", "Always 1.", tuple(labels), registry=self.registry).labels(**labels).set(1.0)

    def refuse(self, reason: str) -> None:
        """Count work that was turned away."""
        self.refused.labels(reason).inc()

    @staticmethod
    def raise_to(counter: Counter, total: float) -> None:
        """Bring a counter up to what was counted elsewhere."""
        so_far = next(sample.value for sample in next(iter(counter.collect())).samples)
        counter.inc(max(0.0, total - so_far))

    def before_showing(self, update: Callable[[], None]) -> None:
        """Have a gauge brought up to date whenever the metrics are asked for."""
        self._on_show.append(update)

    def text(self) -> bytes:
        """All metrics in the Prometheus text format."""
        for update in self._on_show:
            update()
        return generate_latest(self.registry)
