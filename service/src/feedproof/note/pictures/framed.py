"""Finding, danger and model version around a picture, so that each one can stand alone."""

import msgspec

from feedproof.contract.assessment import Assessment
from feedproof.note.scene import SMALL, TEXT, WIDTH, Scene, Shape, Text, rectangle, scene, shifted, wrapped
from feedproof.note.signs import SIZE, sign
from feedproof.note.words import dangers

_LINE = 14.6
_EDGE = 8.0
_MOST_LINES = 5


def is_calm(assessment: Assessment) -> bool:
    """Whether a picture may be drawn as of a sound supply: only where no fault was found, and that is decided."""
    return assessment.disposition == "no_supply_fault_found" and assessment.finding.place == "none"


def framed(pictures: list[Scene], assessment: Assessment, *, whole: bool) -> Scene:
    """Pictures beneath each other, the outcome above them and what warns beneath.

    Parameters
    ----------
    pictures : list of Scene
        One or more.
    assessment : Assessment
        What they show.
    whole : bool
        With the next action and every danger; else the first danger alone, the note beside it having the rest.

    Returns
    -------
    Scene
        Named and titled as the first.
    """
    warned = dangers(assessment) if whole else dangers(assessment)[:1]
    above = [(assessment.headline, True)] + ([(assessment.next_action, False)] if whole else [])
    beneath = [(f"{caution.severity.upper()}: {caution.title}", True, "danger") for caution in warned]
    reference = assessment.reference or "none given"
    beneath.append((f"Model version {assessment.model.version}. Reference: {reference}", False, "muted"))
    shapes: list[Shape] = []
    y = _band(shapes, assessment.disposition)
    for words, bold in above:
        y = _told(shapes, words, y, bold=bold, fill="ink")
    for picture in pictures:
        if len(pictures) > 1:
            y = _told(shapes, picture.title, y + 4.0, bold=True, fill="muted")
        shapes += shifted(picture.shapes, 0.0, y + 6.0)
        y += picture.height + 6.0
    for words, bold, fill in beneath:
        y = _told(shapes, words, y, bold=bold, fill=fill)
    described = [sign(assessment.disposition).word.capitalize(), *(text.rstrip(".") for text, _ in above)]
    described += [picture.description.rstrip(".") for picture in pictures] + [text for text, *_ in beneath]
    border = [] if is_calm(assessment) else [_border(y + 6.0, sign(assessment.disposition).ink)]
    first = pictures[0]
    return scene(first.name, first.title, ". ".join(described), y + 8.0, [*shapes, *border])


def _band(shapes: list[Shape], disposition: str) -> float:
    shown = sign(disposition)
    shapes += [rectangle(0.0, 0.0, WIDTH, SIZE + 10.0, shown.ink), *shifted(shown.shapes, 8.0, 5.0)]
    shapes.append(Text(x=SIZE + 18.0, y=22.0, text=shown.word, size=TEXT + 1.0, bold=True, fill="paper"))
    return SIZE + 12.0


def _border(height: float, ink: str) -> Shape:
    return msgspec.structs.replace(rectangle(1.0, 1.0, WIDTH - 2.0, height, None, ink), width=2.0)


def _told(shapes: list[Shape], words: str, y: float, *, bold: bool, fill: str) -> float:
    for line in wrapped(words, WIDTH - 2.0 * _EDGE, SMALL, _MOST_LINES, bold=bold):
        y += _LINE
        shapes.append(Text(x=_EDGE, y=y, text=line, size=SMALL, bold=bold, fill=fill))
    return y + 3.0
