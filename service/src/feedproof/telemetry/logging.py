"""One structured log line per request, by structlog. Never a reading, never the caller's reference."""

import logging
import sys
from typing import Any, TextIO, cast

import structlog

LEVELS = {"debug": logging.DEBUG, "info": logging.INFO, "warning": logging.WARNING, "error": logging.ERROR}


class _StandardError:
    """Whatever standard error is at the time of writing."""

    def write(self, text: str) -> None:
        sys.stderr.write(text)

    def flush(self) -> None:
        sys.stderr.flush()


def configure(log_format: str, log_level: str) -> None:
    """Set up logging for the whole process.

    Parameters
    ----------
    log_format : {"json", "console"}
        One JSON object per line, or coloured text for a person.
    log_level : {"debug", "info", "warning", "error"}
        What is left out below.
    """
    processors: list[Any] = [
        structlog.contextvars.merge_contextvars,
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    if log_format == "console":
        processors.append(structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty()))
    else:
        # Not the structured traceback: it holds local variables, and so readings.
        processors += [structlog.processors.format_exc_info, structlog.processors.JSONRenderer(sort_keys=True)]
    structlog.configure(
        processors=processors,
        wrapper_class=structlog.make_filtering_bound_logger(LEVELS[log_level]),
        logger_factory=structlog.WriteLoggerFactory(file=cast("TextIO", _StandardError())),
        cache_logger_on_first_use=True,
    )


def logger() -> Any:  # noqa: ANN401 - the library gives a proxy
    """Give the service's logger."""
    return structlog.get_logger("feedproof")
