"""The hand-off note as one self-contained page: no script, no request to anywhere, the same bytes each time."""

from collections.abc import Iterable
from functools import cache
from html import escape
from importlib.resources import files

from feedproof.advice.identity import observed_words, what_words, where_words
from feedproof.advice.inert import visible
from feedproof.advice.summary import (
    ahead,
    assumed_lines,
    bits_words,
    expected_words,
    figure_rows,
    hazards_words,
    if_it_holds,
    sureness,
    warnings_first,
)
from feedproof.advice.wording import quantity, sentence
from feedproof.contract.assessment import Assessment, Caution, Evidence
from feedproof.note.pictures import all_pictures
from feedproof.note.svg import inline, picture_styles, style_policy, theme_styles

#: Signs beside the disposition, drawn in the text's own color: an octagon, an arrow onward, a ring. None of them
#: is a tick: nothing here passes a supply.
_SIGNS = {
    "stop_and_refer": '<polygon points="7,1 17,1 23,7 23,17 17,23 7,23 1,17 1,7"/>'
    '<path class="f-paper" d="M6 10.5h12v3H6z"/>',
    "take_more_readings": '<path d="M2 9h11V3l9 9-9 9v-6H2z"/>',
    "no_supply_fault_found": '<path fill-rule="evenodd" d="M12 1a11 11 0 1 0 .01 0zm0 4a7 7 0 1 1-.01 0z"/>',
}


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

    First what was found and what to do, then how sure it is, the pictures, the readings, every caution with its basis,
    what was assumed, which model answered, and room to sign.

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
            _found(assessment),
            _pictures(assessment),
            _figures(assessment),
            _readings(assessment),
            _section("Checks", "checks", _list(check.text for check in assessment.checks)) if assessment.checks else "",
            _next(assessment),
            _cautions(assessment),
            _assumed(assessment),
            _signature(),
            "</main>",
            _footer(assessment),
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
    sign = _SIGNS.get(assessment.disposition, "")
    drawn = f'<svg class="f-ink" viewBox="0 0 24 24" aria-hidden="true" focusable="false">{sign}</svg>' if sign else ""
    warned = "".join(
        f'<li class="{_t(c.severity)}"><span class="tag">{_t(c.severity.upper())}</span> {_t(c.title)}</li>'
        for c in warnings_first(assessment)
    )
    listed = f'<ul class="dangers">{warned}</ul>' if warned else ""
    told = f"<p>{_t(assessment.next_action)}</p>"
    more = '<p class="small"><a href="#cautions">All cautions with their basis</a></p>'
    return (
        f'<section class="first" aria-labelledby="first"><h2 id="first">{drawn}{_t(assessment.headline)}</h2>'
        f"{told}{listed}{more}</section>"
    )


def _found(assessment: Assessment) -> str:
    return _section(
        "How sure",
        "found",
        f'<p class="sure">{_t(sureness(assessment))}</p>'
        f"{_list(reason.text for reason in assessment.confidence.reasons)}",
    )


def _pictures(assessment: Assessment) -> str:
    drawn = "".join(
        f"<figure><figcaption>{_t(scene.title)}</figcaption>{inline(scene)}</figure>"
        for scene in all_pictures(assessment)
    )
    return _section("Pictures", "pictures-title", f'<div class="pictures">{drawn}</div>')


def _figures(assessment: Assessment) -> str:
    rows = figure_rows(assessment)
    body = "".join(
        f'<tr role="row"><th role="rowheader" scope="row">{_t(what)}</th>'
        f'<td role="cell" class="n" data-label="Estimate">{_t(value)}</td></tr>'
        for what, value in rows
    )
    table = (
        '<table class="stack" role="table"><caption>Estimates with their 90 % credible interval'
        f"{_t(if_it_holds(assessment))}</caption>"
        '<thead role="rowgroup"><tr role="row"><th role="columnheader" scope="col">Quantity</th>'
        '<th role="columnheader" scope="col" class="n">Estimate</th></tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table>'
        if rows
        else ""
    )
    limits = _list(limit.meaning for limit in assessment.detection_limits)
    hidden = f"<h3>What these readings could not show</h3>{limits}" if assessment.detection_limits else ""
    table = f'<div class="on-screen">{table}</div>' if table else ""
    return _section("In figures", "figures", table + hidden) if table or hidden else ""


