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
    given, _, parameters = (part.strip() for part in content_type.partition(";"))
    parameters = parameters.lower().replace('"', "").replace(" ", "")
    detail = None
    if given.lower() != media_type:
        detail = f"Content-Type is {given[:60] or 'nothing'!r}; send {media_type} in UTF-8"
    elif parameters not in {"", "charset=utf-8"}:
        detail = f"{parameters[:60]!r} is not what is taken; send {media_type} in UTF-8, 'charset=utf-8' or nothing"
    if detail is not None:
        raise HTTPException(status_code=415, detail=detail, headers={"Accept-Post": media_type})
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
