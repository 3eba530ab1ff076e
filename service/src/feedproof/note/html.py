"""The hand-off note as one self-contained page: no script, no request to anywhere, the same bytes each time."""

from collections.abc import Iterable
from functools import cache
from html import escape
from importlib.resources import files

from feedproof.advice.inert import visible
from feedproof.advice.summary import ahead, figure_rows, hazards_words, if_it_holds, sureness
from feedproof.contract.assessment import Assessment, Caution
from feedproof.note.pictures import all_pictures, strip
from feedproof.note.signs import SIZE, sign
from feedproof.note.svg import inline, inline_shapes, picture_styles, style_policy, theme_styles
from feedproof.note.words import (
    LEGEND,
    UNSEEN,
    Row,
    assumptions,
    caution_words,
    for_customer,
    heads,
    more_dangers,
    rows,
    warned_first,
)


@cache
def _styles() -> str:
    sheet = files("feedproof.note").joinpath("note.css").read_text(encoding="utf-8")
    return theme_styles(":root") + picture_styles() + sheet


@cache
def content_security_policy() -> str:
    """The policy of the page, for its own `meta` element and for the header of an HTTP answer."""
    return style_policy(_styles())


def render_html(assessment: Assessment) -> bytes:
    """The note as an HTML page.

    First the outcome, what was found and what to do, three dangers at the most and the reasons; then the visit, a
    paragraph for the customer, the pictures, the readings, every caution with its basis, what was assumed, which model
    answered, and room to sign.

    Parameters
    ----------
    assessment : Assessment
        The answer.

    Returns
    -------
    bytes
        UTF-8. Text that came with the request is inert in it.
    """
    name = f"Supply assessment{f': {assessment.reference}' if assessment.reference else ''}"
    body = "".join(
        (
            f"<header><h1>{_t(name)}</h1></header><main>",
            _first(assessment),
            _heads(assessment),
            _section("For the customer", "customer", f"<p>{_t(for_customer(assessment))}</p>"),
            _readings(assessment),
            _pictures(assessment),
            '<div class="rest">',
            _figures(assessment),
            _section("Checks", "checks", _list(check.text for check in assessment.checks)) if assessment.checks else "",
            _next(assessment),
            _cautions(assessment),
            _assumed(assessment),
            _signature(assessment),
            "</div></main>",
        )
    )
    head = (
        '<meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_t(content_security_policy())}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer">'
        f"<title>{_t(name)}</title><style>{_styles()}</style>"
    )
    return f'<!doctype html><html lang="en"><head>{head}</head><body>{body}</body></html>\n'.encode()


def _t(text: str) -> str:
    return escape(visible(text), quote=True)


def _section(title: str, name: str, content: str) -> str:
    return f'<section class="{name}" aria-labelledby="{name}"><h2 id="{name}">{_t(title)}</h2>{content}</section>'


def _list(items: Iterable[str], kind: str = "ul") -> str:
    return f"<{kind}>{''.join(f'<li>{_t(item)}</li>' for item in items)}</{kind}>"


def _first(assessment: Assessment) -> str:
    """Outcome, headline, next action, three dangers at the most, then the reasons."""
    shown = sign(assessment.disposition)
    drawn = inline_shapes(shown.shapes, SIZE)
    warned = [
        f'<li><span class="tag">{_t(c.severity.upper())}</span> {_t(c.title)}</li>' for c in warned_first(assessment)
    ]
    if more := more_dangers(assessment):
        warned.append(f'<li class="more"><a href="#cautions">{_t(more)}</a></li>')
    listed = f'<ul class="dangers">{"".join(warned)}</ul>' if warned else ""
    reasons = _list(reason.text for reason in assessment.confidence.reasons)
    return (
        f'<section class="first {_t(assessment.disposition.replace("_", "-"))}" aria-labelledby="first">'
        f'<p class="band">{drawn}<strong>{_t(shown.word)}</strong></p>'
        f'<h2 id="first">{_t(assessment.headline)}</h2><p class="action">{_t(assessment.next_action)}</p>{listed}'
        f'<h3>Why</h3><p class="sure">{_t(sureness(assessment))}</p>{reasons}</section>'
    )


def _heads(assessment: Assessment) -> str:
    # Each text with its own writing direction, so that it does not reorder its neighbours.
    listed = "".join(
        f'<div><dt>{_t(what)}</dt><dd dir="auto" class="{"told" if told else "blank"}">{_t(told) or "&nbsp;"}</dd>'
        "</div>"
        for what, told in heads(assessment)
    )
    return _section("The visit", "visit", f'<dl class="heads">{listed}</dl>')


