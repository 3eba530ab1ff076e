"""Lines out of chunks, however the chunks fall."""

import asyncio
from collections.abc import AsyncIterator
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from feedproof.api.ndjson import Line, split_lines


def split(chunks: list[bytes], longest: int = 1000, most: int = 4) -> list[list[Line]]:
    async def stream() -> AsyncIterator[bytes]:
        for chunk in chunks:
            yield chunk

    async def collect() -> list[list[Line]]:
        return [group async for group in split_lines(stream(), longest, most)]

    return asyncio.run(collect())


@given(
    lines=st.lists(st.binary(min_size=1, max_size=20).map(lambda b: b.hex().encode()), max_size=20),
    cuts=st.lists(st.integers(0, 900), max_size=10),
    ending=st.sampled_from([b"\n", b"\r\n"]),
    last=st.booleans(),
)
def test_where_the_chunks_are_cut_changes_nothing(
    lines: list[bytes], cuts: list[int], ending: bytes, last: bool
) -> None:
    whole = ending.join(lines) + (ending if last and lines else b"")
    places = [0, *sorted(min(cut, len(whole)) for cut in cuts), len(whole)]
    chunks = [whole[a:b] for a, b in pairwise(places)]
    groups = split(chunks)
    assert [line for group in groups for line in group] == [Line(i, text) for i, text in enumerate(lines, 1)]
    assert all(0 < len(group) <= 4 for group in groups)


@given(
    line=st.text("ab \r", min_size=8, max_size=13).map(str.encode),
    cuts=st.lists(st.integers(0, 20), max_size=4),
    ending=st.sampled_from([b"\n", b"\r\n"]),
)
def test_where_the_chunks_are_cut_makes_no_line_too_long(line: bytes, cuts: list[int], ending: bytes) -> None:
    whole = line + ending + b"x\n"
    places = [0, *sorted(min(cut, len(whole)) for cut in cuts), len(whole)]
    uncut = [line for group in split([whole], longest=10) for line in group]
    groups = split([whole[a:b] for a, b in pairwise(places)], longest=10)
    assert [line for group in groups for line in group] == uncut


def test_the_end_of_a_line_does_not_count_to_its_length() -> None:
    """NDJSON: a CR before the LF is ignored."""
    for chunks in ([b"abcdefghij\r\nx\n"], [b"abcdefghij\r", b"\nx\n"], [b"abcdefghij", b"\nx\n"]):
        assert [line for group in split(chunks, longest=10) for line in group] == [
            Line(1, b"abcdefghij"),
            Line(2, b"x"),
        ]
    for chunks in ([b"abcdefghij \nx\n"], [b"abcdefghij\r\r\nx\n"], [b"abcdefghij\r", b"\r\nx\n"]):
        assert [line for group in split(chunks, longest=10) for line in group] == [Line(1, None), Line(2, b"x")]


def test_blank_lines_are_counted_and_not_answered() -> None:
    (group,) = split([b"\n\n{}\n \t\r\n[]\n\n"])
    assert group == [Line(3, b"{}"), Line(5, b"[]")]


@given(st.lists(st.text(" \t\r\nx", max_size=12).map(str.encode), max_size=12))
def test_blank_lines_that_are_skipped_together_are_counted(chunks: list[bytes]) -> None:
    """NDJSON specification, 3.2: a parser may ignore empty lines."""
    lines = enumerate(b"".join(chunks).split(b"\n"), 1)
    stripped = [Line(number, line.strip(b" \t\r")) for number, line in lines]
    assert [line for group in split(chunks) for line in group] == [line for line in stripped if line.content]


def test_a_line_that_is_too_long_takes_its_place_and_no_memory() -> None:
    chunks = [b"a\n", *[b"x" * 64] * 50, b"\nb\n", b"y" * 101, b"\nc"]
    lines = [line for group in split(chunks, longest=100) for line in group]
    assert lines == [Line(1, b"a"), Line(2, None), Line(3, b"b"), Line(4, None), Line(5, b"c")]


def test_a_line_that_never_ends_is_told_at_the_end() -> None:
    assert split([b"x" * 64] * 50, longest=100) == [[Line(1, None)]]
