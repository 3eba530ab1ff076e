"""Every form of the hand-off note by media type, with the HTTP headers that belong to it."""

from collections.abc import Callable

from feedproof.contract.assessment import Assessment
from feedproof.note.html import content_security_policy as page_policy
from feedproof.note.html import render_html
from feedproof.note.markdown import render_markdown
from feedproof.note.pdf import render_pdf
from feedproof.note.pictures import alone
from feedproof.note.svg import document, document_policy
from feedproof.note.text import render_text

Renderer = Callable[[Assessment], bytes]

HTML = "text/html"
SVG = "image/svg+xml"
MARKDOWN = "text/markdown"
TEXT = "text/plain"
PDF = "application/pdf"


def render_svg(assessment: Assessment) -> bytes:
    """Where along the run and where the legs stand, with outcome, next action and dangers, as SVG in UTF-8."""
    return f"{document(alone(assessment))}\n".encode()


def render_plain(assessment: Assessment) -> bytes:
    """The text of the command line in UTF-8."""
    return render_text(assessment).encode()


#: Renderers by media type.
RENDERERS: dict[str, Renderer] = {
    HTML: render_html,
    SVG: render_svg,
    MARKDOWN: render_markdown,
    TEXT: render_plain,
    PDF: render_pdf,
}

#: The whole Content-Type of each form.
CONTENT_TYPES: dict[str, str] = {
    HTML: "text/html; charset=utf-8",
    SVG: "image/svg+xml; charset=utf-8",
    MARKDOWN: "text/markdown; charset=utf-8; variant=GFM",
    TEXT: "text/plain; charset=utf-8",
    PDF: PDF,
}


def content_security_policy(media_type: str) -> str:
    """The policy that keeps a form inert in a browser."""
    policies = {HTML: page_policy(), SVG: document_policy()}
    return policies.get(media_type, "default-src 'none'") + "; frame-ancestors 'none'"
