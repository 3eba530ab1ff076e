"""The note in a real browser: narrow and wide, light and dark, on paper, and for who cannot see it."""

import json
import re
import unicodedata
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from feedproof.note.html import render_html
from support.assessments import CASES
from support.browser import axe, chromium, common_serif, frame
from support.hostile import CORPUS, with_text
from support.letters import letter_sizes

pytestmark = pytest.mark.slow

#: The narrowest screen that WCAG 2.2, 1.4.10 asks to reflow on; a phone; where columns begin; a desk.
WIDTHS = (320, 390, 704, 1280)

PROBE = """
(async () => {
  const rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
  const page = document.documentElement;
  const found = {overflow: page.scrollWidth - page.clientWidth, color: getComputedStyle(document.body).backgroundColor};
  const told = await axe.run(document, {runOnly: rules, iframes: false});
  found.violations = told.violations.map(v => v.id + ": " + v.nodes.map(n => n.target.join(" ")).join(", "));
  found.passes = told.passes.length;
  parent.document.body.setAttribute("data-" + window.name, JSON.stringify(found));
})();
"""


@pytest.mark.parametrize(
    ("theme", "flag", "ground"), [("light", 1, "rgb(255, 255, 255)"), ("dark", 0, "rgb(17, 24, 21)")]
)
def test_no_barrier_and_no_sideways_scrolling(theme: str, flag: int, ground: str, tmp_path: Path) -> None:
    script = axe() + PROBE
    names = {f"{name.replace('_', '-')}-{width}": (name, width) for name in CASES for width in WIDTHS}
    frames = [frame(render_html(CASES[case]()).decode(), width, name, script) for name, (case, width) in names.items()]
    page = tmp_path / "all.html"
    page.write_text(
        f"<!doctype html><html lang=en><title>{theme}</title><body>{''.join(frames)}</body></html>", encoding="utf-8"
    )
    told = chromium(
        tmp_path,
        f"--blink-settings=preferredColorScheme={flag}",
        "--window-size=1280,1000",
        "--virtual-time-budget=120000",
        "--dump-dom",
        page.as_uri(),
    )
    for name in names:
        match = re.search(rf'<body[^>]* data-{name}="([^"]*)"', told)
        assert match, name
        found = json.loads(match.group(1).replace("&quot;", '"').replace("&gt;", ">").replace("&amp;", "&"))
        assert found["violations"] == [], name
        assert found["passes"] > 20
        assert found["overflow"] <= 0, name
        assert found["color"] == ground, name


@pytest.mark.parametrize(
    ("name", "most"), [("open_neutral", 2), ("wye", 2), ("nothing_found", 2), ("plan", 2), ("everything", 3)]
)
def test_it_prints_on_two_pages_or_one_more(name: str, most: int, tmp_path: Path) -> None:
    common_serif()
    page, paper = tmp_path / "note.html", tmp_path / "note.pdf"
    page.write_bytes(render_html(CASES[name]()))
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={paper}", page.as_uri())
    reader = PdfReader(BytesIO(paper.read_bytes()))
    assert len(reader.pages) <= most
    assert min(letter_sizes(reader)) >= 8.99
    # Compatibility forms made plain: the browser prints ligatures.
    printed = unicodedata.normalize("NFKC", "".join(sheet.extract_text() for sheet in reader.pages))
    told = re.sub(r"\s+", "", printed)
    for caution in CASES[name]().cautions:
        assert re.sub(r"\s+", "", caution.text) in told


def test_hostile_text_makes_no_element_in_a_real_parser(tmp_path: Path) -> None:
    def tags(text: str) -> set[str]:
        page = tmp_path / "note.html"
        page.write_bytes(render_html(with_text(text)))
        return set(re.findall(r"<([a-zA-Z][\w:-]*)", chromium(tmp_path, "--dump-dom", page.as_uri())))

    expected = tags("plain")
    assert tags(" ".join(CORPUS)) == expected
