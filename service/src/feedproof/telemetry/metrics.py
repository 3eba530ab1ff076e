"""Metrics in the Prometheus text format, by prometheus-client. Every label takes few, known values."""

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST

from feedproof import __version__

METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})
BUCKETS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)


class Metrics:
    """The metrics of one application."""

    content_type = CONTENT_TYPE_LATEST

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "feedproof_requests",
            "Requests answered.",
            ("method", "route", "status"),
            registry=self.registry,
        )
        self.duration = Histogram(
            "feedproof_request_duration_seconds",
            "From the request's head to the end of its answer.",
            ("route",),
            buckets=BUCKETS,
            registry=self.registry,
        )
        self.in_flight = Gauge("feedproof_requests_in_flight", "Requests being answered.", registry=self.registry)
        self.findings = Counter(
            "feedproof_findings",
            "Assessments by the fault found and the determination.",
            ("fault", "determination"),
            registry=self.registry,
        )
        Gauge("feedproof_build_info", "Always 1.", ("version",), registry=self.registry).labels(__version__).set(1.0)

    def text(self) -> bytes:
        """All metrics in the Prometheus text format."""
        return generate_latest(self.registry)
