"""The note of what the engine answers to every shipped request: each form whole, and on few sheets."""

import html
import re
import unicodedata
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.note.html import render_html
from feedproof.note.renderers import HTML, MARKDOWN, PDF, RENDERERS, SVG, TEXT
from feedproof.parsing import read_request
from support.browser import chromium, common_serif

REQUESTS = sorted(path.stem for path in (Path(__file__).resolve().parents[3] / "examples" / "requests").glob("*.json"))
#: Sheets where two do not hold it: eleven cautions apply where every kind of meter is used, and none is cut.
SHEETS = {"every_kind_of_reading": 3}
#: As a browser prints it, which moves no picture forward into the room that is left.
PRINTED = {"every_kind_of_reading": 3, "proven_under_load": 3, "dryer_heating": 3}


@pytest.fixture(scope="module")
def answer(example_requests: dict[str, bytes]) -> Callable[[str], Assessment]:
    known: dict[str, Assessment] = {}

    def give(name: str) -> Assessment:
        if name not in known:
            admitted = read_request(example_requests[name])
            known[name] = assess(admitted.reading_set, admitted.assumptions)
        return known[name]

    return give


def bare(text: str) -> str:
    """Give the text without what a form adds: spaces, line ends, escapes, ligatures."""
    return re.sub(r"[\s\\]+", "", unicodedata.normalize("NFKC", text))


def words(form: str, content: bytes) -> str:
    if form == PDF:
        return bare("".join(sheet.extract_text() for sheet in PdfReader(BytesIO(content)).pages))
    text = content.decode()
    return bare(html.unescape(re.sub(r"<[^>]*>", "", text)) if form in {HTML, SVG} else text)


@pytest.mark.parametrize("form", [HTML, MARKDOWN, TEXT, PDF])
@pytest.mark.parametrize("name", REQUESTS)
def test_every_form_has_every_caution_whole_and_calls_no_supply_safe(
    name: str, form: str, answer: Callable[[str], Assessment]
) -> None:
    assessment = answer(name)
    told = words(form, RENDERERS[form](assessment))
    assert {"licensed_work", "prove_the_tester"} <= {caution.code for caution in assessment.cautions}
    for caution in assessment.cautions:
        for part in (caution.severity.upper(), caution.text, caution.because, caution.basis):
            assert bare(part) in told, part
    assert not re.search(r"\b(un)?safe(ly|ty)?\b", RENDERERS[TEXT](assessment).decode(), re.IGNORECASE)


@pytest.mark.parametrize("name", REQUESTS)
def test_no_sentence_is_left_half_made(name: str, answer: Callable[[str], Assessment]) -> None:
    text = RENDERERS[TEXT](answer(name)).decode()
    assert not re.search(r"-0\.0 |\bNone\b|\bnan\b|\binf\b|[{}]|\.\.|  ,| \.", text), text


@pytest.mark.parametrize("name", REQUESTS)
def test_it_files_on_two_sheets(name: str, answer: Callable[[str], Assessment]) -> None:
    assert len(PdfReader(BytesIO(RENDERERS[PDF](answer(name)))).pages) <= SHEETS.get(name, 2)


@pytest.mark.slow
@pytest.mark.parametrize("name", REQUESTS)
def test_a_browser_prints_it_on_few_sheets(name: str, answer: Callable[[str], Assessment], tmp_path: Path) -> None:
    common_serif()
    page, paper = tmp_path / "note.html", tmp_path / "note.pdf"
    page.write_bytes(render_html(answer(name)))
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={paper}", page.as_uri())
    assert len(PdfReader(BytesIO(paper.read_bytes())).pages) <= PRINTED.get(name, 2)
