"""The pages of the PDF: what stands where."""

from collections.abc import Iterable
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Table, TableStyle

from feedproof.advice.identity import observed_words, what_words, where_words
from feedproof.advice.summary import (
    ahead,
    assumed_lines,
    bits_words,
    expected_words,
    hazards_words,
    if_it_holds,
    sureness,
    undrawn_rows,
    warnings_first,
)
from feedproof.advice.wording import quantity, sentence
from feedproof.contract.assessment import Assessment, Evidence
from feedproof.note.palette import LIGHT
from feedproof.note.pdf.drawing import Drawing
from feedproof.note.pdf.letters import PLAIN, glyphs, letters
from feedproof.note.pictures import all_pictures
from feedproof.note.scene import WIDTH, Scene

_MARGIN = 34.0
_PAGE = (612.0, 792.0)
"""US letter, in points."""
_WIDTH = _PAGE[0] - 2.0 * _MARGIN - 12.0
_PICTURE = 232.0
_PICTURES_HEIGHT = 390.0
"""As much of the first page as the pictures may take [pt]."""


def pdf_page(assessment: Assessment) -> bytes:
    """The whole document; see `feedproof.note.pdf.render_pdf`."""
    glyphs()
    buffer = BytesIO()
    name = f"Supply assessment{f': {assessment.reference}' if assessment.reference else ''}"
    document = SimpleDocTemplate(
        buffer,
        pagesize=_PAGE,
        leftMargin=_MARGIN,
        rightMargin=_MARGIN,
        topMargin=_MARGIN,
        bottomMargin=_MARGIN,
        title=letters(name),
        author="feedproof",
        lang="en",
        invariant=1,
    )

    def foot(canvas: Canvas, _: object) -> None:
        canvas.setFont(PLAIN, 6.5)
        canvas.setFillColor(LIGHT.muted)
        version = f"Model version {assessment.model.version}, priors {assessment.model.priors_digest}"
        canvas.drawString(_MARGIN, 18.0, letters(version))
        canvas.drawRightString(_PAGE[0] - _MARGIN, 18.0, f"Page {canvas.getPageNumber()}")

    document.build(_story(assessment, name), onFirstPage=foot, onLaterPages=foot)
    return buffer.getvalue()


def _t(text: str) -> str:
    """The text for a paragraph, whose own markup it cannot touch."""
    return escape(letters(text), {'"': "&quot;", "'": "&#39;"})


def _paragraph(
    markup: str,
    size: float = 8.0,
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
        leading=size * 1.25,
        textColor=HexColor(color),
        spaceBefore=before,
        spaceAfter=after,
        leftIndent=indent[0],
        firstLineIndent=indent[1],
        keepWithNext=int(with_next),
    )
    return Paragraph(markup, style)


def _title(text: str) -> Flowable:
    return _paragraph(f"<b>{_t(text)}</b>", 10.0, before=6.0, after=2.5, with_next=True)


def _points(items: Iterable[str], size: float = 8.0) -> list[Flowable]:
    return [_paragraph(f"• {item}", size, indent=(9.0, -7.0)) for item in items]


def _story(assessment: Assessment, name: str) -> list[Flowable]:
    story: list[Flowable] = [_paragraph(_t(name), 8.5, color=LIGHT.muted), _first(assessment)]
    story += [
        _title("How sure"),
        _paragraph(_t(sureness(assessment))),
        *_points(_t(reason.text) for reason in assessment.confidence.reasons),
        _title(f"Pictures{if_it_holds(assessment)}"),
        _pictures(assessment),
    ]
    figures = [f"{_t(title)}: {_t(told)}" for title, told in undrawn_rows(assessment)]
    story += [_title(f"Beside the pictures{if_it_holds(assessment)}"), *_points(figures, 7.0)] if figures else []
    limits = [_t(limit.meaning) for limit in assessment.detection_limits]
    story += [_title("What these readings could not show"), *_points(limits)] if limits else []
    story += [_title("Readings"), _readings(assessment)] if assessment.evidence else []
    checks = [_t(check.text) for check in assessment.checks]
    story += [_title("Checks"), *_points(checks)] if checks else []
    story += _next(assessment)
    story += _cautions(assessment)
    assumed = [_t(line) for line in assumed_lines(assessment)]
    story += [_title("Assumed, because the request left it out"), *_points(assumed, 6.5)] if assumed else []
    story.append(KeepTogether([_title("Handed over"), _signature()]))
    return story


