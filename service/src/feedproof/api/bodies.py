"""Checks on a request that do not depend on what its body says, and the whole body."""

from typing import Any

from litestar import Request
from litestar.exceptions import HTTPException

from feedproof.errors import MalformedRequest

AnyRequest = Request[Any, Any, Any]


def require_content(request: AnyRequest, media_type: str) -> None:
    """Refuse a body of another media type, charset or coding than the route takes.

    Raises
    ------
    HTTPException
        415, with the headers that name what is taken.
    """
    content_type = request.headers.get("content-type", "")
    given, _, parameters = content_type.partition(";")
    charset = parameters.strip().lower().replace('"', "").replace(" ", "")
    if given.strip().lower() != media_type or charset not in {"", "charset=utf-8"}:
        shown = given.strip()[:60] or "nothing"
        raise HTTPException(
            status_code=415,
            detail=f"Content-Type is {shown!r}; send {media_type} in UTF-8",
            headers={"Accept-Post": media_type},
        )
    if request.headers.get("content-encoding", "identity").strip().lower() not in {"", "identity"}:
        raise HTTPException(
            status_code=415,
            detail="the body has a Content-Encoding; send it plain",
            headers={"Accept-Encoding": "identity", "Accept-Post": media_type},
        )


async def refuse_query(request: AnyRequest) -> None:
    """Refuse query parameters: no route has any, and a misspelled option must not pass unread.

    Raises
    ------
    MalformedRequest
        If there is a query string.
    """
    if request.scope["query_string"]:
        raise MalformedRequest("no query parameters are known on any route")
