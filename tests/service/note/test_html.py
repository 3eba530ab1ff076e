import base64
import hashlib
import re
from html.parser import HTMLParser
from itertools import pairwise

import msgspec
import pytest

from feedproof.note.html import content_security_policy, render_html
from feedproof.note.signs import SIGNS, sign
from feedproof.note.words import dangers, warned_first
from support.assessments import CASES, everything, open_neutral, plan
from support.hostile import CORPUS, MARK, with_text

VOID = {"meta", "br", "img", "link", "input", "hr"}
TAGS = {
    *("html", "head", "meta", "title", "style", "body", "header", "main", "footer", "section", "h1", "h2", "h3"),
    *("p", "ul", "ol", "li", "span", "strong", "a", "br", "div", "figure", "figcaption"),
    *("dl", "dt", "dd", "details", "summary"),
    *("table", "caption", "thead", "tbody", "tr", "th", "td"),
    *("svg", "desc", "line", "polygon", "circle", "text", "path"),
}


class Page(HTMLParser):
    """Elements, attributes and text of a page, and whether its tags nest."""

    def __init__(self, page: bytes) -> None:
        """Read it."""
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.style = ""
        self.headings: list[tuple[int, str]] = []
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append((int(tag[1]), ""))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element without content."""
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Hold it against the last one opened."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Collect text."""
        if self.open and self.open[-1] == "style":
            self.style += data
            return
        self.text.append(data)
        if self.open and re.fullmatch(r"h[1-6]", self.open[-1]):
            level, words = self.headings[-1]
            self.headings[-1] = (level, words + data)

    @property
    def words(self) -> str:
        """All text, white space made even."""
        return " ".join(" ".join(self.text).split())


@pytest.mark.parametrize("name", CASES)
def test_the_page_is_well_formed_and_whole(name: str) -> None:
    page = Page(render_html(CASES[name]()))
    assert page.open == []
    assert {tag for tag, _ in page.elements} <= TAGS
    identifiers = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(identifiers) == len(set(identifiers))
    for _, attributes in page.elements:
        for pointed in (attributes.get("aria-labelledby") or "").split():
            assert pointed in identifiers
        if href := attributes.get("href"):
            assert href.startswith("#")
            assert href[1:] in identifiers


@pytest.mark.parametrize("name", CASES)
def test_nothing_loads_or_runs(name: str) -> None:
    page = Page(render_html(CASES[name]()))
    for tag, attributes in page.elements:
        assert tag not in {"script", "link", "iframe", "object", "embed", "form", "base"}
        assert not any(attribute.startswith("on") or attribute in {"style", "src"} for attribute in attributes)
    assert "url(" not in page.style
    assert "@import" not in page.style


def test_the_policy_names_the_style_sheet_by_its_digest() -> None:
    page = Page(render_html(open_neutral()))
    digest = base64.b64encode(hashlib.sha256(page.style.encode()).digest()).decode()
    policy = content_security_policy()
    assert f"style-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "script" not in policy
    metas = [attributes for tag, attributes in page.elements if tag == "meta"]
    assert {"http-equiv": "Content-Security-Policy", "content": policy} in metas


@pytest.mark.parametrize("name", CASES)
def test_every_caution_stands_there_with_basis_and_reason(name: str) -> None:
    answer = CASES[name]()
    words = Page(render_html(answer)).words
    for caution in answer.cautions:
        assert caution.text in words
        assert caution.basis in words
        assert caution.because in words


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_called_safe(name: str) -> None:
    assert not re.search(r"\bsafe(ly|ty)?\b", Page(render_html(CASES[name]())).words, re.IGNORECASE)