def _first(assessment: Assessment) -> Flowable:
    lines: list[Flowable] = [_paragraph(f"<b>{_t(assessment.headline)}</b>", 14.0, after=4.0)]
    lines.append(_paragraph(_t(assessment.next_action), 8.5))
    lines += [
        _paragraph(f'<font color="{LIGHT.danger}"><b>{_t(c.severity.upper())}</b></font> <b>{_t(c.title)}</b>', 8.5)
        for c in warnings_first(assessment)
    ]
    table = Table([[lines]], colWidths=[_WIDTH])
    table.setStyle(
        TableStyle(
            [
                ("BOX", (0, 0), (-1, -1), 1.6, HexColor(LIGHT.ink)),
                ("BACKGROUND", (0, 0), (-1, -1), HexColor(LIGHT.panel)),
                ("TOPPADDING", (0, 0), (-1, -1), 5.0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4.0),
            ]
        )
    )
    return table


def _pictures(assessment: Assessment) -> Flowable:
    """Two columns as even as can be, drawn smaller where they would not fit beside the finding."""
    scenes = all_pictures(assessment)
    splits = [
        [[scene for index, scene in enumerate(scenes) if bool(mask >> index & 1) is left] for left in (True, False)]
        for mask in range(1, 2 ** len(scenes), 2)
    ]
    sides = min(splits, key=lambda split: max(sum(_tall(scene) for scene in side) for side in split))
    tallest = max(sum(_tall(scene) for scene in side) for side in sides)
    width = min(_PICTURE, _PICTURES_HEIGHT / tallest * WIDTH)
    columns: list[list[Flowable]] = [[], []]
    for column, side in zip(columns, sides, strict=True):
        for scene in side:
            column += [_paragraph(f"<b>{_t(scene.title)}</b>", 8.0, before=3.0), Drawing(scene, width)]
    table = Table([columns], colWidths=[_WIDTH / 2.0] * 2)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.0),
            ]
        )
    )
    return table


def _tall(scene: Scene) -> float:
    """Height of a picture with its title, in drawing units."""
    return scene.height + 24.0


def _readings(assessment: Assessment) -> Flowable:
    titles = ("Reading", "Observed", "On a sound supply", "Under the finding", "Weight")
    rows = [[_paragraph(f"<b>{title}</b>", 7.0) for title in titles]]
    rows += [[_paragraph(cell, 7.0) for cell in _cells(entry)] for entry in assessment.evidence]
    table = Table(rows, colWidths=[_WIDTH * share for share in (0.46, 0.11, 0.17, 0.17, 0.09)], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, HexColor(LIGHT.rule)),
                ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.8),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ]
        )
    )
    return table


def _cells(entry: Evidence) -> tuple[str, ...]:
    if entry.identity is None:
        what, seen = f"reading {entry.reading + 1}", quantity(entry.observed.value, entry.observed.unit)
    else:
        where = _t(f"{where_words(entry.identity)}, {entry.identity.meter}")
        what = f'{_t(sentence(what_words(entry.identity)))} <font color="{LIGHT.muted}">{where}</font>'
        seen = observed_words(entry.observed, entry.identity)
    sound, found = (_t(expected_words(entry, sound=which)) for which in (True, False))
    return (f"{entry.reading + 1}. {what}", _t(seen), sound, found, bits_words(entry.bits))


def _next(assessment: Assessment) -> list[Flowable]:
    story: list[Flowable] = []
    for index, reading in enumerate(ahead(assessment)):
        told = f"<b>{index + 1}. {_t(reading.title)}</b> {_t(reading.why)} "
        hazards = " • ".join(_t(hazard) for hazard in hazards_words(assessment.next_readings, index))
        story.append(_paragraph(f"{told}• {hazards}", 7.5))
    return [_title("What to read next"), *story] if story else []


def _cautions(assessment: Assessment) -> list[Flowable]:
    given: list[Flowable] = []
    for caution in assessment.cautions:
        color = LIGHT.ink if caution.severity == "notice" else LIGHT.danger
        word = f'<font color="{color}"><b>{_t(caution.severity.upper())}</b></font>'
        grounds = f"Why here: {_t(caution.because)} Basis: {_t(caution.basis)}."
        told = [] if given else [_title("Cautions")]
        told.append(_paragraph(f"{word} {_t(caution.text)}", 7.6, after=0.5))
        told.append(_paragraph(grounds, 6.3, color=LIGHT.muted, indent=(8.0, 0.0), after=3.0))
        given.append(KeepTogether(told))
    return given


def _signature() -> Flowable:
    names = [_paragraph(name, 7.0, color=LIGHT.muted) for name in ("Name", "Date", "Signature")]
    table = Table([names], colWidths=[_WIDTH * share for share in (0.4, 0.2, 0.4)], rowHeights=[26.0])
    table.setStyle(
        TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.7, HexColor(LIGHT.ink)), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    )
    return table
