"""What a client is set up with. All of it can be pickled, so that a client can travel to another process."""

import os
from collections.abc import Callable, Mapping

from msgspec import Struct, structs

from feedproof_sdk.errors import BadSetting, FeedproofError

BASE_URL = "FEEDPROOF_BASE_URL"
"""Environment: where the service is."""
API_KEY = "FEEDPROOF_API_KEY"
"""Environment: the key to show it."""
LOOPBACK = "http://127.0.0.1:8240"
"""Where `feedproof serve` listens unless told otherwise."""
TIMEOUT = 60.0
"""The whole call, with all its attempts and the waits between them [s]."""
SOON = 2e-3
"""What is left of a time that is over [s]."""
MAX_RETRIES = 3
"""Attempts that may follow the first."""


class Retry(Struct, frozen=True, kw_only=True):
    """Why and when a call is made again."""

    path: str
    attempt: int
    """The one that failed, from 1."""
    wait: float
    """Before the next one [s]."""
    error: FeedproofError


class Settings(Struct, frozen=True, kw_only=True):
    """Everything but the connections."""

    base_url: str
    api_key: str | None
    timeout: float
    max_retries: int
    language: str | None
    headers: tuple[tuple[str, str], ...]
    on_retry: Callable[[Retry], None] | None

    def __post_init__(self) -> None:
        """Refuse what would never or at once time out, and what makes no sense."""
        if not 0.0 < self.timeout < float("inf"):
            raise BadSetting(f"timeout is {self.timeout}; give seconds above 0")
        if self.max_retries < 0:
            raise BadSetting(f"max_retries is {self.max_retries}; give at least 0")
        if self.api_key is not None and not (
            self.api_key.isascii() and self.api_key.isprintable() and self.api_key.strip()
        ):
            raise BadSetting("the API key is empty, or holds characters that a header cannot carry")

    def __repr__(self) -> str:
        """Show all but the key."""
        masked = "***" if self.api_key else None
        return f"base_url={self.base_url!r}, api_key={masked!r}, timeout={self.timeout}, max_retries={self.max_retries}"


def settle(
    base_url: str | None = None,
    api_key: str | None = None,
    timeout: float = TIMEOUT,
    max_retries: int = MAX_RETRIES,
    language: str | None = None,
    headers: Mapping[str, str] | None = None,
    on_retry: Callable[[Retry], None] | None = None,
) -> Settings:
    """Fill in what is left out, from the environment and the defaults."""
    return Settings(
        base_url=(base_url or os.environ.get(BASE_URL) or LOOPBACK).rstrip("/"),
        api_key=api_key if api_key is not None else os.environ.get(API_KEY),
        timeout=timeout,
        max_retries=max_retries,
        language=language,
        headers=tuple((headers or {}).items()),
        on_retry=on_retry,
    )


def changed(
    settings: Settings,
    timeout: float | None,
    max_retries: int | None,
    language: str | None,
    headers: Mapping[str, str] | None,
) -> Settings:
    """Replace what is given; headers are added."""
    return structs.replace(
        settings,
        timeout=settings.timeout if timeout is None else timeout,
        max_retries=settings.max_retries if max_retries is None else max_retries,
        language=settings.language if language is None else language,
        headers=(*settings.headers, *(headers or {}).items()),
    )
