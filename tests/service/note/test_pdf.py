import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from typing import Any

import msgspec
import pytest
from pypdf import PdfReader

from feedproof.note.pdf import render_pdf
from feedproof.note.pdf.page import RANGES, letters
from feedproof.note.pictures import all_pictures
from feedproof.note.renderers import PDF, RENDERERS
from feedproof.note.words import rows
from support.assessments import CASES, everything, open_neutral
from support.hostile import CORPUS, MARK, with_text
from support.letters import letter_sizes

#: What makes a PDF do something.
ACTIVE = ("/JavaScript", "/JS", "/OpenAction", "/AA", "/Launch", "/URI", "/SubmitForm", "/EmbeddedFile", "/RichMedia")


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b]+", "", text)


def words(document: bytes) -> str:
    """All text without white space: a line may break anywhere."""
    pages = [page.extract_text() for page in PdfReader(BytesIO(document)).pages]
    return squeezed(" ".join(pages))


def keys(value: object, seen: set[int] | None = None) -> set[str]:
    """Every name that is used in the document's objects."""
    seen = set() if seen is None else seen
    value = value.get_object() if hasattr(value, "get_object") else value
    if id(value) in seen:
        return set()
    seen.add(id(value))
    found: set[str] = set()
    if isinstance(value, dict):
        for key, item in value.items():
            found |= {str(key)} | keys(item, seen)
    elif isinstance(value, list):
        for item in value:
            found |= keys(item, seen)
    elif isinstance(value, str) and value.startswith("/"):
        found.add(value)
    return found


@pytest.mark.parametrize("name", CASES)
def test_every_caution_stands_there_with_basis_and_reason(name: str) -> None:
    answer = CASES[name]()
    told = words(render_pdf(answer))
    for caution in answer.cautions:
        assert squeezed(caution.text) in told
        assert squeezed(caution.basis) in told
        assert squeezed(caution.because) in told


@pytest.mark.parametrize("name", CASES)
def test_every_page_names_reference_day_and_model_and_calls_nothing_safe(name: str) -> None:
    answer = CASES[name]()
    for page in PdfReader(BytesIO(render_pdf(answer, date(2031, 5, 17)))).pages:
        foot = page.extract_text()
        assert not re.search(r"\bsafe(ly|ty)?\b", foot, re.IGNORECASE)
        assert (answer.reference or "no reference") in foot
        assert "made 2031-05-17" in foot
        assert f"model {answer.model.version}" in foot


@pytest.mark.parametrize("name", CASES)
def test_no_letter_is_smaller_than_nine_points(name: str) -> None:
    assert min(letter_sizes(PdfReader(BytesIO(render_pdf(CASES[name]()))))) >= 8.99


@pytest.mark.parametrize("name", ["open_neutral", "wye", "nothing_found", "plan"])
def test_a_usual_answer_fits_on_two_pages(name: str) -> None:
    assert len(PdfReader(BytesIO(render_pdf(CASES[name]()))).pages) <= 2


def test_the_same_answer_gives_the_same_bytes() -> None:
    assert render_pdf(everything()) == render_pdf(everything())


def test_what_to_do_stands_before_what_was_found_and_the_pictures_are_drawn() -> None:
    reader = PdfReader(BytesIO(render_pdf(open_neutral())))
    first = reader.pages[0].extract_text()
    assert first.index("STOP AND HAND OVER") < first.index("Branch neutral bad") < first.index("Stop.")
    assert first.index("Stop.") < first.index("The visit") < first.index("For the customer") < first.index("Readings")
    told = words(render_pdf(open_neutral()))
    assert squeezed("Where legs and neutral stand") in told
    assert squeezed("119.7 V") in told
    assert reader.metadata is not None
    assert reader.metadata.title == "Supply assessment: cabin-12/range"
    assert "Signature" in told


@pytest.mark.parametrize("first", range(4))
def test_hostile_text_stays_text(first: int) -> None:
    """Several in one document, where reading takes longest: each is there by a mark of its own."""
    texts = {f"{MARK}{n}q": CORPUS[n].replace(MARK, f"{MARK}{n}q") for n in range(first, len(CORPUS), 4)}
    document = render_pdf(with_text(" ".join(texts.values())))
    assert not keys(PdfReader(BytesIO(document)).trailer) & set(ACTIVE)
    told = words(document)
    assert [mark for mark in texts if mark not in told] == []


def test_a_word_without_end_stays_on_the_sheet() -> None:
    pages = [page.extract_text() for page in PdfReader(BytesIO(render_pdf(with_text("x" * 120)))).pages]
    lines = [squeezed(line) for page in pages for line in page.splitlines()]
    # Of the narrowest place that it stands in, half a sheet, and of the whole width.
    assert "x" * 40 in "".join(lines)
    assert max(line.count("x") for line in lines) < 120


def structure(node: Any) -> Iterator[tuple[str, Any]]:
    """Every element of the structure tree by its tag, in reading order (ISO 32000-1, 14.7)."""
    if isinstance(node := node.get_object() if hasattr(node, "get_object") else node, list):
        for child in node:
            yield from structure(child)
    elif isinstance(node, dict):
        if "/S" in node:
            yield str(node["/S"]), node
        yield from structure(node.get("/K", []))


@pytest.mark.parametrize("name", CASES)
def test_every_part_is_tagged_for_who_has_it_read_aloud(name: str) -> None:
    answer = CASES[name]()
    catalog: Any = PdfReader(BytesIO(render_pdf(answer))).trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"].startswith("en")
    # The title stands in the window's bar instead of a file's name (ISO 14289-1, 7.1).
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    elements = list(structure(catalog["/StructTreeRoot"]))
    tags = Counter(tag for tag, _ in elements)
    assert tags["/H1"] == 1
    assert tags["/H2"] >= 5
    assert tags["/LI"] >= len(answer.confidence.reasons) + len(answer.detection_limits)
    assert tags["/Table"] == (1 if answer.evidence else 0)
    assert tags["/TR"] == (1 + len(rows(answer)) if answer.evidence else 0)
    assert tags["/TH"] == 6 * tags["/Table"]
    spoken = [str(element["/Alt"]) for tag, element in elements if tag == "/Figure"]
    for picture in all_pictures(answer):
        assert any(squeezed(picture.description) in squeezed(text) for text in spoken)


def test_every_letter_that_the_note_keeps_can_be_set() -> None:
    codes = (code for first, last in RANGES for code in range(first, last + 1))
    kept = [chr(code) for code in codes if letters(chr(code)) == chr(code)]
    assert len(kept) > 2000
    # PDF/UA-1 refuses a letter that no font has, so that this compiles only if each one has its shape.
    told = words(render_pdf(msgspec.structs.replace(open_neutral(), headline=" ".join(kept))))
    assert all(sign in told for sign in "Ω≥°▲")


def test_letters_that_the_font_lacks_are_written_as_code_points() -> None:
    assert letters("12 Ω µ ° ≥ ≤ –") == "12 Ω µ ° ≥ ≤ –"
    assert letters("部🔥\u202e") == "<U+90E8><U+1F525><U+202E>"


def test_pdf_is_offered_where_the_library_is_there() -> None:
    assert RENDERERS[PDF] is render_pdf
