"""The forms of one and the same assessment, and choosing what the caller asked for: media type, language, coding.

References
----------
RFC 9110, HTTP Semantics, 12.4.2 (quality values), 12.5.1 (Accept), 12.5.3 (Accept-Encoding),
12.5.4 (Accept-Language), 15.5.7 (406).
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache

import msgspec
from msgspec import Struct

from feedproof.api.screen import encode_for_screen
from feedproof.contract.assessment import Assessment
from feedproof.note import renderers

_LONGEST = 1000
_QUALITY = re.compile(r"(?:0(?:\.[0-9]{0,3})?|1(?:\.0{0,3})?)")


def _preferences(header: str) -> Iterator[tuple[str, dict[str, str], float]]:
    """Value, parameters and quality of each element of a list header; malformed ones are left out."""
    for element in header[:_LONGEST].split(","):
        value, *parameters = (part.strip() for part in element.split(";"))
        named = {}
        quality = 1.0
        for parameter in parameters:
            name, _, text = parameter.partition("=")
            if name.strip().lower() == "q":
                quality = float(text) if _QUALITY.fullmatch(text.strip()) else 0.0
            else:
                named[name.strip().lower()] = text.strip().strip('"').lower()
        if value:
            yield value.lower(), named, quality


@lru_cache(maxsize=256)
def best_media_type(accept: str | None, offered: tuple[str, ...]) -> str | None:
    """Pick the offered media type that the caller likes best.

    Parameters
    ----------
    accept : str or None
        The Accept header; None accepts anything.
    offered : tuple of str
        Media types without parameters, the default first.

    Returns
    -------
    str or None
        None: nothing offered is acceptable.
    """
    if accept is None or not accept.strip():
        return offered[0]
    wanted = list(_preferences(accept))
    best: tuple[float, str] | None = None
    for media_type in offered:
        family = media_type.split("/")[0] + "/*"
        ranked = [
            ((media_type, family, "*/*").index(value), quality)
            for value, _, quality in wanted
            if value in {media_type, family, "*/*"}
        ]
        if ranked:
            closest = min(rank for rank, _ in ranked)
            quality = max(q for rank, q in ranked if rank == closest)
            if quality > 0.0 and (best is None or quality > best[0]):
                best = (quality, media_type)
    return best[1] if best else None


@lru_cache(maxsize=256)
def best_language(accept_language: str | None, offered: tuple[str, ...]) -> str:
    """Pick a language by lookup (RFC 4647, 3.4); the first offered one where none fits."""
    ranges = sorted(_preferences(accept_language or ""), key=lambda item: -item[2])
    for wanted, _, quality in ranges:
        tag = wanted if quality > 0.0 else ""
        while tag:
            for language in offered:
                if language.lower() == tag:
                    return language
            tag = tag.rpartition("-")[0]
    return offered[0]


@lru_cache(maxsize=256)
def best_coding(accept_encoding: str | None, offered: Sequence[str]) -> str | None:
    """Pick a content coding; None is the plain body, which wins unless a coding is named or `*` is."""
    if not accept_encoding:
        return None
    wanted = {value: quality for value, _, quality in _preferences(accept_encoding)}
    anything = wanted.get("*", 0.0)
    best: tuple[float, str] | None = None
    for coding in offered:
        quality = wanted.get(coding, anything)
        if quality > 0.0 and (best is None or quality > best[0]):
            best = (quality, coding)
    if best is None or best[0] < wanted.get("identity", 0.0):
        return None
    return best[1]


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
