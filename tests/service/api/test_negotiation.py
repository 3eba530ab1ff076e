"""Content negotiation after RFC 9110, 12.5."""

import pytest

from feedproof.api.negotiation import best_coding, best_language, best_media_type

OFFERED = ("application/json", "text/html", "image/svg+xml", "text/markdown")


@pytest.mark.parametrize(
    ("accept", "chosen"),
    [
        (None, "application/json"),
        ("", "application/json"),
        ("*/*", "application/json"),
        ("text/html", "text/html"),
        ("TEXT/HTML", "text/html"),
        ("text/*", "text/html"),
        ("image/*", "image/svg+xml"),
        ("text/*;q=0.3, text/html;q=0.7, */*;q=0.5", "text/html"),
        ("application/json;q=0, */*", "text/html"),
        ("text/html;q=0.4, application/json;q=0.5", "application/json"),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html"),
        ("text/markdown; charset=utf-8", "text/markdown"),
        ("application/pdf", None),
        ("*/*;q=0", None),
        ("application/json;q=nonsense", None),
        (";;;,,,", None),
    ],
)
def test_the_media_type_liked_best_is_chosen(accept: str | None, chosen: str | None) -> None:
    assert best_media_type(accept, OFFERED) == chosen


@pytest.mark.parametrize(
    ("accept", "chosen"),
    [
        (None, None),
        ("", None),
        ("identity", None),
        ("gzip", "gzip"),
        ("br, gzip", "br"),
        ("gzip, br;q=0.5", "gzip"),
        ("gzip;q=0", None),
        ("gzip;q=0, *", "br"),
        ("*", "br"),
        ("gzip;q=0.5, identity", None),
        ("identity;q=0, gzip;q=0.1", "gzip"),
        ("zstd", None),
    ],
)
def test_a_coding_is_used_only_where_it_is_asked_for(accept: str | None, chosen: str | None) -> None:
    assert best_coding(accept, ("br", "gzip")) == chosen


@pytest.mark.parametrize(
    ("accept", "chosen"),
    [
        (None, "en"),
        ("de", "en"),
        ("es-MX, en;q=0.5", "es"),
        ("en;q=0.5, es;q=0.9", "es"),
        ("fr-CA-x-old, fr;q=0.9", "fr-CA"),
        ("es;q=0", "en"),
        ("*", "en"),
    ],
)
def test_a_language_is_found_by_lookup(accept: str | None, chosen: str) -> None:
    assert best_language(accept, ("en", "es", "fr-CA")) == chosen
