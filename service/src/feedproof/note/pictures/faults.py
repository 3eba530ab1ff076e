"""How probable each fault is, the finding first."""

from feedproof.advice.summary import finding_words
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Assessment, Candidate
from feedproof.note.scene import SMALL, WIDTH, Scene, Shape, Text, elided, hatching, rectangle, scene

NAME = "faults"
TITLE = "Probability of each fault"

_ROW = 29.0
_MOST_ROWS = 7
_LEFT = 6.0
_TRACK = WIDTH - 2.0 * _LEFT


def draw(assessment: Assessment) -> Scene | None:
    """One bar for each candidate; None where there is none."""
    candidates = assessment.candidates[:_MOST_ROWS]
    if not candidates:
        return None
    shapes: list[Shape] = []
    for index, candidate in enumerate(candidates):
        shapes += _bar(candidate, index * _ROW, first=index == 0)
    height = len(candidates) * _ROW + 4.0
    rest = assessment.candidates[_MOST_ROWS:]
    if rest:
        together = percent(sum(candidate.probability for candidate in rest))
        shapes.append(
            Text(x=_LEFT, y=height + 10.0, text=f"{len(rest)} more, together {together}", size=SMALL, fill="muted")
        )
        height += 18.0
    words = "; ".join(f"{finding_words(entry)} {percent(entry.probability)}" for entry in assessment.candidates)
    return scene(NAME, TITLE, f"{words}.", height, shapes)


def _bar(candidate: Candidate, top: float, *, first: bool) -> list[Shape]:
    length = _TRACK * candidate.probability
    y = top + 18.0
    # The first is bold, and may be "over 99.9 %".
    name = elided(finding_words(candidate), _TRACK - (125.0 if first else 70.0))
    shapes: list[Shape] = [
        Text(x=_LEFT, y=top + 14.0, text=name, bold=first),
        Text(x=WIDTH - _LEFT, y=top + 14.0, text=percent(candidate.probability), anchor="end", bold=first),
        rectangle(_LEFT, y, _TRACK, 7.0, "panel"),
    ]
    if first:
        return [*shapes, rectangle(_LEFT, y, length, 7.0, "finding")]
    return [*shapes, *hatching(_LEFT, y, length, 7.0, "muted", 3.0), rectangle(_LEFT, y, length, 7.0, None, "muted")]
