"""All settings of the service, read once from the environment."""

import os
from collections.abc import Mapping
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

PREFIX = "FEEDPROOF_"
LISTS = frozenset({"api_keys", "cors_origins"})
"""Settings that take several values, with commas between them."""

Positive = Annotated[int, Meta(ge=1)]


class Settings(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What can be set, each as `FEEDPROOF_<NAME>` in the environment."""

    host: str = "127.0.0.1"
    """Address to listen on; loopback unless said otherwise."""
    port: Annotated[int, Meta(ge=0, le=65535)] = 8240
    """TCP port; 0 takes a free one."""
    max_body_bytes: Positive = 256 * 1024
    """Largest body of one request [byte]."""
    max_line_bytes: Positive = 256 * 1024
    """Longest line of a batch [byte]."""
    workers: Positive = max(1, os.cpu_count() or 1)
    """Threads that compute."""
    queue: Annotated[int, Meta(ge=0)] = 64
    """Requests that may wait for a thread; beyond it the answer is 503."""
    api_keys: tuple[Annotated[str, Meta(pattern="^[0-9a-fA-F]{64}$")], ...] = ()
    """SHA-256 of each key that may call, hexadecimal; none: anybody may."""
    rate_per_second: Annotated[float, Meta(ge=0.0)] = 0.0
    """Requests that one caller may send in the long run [1/s]; 0: any number."""
    rate_burst: Positive = 20
    """Requests that one caller may send at once."""
    cors_origins: tuple[str, ...] = ()
    """Origins whose pages may call the service from a browser; `*` for any."""
    log_format: str = "json"
    """`json` or `console`."""
    log_level: str = "info"
    """`debug`, `info`, `warning` or `error`."""
    warm_up: bool = True
    """Assess once before saying ready, so that no caller waits for compilation."""


def from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Read the settings.

    Parameters
    ----------
    environment : mapping of str to str, optional
        In place of the process's environment.

    Returns
    -------
    Settings
        Defaults where nothing is set.

    Raises
    ------
    ValueError
        If a setting is unknown or has no valid value; the message names it.
    """
    environment = os.environ if environment is None else environment
    given: dict[str, object] = {}
    for name, text in environment.items():
        if not name.startswith(PREFIX):
            continue
        field = name.removeprefix(PREFIX).lower()
        given[field] = tuple(filter(None, text.split(","))) if field in LISTS else text
    try:
        return msgspec.convert(given, Settings, strict=False)
    except msgspec.ValidationError as error:
        raise ValueError(f"setting {PREFIX}*: {error}") from None