def test_the_order_is_outcome_and_action_then_the_visit_then_the_rest() -> None:
    page = Page(render_html(everything()))
    assert [words for level, words in page.headings if level == 2] == [
        everything().headline,
        "The visit",
        "For the customer",
        "Readings",
        "Pictures",
        "In figures",
        "Checks",
        "Cautions",
        "Handed over",
    ]
    levels = [level for level, _ in page.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_name_date_and_signature_have_room() -> None:
    words = Page(render_html(open_neutral())).words
    assert "Name Date Signature" in words


def test_tables_have_captions_and_headers() -> None:
    page = Page(render_html(everything()))
    tags = [tag for tag, _ in page.elements]
    assert tags.count("table") == tags.count("caption") == 2
    assert all("scope" in attributes for tag, attributes in page.elements if tag == "th")


def test_a_plan_has_next_readings_with_hazards_and_no_readings() -> None:
    page = Page(render_html(plan()))
    titles = [words for _, words in page.headings]
    assert "What to read next" in titles
    assert "Readings" not in titles
    for hazard in plan().next_readings[0].hazards:
        assert hazard.text in page.words


def test_the_same_answer_gives_the_same_bytes() -> None:
    assert render_html(everything()) == render_html(everything())


@pytest.mark.parametrize("text", CORPUS)
def test_hostile_text_stays_text(text: str) -> None:
    raw = render_html(with_text(text))
    page = Page(raw)
    assert page.open == []
    assert {tag for tag, _ in page.elements} <= TAGS
    for _, attributes in page.elements:
        assert not any(MARK in (value or "") for name, value in attributes.items())
        assert not any(MARK in name or name.startswith("on") for name in attributes)
    assert MARK not in page.style
    assert MARK in page.words
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", raw.decode())
    assert raw.count(b"<script") == 0


def test_the_box_goes_from_outcome_to_reasons() -> None:
    answer = everything()
    words = Page(render_html(answer)).words
    order = [
        sign(answer.disposition).word,
        answer.headline,
        answer.next_action,
        f"DANGER {dangers(answer)[0].title}",
        "Why",
        answer.confidence.reasons[0].text,
        "The visit",
    ]
    # From the band on: the heading of the page comes before it.
    words = words[words.index(order[0]) :]
    places = [words.index(part) for part in order]
    assert places == sorted(places)
    first = words[: places[4]]
    assert [first.count(f"{c.severity.upper()} {c.title}") for c in warned_first(answer)] == [1, 1, 1]
    assert first.count("DANGER ") == sum(c.severity == "danger" for c in warned_first(answer))


@pytest.mark.parametrize("name", CASES)
def test_nothing_of_the_inside_is_shown(name: str) -> None:
    words = Page(render_html(CASES[name]())).words
    assert not re.search(r"\bbits?\b|\b[0-9a-f]{64}\b|secondary cop|/meters/|/readings/\d|/supply/", words)


def test_outcomes_differ_in_word_shape_and_outline() -> None:
    looks = []
    for disposition in SIGNS:
        page = render_html(msgspec.structs.replace(open_neutral(), disposition=disposition)).decode()
        found = re.search(
            r'<section class="first ([a-z-]+)".*?<p class="band">(<svg.*?</svg>)<strong>(.*?)</strong>', page
        )
        assert found
        looks.append(found.groups())
        sheet = page[page.index("<style>") : page.index("</style>")]
        outline = re.search(rf"\.{found[1]}{{border[^}}]*}}", sheet)
        assert outline
        looks[-1] = (*looks[-1], outline[0].split("{")[1])
    for part in zip(*looks, strict=True):
        assert len(set(part)) == len(SIGNS) == 4


def test_readings_alike_stand_in_one_row() -> None:
    answer = open_neutral()
    twice = [*answer.evidence, msgspec.structs.replace(answer.evidence[0], reading=len(answer.evidence))]
    words = Page(render_html(msgspec.structs.replace(answer, evidence=twice))).words
    assert f"1, {len(twice)}. L1 to L2" in words
    assert words.count("L1 to L2") == Page(render_html(answer)).words.count("L1 to L2")
