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


def _preferences(header: str) -> Iterator[tuple[str, float]]:
    """Value and quality of each element of a list header; one with a malformed quality has none."""
    for element in header[:_LONGEST].lower().split(","):
        value, *parameters = (part.strip() for part in element.split(";"))
        quality = 1.0
        for name, _, text in (parameter.partition("=") for parameter in parameters):
            if name.strip() == "q":
                quality = float(text) if _QUALITY.fullmatch(text.strip()) else 0.0
        if value:
            yield value, quality


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

    def quality(media_type: str) -> float:
        """Of the closest range that fits (RFC 9110, 12.5.1)."""
        for fitting in (media_type, f"{media_type.partition('/')[0]}/*", "*/*"):
            if found := [quality for value, quality in wanted if value == fitting]:
                return max(found)
        return 0.0

    best = max(offered, key=quality)
    return best if quality(best) > 0.0 else None


@lru_cache(maxsize=256)
def best_language(accept_language: str | None, offered: tuple[str, ...]) -> str:
    """Pick a language by lookup (RFC 4647, 3.4); the first offered one where none fits."""
    ranges = sorted(_preferences(accept_language or ""), key=lambda item: -item[1])
    for wanted, quality in ranges:
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
    wanted = dict(_preferences(accept_encoding))
    anything = wanted.get("*", 0.0)
    qualities = {coding: wanted.get(coding, anything) for coding in offered}
    best = max(offered, key=lambda coding: qualities[coding])
    return best if qualities[best] > 0.0 and qualities[best] >= wanted.get("identity", 0.0) else None


JSON = "application/json"

PUBLISHED: dict[str, str] = {
    JSON: "The assessment itself. The default.",
    renderers.HTML: "The hand-off note as a page that prints.",
    renderers.SVG: "Pictures of the run and the legs, with finding and dangers.",
    renderers.MARKDOWN: "The hand-off note in Markdown.",
    renderers.TEXT: "The assessment in words, as the command line gives it.",
    renderers.PDF: "The hand-off note for paper.",
}
"""What the document says of each form."""


class Representation(Struct, frozen=True):
    """One form."""

    render: Callable[[Assessment], bytes]
    content_type: str = JSON
    """With its parameters, as the Content-Type header says it."""
    headers: Mapping[str, str] = {}
    """What keeps the form inert in a browser."""


def _note(media_type: str) -> Representation:
    content_type = renderers.CONTENT_TYPES[media_type]
    if media_type.startswith("text/"):
        # The framework says this of text itself.
        content_type = content_type.replace("; charset=utf-8", "")
    policy = {"Content-Security-Policy": renderers.content_security_policy(media_type)}
    return Representation(renderers.RENDERERS[media_type], content_type, policy)


REPRESENTATIONS = {JSON: Representation(msgspec.json.encode), **{kind: _note(kind) for kind in renderers.RENDERERS}}
"""By media type, the default first."""

FOR_SCREEN = Representation(encode_for_screen)
"""The default, made small."""
