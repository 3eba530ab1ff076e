"""A picture that stands alone, with the finding and what warns of it beneath: nobody has the note beside it."""

from feedproof.advice.summary import warnings_first
from feedproof.contract.assessment import Assessment
from feedproof.note.scene import SMALL, WIDTH, Scene, Text, scene, wrapped

_LINE = 15.0
_MARGIN = 6.0
_MOST_LINES = 4


def warned(picture: Scene, assessment: Assessment) -> Scene:
    """The picture with headline, next action and the first cautions under it."""
    told = [(assessment.headline, True), (assessment.next_action, False)]
    told += [(f"{caution.severity.upper()}: {caution.title}", True) for caution in warnings_first(assessment)]
    shapes = [*picture.shapes]
    y = picture.height + _LINE
    for words, bold in told:
        for line in wrapped(words, WIDTH - 2.0 * _MARGIN, SMALL, _MOST_LINES):
            shapes.append(Text(x=_MARGIN, y=y, text=line, size=SMALL, bold=bold))
            y += _LINE
        y += _LINE / 3.0
    described = " ".join([picture.description, *(f"{words.rstrip('.')}." for words, _ in told)])
    return scene(picture.name, picture.title, described, y, shapes)
