import re
from html import unescape
from io import BytesIO

import pytest
from pypdf import PdfReader

from feedproof.note.html import content_security_policy as page_policy
from feedproof.note.renderers import CONTENT_TYPES, HTML, PDF, RENDERERS, SVG, content_security_policy
from support.assessments import CASES, open_neutral

TEXTS = [media_type for media_type in RENDERERS if media_type != PDF]


@pytest.mark.parametrize("media_type", RENDERERS)
@pytest.mark.parametrize("name", CASES)
def test_each_form_renders_each_answer_to_the_same_bytes(media_type: str, name: str) -> None:
    first, second = (RENDERERS[media_type](CASES[name]()) for _ in range(2))
    assert first
    assert first == second


@pytest.mark.parametrize("media_type", TEXTS)
def test_texts_are_utf8_and_end_with_a_line(media_type: str) -> None:
    text = RENDERERS[media_type](open_neutral()).decode("utf-8")
    assert text.endswith("\n")
    assert "�" not in text


@pytest.mark.parametrize("media_type", RENDERERS)
def test_headers_let_nothing_load_or_run(media_type: str) -> None:
    policy = content_security_policy(media_type)
    assert policy.startswith("default-src 'none'")
    assert "script" not in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert CONTENT_TYPES[media_type].startswith(media_type)


def test_the_page_and_its_header_have_one_policy() -> None:
    assert page_policy() in content_security_policy(HTML)
    assert "style-src 'sha256-" in content_security_policy(SVG)


def flat(media_type: str, content: bytes) -> str:
    """All words of a form, without its markup, on one line."""
    if media_type == PDF:
        text = " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
    else:
        text = content.decode()
    if media_type in {HTML, SVG}:
        text = unescape(re.sub(r"<style.*?</style>|<[^>]*>", " ", text))
    return " ".join(re.sub(r"\\(?=[^\w\s])", "", text).split())


@pytest.mark.parametrize("media_type", RENDERERS)
@pytest.mark.parametrize("name", CASES)
def test_headline_next_action_and_every_danger_are_the_same_words_in_every_form(media_type: str, name: str) -> None:
    answer = CASES[name]()
    text = flat(media_type, RENDERERS[media_type](answer))
    dangers = [caution.title for caution in answer.cautions if caution.severity == "danger"]
    assert dangers
    for words in (answer.headline, answer.next_action, *dangers):
        assert words in text
