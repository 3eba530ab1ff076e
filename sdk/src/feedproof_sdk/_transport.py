"""HTTP. The only module that imports httpx: requests out, bytes in, its errors turned into ours."""

import asyncio
import os
import platform
import threading
import time
from collections.abc import AsyncGenerator, Generator
from contextlib import asynccontextmanager, contextmanager, suppress
from functools import cache
from importlib.metadata import version
from typing import NoReturn

import httpx

from feedproof_sdk._exchange import AsyncOpened, Opened, Received, Sent
from feedproof_sdk._settings import Limits, Settings, Timeouts
from feedproof_sdk.errors import BadSetting, ConnectionFailed, FeedproofError, TimedOut, UnreadableAnswer

Transport = httpx.BaseTransport
"""What carries requests; for tests, proxies, or a certificate authority of one's own."""
AsyncTransport = httpx.AsyncBaseTransport
"""The same for `AsyncClient`."""


@cache
def user_agent() -> str:
    """Give the versions of this package, Python and httpx, as the User-Agent header says them."""
    return f"feedproof-sdk/{version('feedproof-sdk')} python/{platform.python_version()} httpx/{httpx.__version__}"


class Address:
    """Where the service is, and the headers that every request to it carries.

    Raises
    ------
    BadSetting
        If the base URL or a header is not one.
    """

    def __init__(self, settings: Settings) -> None:
        try:
            self._base = httpx.URL(settings.base_url)
        except httpx.InvalidURL as error:
            raise BadSetting(f"base URL {settings.base_url!r}: {error}") from None
        if self._base.scheme not in {"http", "https"} or not self._base.host:
            raise BadSetting(f"base URL {settings.base_url!r}: give http:// or https:// and a host")
        if self._base.query or self._base.fragment:
            raise BadSetting(f"base URL {settings.base_url!r}: give no query and no fragment")
        self.shown = str(self._base.copy_with(username=None, password=None))
        self._urls: dict[str, httpx.URL] = {}
        common = httpx.Headers({"User-Agent": user_agent(), "Accept-Encoding": "gzip, deflate"})
        if settings.language:
            common["Accept-Language"] = settings.language
        if settings.api_key is not None:
            common["Authorization"] = f"Bearer {settings.api_key}"
        try:
            common.update(dict(settings.headers))
        except (TypeError, AttributeError, UnicodeError) as error:
            raise BadSetting(f"headers: {error}") from None
        self._common = common.raw

    def request(self, sent: Sent, timeouts: Timeouts) -> httpx.Request:
        """Make the request."""
        url = self._urls.get(sent.path)
        if url is None:
            url = self._urls[sent.path] = self._base.copy_with(
                raw_path=self._base.raw_path.rstrip(b"/") + sent.path.encode()
            )
        headers = [*self._common, (b"Accept", sent.accept.encode())]
        if sent.content_type is not None:
            headers.append((b"Content-Type", sent.content_type.encode()))
        limits = {
            "connect": timeouts.connect,
            "read": timeouts.read,
            "write": timeouts.read,
            "pool": timeouts.total,
        }
        return httpx.Request(sent.method, url, headers=headers, content=sent.content, extensions={"timeout": limits})

    def fail(self, sent: Sent, error: httpx.HTTPError) -> NoReturn:
        """Raise our error for one of httpx."""
        what = f"{sent.method} {self.shown}{sent.path}: {str(error) or type(error).__name__}"
        if isinstance(error, httpx.TimeoutException):
            raise TimedOut(what) from error
        if isinstance(error, httpx.DecodingError):
            raise UnreadableAnswer(what, status=200, content=b"") from error
        if isinstance(error, httpx.UnsupportedProtocol):
            raise BadSetting(what) from error
        raise ConnectionFailed(what) from error

    def too_slow(self, sent: Sent, timeouts: Timeouts) -> FeedproofError:
        """Make the error for an answer that trickles."""
        return TimedOut(f"{sent.method} {self.shown}{sent.path}: no whole answer within {timeouts.total:g} s")


def _pool(limits: Limits) -> httpx.Limits:
    return httpx.Limits(
        max_connections=limits.connections,
        max_keepalive_connections=limits.idle,
        keepalive_expiry=limits.idle_seconds,
    )


