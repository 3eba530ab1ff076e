"""Answers that a caller may keep: encoded once, and not sent again to who has them.

References
----------
RFC 9110, HTTP Semantics, 8.8.3 (ETag), 13.1.2 (If-None-Match), 15.4.5 (304). RFC 9111, HTTP Caching.
"""

import hashlib
from collections.abc import Mapping

from litestar import Response
from litestar.exceptions import HTTPException
from msgspec import Struct

from feedproof.api.bodies import AnyRequest
from feedproof.api.negotiation import best_media_type
from feedproof.api.representations import JSON

KEPT = "public, max-age=300"
"""Cache-Control of such answers: a new version is seen within five minutes."""


class Encoded(Struct, frozen=True):
    """A JSON document with its version."""

    body: bytes
    etag: str


def encoded(body: bytes) -> Encoded:
    """Name the version of a document. Weak: the same one may go out under different content codings."""
    return Encoded(body, f'W/"{hashlib.sha256(body).hexdigest()[:32]}"')


def matches(if_none_match: str | None, etag: str) -> bool:
    """Whether the caller has this version: weak comparison (RFC 9110, 8.8.3.2)."""
    if if_none_match is None:
        return False
    given = {tag.strip().removeprefix("W/") for tag in if_none_match.split(",")}
    return "*" in given or etag.removeprefix("W/") in given


def give(request: AnyRequest, document: Encoded, headers: Mapping[str, str] | None = None) -> Response[bytes]:
    """Answer with a document, or with 304 where the caller has it.

    Raises
    ------
    HTTPException
        406, where JSON is not acceptable.
    """
    if best_media_type(request.headers.get("accept"), (JSON,)) is None:
        raise HTTPException(status_code=406, detail=f"on offer is {JSON}")
    sent = {"ETag": document.etag, "Cache-Control": KEPT, "Vary": "Accept", **(headers or {})}
    if matches(request.headers.get("if-none-match"), document.etag):
        return Response(b"", status_code=304, headers=sent)
    return Response(document.body, media_type=JSON, headers=sent)
