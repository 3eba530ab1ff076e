"""Bodies of requests: what is taken, and packed streams, bounded in what they unpack to; and lines that go out packed.

References
----------
RFC 1952 (gzip; a file may have several members). RFC 9110, HTTP Semantics, 8.4 (Content-Encoding).
"""

import asyncio
import zlib
from collections.abc import AsyncIterator, Mapping
from typing import Any
from urllib.parse import parse_qsl

from litestar import Request
from litestar.exceptions import HTTPException

from feedproof.api.representations import best_media_type
from feedproof.errors import MalformedRequest, TooLarge

AnyRequest = Request[Any, Any, Any]

QUERIES = "queries"
"""Under which a handler's `opt` holds the values that each of its query parameters takes."""


def is_packed(request: AnyRequest) -> bool:
    """Whether the body comes as gzip."""
    return request.headers.get("content-encoding", "").strip().lower() in {"gzip", "x-gzip"}


def require_content(request: AnyRequest, *media_types: str) -> None:
    """Refuse a body of another media type, charset or coding than the route takes.

    Raises
    ------
    HTTPException
        415, with the headers that name what is taken.
    """
    content_type = request.headers.get("content-type", "")
    given, _, parameters = (part.strip() for part in content_type.partition(";"))
    parameters = parameters.lower().replace('"', "").replace(" ", "")
    taken = " or ".join(media_types)
    headers = {"Accept-Post": ", ".join(media_types)}
    detail = None
    if given.lower() not in media_types:
        detail = f"Content-Type is {given[:60] or 'nothing'!r}; send {taken} in UTF-8"
    elif parameters not in {"", "charset=utf-8"}:
        detail = f"{parameters[:60]!r} is not what is taken; send {taken} in UTF-8, 'charset=utf-8' or nothing"
    if detail is not None:
        raise HTTPException(status_code=415, detail=detail, headers=headers)
    coding = request.headers.get("content-encoding", "identity").strip().lower()
    if coding not in {"", "identity"} and not is_packed(request):
        raise HTTPException(
            status_code=415,
            detail=f"Content-Encoding is {coding[:60]!r}; send the body plain or as gzip",
            headers={"Accept-Encoding": "gzip, identity"} | headers,
        )


def choose(request: AnyRequest, offered: tuple[str, ...]) -> str:
    """Pick the media type of the answer, before any work is done for it.

    Raises
    ------
    HTTPException
        406, naming the media types on offer.
    """
    media_type = best_media_type(request.headers.get("accept"), offered)
    if media_type is None:
        raise HTTPException(status_code=406, detail=f"on offer are {', '.join(offered)}")
    return media_type


async def refuse_query(request: AnyRequest) -> None:
    """Refuse query parameters that the route does not know: a misspelled option must not pass unread.

    Raises
    ------
    MalformedRequest
        If there is one, or one has a value that it does not take, or is there twice.
    """
    query = request.scope["query_string"]
    if not query:
        return
    known: Mapping[str, tuple[str, ...]] = request.route_handler.opt.get(QUERIES, {})
    given = parse_qsl(query.decode("latin-1"), keep_blank_values=True)
    for name, value in given:
        if name not in known:
            raise MalformedRequest(f"no query parameter {name[:60]!r} is known on this route")
        if value not in known[name]:
            raise MalformedRequest(f"{name} is {value[:60]!r}; give {' or '.join(known[name])}")
    if len(given) != len(dict(given)) or not given:
        raise MalformedRequest("the query has no name, or one of them twice")


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
                # One chunk may unpack to a thousand pieces, between which nothing else need wait.
                await asyncio.sleep(0)
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
