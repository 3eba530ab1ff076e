"""What goes out and what comes back, before anything is made of it."""

from collections.abc import AsyncIterator, Iterator, Mapping
from typing import NamedTuple


class Sent(NamedTuple):
    """What goes out."""

    method: str
    path: str
    accept: str
    content: bytes | None = None
    content_type: str | None = None


class Received(NamedTuple):
    """What came back, whole."""

    status: int
    headers: Mapping[str, str]
    """Names in any case."""
    content: bytes


class Opened(NamedTuple):
    """What is coming back, piece by piece."""

    status: int
    headers: Mapping[str, str]
    pieces: Iterator[bytes]


class AsyncOpened(NamedTuple):
    """What is coming back, piece by piece."""

    status: int
    headers: Mapping[str, str]
    pieces: AsyncIterator[bytes]
