"""What the printed note says, handed to its template: the template lays it out, and holds no word of an answer."""

from datetime import UTC, date, datetime
from importlib.resources import files
from typing import Any

import msgspec
import typst

from feedproof.advice.inert import visible
from feedproof.advice.summary import ahead, hazards_words, if_it_holds, sureness, undrawn_rows
from feedproof.contract.assessment import Assessment
from feedproof.note.palette import LIGHT
from feedproof.note.pictures import all_pictures, strip
from feedproof.note.scene import Scene, Text
from feedproof.note.signs import SIZE, sign
from feedproof.note.svg import printed
from feedproof.note.words import (
    LEGEND,
    UNSEEN,
    assumptions,
    caution_words,
    for_customer,
    heads,
    more_dangers,
    rows,
    warned_first,
)

#: Code points that the fonts of the library have without a gap: Latin, Greek and Cyrillic letters, punctuation,
#: letterlike signs, arrows, signs of mathematics and technical ones, shapes. A test sets every one of them.
RANGES = (
    (0x20, 0x7E),
    (0xA0, 0x2FF),
    (0x38E, 0x3A1),
    (0x3A3, 0x482),
    (0x1E00, 0x1F15),
    (0x2010, 0x2027),
    (0x202F, 0x2040),
    (0x2074, 0x208E),
    (0x20A0, 0x20BF),
    (0x2100, 0x211E),
    (0x2126, 0x2151),
    (0x2190, 0x23FF),
    (0x2460, 0x262F),
)
_KNOWN = frozenset(code for first, last in RANGES for code in range(first, last + 1))


def letters(text: str) -> str:
    """The text in letters that the fonts have; the others, and hidden ones, as code points."""
    return "".join(c if ord(c) in _KNOWN else f"<U+{ord(c):04X}>" for c in visible(text))


#: Size of the letters [pt]; nothing is smaller than nine.
_LETTERS = 9.0
#: As many letters of the reference stand at the foot of each sheet.
_FOOT = 62


def pdf_page(assessment: Assessment, made: date | None = None) -> bytes:
    """The whole document; see `feedproof.note.pdf.render_pdf`."""
    # PDF/UA-1: the library refuses what a reader aloud could not follow, a picture without words for one.
    document: bytes = typst.compile(**laid_out(assessment, made), format="pdf", pdf_standards=["ua-1"], timestamp=0)
    return document


def laid_out(assessment: Assessment, made: date | None) -> dict[str, Any]:
    """Template and words, as the library takes them for whatever it is to make of the sheets."""
    on = (made or datetime.now(tz=UTC).date()).isoformat()
    told = _inert({"made": on, **_outcome(assessment), **_grounds(assessment)})
    return {
        "input": files("feedproof.note.pdf").joinpath("note.typ").read_bytes(),
        "ignore_system_fonts": True,
        "sys_inputs": {"note": msgspec.json.encode(told).decode()},
    }


def _outcome(assessment: Assessment) -> dict[str, Any]:
    """What stands first, and what stands on each page."""
    shown = sign(assessment.disposition)
    reference = assessment.reference
    return {
        "colors": msgspec.to_builtins(LIGHT),
        "size": _LETTERS,
        "title": f"Supply assessment{f': {reference}' if reference else ''}",
        "foot": _foot(reference or "no reference"),
        "model": assessment.model.version,
        "word": shown.word,
        "sign": _scene(Scene(name="sign", title="", description="", height=SIZE, width=SIZE, shapes=shown.shapes)),
        "ink": shown.ink,
        "border": 2.4 if shown.ink == "danger" else 1.0,
        "headline": assessment.headline,
        "action": assessment.next_action,
        "first": [(caution.severity.upper(), caution.title) for caution in warned_first(assessment)],
        "more": more_dangers(assessment),
        "sure": sureness(assessment),
        "reasons": [reason.text for reason in assessment.confidence.reasons],
        "heads": heads(assessment),
        "customer": for_customer(assessment),
    }


def _foot(reference: str) -> str:
    return reference if len(reference) <= _FOOT else f"{reference[: _FOOT - 1]}…"


def _grounds(assessment: Assessment) -> dict[str, Any]:
    """Readings, pictures, what to read next, cautions and what was assumed."""
    return {
        "held": if_it_holds(assessment),
        "rows": [
            {
                **{name: getattr(row, name) for name in ("name", "where", "value", "sound", "found", "flag")},
                "off": row.entry.flag != "as_expected",
                "scale": _scene(strip.draw(row.entry)),
            }
            for row in rows(assessment)
        ],
        "legend": LEGEND,
        "unseen": UNSEEN,
        "pictures": [_scene(scene) for scene in all_pictures(assessment)],
        "figures": [f"{title}: {told}" for title, told in undrawn_rows(assessment)],
        "limits": [limit.meaning for limit in assessment.detection_limits],
        "checks": [check.text for check in assessment.checks],
        "next": [
            {
                "title": reading.title,
                "why": reading.why,
                "steps": reading.steps if index == 0 else [],
                "hazards": hazards_words(assessment.next_readings, index),
            }
            for index, reading in enumerate(ahead(assessment))
        ],
        "cautions": [
            {
                "severity": caution.severity.upper(),
                "words": caution_words(assessment, caution),
                "because": caution.because,
                "basis": caution.basis,
            }
            for caution in assessment.cautions
        ],
        "assumed": assumptions(assessment),
    }


def _scene(scene: Scene) -> dict[str, str]:
    inert = [msgspec.structs.replace(s, text=letters(s.text)) if isinstance(s, Text) else s for s in scene.shapes]
    return {
        "alt": f"{scene.title}. {scene.description}",
        # Without its own title and description: the figure's alternative text has them, escaped.
        "svg": printed(msgspec.structs.replace(scene, title="", description="", shapes=tuple(inert))),
    }


def _inert(told: object) -> object:
    """Every text in letters that the font has."""
    if isinstance(told, str):
        return letters(told)
    if isinstance(told, dict):
        return {name: _inert(value) for name, value in told.items()}
    return [_inert(value) for value in told] if isinstance(told, list | tuple) else told
