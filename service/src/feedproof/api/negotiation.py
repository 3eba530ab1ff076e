"""Choosing what the caller asked for: media type, language, content coding.

References
----------
RFC 9110, HTTP Semantics, 12.4.2 (quality values), 12.5.1 (Accept), 12.5.3 (Accept-Encoding),
12.5.4 (Accept-Language), 15.5.7 (406).
"""

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

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