def _readings(assessment: Assessment) -> str:
    if not assessment.evidence:
        return ""
    titles = ("Reading", "Observed", "On a sound supply", "Under the finding", "Weight")
    heads = "".join(f'<th role="columnheader" scope="col">{title}</th>' for title in titles)
    rows = "".join(_reading(entry, titles) for entry in assessment.evidence)
    table = (
        '<table class="stack" role="table"><caption>Weight: for the finding against a sound supply, in bits; '
        "every bit doubles the odds. Nine of ten such readings fall within the expected span.</caption>"
        f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead><tbody role="rowgroup">{rows}</tbody></table>'
    )
    return _section("Readings", "readings-title", table)


def _reading(entry: Evidence, titles: tuple[str, ...]) -> str:
    if entry.identity is None:
        what, where, seen = f"reading {entry.reading + 1}", "", quantity(entry.observed.value, entry.observed.unit)
    else:
        what = sentence(what_words(entry.identity))
        where = f"{where_words(entry.identity)}, {entry.identity.meter}"
        seen = observed_words(entry.observed, entry.identity)
    if entry.test_current is not None:
        where = f"{where}; the meter drew {quantity(entry.test_current, 'A')}"
    cells = (
        seen,
        expected_words(entry, sound=True),
        expected_words(entry, sound=False),
        bits_words(entry.bits),
    )
    told = "".join(
        f'<td role="cell" data-label="{title}">{_t(cell)}</td>' for title, cell in zip(titles[1:], cells, strict=True)
    )
    name = f'{entry.reading + 1}. {_t(what)} <span class="small">{_t(where)}</span>'
    return f'<tr role="row"><th role="rowheader" scope="row">{name}</th>{told}</tr>'


def _next(assessment: Assessment) -> str:
    following = ahead(assessment)
    if not following:
        return ""
    items = "".join(
        f"<li><strong>{_t(reading.title)}</strong> "
        f'<span class="small">({reading.information:.2g} bit)</span><br>{_t(reading.why)}'
        f"{_list(hazards_words(assessment.next_readings, index))}</li>"
        for index, reading in enumerate(following)
    )
    return _section("What to read next", "next", f'<ol class="steps">{items}</ol>')


def _caution(caution: Caution) -> str:
    return (
        f'<li class="{_t(caution.severity)}"><p><span class="tag">{_t(caution.severity.upper())}</span> '
        f'{_t(caution.text)}</p><p class="small">Why here: {_t(caution.because)}</p>'
        f'<p class="small">Basis: {_t(caution.basis)}.</p></li>'
    )


def _cautions(assessment: Assessment) -> str:
    items = "".join(_caution(caution) for caution in assessment.cautions)
    return _section("Cautions", "cautions", f'<ol class="caution-list">{items}</ol>')


def _assumed(assessment: Assessment) -> str:
    if not assessment.assumptions:
        return ""
    items = _list(assumed_lines(assessment))
    return _section("Assumed, because the request left it out", "assumed", f'<div class="small">{items}</div>')


def _signature() -> str:
    fields = "".join(f"<div>{name}</div>" for name in ("Name", "Date", "Signature"))
    return _section("Handed over", "handed", f'<div class="sign small">{fields}</div>')


def _footer(assessment: Assessment) -> str:
    return (
        f'<footer><p class="small">Model version {_t(assessment.model.version)}, priors '
        f'<span class="hash">{_t(assessment.model.priors_digest)}</span>. It infers from the readings given; '
        "it has not seen the installation.</p></footer>"
    )
