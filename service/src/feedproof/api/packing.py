"""Content codings of streams: bodies that come in packed, bounded in what they unpack to, and lines that go out packed.

References
----------
RFC 1952 (gzip; a file may have several members). RFC 9110, HTTP Semantics, 8.4 (Content-Encoding).
"""

import zlib
from collections.abc import AsyncIterator

from feedproof.api.bodies import AnyRequest, is_packed
from feedproof.errors import MalformedRequest, TooLarge

GZIP = "gzip"
_GZIP_WINDOW = 31
"""Of zlib: its largest window (15), and the gzip form of head and end (16)."""
_AT_ONCE = 64 * 1024
"""Most that is unpacked at once [byte]: memory stays bounded however well the body packs."""


async def unpacked(chunks: AsyncIterator[bytes], most: int) -> AsyncIterator[bytes]:
    """Unpack a gzip stream as it arrives.

    Parameters
    ----------
    chunks : async iterator of bytes
        As they arrive.
    most : int
        Most that it may unpack to [byte].

    Yields
    ------
    bytes
        At most 64 KiB at once.

    Raises
    ------
    MalformedRequest
        If it is not gzip, or ends early.
    TooLarge
        If it unpacks to more.
    """
    stream = zlib.decompressobj(wbits=_GZIP_WINDOW)
    total = 0
    try:
        async for arrived in chunks:
            waiting = arrived
            while waiting:
                if stream.eof:
                    stream = zlib.decompressobj(wbits=_GZIP_WINDOW)
                piece = stream.decompress(waiting, _AT_ONCE)
                waiting = stream.unused_data if stream.eof else stream.unconsumed_tail
                total += len(piece)
                if total > most:
                    raise TooLarge(f"the body unpacks to more than {most} bytes")
                if piece:
                    yield piece
    except zlib.error:
        raise MalformedRequest("Content-Encoding is gzip, and the body is not gzip") from None
    if not stream.eof:
        raise MalformedRequest("the gzip body ends early")


async def whole_body(request: AnyRequest, most: int) -> bytes:
    """The whole body of a request, unpacked where it is packed.

    Raises
    ------
    MalformedRequest
        If it is said to be gzip and is not.
    TooLarge
        If it unpacks to more than `most` bytes.
    """
    raw = await request.body()
    if not is_packed(request):
        return raw

    async def at_once() -> AsyncIterator[bytes]:
        yield raw

    return b"".join([piece async for piece in unpacked(at_once(), most)])


async def packed(lines: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    """Pack lines as gzip, each complete in what has been sent so far, so that a client can read it at once."""
    # The time stamp in the header is left out, as zlib does: the same lines have the same bytes.
    stream = zlib.compressobj(5, zlib.DEFLATED, _GZIP_WINDOW)
    async for line in lines:
        yield stream.compress(line) + stream.flush(zlib.Z_SYNC_FLUSH)
    yield stream.flush()
