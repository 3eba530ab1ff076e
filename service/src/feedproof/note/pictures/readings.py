"""What was read, against what a sound supply and the finding would have given."""

import math
from collections.abc import Callable, Iterator

from feedproof.advice.identity import observed_words, what_words
from feedproof.advice.summary import evidence_words, expected_words
from feedproof.advice.wording import quantity, sentence
from feedproof.contract.assessment import Assessment, Evidence, Expected
from feedproof.note.scene import (
    SMALL,
    WIDTH,
    Line,
    Scene,
    Shape,
    Text,
    diamond,
    elided,
    hatching,
    rectangle,
    scene,
)

NAME = "readings"
TITLE = "Readings against what was to be expected"

_LEFT, _RIGHT = 6.0, WIDTH - 6.0
_TOP = 26.0
_ROW = 47.0
_MOST_ROWS = 12

#: Resistances span decades: their rows are logarithmic from here [ohm].
_LEAST_OHMS = 0.01


def draw(assessment: Assessment) -> Scene | None:
    """One row for each reading, on one scale for each unit; None without readings."""
    if not assessment.evidence:
        return None
    shown = assessment.evidence[:_MOST_ROWS]
    same = assessment.finding.fault == "none_found"
    shapes: list[Shape] = [*_key(finding=not same)]
    for index, entry in enumerate(shown):
        place = _place(entry, assessment.evidence)
        shapes += _row(entry, place, _TOP + index * _ROW, finding=not same)
    height = _TOP + len(shown) * _ROW
    if len(assessment.evidence) > _MOST_ROWS:
        more = f"and {len(assessment.evidence) - _MOST_ROWS} more in the table"
        shapes.append(Text(x=_LEFT, y=height + 10.0, text=more, size=SMALL, fill="muted"))
        height += 18.0
    words = [
        f"{sentence(evidence_words(entry))}; sound {expected_words(entry, sound=True)}; "
        f"under the finding {expected_words(entry, sound=False)}."
        for entry in assessment.evidence
    ]
    return scene(NAME, TITLE, " ".join(words), height, shapes)


def _place(entry: Evidence, every: list[Evidence]) -> Callable[[float], float]:
    """From a value to its place on the row, by the largest value of its unit."""
    peers = [other for other in every if other.observed.unit == entry.observed.unit]
    largest = max(
        max(other.observed.value, other.expected_if_sound.high, other.expected_under_finding.high) for other in peers
    )
    width = _RIGHT - _LEFT
    if entry.observed.unit == "ohm":
        decades = max(math.log10(max(largest, 1.0) / _LEAST_OHMS), 1.0)
        return lambda value: (
            _LEFT + width * min(max(math.log10(max(value, _LEAST_OHMS) / _LEAST_OHMS) / decades, 0.0), 1.0)
        )
    top = 1.0 if _is_signal(entry) else max(largest * 1.02, 1e-9)
    return lambda value: _LEFT + width * min(max(value / top, 0.0), 1.0)


def _is_signal(entry: Evidence) -> bool:
    return entry.identity is not None and entry.identity.kind == "proximity"


def _key(*, finding: bool) -> Iterator[Shape]:
    yield diamond(12.0, 9.0, 5.5, "ink")
    yield Text(x=24.0, y=13.0, text="read", size=SMALL, fill="muted")
    yield from _sound_band(68.0, 4.0, 24.0)
    yield Text(x=98.0, y=13.0, text="on a sound supply", size=SMALL, fill="muted")
    if finding:
        yield rectangle(210.0, 5.0, 24.0, 8.0, "finding")
        yield Text(x=240.0, y=13.0, text="under the finding", size=SMALL, fill="muted")


def _sound_band(x: float, y: float, width: float) -> list[Shape]:
    return [*hatching(x, y, width, 9.0, "sound", 3.5), rectangle(x, y, width, 9.0, None, "sound")]


def _row(entry: Evidence, place: Callable[[float], float], top: float, *, finding: bool) -> Iterator[Shape]:
    name = f"{entry.reading + 1}  {_what(entry)}"
    yield Text(x=_LEFT, y=top + 12.0, text=name, bold=True)
    yield Text(x=_RIGHT, y=top + 12.0, text=_observed(entry), anchor="end", bold=True)
    if entry.identity is not None:
        left = _LEFT + 7.4 * len(name) + 6.0
        where = elided(entry.identity.load_state, _RIGHT - 66.0 - left, SMALL)
        yield Text(x=left, y=top + 12.0, text=where, size=SMALL, fill="muted")
    y = top + 18.0
    yield Line(x1=_LEFT, y1=y + 20.0, x2=_RIGHT, y2=y + 20.0, stroke="rule")
    left, width = _span(entry.expected_if_sound, place)
    yield from _sound_band(left, y, width)
    if finding:
        left, width = _span(entry.expected_under_finding, place)
        yield rectangle(left, y + 11.0, width, 8.0, "finding")
    x = place(entry.observed.value)
    yield Line(x1=x, y1=y - 1.0, x2=x, y2=y + 20.0, stroke="ink", width=1.6)
    yield diamond(x, y + 20.0, 5.5, "ink", "paper")


def _span(expected: Expected, place: Callable[[float], float]) -> tuple[float, float]:
    left, right = place(expected.low), place(expected.high)
    width = max(right - left, 3.0)
    return min(left, _RIGHT - width), width


def _what(entry: Evidence) -> str:
    return f"reading {entry.reading + 1}" if entry.identity is None else what_words(entry.identity)


def _observed(entry: Evidence) -> str:
    if entry.identity is None:
        return quantity(entry.observed.value, entry.observed.unit)
    return observed_words(entry.observed, entry.identity)
