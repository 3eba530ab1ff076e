"""What goes out and what comes back, before anything is made of it."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple


class Headers(Mapping[str, str]):
    """Headers of an answer; names in any case."""

    def __init__(self, given: Mapping[str, str] | None = None) -> None:
        self._held = {name.lower(): value for name, value in (given or {}).items()}

    def __getitem__(self, name: str) -> str:
        return self._held[name.lower()]

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)

    def __repr__(self) -> str:
        return f"Headers({self._held})"


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
    headers: Headers
    content: bytes
