"""All settings of the service, in one place: defaults, then a file, then the environment.

The names are those of the fields below. In the file, which is TOML, they stand as they are; in the environment in
capitals after `FEEDPROOF_`, lists with commas between their values. `FEEDPROOF_CONFIG` names the file. `feedproof
config` prints what is in effect.
"""

import ipaddress
import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal, get_origin, get_type_hints

import msgspec
from msgspec import Meta, Struct

from feedproof.attribute_docs import attribute_docs

PREFIX = "FEEDPROOF_"
FILE = "FEEDPROOF_CONFIG"
"""Names the file; the one thing that the file cannot say."""
CLIENTS = frozenset({"FEEDPROOF_API_KEY", "FEEDPROOF_BASE_URL"})
"""Read by clients, who may run on the same machine."""
SECRETS = frozenset({"api_keys"})

Count = Annotated[int, Meta(ge=1)]
Seconds = Annotated[float, Meta(gt=0.0, le=86_400.0)]
_ORIGIN = re.compile(r"\*|[a-z][a-z0-9+.\-]*://(\[[0-9a-f:.]+\]|[a-z0-9._\-]+)(:[0-9]{1,5})?")
"""As browsers send it in `Origin` (RFC 6454, 6.2): small letters, no path, not even a `/`."""
Digest = Annotated[str, Meta(pattern="^[0-9a-fA-F]{64}$")]


def usable_cores() -> int:
    """Processor cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Settings(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What can be set; each field says what it does and in which unit."""

    host: str = "127.0.0.1"
    """Address to listen on. Beyond loopback, keys are needed or `anonymous`."""
    port: Annotated[int, Meta(ge=0, le=65535)] = 8240
    """TCP port; 0 takes a free one."""
    management_port: Annotated[int, Meta(ge=0, le=65535)] = 0
    """TCP port for health and metrics, then on no other; 0: they are on `port`."""
    trusted_proxies: tuple[str, ...] = ()
    """Addresses and networks of proxies whose X-Forwarded-For names the client; `*`: any."""
    workers: Count = usable_cores()
    """Threads that compute."""
    warm_up: bool = True
    """Assess once before saying ready, so that no caller waits for compilation."""

    anonymous: bool = False
    """Let anybody call who reaches the address, without a key."""
    api_keys: tuple[Digest, ...] = ()
    """SHA-256 of keys that may call, hexadecimal. A key file is easier to rotate."""
    key_file: str = ""
    """File of `feedproof key new`; read again whenever it changes. Empty: none."""
    rate_per_second: Annotated[float, Meta(ge=0.0)] = 0.0
    """Requests that one key may send in the long run [1/s]; 0: any number."""
    rate_burst: Count = 20
    """Requests that one key may send at once."""
    cors_origins: tuple[str, ...] = ()
    """Origins whose pages may call from a browser; `*`: any."""

    max_body_bytes: Count = 256 * 1024
    """Largest body of one request [byte]."""
    max_unpacked_bytes: Count = 256 * 1024 * 1024
    """Most that a batch which comes as gzip may unpack to [byte]."""
    max_line_bytes: Count = 256 * 1024
    """Longest line of a batch [byte]."""
    max_head_bytes: Count = 32 * 1024
    """Largest head of one request: line and headers [byte]."""
    max_connections: Count = 512
    """Connections held open at once; one in eight is kept for health and metrics."""
    max_streams: Count = 32
    """Batches answered at once; beyond it 503."""
    max_streams_per_caller: Count = 8
    """Batches of one key, or without keys one address, answered at once; beyond it 503."""
    queue: Annotated[int, Meta(ge=0)] = 4
    """Visits that may wait for each thread; beyond it the answer is 503. Lines of batches do not count: they wait for
    their turn by not being read."""
    queue_seconds: Seconds = 2.0
    """Longest wait for a thread; after it the answer is 503 [s]."""
    request_seconds: Seconds = 30.0
    """Longest time from a request's head to its answer, batches excepted [s]."""
    head_seconds: Seconds = 10.0
    """Longest time for a request's head to arrive [s]."""
    idle_seconds: Seconds = 60.0
    """Longest time that a client may send nothing of a body, or read nothing [s]."""
    batch_idle_seconds: Seconds = 15.0
    """The same within a batch, whose place another caller could have [s]."""
    keep_alive_seconds: Annotated[int, Meta(ge=1, le=86_400)] = 75
    """How long a connection may wait for its next request [s]."""
    drain_seconds: Annotated[float, Meta(ge=0.0, le=3600.0)] = 0.0
    """After SIGTERM, how long new connections are still taken while saying not ready [s]."""
    stop_seconds: Annotated[int, Meta(ge=1, le=3600)] = 20
    """After that, how long requests being answered may take [s]."""

    log_format: Literal["auto", "json", "console"] = "auto"
    """`json`, `console`, or `auto`: for a person on a terminal, JSON elsewhere."""
    log_level: Literal["debug", "info", "warning", "error"] = "info"
    """What is left out below."""
    tracing: bool = False
    """Send a span of each request and of each stage of its answer by OTLP over HTTP; where to says
    OTEL_EXPORTER_OTLP_ENDPOINT. Needs the extra `tracing`."""

    def __post_init__(self) -> None:
        """Refuse an address or an origin that could never be met."""
        for given in self.trusted_proxies if self.trusted_proxies != ("*",) else ():
            try:
                ipaddress.ip_network(given)
            except ValueError as error:
                raise ValueError(f"trusted_proxies: {error}; give addresses and networks, or `*` alone") from None
        for given in self.cors_origins:
            if not _ORIGIN.fullmatch(given):
                raise ValueError(f"cors_origins: {given!r} is no origin: give scheme://host[:port], or `*`")

    @property
    def waiting(self) -> int:
        """Visits that may wait for a thread, of all threads together."""
        return self.queue * self.workers