def _pictures(assessment: Assessment) -> str:
    drawn = "".join(f"<figure>{inline(scene)}</figure>" for scene in all_pictures(assessment))
    return _section(f"Pictures{if_it_holds(assessment)}", "pictures-title", f'<div class="pictures">{drawn}</div>')


def _figures(assessment: Assessment) -> str:
    estimates = figure_rows(assessment)
    body = "".join(
        f'<tr role="row"><th role="rowheader" scope="row">{_t(what)}</th>'
        f'<td role="cell" class="n" data-label="Estimate">{_t(value)}</td></tr>'
        for what, value in estimates
    )
    table = (
        '<table class="stack" role="table"><caption>Estimates with their 90 % credible interval'
        f"{_t(if_it_holds(assessment))}</caption>"
        '<thead role="rowgroup"><tr role="row"><th role="columnheader" scope="col">Quantity</th>'
        '<th role="columnheader" scope="col" class="n">Estimate</th></tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table>'
        if estimates
        else ""
    )
    limits = _list(limit.meaning for limit in assessment.detection_limits)
    hidden = f"<h3>What these readings could not show</h3>{limits}" if assessment.detection_limits else ""
    return _section("In figures", "figures", table + hidden) if table or hidden else ""


def _readings(assessment: Assessment) -> str:
    if not assessment.evidence:
        return ""
    titles = ("Reading", "Value", "Sound range", "Flag", "Scale", "Under the finding")
    heading = "".join(f'<th role="columnheader" scope="col">{title}</th>' for title in titles)
    body = "".join(_reading(row, titles) for row in rows(assessment))
    table = (
        f'<table class="stack readings" role="table"><caption>{_t(LEGEND)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heading}</tr></thead><tbody role="rowgroup">{body}</tbody></table>'
    )
    return _section("Readings", "readings-title", table)


def _reading(row: Row, titles: tuple[str, ...]) -> str:
    flag = f'<span class="{_t(row.entry.flag.replace("_", "-"))}">{_t(row.flag)}</span>'
    cells = (f"<strong>{_t(row.value)}</strong>", _t(row.sound), flag, inline(strip.draw(row.entry)), _t(row.found))
    told = "".join(
        f'<td role="cell" data-label="{title}">{cell}</td>' for title, cell in zip(titles[1:], cells, strict=True)
    )
    where = f' <span class="small">{_t(row.where)}</span>' if row.where else ""
    return f'<tr role="row"><th role="rowheader" scope="row">{_t(row.name)}{where}</th>{told}</tr>'


def _next(assessment: Assessment) -> str:
    following = ahead(assessment)
    if not following:
        return ""
    items = "".join(
        f"<li><strong>{_t(reading.title)}</strong><p>{_t(reading.why)}</p>"
        f"{_list(reading.steps, 'ol') if index == 0 else ''}"
        f"{_list(hazards_words(assessment.next_readings, index))}</li>"
        for index, reading in enumerate(following)
    )
    return _section("What to read next", "next", f'<ol class="steps">{items}</ol>')


def _caution(assessment: Assessment, caution: Caution) -> str:
    return (
        f'<li class="{_t(caution.severity)}"><p><span class="tag">{_t(caution.severity.upper())}</span> '
        f'{_t(caution_words(assessment, caution))}</p><p class="small">Why here: {_t(caution.because)} '
        f'<span class="basis">Basis: {_t(caution.basis)}.</span></p></li>'
    )


def _cautions(assessment: Assessment) -> str:
    items = "".join(_caution(assessment, caution) for caution in assessment.cautions)
    return _section("Cautions", "cautions", f'<ol class="caution-list">{items}</ol>')


def _assumed(assessment: Assessment) -> str:
    if not assessment.assumptions:
        return ""
    return (
        '<section class="assumed"><details><summary>Assumed, because the request left it out</summary>'
        f'<div class="small">{_list(assumptions(assessment))}</div></details></section>'
    )


def _signature(assessment: Assessment) -> str:
    fields = "".join(f"<div>{name}</div>" for name in ("Name", "Date", "Signature"))
    model = f"Model version {assessment.model.version}. {UNSEEN}"
    return _section("Handed over", "handed", f'<div class="sign small">{fields}</div><p class="small">{_t(model)}</p>')
