import re

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

from feedproof.note.markdown import render_markdown
from support.assessments import CASES, everything, open_neutral
from support.hostile import CORPUS, MARK, with_text

PARSERS = {
    "commonmark": MarkdownIt("commonmark"),
    "with tables and strike-through": MarkdownIt("commonmark").enable(["table", "strikethrough"]),
}


def tokens(text: str, parser: str = "with tables and strike-through") -> list[Token]:
    found: list[Token] = []
    for token in PARSERS[parser].parse(text):
        found += [token, *(token.children or [])]
    return found


def words(text: str) -> str:
    return " ".join(" ".join(t.content for t in tokens(text) if t.type in {"text", "code_inline"}).split())


@pytest.mark.parametrize("name", CASES)
def test_every_caution_stands_there_with_basis_and_reason(name: str) -> None:
    answer = CASES[name]()
    told = words(render_markdown(answer).decode())
    for caution in answer.cautions:
        assert caution.text in told
        assert caution.basis in told
        assert caution.because in told


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_called_safe(name: str) -> None:
    assert not re.search(r"\bsafe(ly|ty)?\b", render_markdown(CASES[name]()).decode(), re.IGNORECASE)


def test_order_of_the_headings() -> None:
    text = render_markdown(everything()).decode()
    titles = re.findall(r"^## (.*)$", text, re.MULTILINE)
    assert titles[:3] == ["Neutral bad: 98 %, high resistance", "The visit", "For the customer"]
    assert titles[-3:] == ["Cautions", "Assumed, because the request left it out", "Handed over"]


def test_tables_are_tables() -> None:
    kinds = [token.type for token in tokens(render_markdown(everything()).decode())]
    assert kinds.count("table_open") == 3
    assert kinds.count("html_inline") == kinds.count("html_block") == 0


def shape(text: str) -> list[str]:
    """Structure of the document: every token but the text itself and where a line breaks."""
    return [token.type for token in tokens(text) if token.type not in {"text", "text_special"}]


EXPECTED = shape(render_markdown(with_text("plain")).decode())


@pytest.mark.parametrize("parser", PARSERS)
@pytest.mark.parametrize("text", CORPUS)
def test_hostile_text_changes_nothing_but_text(text: str, parser: str) -> None:
    rendered = render_markdown(with_text(text)).decode()
    for token in tokens(rendered, parser):
        assert token.type not in {"link_open", "image", "html_inline", "html_block", "fence"}
        assert not (token.type == "code_inline" and MARK in token.content)
    assert shape(rendered) == EXPECTED
    assert MARK in words(rendered)
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", rendered)


def test_addresses_are_broken_up_for_renderers_that_link_by_themselves() -> None:
    rendered = render_markdown(with_text(f"https://evil.invalid/{MARK} www.evil.invalid a@evil.invalid")).decode()
    assert "https://" not in rendered
    assert "www." not in rendered
    assert re.search(r"[^\\]@", rendered) is None


def test_plain_words_stay_readable_in_the_raw() -> None:
    text = render_markdown(open_neutral()).decode()
    assert "## Branch neutral bad: 99.3 %, open" in text
    assert "3.7 V L1 to neutral (appliance connected, not started) speaks for it" in text
