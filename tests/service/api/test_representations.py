"""One assessment in every form that the document lists."""

import json
from typing import Any
from xml.etree import ElementTree as ET

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.api.representations import JSON, PUBLISHED, REPRESENTATIONS, best_coding, best_language, best_media_type
from feedproof.contract.assessment import Assessment

Client = TestClient[Any]
START = {
    "text/html": b"<!doctype html>",
    "image/svg+xml": b"<svg",
    "text/markdown": b"#",
    "text/plain": b"Supply assessment",
    "application/pdf": b"%PDF-",
}


def test_what_is_given_is_published_and_json_comes_first() -> None:
    assert next(iter(REPRESENTATIONS)) == JSON
    assert set(REPRESENTATIONS) <= set(PUBLISHED)
    assert set(PUBLISHED) - set(REPRESENTATIONS) <= {"application/pdf"}


@pytest.mark.parametrize("media_type", [m for m in REPRESENTATIONS if m != JSON])
def test_each_form_is_of_its_type_and_inert(
    client: Client, example_requests: dict[str, bytes], media_type: str
) -> None:
    raw = example_requests["low_impedance"]
    headers = {"content-type": JSON, "accept": f"application/json;q=0.1, {media_type}"}
    answer = client.post("/v1/assessments", content=raw, headers=headers)
    assert answer.status_code == 200
    assert answer.headers["content-type"].split(";")[0] == media_type
    assert answer.headers["content-type"].count("charset") == (0 if media_type == "application/pdf" else 1)
    assert answer.content.lower().startswith(START[media_type].lower())
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"
    assert answer.content == client.post("/v1/assessments", content=raw, headers=headers).content
    if media_type == "image/svg+xml":
        ET.fromstring(answer.content)  # noqa: S314


@pytest.mark.parametrize("media_type", ["text/html", "text/markdown", "text/plain"])
def test_no_form_leaves_a_caution_out(client: Client, example_requests: dict[str, bytes], media_type: str) -> None:
    raw = example_requests["low_impedance"]
    told = client.post("/v1/assessments", content=raw, headers={"content-type": JSON})
    form = client.post("/v1/assessments", content=raw, headers={"content-type": JSON, "accept": media_type})
    words = " ".join(form.text.split())
    for caution in msgspec.json.decode(told.content, type=Assessment).cautions:
        # The first words: a form may break lines and write some characters in its own way.
        assert " ".join(caution.text.split()[:4]) in words, caution.code


def test_a_refusal_is_problem_details_whatever_form_was_asked_for(client: Client) -> None:
    headers = {"content-type": JSON, "accept": "text/html"}
    answer = client.post("/v1/assessments", content=json.dumps({"readings": 1}).encode(), headers=headers)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"


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
