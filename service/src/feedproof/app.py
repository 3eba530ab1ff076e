"""The only place where the application is put together."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path
from typing import cast

from litestar import Litestar, Router
from litestar.di import Provide
from litestar.handlers.base import BaseRouteHandler
from litestar.types import ASGIApp

from feedproof.api import problems
from feedproof.api.access import Connection, Gate, RateLimit, exact_paths
from feedproof.api.bodies import refuse_query
from feedproof.api.catalogues import encoded
from feedproof.api.docs import Published, render_page
from feedproof.api.executor import Executor, Streams
from feedproof.api.health import Readiness
from feedproof.api.keys import KeyBook
from feedproof.api.load_shedding import LoadShedding
from feedproof.api.openapi import document, document_bytes
from feedproof.api.response_headers import ResponseHeaders
from feedproof.api.routes import OPEN, UNPUBLISHED, VERSIONED
from feedproof.api.timeouts import Timeouts
from feedproof.faults.priors import MODEL_VERSION
from feedproof.inference import KEPT
from feedproof.settings import Settings
from feedproof.telemetry.logging import configure, logger
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import App, Spans, Telemetry
from feedproof.telemetry.sink import Sink
from feedproof.warm_up import warm_up


async def _warm_up(readiness: Readiness, executor: Executor) -> None:
    if not KEPT:
        logger().warning("nothing_kept", reason="no folder that this user alone can write: every start compiles")
    try:
        # Not through the executor, whose metrics would count compiling as engine time.
        await asyncio.to_thread(warm_up)
    except Exception:  # noqa: BLE001 - whatever it is, the service must stay not ready and say so
        logger().exception("self_test_failed")
    else:
        readiness.warm = executor.warm = True


Lifespan = Callable[[Litestar], AbstractAsyncContextManager[None]]


def _lifespan(settings: Settings, executor: Executor, readiness: Readiness) -> Lifespan:
    @asynccontextmanager
    async def lifespan(_: Litestar) -> AsyncIterator[None]:
        warming = asyncio.create_task(_warm_up(readiness, executor)) if settings.warm_up else None
        yield
        if warming is not None:
            warming.cancel()
        executor.close()

    return lifespan


def create_app(
    settings: Settings | None = None, readiness: Readiness | None = None, sink: Sink | None = None,
    metrics: Metrics | None = None, management: int | None = None, spans: Spans | None = None,
) -> ASGIApp:  # fmt: skip
    """Put the application together.

    Parameters
    ----------
    settings : Settings, optional
        Defaults where left out.
    readiness : Readiness, optional
        For who starts and stops the service.
    sink : Sink, optional
        Where log lines go; standard error where left out.
    metrics : Metrics, optional
        For who counts what happens before a request is one.
    management : int, optional
        TCP port for health and metrics alone.
    spans : Spans, optional
        Makes spans of requests.

    Returns
    -------
    ASGI application
        With the routes, and telemetry round all of them.

    Raises
    ------
    ValueError
        If a key file is named and cannot be read.
    """
    settings = settings or Settings()
    configure(settings.log_format, settings.log_level, sink)
    metrics, readiness = metrics or Metrics(), readiness or Readiness()
    readiness.warm = readiness.warm or not settings.warm_up
    metrics.identify(MODEL_VERSION)
    executor = Executor(settings.workers, settings.waiting, settings.queue_seconds, metrics)
    keys = KeyBook(settings.api_keys, Path(settings.key_file) if settings.key_file else None)
    buckets = RateLimit(settings.rate_per_second, settings.rate_burst) if settings.rate_per_second > 0.0 else None
    gate = Gate(keys, buckets, metrics.refuse)

    def update() -> None:
        metrics.queue.set(executor.load - executor.computing)
        metrics.computing.set(executor.computing)
        metrics.workers.set(settings.workers)
        metrics.ready.set(readiness.ready)
        # Also without requests, so that an unreadable key file is reported before the first call.
        keys.refresh()
        metrics.raise_to(metrics.key_failures, keys.failures)
        metrics.raise_to(metrics.log_lost, sink.lost if sink else 0)
        metrics.oldest.set(executor.oldest)

    metrics.before_showing(update)

    def give(value: object) -> Provide:
        return Provide(lambda: value, use_cache=True, sync_to_thread=False)

    async def guard(connection: Connection, handler: BaseRouteHandler) -> None:
        # The router copies its guards. A function is not copied, so all routes share one gate.
        await gate(connection, handler)

    versioned = Router(path="/", route_handlers=VERSIONED, guards=[guard])
    given = {
        "executor": executor,
        "gate": gate,
        "metrics": metrics,
        "published": Published(document=encoded(document_bytes()), page=render_page(document())),
        "readiness": readiness,
        "settings": settings,
        "streams": Streams(settings.max_streams, settings.max_streams_per_caller, metrics),
    }
    routes = Litestar(
        route_handlers=[versioned, *OPEN, *UNPUBLISHED],
        dependencies={name: give(value) for name, value in given.items()},
        exception_handlers={Exception: problems.answer_error},
        before_request=refuse_query,
        request_max_body_size=settings.max_body_bytes,
        lifespan=[_lifespan(settings, executor, readiness)],
        openapi_config=None,
        logging_config=None,
    )
    shedding = LoadShedding(cast("App", routes), executor, gate.may_call, readiness, settings.max_connections // 2)
    headers = ResponseHeaders(shedding, settings.cors_origins, readiness)

    def longest() -> float | None:
        return settings.request_seconds if executor.warm else None

    timeouts = Timeouts(headers, longest, settings.idle_seconds, metrics.refuse, settings.batch_idle_seconds)
    return cast("ASGIApp", Telemetry(exact_paths(timeouts, management), metrics, MODEL_VERSION, spans))