class Effective(Struct, frozen=True, kw_only=True):
    """Settings in effect, and where each of them comes from."""

    settings: Settings
    sources: Mapping[str, str]
    """By field: `default`, `file` or `environment`."""


LISTS = frozenset(name for name, kind in get_type_hints(Settings).items() if get_origin(kind) is tuple)
"""Settings that take several values: in the environment with commas between them."""


def _convert(given: Mapping[str, object], where: str, *, strict: bool) -> Settings:
    try:
        return msgspec.convert(given, Settings, strict=strict)
    except msgspec.ValidationError as error:
        raise ValueError(f"{where}: {error}") from None


def _from_file(path: str) -> dict[str, object]:
    try:
        given = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        raise ValueError(f"{path}: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ValueError(f"{path}: {error}") from None
    _convert(given, path, strict=True)
    return given


def load(environment: Mapping[str, str] | None = None) -> Effective:
    """Read the settings and where each comes from.

    Parameters
    ----------
    environment : mapping of str to str, optional
        In place of the process's environment.

    Returns
    -------
    Effective
        Defaults where nothing is set; the environment before the file.

    Raises
    ------
    ValueError
        If a setting is unknown or has no valid value; the message names it.
    """
    environment = os.environ if environment is None else environment
    path = environment.get(FILE, "")
    filed = _from_file(path) if path else {}
    set_here: dict[str, object] = {}
    for name, text in environment.items():
        if name.startswith(PREFIX) and name != FILE and name not in CLIENTS:
            field = name.removeprefix(PREFIX).lower()
            set_here[field] = tuple(filter(None, map(str.strip, text.split(",")))) if field in LISTS else text
    _convert(set_here, f"setting {PREFIX}*", strict=False)
    settings = _convert({**filed, **set_here}, "settings", strict=False)
    sources = dict.fromkeys(Settings.__struct_fields__, "default")
    sources |= dict.fromkeys(filed, "file") | dict.fromkeys(set_here, "environment")
    return Effective(settings=settings, sources=sources)


def is_loopback(host: str) -> bool:
    """Whether an address can be reached from this machine only."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_exposure(settings: Settings) -> None:
    """Refuse to be reachable from elsewhere by everybody, unless that was said outright.

    Raises
    ------
    ValueError
        With what to set.
    """
    if is_loopback(settings.host) or settings.api_keys or settings.key_file or settings.anonymous:
        return
    raise ValueError(
        f"{settings.host} can be reached from other machines and no key is asked for: "
        f"set {PREFIX}KEY_FILE (see `feedproof key new`), or {PREFIX}ANONYMOUS=true to let anybody call"
    )


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return msgspec.json.encode(value).decode()
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return str(value)


def describe(effective: Effective) -> str:
    """Write settings as a file that `FEEDPROOF_CONFIG` may name, with what each does and where it comes from.

    Secrets are masked, so a file with secrets in effect does not read back.
    """
    meanings = attribute_docs(Settings)
    blocks = []
    for name in Settings.__struct_fields__:
        value = getattr(effective.settings, name)
        shown = _toml(("***",) * len(value) if name in SECRETS else value)
        blocks.append(f"# {meanings[name]}\n{name} = {shown}  # {effective.sources[name]}\n")
    return "\n".join(blocks)
