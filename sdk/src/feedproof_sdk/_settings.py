"""What a client is set up with. All of it can be pickled, so that a client can travel to another process."""

import os
from collections.abc import Callable, Mapping
from typing import TypedDict, Unpack

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


class Options(TypedDict, total=False):
    """What a client may be told; each has a default."""

    api_key: str | None
    """Where the service asks for one; left out: `FEEDPROOF_API_KEY`."""
    timeout: float
    """The whole call, with all its attempts and the waits between them [s]; left out: 60 s."""
    max_retries: int
    """Attempts that may follow the first; 0: never again; left out: 3."""
    language: str | None
    """Languages for texts, as the Accept-Language header takes them."""
    headers: Mapping[str, str]
    """Sent with every request; to those of another client they are added."""
    on_retry: Callable[[Retry], None] | None
    """Told each time that a call is about to be made again."""


class Settings(Struct, frozen=True, kw_only=True):
    """Everything but the connections."""

    base_url: str
    api_key: str | None = None
    timeout: float = TIMEOUT
    max_retries: int = MAX_RETRIES
    language: str | None = None
    headers: Mapping[str, str] = {}
    on_retry: Callable[[Retry], None] | None = None

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


def settle(base_url: str | None = None, **options: Unpack[Options]) -> Settings:
    """Fill in what is left out, from the environment and the defaults."""
    if options.get("api_key") is None:
        options["api_key"] = os.environ.get(API_KEY)
    return Settings(base_url=(base_url or os.environ.get(BASE_URL) or LOOPBACK).rstrip("/"), **options)


def changed(settings: Settings, **options: Unpack[Options]) -> Settings:
    """Replace what is given; headers are added."""
    if "headers" in options:
        options["headers"] = {**settings.headers, **options["headers"]}
    return structs.replace(settings, **options)
