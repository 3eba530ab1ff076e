"""Lines out of a stream of chunks, with a bound on each.

References
----------
NDJSON (github.com/ndjson/ndjson-spec): one JSON document per line, lines end in LF, CR before it is ignored.
"""

import re
from collections.abc import AsyncIterator
from typing import NamedTuple

MEDIA_TYPES = ("application/x-ndjson", "application/jsonl")
"""Two names of the same form, the default first."""

_BLANK = re.compile(rb"[ \t\r\n]*\n")
"""As many blank lines as stand together."""


class Line(NamedTuple):
    """One line of the stream."""

    number: int
    """From 1, blank lines counted, as an editor shows them."""
    content: bytes | None
    """None: longer than the bound, and skipped."""


def _length(content: bytes | bytearray) -> int:
    """Bytes of a line that has ended, or not yet: a CR may be of its end."""
    return len(content) - content.endswith(b"\r")


def _skip_blank(chunk: bytes, begin: int, longest: int) -> tuple[int, int]:
    """Where the next line with something in it begins, and how many lines are before it.

    Blank lines are one byte each, and one by one they would keep the event loop from everything else.
    """
    found = _BLANK.match(chunk, begin, begin + longest + 1)
    end = found.end() if found else begin
    return end, chunk.count(b"\n", begin, end)


async def split_lines(chunks: AsyncIterator[bytes], longest: int, most: int) -> AsyncIterator[list[Line]]:
    """Split a stream into lines, in groups no larger than asked for.

    Parameters
    ----------
    chunks : async iterator of bytes
        As they arrive.
    longest : int
        Longest line that is kept, without its end [byte].
    most : int
        Most lines in one group.

    Yields
    ------
    list of Line
        What is complete so far, without waiting for more; never more than one chunk and one line in memory.
    """
    number = 0
    rest = bytearray()
    too_long = False
    group: list[Line] = []

    def take(content: bytes) -> None:
        nonlocal number, too_long
        number += 1
        if too_long or _length(content) > longest:
            group.append(Line(number, None))
        elif stripped := content.strip(b" \t\r"):
            group.append(Line(number, bytes(stripped)))
        too_long = False

    async for chunk in chunks:
        begin = 0
        while (end := chunk.find(b"\n", begin)) >= 0:
            rest += chunk[begin:end]
            take(bytes(rest))
            rest.clear()
            begin, blank = _skip_blank(chunk, end + 1, longest)
            number += blank
            if len(group) >= most:
                yield group
                group = []
        rest += chunk[begin:]
        if _length(rest) > longest:
            too_long = True
            rest.clear()
        if group:
            yield group
            group = []
    take(bytes(rest))
    if group:
        yield group
