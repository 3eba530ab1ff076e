"""One structured log line per request, by structlog. Never a reading, never the caller's reference, never a key."""

import logging
import sys
import traceback
from collections.abc import MutableMapping
from contextlib import suppress
from types import TracebackType
from typing import Any, Protocol, TextIO, cast

import structlog

LEVELS = {"debug": logging.DEBUG, "info": logging.INFO, "warning": logging.WARNING, "error": logging.ERROR}
LIBRARIES = ("uvicorn.error", "asyncio", "litestar")
"""Loggers of what the service stands on, whose lines get the same form."""

TOLD_ALREADY = frozenset(
    {
        "Invalid HTTP request received.",
        "ASGI callable returned without completing response.",
        "Unsupported upgrade request.",
    }
)
"""Lines that anybody could have written by the thousand, of what the metrics or the request's own line say."""

Event = MutableMapping[str, Any]


class Stream(Protocol):
    """Where lines are written to."""

    def write(self, text: str, /) -> object:
        """Take a line."""

    def flush(self) -> object:
        """See that it is on its way."""


class _StandardError:
    """Whatever standard error is at the time of writing. What cannot be written is let go."""

    def write(self, text: str) -> None:
        with suppress(OSError):
            sys.stderr.write(text)

    def flush(self) -> None:
        with suppress(OSError):
            sys.stderr.flush()


def _places(found: TracebackType | None) -> list[str]:
    return [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in traceback.extract_tb(found)]


def tell_error(_: object, __: str, event: Event) -> Event:
    """Replace an exception by its kind and the places it came through.

    Its message and the variables round it stay out: they may hold readings.
    """
    given = event.pop("exc_info", None)
    if given is True:
        given = sys.exc_info()[1]
    elif isinstance(given, tuple):
        given = given[1]
    if isinstance(given, BaseException):
        event["error"] = f"{type(given).__module__}.{type(given).__qualname__}"
        event["places"] = _places(given.__traceback__)
        cause = given.__cause__ or given.__context__
        if cause is not None:
            event["caused_by"] = f"{type(cause).__module__}.{type(cause).__qualname__}"
            event["caused_at"] = _places(cause.__traceback__)[-1:]
    return event


class _Bridge(logging.Handler):
    """Hands lines of other libraries' loggers to ours."""

    def emit(self, record: logging.LogRecord) -> None:
        if record.msg in TOLD_ALREADY:
            return
        level = next((name for name, least in reversed(LEVELS.items()) if record.levelno >= least), "debug")
        # The format without its arguments where there is an exception: they may hold what was sent.
        said = str(record.msg).strip() if record.exc_info else record.getMessage().strip()
        getattr(logger(), level)("library", library=record.name, said=said, exc_info=record.exc_info)


def configure(log_format: str, log_level: str, stream: Stream | None = None) -> None:
    """Set up logging for the whole process.

    Parameters
    ----------
    log_format : {"auto", "json", "console"}
        One JSON object per line, or coloured text for a person; `auto`: text where standard error is a terminal.
    log_level : {"debug", "info", "warning", "error"}
        What is left out below.
    stream : Stream, optional
        Where to; standard error where left out.
    """
    processors: list[Any] = [
        structlog.contextvars.merge_contextvars,
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        tell_error,
    ]
    person = log_format == "console" or (log_format == "auto" and sys.stderr.isatty())
    if person:
        processors.append(structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty()))
    else:
        processors.append(structlog.processors.JSONRenderer(sort_keys=True))
    structlog.configure(
        processors=processors,
        wrapper_class=structlog.make_filtering_bound_logger(LEVELS[log_level]),
        logger_factory=structlog.WriteLoggerFactory(file=cast("TextIO", stream or _StandardError())),
        cache_logger_on_first_use=stream is not None,
    )
    for name in LIBRARIES:
        library = logging.getLogger(name)
        library.handlers = [_Bridge()]
        library.propagate = False
        library.setLevel(max(LEVELS[log_level], logging.WARNING))


def logger() -> Any:  # noqa: ANN401 - the library gives a proxy
    """Give the service's logger."""
    return structlog.get_logger("feedproof")
