"""Routes for whoever operates the service."""

from typing import Annotated

from litestar import Response, get
from litestar.di import NamedDependency
from msgspec import Struct

from feedproof.contract.words import example
from feedproof.errors import NotReady
from feedproof.telemetry.metrics import Metrics


class Readiness:
    """Whether requests are taken yet."""

    def __init__(self) -> None:
        self.warm = False
        """Whether the self-test has passed."""
        self.draining = False
        """Whether the service is about to stop."""

    @property
    def ready(self) -> bool:
        """Whether new requests should be sent here."""
        return self.warm and not self.draining

    def refuse(self) -> NotReady:
        """Give the error that says why not."""
        return NotReady("stopping" if self.draining else "starting")


class Health(Struct, frozen=True, kw_only=True):
    """State of the service."""

    status: Annotated[str, example("ready")]
    """`live` or `ready`."""


_NO_STORE = {"Cache-Control": "no-store"}


@get("/health/live", name="live", summary="Whether the process runs")
async def live() -> Response[Health]:
    """Answer as long as the process can answer at all; depends on nothing else."""
    return Response(Health(status="live"), headers=_NO_STORE)


@get("/health/ready", name="ready", summary="Whether requests are taken")
async def ready(readiness: NamedDependency[Readiness]) -> Response[Health]:
    """Answer 200 once a self-test set has been assessed, and 503 before, and again once the service is to stop."""
    if not readiness.ready:
        raise readiness.refuse()
    return Response(Health(status="ready"), headers=_NO_STORE)


@get("/metrics", name="metrics", summary="Metrics in the Prometheus text format", media_type="text/plain")
async def show_metrics(metrics: NamedDependency[Metrics]) -> Response[bytes]:
    """Counts, durations and findings; no readings."""
    return Response(metrics.text(), media_type=metrics.content_type.removesuffix("; charset=utf-8"), headers=_NO_STORE)
