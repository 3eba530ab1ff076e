"""What a client is set up with. All of it can be pickled, so that a client can travel to another process."""

import os
from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, structs

from feedproof_sdk.errors import BadSetting

BASE_URL = "FEEDPROOF_BASE_URL"
"""Environment: where the service is."""
API_KEY = "FEEDPROOF_API_KEY"
"""Environment: the key to show it."""
LOOPBACK = "http://127.0.0.1:8240"
"""Where `feedproof serve` listens unless told otherwise."""


class Timeouts(Struct, frozen=True, kw_only=True):
    """How long a call may take. None of them can be switched off: a form must not hang."""

    connect: float = 5.0
    """Until a connection stands [s]."""
    read: float = 30.0
    """Between two pieces of an answer [s]. The service answers most reading sets in well under a second."""
    total: float = 60.0
    """The whole call, with all its attempts and the waits between them [s]; looked at whenever a piece arrives."""

    def __post_init__(self) -> None:
        """Refuse what would never or at once time out."""
        for name in self.__struct_fields__:
            if not 0.0 < getattr(self, name) < float("inf"):
                raise BadSetting(f"timeout {name!r} is {getattr(self, name)}; give seconds above 0")


class Retries(Struct, frozen=True, kw_only=True):
    """How often a call is made again, and after which waits.

    Every call is safe to make again. The service stores nothing and changes nothing: an answer is a function of the
    request alone, so a request that was answered twice has done no more than one that was answered once. What is made
    again is what can go better the next time: a connection that failed, no answer in time, and the statuses 408, 429,
    502, 503 and 504. A 500 is not: the same request would fail again.
    """

    attempts: int = 4
    """Most attempts, the first included; 1: never again."""
    first_wait: float = 0.25
    """Longest wait before the second attempt [s]; it doubles with every further one."""
    longest_wait: float = 8.0
    """Longest wait that this client picks itself [s]. A Retry-After of the service is kept even where it is longer."""

    def __post_init__(self) -> None:
        """Refuse what makes no sense."""
        if self.attempts < 1 or self.first_wait < 0.0 or self.longest_wait < 0.0:
            raise BadSetting(f"{self}: give at least 1 attempt, and waits of at least 0 s")


class Limits(Struct, frozen=True, kw_only=True):
    """How many connections a client holds."""

    connections: int = 16
    """Most at once; calls beyond that wait their turn."""
    idle: int = 8
    """Most that are kept open for the next call."""
    idle_seconds: float = 4.0
    """How long [s]: less than the 5 s after which common servers close an idle connection in the client's face."""

    def __post_init__(self) -> None:
        """Refuse what makes no sense."""
        if self.connections < 1 or self.idle < 0 or self.idle_seconds < 0.0:
            raise BadSetting(f"{self}: give at least 1 connection")


class Settings(Struct, frozen=True, kw_only=True):
    """Everything but the transport."""

    base_url: str
    api_key: str | None
    timeouts: Timeouts
    retries: Retries
    limits: Limits
    language: str | None
    headers: tuple[tuple[str, str], ...]

    def __repr__(self) -> str:
        """Show all but the key."""
        masked = "***" if self.api_key else None
        return f"base_url={self.base_url!r}, api_key={masked!r}, {self.timeouts}, {self.retries}, {self.limits}"


def settle(
    base_url: str | None,
    api_key: str | None,
    timeouts: Timeouts | float | None,
    retries: Retries | int | None,
    limits: Limits | None,
    language: str | None,
    headers: Mapping[str, str] | None,
) -> Settings:
    """Fill in what is left out, from the environment and the defaults."""
    key = api_key if api_key is not None else os.environ.get(API_KEY)
    if key is not None and not (key.isascii() and key.isprintable() and key.strip()):
        raise BadSetting("the API key is empty, or holds characters that a header cannot carry")
    return Settings(
        base_url=(base_url or os.environ.get(BASE_URL) or LOOPBACK).rstrip("/"),
        api_key=key,
        timeouts=timeouts_of(timeouts),
        retries=retries_of(retries),
        limits=limits or Limits(),
        language=language,
        headers=tuple((headers or {}).items()),
    )


def timeouts_of(given: Timeouts | float | None) -> Timeouts:
    """Read a timeout: a number of seconds is the whole call's."""
    if given is None:
        return Timeouts()
    if isinstance(given, Timeouts):
        return given
    default = Timeouts()
    return Timeouts(connect=min(default.connect, given), read=min(default.read, given), total=given)


def retries_of(given: Retries | int | None) -> Retries:
    """Read retries: a number is how many attempts may follow the first."""
    if given is None:
        return Retries()
    return given if isinstance(given, Retries) else Retries(attempts=given + 1)


def changed(
    settings: Settings,
    timeouts: Timeouts | float | None,
    retries: Retries | int | None,
    language: str | None,
    headers: Mapping[str, str] | None,
) -> Settings:
    """Replace what is given; headers are added."""
    return structs.replace(
        settings,
        timeouts=settings.timeouts if timeouts is None else timeouts_of(timeouts),
        retries=settings.retries if retries is None else retries_of(retries),
        language=settings.language if language is None else language,
        headers=(*settings.headers, *(headers or {}).items()),
    )


FailureMode = Literal["return", "raise"]
"""What `assess_many` does with a reading set that is refused."""
