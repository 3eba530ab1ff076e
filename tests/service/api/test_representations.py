"""One assessment in every form that the document lists."""

import json
from typing import Any
from xml.etree import ElementTree as ET

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.api.representations import JSON, PUBLISHED, REPRESENTATIONS
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
