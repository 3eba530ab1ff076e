"""HTTP. The only module that imports httpx: where requests go, and its errors turned into ours."""

import platform
from importlib.metadata import version
from typing import NoReturn

import httpx

from feedproof_sdk._requests import Sent
from feedproof_sdk._settings import Settings
from feedproof_sdk.errors import BadSetting, ConnectionFailed, FeedproofError, TimedOut, UnreadableAnswer

CONNECT = 5.0
"""Until a connection stands [s]."""
READ = 30.0
"""Between two pieces of an answer [s]. The service answers most reading sets in well under a second."""
POOL = httpx.Limits(max_connections=16, max_keepalive_connections=8, keepalive_expiry=4.0)
"""Idle for less than the 5 s after which common servers close a connection in the client's face."""
USER_AGENT = f"feedproof-sdk/{version('feedproof-sdk')} python/{platform.python_version()} httpx/{httpx.__version__}"
AsyncHttp = httpx.AsyncClient
Http = httpx.Client
HttpResponse = httpx.Response
HTTPError = httpx.HTTPError


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
        self._shown = str(self._base.copy_with(username=None, password=None))
        common = httpx.Headers({"User-Agent": USER_AGENT, "Accept-Encoding": "gzip, deflate"})
        if settings.language:
            common["Accept-Language"] = settings.language
        if settings.api_key is not None:
            common["Authorization"] = f"Bearer {settings.api_key}"
        try:
            common.update(settings.headers)
        except (TypeError, AttributeError, UnicodeError) as error:
            raise BadSetting(f"headers: {error}") from None
        self._common = common.raw

    def request(self, sent: Sent, total: float, silence: float | None = None) -> httpx.Request:
        """Make the request, to be answered within a time, and never silent for longer than another [s]."""
        url = self._base.copy_with(raw_path=self._base.raw_path.rstrip(b"/") + sent.path.encode())
        headers = [*self._common, (b"Accept", sent.accept.encode())]
        if sent.content_type is not None:
            headers.append((b"Content-Type", sent.content_type.encode()))
        silence = min(READ if silence is None else silence, total)
        limits = {"connect": min(CONNECT, total), "read": silence, "write": silence, "pool": total}
        return httpx.Request(sent.method, url, headers=headers, content=sent.content, extensions={"timeout": limits})

    def fail(self, sent: Sent, error: httpx.HTTPError) -> NoReturn:
        """Raise our error for one of httpx."""
        what = f"{sent.method} {self._shown}{sent.path}: {str(error) or type(error).__name__}"
        if isinstance(error, httpx.TimeoutException):
            raise TimedOut(what) from error
        if isinstance(error, httpx.DecodingError):
            raise UnreadableAnswer(what, status=200, content=b"") from error
        if isinstance(error, httpx.UnsupportedProtocol):
            raise BadSetting(what) from error
        raise ConnectionFailed(what) from error

    def too_slow(self, sent: Sent, total: float) -> FeedproofError:
        """Make the error for an answer that trickles."""
        return TimedOut(f"{sent.method} {self._shown}{sent.path}: no whole answer within {total:.3g} s")
