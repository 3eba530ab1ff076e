"""Whatever the answer: no form lacks a danger, and no picture of trouble is drawn as of a sound supply."""

import re
from html import unescape
from io import BytesIO

from hypothesis import given, settings
from pypdf import PdfReader

from feedproof.contract.assessment import Assessment
from feedproof.note.pictures import all_pictures, alone, run, standing
from feedproof.note.renderers import HTML, PDF, RENDERERS, SVG
from feedproof.note.scene import Line, Polygon, Scene, Text
from feedproof.note.signs import SIGNS, sign
from feedproof.note.words import dangers, warned_first
from support.any_answer import answers

#: What a picture of a sound supply alone is drawn with.
CALM = SIGNS["no_supply_fault_found"]


def bare(form: str, content: bytes) -> str:
    """All letters of a form without what it adds: markup, escapes, line ends."""
    if form == PDF:
        text = "".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
    else:
        text = content.decode()
    if form in {HTML, SVG}:
        text = unescape(re.sub(r"<style.*?</style>|<[^>]*>", "", text))
    return re.sub(r"[\s\\]+", "", text)


def hold_dangers(answer: Assessment, form: str) -> None:
    told = bare(form, RENDERERS[form](answer))
    for caution in dangers(answer):
        assert re.sub(r"\s+", "", f"{caution.severity.upper()}") in told
        assert re.sub(r"\s+", "", caution.title) in told
        if form != SVG:
            assert re.sub(r"\s+", "", caution.text) in told
    assert re.sub(r"\s+", "", answer.headline) in told
    assert re.sub(r"\s+", "", sign(answer.disposition).word) in told
    assert answer.model.version in told


@given(answers())
def test_no_form_lacks_its_dangers(answer: Assessment) -> None:
    for form in RENDERERS:
        if form != PDF:
            hold_dangers(answer, form)


@settings(max_examples=10)
@given(answers())
def test_neither_does_the_paper(answer: Assessment) -> None:
    hold_dangers(answer, PDF)


def words(scene: Scene) -> str:
    return " ".join(shape.text for shape in scene.shapes if isinstance(shape, Text))


@given(answers())
def test_each_picture_stands_alone(answer: Assessment) -> None:
    for scene in (*all_pictures(answer), alone(answer)):
        told = words(scene)
        assert sign(answer.disposition).word in told
        assert f"Model version {answer.model.version}" in told
        assert answer.headline.split(" ")[0] in told
        if dangers(answer):
            assert "DANGER:" in told
    assert words(alone(answer)).count("DANGER:") == len(dangers(answer))
    assert len(warned_first(answer)) <= 3


@given(answers())
def test_no_picture_of_trouble_is_drawn_as_a_sound_one(answer: Assessment) -> None:
    calm = answer.finding.place == "none" and answer.disposition == "no_supply_fault_found"
    for scene in (*all_pictures(answer), alone(answer)):
        told = words(scene)
        assert (CALM.word in told) == (answer.disposition == "no_supply_fault_found")
        framed = any(isinstance(s, Polygon) and s.fill is None and s.width == 2.0 for s in scene.shapes)
        assert framed != calm
    line = run.draw(answer)
    wires = [s for s in line.shapes if isinstance(s, Line) and s.y1 == s.y2]
    assert all(wire.dash != calm for wire in wires)
    marked = [s for s in line.shapes if isinstance(s, Polygon) and s.stroke == "danger"]
    assert marked or answer.finding.place == "none"
    if calm:
        return
    # No solid mark of a neutral that stands at earth: hollow there, or away from it.
    legs = standing.draw(answer)
    if "phasors" in words(legs):
        return
    for mark in (s for s in legs.shapes if isinstance(s, Polygon) and s.fill == "ink"):
        middle = sum(x for x, _ in mark.points) / len(mark.points)
        assert abs(middle - legs.width / 2.0) > 0.5
