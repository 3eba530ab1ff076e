"""Packed bodies: what they unpack to, what is refused, and that a packed answer can be read line by line."""

import asyncio
import gzip
import zlib
from collections.abc import AsyncIterator

import pytest

from feedproof.api.bodies import packed, unpacked
from feedproof.errors import MalformedRequest, TooLarge


async def _stream(*pieces: bytes) -> AsyncIterator[bytes]:
    for piece in pieces:
        yield piece


def unpack(*pieces: bytes, most: int = 10**6) -> list[bytes]:
    async def collect() -> list[bytes]:
        return [piece async for piece in unpacked(_stream(*pieces), most)]

    return asyncio.run(collect())


def pack(*lines: bytes) -> list[bytes]:
    async def collect() -> list[bytes]:
        return [piece async for piece in packed(_stream(*lines))]

    return asyncio.run(collect())


@pytest.mark.parametrize("size", [1, 7, 10_000])
def test_wherever_it_is_cut_it_unpacks_to_the_same(size: int) -> None:
    plain = b'{"readings": []}\n' * 999
    body = gzip.compress(plain) + gzip.compress(b"more")  # two members: RFC 1952, 2.2
    assert b"".join(unpack(*[body[i : i + size] for i in range(0, len(body), size)])) == plain + b"more"


def test_little_is_unpacked_at_once_and_never_more_than_may_be() -> None:
    bomb = gzip.compress(b"0" * 10**7)
    assert len(bomb) < 20_000
    assert max(map(len, unpack(bomb, most=10**7))) <= 64 * 1024
    with pytest.raises(TooLarge, match="unpacks to more than 1000000 bytes"):
        unpack(bomb)


@pytest.mark.parametrize("body", [b"plain", b"", gzip.compress(b"cut" * 99, mtime=0)[:-9], zlib.compress(b"zlib")])
def test_what_is_no_whole_gzip_is_told(body: bytes) -> None:
    with pytest.raises(MalformedRequest, match="gzip"):
        unpack(body)


def test_each_line_can_be_read_as_soon_as_it_is_there() -> None:
    lines = [f"line {i}\n".encode() for i in range(5)]
    pieces = pack(*lines)
    reader = zlib.decompressobj(wbits=31)
    assert [reader.decompress(piece) for piece in pieces] == [*lines, b""]
    assert reader.eof
    assert pack(*lines) == pieces
