"""Checks on a request that do not depend on what its body says."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qsl

from litestar import Request
from litestar.exceptions import HTTPException

from feedproof.errors import MalformedRequest

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
