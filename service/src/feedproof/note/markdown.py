"""The hand-off note as Markdown, for tickets and job histories."""

import re
from collections.abc import Iterable

from feedproof.advice.inert import visible
from feedproof.advice.summary import ahead, figure_rows, finding_words, hazards_words, if_it_holds, sureness
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Assessment
from feedproof.note.signs import sign
from feedproof.note.words import (
    UNSEEN,
    Row,
    assumptions,
    caution_words,
    ended,
    for_customer,
    heads,
    more_dangers,
    rows,
    warned_first,
)

#: Every character that can begin a construct of CommonMark or of its table, strike-through and autolink extensions.
_SPECIAL = re.compile(r"[\\`*_{}\[\]<>|~#&!@$^=]")
_BLANK = r"\_" * 20
#: A scheme or a host that some renderers turn into a link without being asked.
_LINK = re.compile(r"(?<=[a-z0-9])(://|:(?=\w))|\b(www)\.", re.IGNORECASE)


def render_markdown(assessment: Assessment) -> bytes:
    """The note as CommonMark with pipe tables.

    Parameters
    ----------
    assessment : Assessment
        The answer.

    Returns
    -------
    bytes
        UTF-8. Text that came with the request is escaped: it makes no heading, link, picture, table cell or HTML.
    """
    reference = f": {_t(assessment.reference)}" if assessment.reference else ""
    blocks = [
        f"# Supply assessment{reference}",
        f"**{_t(sign(assessment.disposition).word)}**",
        f"## {_t(assessment.headline)}",
        f"**{_t(assessment.next_action)}**",
        _points(f"**{_t(c.severity.upper())}** {_t(c.title)}" for c in warned_first(assessment)),
        _t(more_dangers(assessment)),
        "### Why",
        _t(sureness(assessment)),
        _points(_t(reason.text) for reason in assessment.confidence.reasons),
        "## The visit",
        _points(f"{_t(what)}: {_t(told) or _BLANK}" for what, told in heads(assessment)),
        "## For the customer",
        _t(for_customer(assessment)),
        *_table(
            ("Fault", "Probability"),
            ((_t(finding_words(c)), _t(percent(c.probability))) for c in assessment.candidates),
        ),
        *_readings(assessment),
        *_figures(assessment),
        *_listed("Checks", (_t(check.text) for check in assessment.checks)),
        *_next(assessment),
        *_cautions(assessment),
        *_listed("Assumed, because the request left it out", (_t(line) for line in assumptions(assessment))),
        "## Handed over",
        f"Name: {_BLANK}  Date: {_BLANK}  Signature: {_BLANK}",
        f"Model version {_t(assessment.model.version)}. {_t(UNSEEN)}",
    ]
    return ("\n\n".join(block for block in blocks if block) + "\n").encode()


def _t(text: str) -> str:
    """The text with every character that Markdown could read otherwise escaped, on one line."""
    escaped = _SPECIAL.sub(lambda match: f"\\{match.group()}", visible(text))
    return _LINK.sub(lambda match: f"{match.group(2) or ''}\\{match.group(1) or '.'}", escaped)


def _points(items: Iterable[str], indent: str = "") -> str:
    return "\n".join(f"{indent}- {item}" for item in items)


def _listed(title: str, items: Iterable[str]) -> list[str]:
    points = _points(items)
    return [f"## {title}", points] if points else []


def _table(titles: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    lines = [f"| {' | '.join(row)} |" for row in rows]
    head = [f"| {' | '.join(titles)} |", f"|{' --- |' * len(titles)}"]
    return ["\n".join([*head, *lines])] if lines else []


def _figures(assessment: Assessment) -> list[str]:
    rows = [(_t(title), _t(told)) for title, told in figure_rows(assessment)]
    table = _table((f"Quantity{if_it_holds(assessment)}", "Estimate (90 % interval)"), rows)
    limits = _points(_t(limit.meaning) for limit in assessment.detection_limits)
    hidden = ["### What these readings could not show", limits] if limits else []
    return ["## In figures", *table, *hidden] if table or hidden else []


def _readings(assessment: Assessment) -> list[str]:
    titles = ("Reading", "Value", "Sound range", "Flag", "Under the finding")
    table = _table(titles, (_reading(row) for row in rows(assessment)))
    return ["## Readings", *table] if table else []


def _reading(row: Row) -> tuple[str, ...]:
    name = f"{row.name}, {row.where}" if row.where else row.name
    return tuple(_t(text) for text in (name, row.value, row.sound, row.flag, row.found))


def _next(assessment: Assessment) -> list[str]:
    items = []
    for index, reading in enumerate(ahead(assessment)):
        # Not in bold: emphasis around text from outside may not close.
        told = f"{index + 1}. {_t(ended(reading.title))} {_t(reading.why)}"
        if index == 0:
            told = "\n".join([told, _points((_t(step) for step in reading.steps), "   ")])
        hazards = _points((_t(hazard) for hazard in hazards_words(assessment.next_readings, index)), "   ")
        items.append(f"{told}\n{hazards}" if hazards else told)
    return ["## What to read next", "\n".join(items)] if items else []


def _cautions(assessment: Assessment) -> list[str]:
    items = [
        f"{caution.rank}. **{_t(caution.severity.upper())}** {_t(caution_words(assessment, caution))}\n"
        f"   - Why here: {_t(caution.because)}\n"
        f"   - Basis: {_t(caution.basis)}"
        for caution in assessment.cautions
    ]
    return ["## Cautions", "\n".join(items)]
