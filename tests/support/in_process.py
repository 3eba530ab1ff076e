"""Carries a client's requests to an application in the same process: no port, and nothing stands in for the service."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import anyio.from_thread
import httpx


class InProcess(httpx.BaseTransport):
    """Gives a synchronous client the asynchronous transport of an application."""

    def __init__(self, portal: anyio.from_thread.BlockingPortal, app: Any) -> None:
        self._portal = portal
        self._transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        self.requests: list[httpx.Request] = []

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)

        async def exchange() -> tuple[httpx.Response, bytes]:
            response = await self._transport.handle_async_request(request)
            assert isinstance(response.stream, httpx.AsyncByteStream)
            return response, b"".join([part async for part in response.stream])

        response, content = self._portal.call(exchange)
        return httpx.Response(response.status_code, headers=response.headers, stream=httpx.ByteStream(content))


@contextmanager
def in_process(app: Any) -> Iterator[InProcess]:
    """Give a transport to an application."""
    with anyio.from_thread.start_blocking_portal() as portal:
        yield InProcess(portal, app)
