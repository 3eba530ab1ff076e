"""The pages of the PDF: what stands where."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Table, TableStyle

from feedproof.advice.summary import ahead, hazards_words, if_it_holds, sureness, undrawn_rows
from feedproof.contract.assessment import Assessment
from feedproof.note.palette import LIGHT
from feedproof.note.pdf.drawing import Drawing
from feedproof.note.pdf.letters import PLAIN, glyphs, letters
from feedproof.note.pictures import all_pictures, strip
from feedproof.note.scene import Scene
from feedproof.note.signs import SIZE, sign
from feedproof.note.words import (
    Row,
    assumptions,
    caution_words,
    for_customer,
    heads,
    more_dangers,
    rows,
    warned_first,
)

_MARGIN = 24.0
_PAGE = (612.0, 792.0)
"""US letter, in points."""
_WIDTH = _PAGE[0] - 2.0 * _MARGIN - 12.0
_LETTERS = 9.0
"""Smallest letters [pt]."""
_PICTURE = 274.0
_STRIP = 66.0


def pdf_page(assessment: Assessment, made: date | None = None) -> bytes:
    """The whole document; see `feedproof.note.pdf.render_pdf`."""
    glyphs()
    buffer = BytesIO()
    name = f"Supply assessment{f': {assessment.reference}' if assessment.reference else ''}"
    on = (made or datetime.now(tz=UTC).date()).isoformat()
    document = SimpleDocTemplate(
        buffer,
        pagesize=_PAGE,
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN,
        bottomMargin=_MARGIN + 4.0,
        title=letters(name),
        author="feedproof",
        lang="en",
        invariant=1,
    )

    def foot(canvas: Canvas, _: object) -> None:
        canvas.setFont(PLAIN, _LETTERS)
        canvas.setFillColor(LIGHT.muted)
        reference = letters(assessment.reference or "no reference")
        room = 62
        reference = reference if len(reference) <= room else f"{reference[: room - 1]}…"
        canvas.drawString(_MARGIN, 20.0, reference)
        made_by = f"made {on}, model {assessment.model.version}, page {canvas.getPageNumber()}"
        canvas.drawRightString(_PAGE[0] - _MARGIN, 20.0, letters(made_by))

    document.build(_story(assessment, name), onFirstPage=foot, onLaterPages=foot)
    return buffer.getvalue()


def _t(text: str) -> str:
    """The text for a paragraph, whose own markup it cannot touch."""
    return escape(letters(text), {'"': "&quot;", "'": "&#39;"})


def _paragraph(
    markup: str,
    size: float = _LETTERS,
    *,
    color: str = LIGHT.ink,
    before: float = 0.0,
    after: float = 1.5,
    indent: tuple[float, float] = (0.0, 0.0),
    with_next: bool = False,
) -> Flowable:
    style = ParagraphStyle(
        "note",
        fontName=PLAIN,
        fontSize=size,
        leading=size * 1.2,
        textColor=HexColor(color),
        spaceBefore=before,
        spaceAfter=after,
        leftIndent=indent[0],
        firstLineIndent=indent[1],
        keepWithNext=int(with_next),
    )
    return Paragraph(markup, style)


def _title(text: str) -> Flowable:
    return _paragraph(f"<b>{_t(text)}</b>", 10.5, before=6.0, after=2.5, with_next=True)


def _points(items: Iterable[str]) -> list[Flowable]:
    return [_paragraph(f"• {item}", indent=(9.0, -7.0)) for item in items]


def _plain(cells: Sequence[Sequence[object]], shares: Sequence[float], *styles: tuple[Any, ...]) -> Table:
    table = Table([[*row] for row in cells], colWidths=[_WIDTH * share for share in shares], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4.0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.8),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                *styles,
            ]
        )
    )
    return table


def _story(assessment: Assessment, name: str) -> list[Flowable]:
    story: list[Flowable] = [_paragraph(_t(name), color=LIGHT.muted), *_first(assessment)]
    story += [
        _paragraph(_t(sureness(assessment)), before=3.0),
        *_points(_t(reason.text) for reason in assessment.confidence.reasons),
        _title("The visit"),
        *_heads(assessment),
        _title("For the customer"),
        _paragraph(_t(for_customer(assessment))),
    ]
    story += [_title("Readings"), _readings(assessment)] if assessment.evidence else []
    story.append(KeepTogether([_title(f"Pictures{if_it_holds(assessment)}"), _pictures(assessment)]))
    figures = [f"{_t(title)}: {_t(told)}" for title, told in undrawn_rows(assessment)]
    story += [_title(f"Beside the pictures{if_it_holds(assessment)}"), *_points(figures)] if figures else []
    limits = [_t(limit.meaning) for limit in assessment.detection_limits]
    story += [_title("What these readings could not show"), *_points(limits)] if limits else []
    checks = [_t(check.text) for check in assessment.checks]
    story += [_title("Checks"), *_points(checks)] if checks else []
    story += _next(assessment)
    story += _cautions(assessment)
    assumed = [_t(line) for line in assumptions(assessment)]
    story += [_title("Assumed, because the request left it out"), *_points(assumed)] if assumed else []
    story.append(KeepTogether([_title("Handed over"), _signature()]))
    return story


def _first(assessment: Assessment) -> list[Flowable]:
    """Outcome band, headline, next action and three dangers at the most."""
    shown = sign(assessment.disposition)
    ink = getattr(LIGHT, shown.ink)
    drawn = Scene(name="sign", title="", description="", height=SIZE, width=SIZE, shapes=shown.shapes)
    word = _paragraph(f"<b>{_t(shown.word)}</b>", 13.0, color=LIGHT.paper)
    told = [_paragraph(f"<b>{_t(assessment.headline)}</b>", 14.0, after=3.0)]
    told.append(_paragraph(f"<b>{_t(assessment.next_action)}</b>"))
    for caution in warned_first(assessment):
        tag = f'<font color="{LIGHT.danger}"><b>{_t(caution.severity.upper())}</b></font>'
        told.append(_paragraph(f"{tag} <b>{_t(caution.title)}</b>"))
    if more := more_dangers(assessment):
        told.append(_paragraph(_t(more)))
    band = _plain(
        [[Drawing(drawn, 18.0), word]],
        (0.06, 0.94),
        ("BACKGROUND", (0, 0), (-1, -1), HexColor(ink)),
        ("LEFTPADDING", (0, 0), (-1, -1), 6.0),
        ("TOPPADDING", (0, 0), (-1, -1), 3.0),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    )
    box = _plain(
        [[told]],
        (1.0,),
        ("BOX", (0, 0), (-1, -1), 2.4 if shown.ink == "danger" else 1.0, HexColor(ink)),
        ("BACKGROUND", (0, 0), (-1, -1), HexColor(LIGHT.panel)),
        ("LEFTPADDING", (0, 0), (-1, -1), 6.0),
        ("TOPPADDING", (0, 0), (-1, -1), 4.0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4.0),
    )
    return [band, box]


def _heads(assessment: Assessment) -> list[Flowable]:
    """What is known over the whole width, since it may be long; what is to be filled in beneath, in two columns."""
    known = [(what, value) for what, value in heads(assessment) if value]
    told: list[Flowable] = [_paragraph(f"{_t(what)}: <b>{_t(value)}</b>") for what, value in known]
    blank = [_paragraph(_t(what), color=LIGHT.muted) for what, value in heads(assessment) if not value]
    blank += [_paragraph("")] * (len(blank) % 2)
    pairs = [[blank[index], "", blank[index + 1], ""] for index in range(0, len(blank), 2)]
    lines = [("LINEBELOW", (column, 0), (column, -1), 0.4, HexColor(LIGHT.rule)) for column in (1, 3)]
    return [*told, _plain(pairs, (0.2, 0.3, 0.2, 0.3), *lines)]


def _pictures(assessment: Assessment) -> Flowable:
    return _plain([[Drawing(scene, _PICTURE) for scene in all_pictures(assessment)]], (0.5, 0.5))


def _readings(assessment: Assessment) -> Flowable:
    titles = ("Reading", "Value", "Sound range", "Flag", "Scale", "Under the finding")
    cells: list[list[object]] = [[_paragraph(f"<b>{title}</b>") for title in titles]]
    cells += [_cells(row) for row in rows(assessment)]
    return _plain(
        cells,
        (0.35, 0.1, 0.16, 0.1, 0.13, 0.16),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, HexColor(LIGHT.rule)),
    )


def _cells(row: Row) -> list[object]:
    name = f'{_t(row.name)} <font color="{LIGHT.muted}">{_t(row.where)}</font>'
    # Its shape is in the scale beside it: the font has no triangles.
    flag = _t(row.flag.lstrip("▼▲ "))
    if row.entry.flag != "as_expected":
        flag = f'<font color="{LIGHT.danger}"><b>{flag}</b></font>'
    drawn = Drawing(strip.draw(row.entry), _STRIP)
    return [
        _paragraph(name),
        _paragraph(f"<b>{_t(row.value)}</b>"),
        _paragraph(_t(row.sound)),
        _paragraph(flag),
        drawn,
        _paragraph(_t(row.found)),
    ]


def _next(assessment: Assessment) -> list[Flowable]:
    story: list[Flowable] = []
    for index, reading in enumerate(ahead(assessment)):
        steps = " ".join(_t(step) for step in reading.steps) if index == 0 else ""
        told = f"<b>{index + 1}. {_t(reading.title)}</b> {_t(reading.why)} {steps}"
        hazards = " • ".join(_t(hazard) for hazard in hazards_words(assessment.next_readings, index))
        story.append(_paragraph(f"{told} • {hazards}" if hazards else told))
    return [_title("What to read next"), *story] if story else []


def _cautions(assessment: Assessment) -> list[Flowable]:
    given: list[Flowable] = []
    for caution in assessment.cautions:
        color = LIGHT.ink if caution.severity == "notice" else LIGHT.danger
        word = f'<font color="{color}"><b>{_t(caution.severity.upper())}</b></font>'
        grounds = f"Why here: {_t(caution.because)} Basis: {_t(caution.basis)}."
        told = [] if given else [_title("Cautions")]
        told.append(
            _paragraph(
                f'{word} {_t(caution_words(assessment, caution))} <font color="{LIGHT.muted}">{grounds}</font>',
                after=3.0,
            )
        )
        given.append(KeepTogether(told))
    return given


def _signature() -> Flowable:
    names = [_paragraph(name, color=LIGHT.muted) for name in ("Name", "Date", "Signature")]
    table = Table([names], colWidths=[_WIDTH * share for share in (0.4, 0.2, 0.4)], rowHeights=[26.0])
    table.setStyle(
        TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.7, HexColor(LIGHT.ink)), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    )
    return table
