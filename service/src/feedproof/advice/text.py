"""The assessment as plain text for a terminal, 100 columns wide."""

import textwrap
from collections.abc import Iterable

from feedproof.advice.inert import visible
from feedproof.advice.summary import (
    ahead,
    assumed_lines,
    bits_words,
    evidence_words,
    expected_words,
    figure_rows,
    finding_words,
    hazards_words,
    if_it_holds,
    sureness,
    warnings_first,
)
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Assessment

#: Columns of the text.
WIDTH = 100

_BAR = 40


def render_text(assessment: Assessment) -> str:
    """The whole answer to read: what was found and what to do first, figures, next readings, cautions, grounds.

    Parameters
    ----------
    assessment : Assessment
        The answer.

    Returns
    -------
    str
        Lines of at most `WIDTH` characters, save for words that are longer; ends with a newline. Hidden characters
        in names that came with the request are written out.
    """
    reference = f" for {visible(assessment.reference)}" if assessment.reference else ""
    lines = [*_wrapped(f"Supply assessment{reference}", ""), ""]
    lines += _section("FIRST", [assessment.headline, assessment.next_action], _warnings(assessment))
    reasons = (reason.text for reason in assessment.confidence.reasons)
    lines += _section("HOW SURE", [sureness(assessment)], reasons)
    lines += _candidates(assessment)
    figures = (f"{title}: {told}" for title, told in figure_rows(assessment))
    lines += _section(f"IN FIGURES{if_it_holds(assessment).upper()}", figures)
    lines += _section("WHAT THESE READINGS COULD NOT SHOW", (limit.meaning for limit in assessment.detection_limits))
    lines += _next(assessment)
    lines += _readings(assessment)
    lines += _section("CHECKS: READINGS THAT DO NOT GO TOGETHER", (check.text for check in assessment.checks))
    lines += _cautions(assessment)
    lines += _section("ASSUMED, BECAUSE THE REQUEST LEFT IT OUT", assumed_lines(assessment))
    model = f"Version {assessment.model.version}, priors {assessment.model.priors_digest}"
    lines += _section("MODEL", [model])
    return "\n".join(lines).rstrip("\n") + "\n"


def _wrapped(text: str, indent: str, first: str | None = None) -> list[str]:
    return textwrap.wrap(
        visible(text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_on_hyphens=False,
        break_long_words=True,
    )


def _section(title: str, paragraphs: Iterable[str], points: Iterable[str] = ()) -> list[str]:
    lines = [line for paragraph in paragraphs for line in _wrapped(paragraph, "  ")]
    lines += [line for point in points for line in _wrapped(point, "    ", "  - ")]
    return [title, *lines, ""] if lines else []


def _warnings(assessment: Assessment) -> list[str]:
    return [f"{caution.severity.upper()}: {caution.title}" for caution in warnings_first(assessment)]


def _candidates(assessment: Assessment) -> list[str]:
    lines = []
    for candidate in assessment.candidates:
        name = visible(finding_words(candidate))
        bar = "#" * max(round(_BAR * candidate.probability), 1)
        lines.append(f"  {percent(candidate.probability):>12}  {bar:<{_BAR}}  {name}")
    return ["PROBABILITY OF EACH FAULT", *(line.rstrip() for line in lines), ""] if lines else []


def _next(assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for index, reading in enumerate(ahead(assessment)):
        told = f"{reading.title} ({reading.information:.2g} bit)."
        lines += [*_wrapped(told, "     ", f"  {index + 1}. "), *_wrapped(reading.why, "     ")]
        for hazard in hazards_words(assessment.next_readings, index):
            lines += _wrapped(hazard, "       ", "     ! ")
    return ["NEXT READINGS, THE MOST TELLING FIRST", *lines, ""] if lines else []


def _readings(assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for entry in assessment.evidence:
        lines += _wrapped(evidence_words(entry), "     ", f"  {entry.reading + 1}. ")
        sound, finding = (expected_words(entry, sound=which) for which in (True, False))
        lines += _wrapped(f"on a sound supply {sound}; under the finding {finding}; {bits_words(entry.bits)}", "     ")
    return ["READINGS, OBSERVED AND EXPECTED", *lines, ""] if lines else []


def _cautions(assessment: Assessment) -> list[str]:
    lines: list[str] = []
    for caution in assessment.cautions:
        lines += _wrapped(f"{caution.severity.upper()}: {caution.text}", "    ", f"  {caution.rank}. ")
        lines += _wrapped(f"Why here: {caution.because}", "    ")
        lines += _wrapped(f"Basis: {caution.basis}", "    ")
    return ["CAUTIONS", *lines, ""] if lines else []
