"""The assessment as plain text, as wide as the terminal that shows it."""

import textwrap
from collections.abc import Callable, Iterable

from feedproof.advice.inert import visible
from feedproof.advice.summary import ahead, figure_rows, finding_words, hazards_words, if_it_holds, sureness
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Assessment
from feedproof.note.signs import sign
from feedproof.note.words import (
    assumptions,
    caution_words,
    ended,
    for_customer,
    heads,
    more_dangers,
    rows,
    warned_first,
)

#: Columns where nobody says how wide it is to be, and the fewest and most that a line takes.
WIDTH, NARROWEST, WIDEST = 100, 40, 120

_BAR = 20
#: Eighths of a column, so that a share of a few parts in a thousand is seen to be less than one in a hundred.
_EIGHTHS = " ▏▎▍▌▋▊▉"

_Wrap = Callable[..., list[str]]


def render_text(assessment: Assessment, width: int = WIDTH) -> str:
    """The whole answer to read: outcome and finding, what to do first, figures, next readings, cautions, grounds.

    Parameters
    ----------
    assessment : Assessment
        The answer.
    width : int
        Columns; held between `NARROWEST` and `WIDEST`.

    Returns
    -------
    str
        Lines of at most `width` characters; ends with a newline. The finding stands in the second line. Hidden
        characters in names that came with the request are written out.
    """
    columns = min(max(width, NARROWEST), WIDEST)

    def wrap(text: str, indent: str, first: str | None = None) -> list[str]:
        return textwrap.wrap(
            visible(text),
            columns,
            initial_indent=indent if first is None else first,
            subsequent_indent=indent,
            break_on_hyphens=False,
            break_long_words=True,
        )

    reference = f" for {visible(assessment.reference)}" if assessment.reference else ""
    lines = textwrap.shorten(f"Supply assessment{reference}", columns, placeholder=" …").splitlines()
    lines += [*wrap(f"{sign(assessment.disposition).word}: {assessment.headline}", "  ", ""), ""]
    lines += _section(wrap, "FIRST", [assessment.next_action], _dangers(assessment))
    reasons = (reason.text for reason in assessment.confidence.reasons)
    lines += _section(wrap, "WHY", [sureness(assessment)], reasons)
    visit = [f"{what}: {told}" for what, told in heads(assessment) if told]
    lines += _section(wrap, "THE VISIT", visit)
    lines += _section(wrap, "FOR THE CUSTOMER", [for_customer(assessment)])
    lines += _candidates(wrap, assessment)
    lines += _readings(wrap, assessment)
    figures = (f"{title}: {told}" for title, told in figure_rows(assessment))
    lines += _section(wrap, f"IN FIGURES{if_it_holds(assessment).upper()}", figures)
    limits = (limit.meaning for limit in assessment.detection_limits)
    lines += _section(wrap, "WHAT THESE READINGS COULD NOT SHOW", limits)
    lines += _section(wrap, "CHECKS: READINGS THAT DO NOT GO TOGETHER", (check.text for check in assessment.checks))
    lines += _next(wrap, assessment)
    lines += _cautions(wrap, assessment)
    lines += _section(wrap, "ASSUMED, BECAUSE THE REQUEST LEFT IT OUT", assumptions(assessment))
    lines += _section(wrap, "MODEL", [f"Version {assessment.model.version}{reference}"])
    return "\n".join(lines).rstrip("\n") + "\n"


def _section(wrap: _Wrap, title: str, paragraphs: Iterable[str], points: Iterable[str] = ()) -> list[str]:
    lines = [line for paragraph in paragraphs for line in wrap(paragraph, "  ")]
    lines += [line for point in points for line in wrap(point, "    ", "  - ")]
    return [*wrap(title, "  ", ""), *lines, ""] if lines else []


def _dangers(assessment: Assessment) -> list[str]:
    told = [f"{caution.severity.upper()}: {caution.title}" for caution in warned_first(assessment)]
    return [*told, more] if (more := more_dangers(assessment)) else told


def bar(share: float) -> str:
    """A share of 1 as a bar, to an eighth of a column."""
    eighths = round(8 * _BAR * share)
    return ("█" * (eighths // 8) + _EIGHTHS[eighths % 8]).strip()


def _candidates(wrap: _Wrap, assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for candidate in assessment.candidates:
        head = f"  {percent(candidate.probability):>12} {bar(candidate.probability):<{_BAR}} "
        lines += wrap(finding_words(candidate), " " * 16, head)
    return ["PROBABILITY OF EACH FAULT", *lines, ""] if lines else []


def _next(wrap: _Wrap, assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for index, reading in enumerate(ahead(assessment)):
        lines += [*wrap(ended(reading.title), "     ", f"  {index + 1}. "), *wrap(reading.why, "     ")]
        for step in reading.steps if index == 0 else ():
            lines += wrap(step, "       ", "     - ")
        for hazard in hazards_words(assessment.next_readings, index):
            lines += wrap(hazard, "       ", "     ! ")
    return ["NEXT READINGS, THE MOST TELLING FIRST", *lines, ""] if lines else []


def _readings(wrap: _Wrap, assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for row in rows(assessment):
        lines += wrap(f"{row.name}: {row.value}  {row.flag}", "     ", "  ")
        where = f"{row.where}: " if row.where else ""
        lines += wrap(f"{where}sound range {row.sound}; under the finding {row.found}", "     ")
    return ["READINGS AGAINST THEIR SOUND RANGE", *lines, ""] if lines else []


def _cautions(wrap: _Wrap, assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for caution in assessment.cautions:
        lines += wrap(
            f"{caution.severity.upper()}: {caution_words(assessment, caution)}", "    ", f"  {caution.rank}. "
        )
        lines += wrap(f"Why here: {caution.because}", "    ")
        lines += wrap(f"Basis: {caution.basis}", "    ")
    return ["CAUTIONS", *lines, ""] if lines else []