class Wire:
    """Connections of one process, opened when first used, shared by threads.

    Parameters
    ----------
    limits : Limits
        How many.
    transport : Transport or None
        Carries requests in place of them.
    """

    def __init__(self, limits: Limits, transport: Transport | None) -> None:
        self.limits = limits
        self.transport = transport
        self._lock = threading.Lock()
        self._client: httpx.Client | None = None
        self._process = 0

    def _opened(self) -> httpx.Client:
        client = self._client
        # After a fork both processes hold the same sockets: the child lets go of them and opens its own.
        if client is not None and self._process == os.getpid():
            return client
        with self._lock:
            if self._client is None or self._process != os.getpid():
                self._client = httpx.Client(limits=_pool(self.limits), transport=self.transport)
                self._process = os.getpid()
            return self._client

    def exchange(self, address: Address, sent: Sent, timeouts: Timeouts) -> Received:
        """Send a request and take the whole answer.

        Raises
        ------
        NoAnswer
            If there is none in time.
        """
        deadline = time.monotonic() + timeouts.total
        try:
            response = self._opened().send(address.request(sent, timeouts), stream=True)
            try:
                pieces: list[bytes] = []
                for piece in response.iter_bytes():
                    pieces.append(piece)
                    if time.monotonic() > deadline:
                        raise address.too_slow(sent, timeouts)
            finally:
                response.close()
        except httpx.HTTPError as error:
            address.fail(sent, error)
        return Received(response.status_code, response.headers, b"".join(pieces))

    @contextmanager
    def stream(self, address: Address, sent: Sent, timeouts: Timeouts) -> Generator[Opened, None, None]:
        """Send a request and take the answer piece by piece."""
        try:
            response = self._opened().send(address.request(sent, timeouts), stream=True)
            try:
                yield Opened(response.status_code, response.headers, response.iter_bytes())
            finally:
                response.close()
        except httpx.HTTPError as error:
            address.fail(sent, error)

    def close(self) -> None:
        """Close the connections; the next call opens new ones."""
        with self._lock:
            client, self._client = self._client, None
            if client is not None and self._process == os.getpid():
                client.close()

    def __del__(self) -> None:
        """Leave no connection open behind a client that nobody closed."""
        with suppress(Exception):
            self.close()


class AsyncWire:
    """Connections of one event loop, opened when first used.

    Parameters
    ----------
    limits : Limits
        How many.
    transport : AsyncTransport or None
        Carries requests in place of them.
    """

    def __init__(self, limits: Limits, transport: AsyncTransport | None) -> None:
        self.limits = limits
        self.transport = transport
        self._client: httpx.AsyncClient | None = None
        self._home: tuple[int, asyncio.AbstractEventLoop] | None = None

    def _opened(self) -> httpx.AsyncClient:
        # Connections belong to the loop and the process that opened them: a notebook or a second `asyncio.run` has
        # another loop, and what the first one left open is gone with it.
        home = (os.getpid(), asyncio.get_running_loop())
        if self._client is None or self._home != home:
            self._client = httpx.AsyncClient(limits=_pool(self.limits), transport=self.transport)
            self._home = home
        return self._client

    async def exchange(self, address: Address, sent: Sent, timeouts: Timeouts) -> Received:
        """Send a request and take the whole answer.

        Raises
        ------
        NoAnswer
            If there is none in time.
        """
        deadline = time.monotonic() + timeouts.total
        try:
            response = await self._opened().send(address.request(sent, timeouts), stream=True)
            try:
                pieces: list[bytes] = []
                async for piece in response.aiter_bytes():
                    pieces.append(piece)
                    if time.monotonic() > deadline:
                        raise address.too_slow(sent, timeouts)
            finally:
                await response.aclose()
        except httpx.HTTPError as error:
            address.fail(sent, error)
        return Received(response.status_code, response.headers, b"".join(pieces))

    @asynccontextmanager
    async def stream(self, address: Address, sent: Sent, timeouts: Timeouts) -> AsyncGenerator[AsyncOpened, None]:
        """Send a request and take the answer piece by piece."""
        try:
            response = await self._opened().send(address.request(sent, timeouts), stream=True)
            try:
                yield AsyncOpened(response.status_code, response.headers, response.aiter_bytes())
            finally:
                await response.aclose()
        except httpx.HTTPError as error:
            address.fail(sent, error)

    async def close(self) -> None:
        """Close the connections; the next call opens new ones."""
        client, self._client = self._client, None
        if client is not None and self._home == (os.getpid(), asyncio.get_running_loop()):
            await client.aclose()
