"""The only place where the application is put together."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import cast

from litestar import Litestar, Router
from litestar.di import Provide
from litestar.types import ASGIApp

from feedproof.api import problems
from feedproof.api.access import Gate
from feedproof.api.bodies import refuse_query
from feedproof.api.desk import Desk
from feedproof.api.docs import Published
from feedproof.api.edge import Edge
from feedproof.api.health import Readiness
from feedproof.api.openapi import document, document_bytes
from feedproof.api.page import render_page
from feedproof.api.routes import OPEN, UNPUBLISHED, VERSIONED
from feedproof.assess import assess
from feedproof.door import read_request
from feedproof.settings import Settings
from feedproof.telemetry.logging import configure, logger
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import App, Telemetry

SELF_TEST = b"""{
  "meters": {"loz": {"kind": "voltmeter", "input_impedance": "3 kohm"}},
  "readings": [
    {"kind": "voltage", "between": ["L1", "L2"], "value": "240 V", "meter": "loz", "load_state": "disconnected"}
  ]
}"""


def self_test() -> None:
    """Assess one small set: compiles what is compiled, and shows that the engine answers."""
    assess(*read_request(SELF_TEST))


def create_app(settings: Settings | None = None) -> ASGIApp:
    """Put the application together.

    Parameters
    ----------
    settings : Settings, optional
        Defaults where left out.

    Returns
    -------
    ASGI application
        With the routes, and telemetry round all of them.
    """
    settings = settings or Settings()
    configure(settings.log_format, settings.log_level)
    metrics, readiness, desk = Metrics(), Readiness(), Desk(settings.workers, settings.queue)

    async def warm_up() -> None:
        try:
            await desk.run(self_test)
        except Exception:  # noqa: BLE001 - whatever it is, the service must stay not ready and say so
            logger().exception("self_test_failed")
        else:
            readiness.ready = True

    @asynccontextmanager
    async def lifespan(_: Litestar) -> AsyncIterator[None]:
        if not settings.warm_up:
            readiness.ready = True
            yield
            return
        task = asyncio.create_task(warm_up())
        yield
        task.cancel()

    def give(value: object) -> Provide:
        return Provide(lambda: value, use_cache=True, sync_to_thread=False)

    gate = Gate(settings.api_keys, settings.rate_per_second, settings.rate_burst)
    versioned = Router(path="/", route_handlers=VERSIONED, guards=[gate])
    published = Published(document=document_bytes(), page=render_page(document()))
    routes = Litestar(
        route_handlers=[versioned, *OPEN, *UNPUBLISHED],
        dependencies={
            "desk": give(desk), "metrics": give(metrics), "readiness": give(readiness), "settings": give(settings),
            "published": give(published),
        },
        exception_handlers={Exception: problems.answer_error},
        before_request=refuse_query,
        request_max_body_size=settings.max_body_bytes,
        lifespan=[lifespan],
        openapi_config=None,
        logging_config=None,
    )  # fmt: skip
    return cast("ASGIApp", Telemetry(Edge(cast("App", routes), settings.cors_origins), metrics))
