"""The forms in which one and the same assessment is given, by media type."""

from collections.abc import Callable, Mapping

import msgspec
from msgspec import Struct

from feedproof.api.screen import encode_for_screen
from feedproof.contract.assessment import Assessment
from feedproof.note import renderers

JSON = "application/json"
POLICY = "Content-Security-Policy"
Render = Callable[[Assessment], bytes]

_ENCODER = msgspec.json.Encoder()

_MEANINGS = {
    renderers.HTML: "The hand-off note as a page that prints.",
    renderers.SVG: "Pictures of the run and the legs, with finding and dangers.",
    renderers.MARKDOWN: "The hand-off note in Markdown.",
    renderers.TEXT: "The assessment in words, as the command line gives it.",
    renderers.PDF: "The hand-off note for paper.",
}


class Representation(Struct, frozen=True, kw_only=True):
    """One form."""

    media_type: str
    content_type: str
    """With its parameters, as the Content-Type header says it."""
    meaning: str
    render: Render
    headers: Mapping[str, str] = {}
    """What keeps the form inert in a browser."""


def _content_type(media_type: str) -> str:
    """Content-Type of a form; the framework itself says the charset of `text/*`."""
    whole = renderers.CONTENT_TYPES[media_type]
    return whole.replace("; charset=utf-8", "") if media_type.startswith("text/") else whole


def encode_json(assessment: Assessment) -> bytes:
    """Encode as JSON. Its numbers are finite: the composer of the answer has seen to it."""
    return _ENCODER.encode(assessment)


REPRESENTATIONS: dict[str, Representation] = {
    JSON: Representation(
        media_type=JSON, content_type=JSON, meaning="The assessment itself. The default.", render=encode_json
    ),
    **{
        media_type: Representation(
            media_type=media_type,
            content_type=_content_type(media_type),
            meaning=_MEANINGS[media_type],
            render=render,
            headers={POLICY: renderers.headers(media_type)[POLICY]},
        )
        for media_type, render in renderers.RENDERERS.items()
    },
}
"""By media type, the default first."""

FOR_SCREEN = Representation(
    media_type=JSON, content_type=JSON, meaning="What a screen shows first.", render=encode_for_screen
)
"""The default, made small."""

PUBLISHED: dict[str, str] = {JSON: REPRESENTATIONS[JSON].meaning, **_MEANINGS}
"""What the document says of each form, those included that need an optional library."""
