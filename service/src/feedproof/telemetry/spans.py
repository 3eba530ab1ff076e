"""Spans by OpenTelemetry, with the extra `tracing`: one of each request, and one of each stage of its answer.

Where they are sent and how many of them is OpenTelemetry's to set (`OTEL_EXPORTER_OTLP_ENDPOINT`,
`OTEL_TRACES_SAMPLER` and the like). A span holds names, times and statuses; never a reading, a reference or a key.

References
----------
OpenTelemetry specification, Environment Variable Specification; Semantic Conventions for HTTP Spans.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager

from opentelemetry import trace as otel
from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
from opentelemetry.sdk.resources import OTELResourceDetector, Resource
from opentelemetry.sdk.trace import SpanProcessor, TracerProvider
from opentelemetry.sdk.trace.export import BatchSpanProcessor

from feedproof import __version__
from feedproof.stages import measure
from feedproof.telemetry.middleware import Trace

SERVER_FAULT = 500


class Spans:
    """What makes the spans of one application.

    Parameters
    ----------
    processor : SpanProcessor, optional
        What takes spans that have ended; left out, they are sent to a collector in batches, by OTLP over HTTP.
    """

    def __init__(self, processor: SpanProcessor | None = None) -> None:
        named = Resource({"service.name": "feedproof", "service.version": __version__})
        self._provider = TracerProvider(resource=named.merge(OTELResourceDetector().detect()), shutdown_on_exit=False)
        self._provider.add_span_processor(processor or BatchSpanProcessor(OTLPSpanExporter()))
        self._tracer = self._provider.get_tracer("feedproof", __version__)

    def begin(self, trace: Trace, method: str) -> tuple[Trace, Callable[[str, int], None]]:
        """Begin a request's span, as a part of the caller's trace where there is one.

        Parameters
        ----------
        trace : Trace
            Ids of the request.
        method : str
            Its method.

        Returns
        -------
        trace : Trace
            The same with the ids of the span, for the answer and the log.
        end : callable
            Ends the span; takes the route and the status of the answer.
        """
        flags = otel.TraceFlags(int(trace.flags, 16))
        caller = otel.SpanContext(
            int(trace.trace_id, 16), int(trace.parent_id or "0", 16), is_remote=True, trace_flags=flags
        )
        parent = otel.set_span_in_context(otel.NonRecordingSpan(caller))
        span = self._tracer.start_span(method, parent, otel.SpanKind.SERVER)
        within = otel.set_span_in_context(span)

        def stage(name: str) -> AbstractContextManager[object]:
            # The words of an exception may hold readings.
            return self._tracer.start_as_current_span(
                name, within, record_exception=False, set_status_on_exception=False
            )

        def end(route: str, status: int) -> None:
            span.update_name(f"{method} {route}")
            span.set_attributes(
                {"http.request.method": method, "http.route": route, "http.response.status_code": status}
            )
            if status >= SERVER_FAULT:
                span.set_status(otel.StatusCode.ERROR)
            span.end()

        measure(stage)
        own = span.get_span_context()
        ids = {"trace_id": f"{own.trace_id:032x}", "span_id": f"{own.span_id:016x}", "flags": f"{own.trace_flags:02x}"}
        return trace._replace(**ids), end

    def close(self) -> None:
        """Send what has not been sent."""
        self._provider.shutdown()
