import base64
import hashlib
import re
import xml.etree.ElementTree as ET

import pytest

from feedproof.note.pictures import all_pictures, standing
from feedproof.note.renderers import render_svg
from feedproof.note.svg import document, document_policy, inline
from support.assessments import CASES
from support.hostile import CORPUS, MARK, with_text

SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {"svg", "title", "desc", "style", "rect", "line", "polygon", "circle", "text"}
PAINTED = {"class", "fill", "stroke-width", "stroke-dasharray", "points", "x1", "y1", "x2", "y2", "cx", "cy", "r"}
PLACED = {"x", "y", "width", "height", "font-size", "text-anchor", "viewBox", "role", "aria-labelledby", "lang", "id"}


def parsed(text: str) -> ET.Element:
    return ET.fromstring(text)  # noqa: S314


@pytest.mark.parametrize("name", CASES)
def test_each_picture_is_a_document_with_name_and_description(name: str) -> None:
    for scene in all_pictures(CASES[name]()):
        root = parsed(document(scene))
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert desc is not None
        assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        assert root.get("role") == "img"
        assert desc.text == scene.description


def test_only_plain_shapes_and_no_inline_style() -> None:
    root = parsed(render_svg(CASES["everything"]()).decode())
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in ALLOWED
        assert set(element.attrib) <= PAINTED | PLACED


def test_the_policy_names_the_style_sheet_by_its_digest() -> None:
    root = parsed(render_svg(CASES["open_neutral"]()).decode())
    style = root.find(f"{SVG}style")
    assert style is not None
    assert style.text is not None
    digest = base64.b64encode(hashlib.sha256(style.text.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in document_policy()
    assert "default-src 'none'" in document_policy()
    assert "script" not in document_policy()


def test_an_inline_picture_has_no_style_of_its_own() -> None:
    text = inline(standing.draw(CASES["open_neutral"]()))
    assert "<style" not in text
    assert " style=" not in text
    assert "xmlns" not in text


@pytest.mark.parametrize("text", CORPUS)
def test_hostile_text_stays_text(text: str) -> None:
    answer = with_text(text)
    for scene in all_pictures(answer):
        root = parsed(document(scene))
        for element in root.iter():
            assert element.tag.removeprefix(SVG) in ALLOWED
            assert not any(MARK in value for value in element.attrib.values())
            if element.tag == f"{SVG}style":
                assert MARK not in (element.text or "")
        assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", document(scene))
