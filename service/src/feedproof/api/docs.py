"""The documentation page: the published document for a person, with a form to try it. Needs nothing from elsewhere."""

from importlib.resources import files

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException
from litestar.params import FromPath
from msgspec import Struct

from feedproof.api.bodies import AnyRequest
from feedproof.api.catalogues import KEPT, Encoded, give
from feedproof.note.html import content_security_policy
from feedproof.note.svg import document_policy, style_source

#: Frames of answers inherit it, so the style sheets of the note and of its picture are let in by their digests.
CONTENT_SECURITY_POLICY = (
    f"default-src 'none'; script-src 'self'; style-src 'self' {style_source(content_security_policy())} "
    f"{style_source(document_policy())}; connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
ASSETS = {"docs.css": "text/css", "docs.js": "text/javascript"}


class Published(Struct, frozen=True, kw_only=True):
    """The document and the page made of it."""

    document: Encoded
    page: bytes


@get("/docs", name="show_docs", summary="The documentation page")
async def show_docs(published: NamedDependency[Published]) -> Response[bytes]:
    """Show this contract for a person, with a form that sends requests to this service."""
    headers = {"Cache-Control": KEPT, "Content-Security-Policy": CONTENT_SECURITY_POLICY}
    return Response(published.page, media_type="text/html", headers=headers)


@get("/", name="lead_to_docs")
async def lead_to_docs() -> Response[bytes]:
    """Lead a person who opens the bare address to the page."""
    headers = {"Location": "/docs", "Cache-Control": KEPT}
    return Response(b"", status_code=307, headers=headers)


@get("/docs/{name:str}", name="show_asset")
async def show_asset(name: FromPath[str]) -> Response[bytes]:
    """Give a part of the page."""
    if name not in ASSETS:
        raise HTTPException(status_code=404)
    body = files("feedproof.api").joinpath("assets", name).read_bytes()
    return Response(body, media_type=ASSETS[name], headers={"Cache-Control": KEPT})


@get("/openapi.json", name="show_document", summary="This document")
async def show_document(request: AnyRequest, published: NamedDependency[Published]) -> Response[bytes]:
    """Give the OpenAPI 3.1 document that this service keeps to, byte for byte the committed one."""
    return give(request, published.document)
