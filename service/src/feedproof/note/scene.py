"""A drawing as a list of plain shapes with meanings for colors: drawn once, written as SVG or into a PDF.

Lengths are in drawing units, about one CSS pixel on a phone; y grows downward. Shapes name a role of the palette,
never a color.
"""

import math
from collections.abc import Iterable

import msgspec
from msgspec import Struct

Role = str

#: Width of every picture: the text inside stays readable on the narrowest phone.
WIDTH = 360.0

#: Sizes of letters: at least 11 CSS pixels where a phone of 360 shows the picture between the page's margins.
TEXT = 13.0
SMALL = 12.2

#: Mean width of a letter over its height, for eliding; generous, as fonts differ between machines.
_LETTER = 0.54
#: How much wider bold letters are.
_BOLD = 1.16


class Line(Struct, frozen=True, kw_only=True):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    stroke: Role
    width: float = 1.0
    dash: bool = False


class Polygon(Struct, frozen=True, kw_only=True):
    """A closed shape."""

    points: tuple[tuple[float, float], ...]
    fill: Role | None = None
    stroke: Role | None = None
    width: float = 1.0


class Circle(Struct, frozen=True, kw_only=True):
    """A circle, or a ring."""

    x: float
    y: float
    radius: float
    fill: Role | None = None
    stroke: Role | None = None
    width: float = 1.0
    dash: bool = False


class Text(Struct, frozen=True, kw_only=True):
    """One line of text; `y` is its baseline."""

    x: float
    y: float
    text: str
    fill: Role = "ink"
    size: float = TEXT
    anchor: str = "start"
    """`start`, `middle` or `end`."""
    bold: bool = False


Shape = Line | Polygon | Circle | Text


class Scene(Struct, frozen=True, kw_only=True):
    """One picture."""

    name: str
    """Short and fixed, for identifiers."""
    title: str
    description: str
    """What the picture shows, in words, figures included: for who cannot see it."""
    height: float
    shapes: tuple[Shape, ...]
    width: float = WIDTH


def rectangle(
    x: float, y: float, width: float, height: float, fill: Role | None = None, stroke: Role | None = None
) -> Polygon:
    """Upright rectangle from its top left corner."""
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Polygon(points=corners, fill=fill, stroke=stroke)


def diamond(x: float, y: float, radius: float, fill: Role | None, stroke: Role | None = None) -> Polygon:
    """The mark of the neutral."""
    points = ((x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y))
    return Polygon(points=points, fill=fill, stroke=stroke, width=1.6)


def arrow_head(x: float, y: float, size: float, fill: Role, *, right: bool) -> Polygon:
    """The end of an interval that goes on."""
    back = x - size if right else x + size
    return Polygon(points=((x, y), (back, y - size * 0.75), (back, y + size * 0.75)), fill=fill)


def hatching(x: float, y: float, width: float, height: float, stroke: Role, step: float = 4.0) -> list[Line]:
    """Diagonal lines that fill a rectangle: a filling that gray print keeps.

    The lines x + y = const, clipped to the rectangle.
    """
    lines = []
    count = int((width + height) / step)
    for index in range(1, count + 1):
        offset = index * step
        x1, y1 = (x + offset, y) if offset <= width else (x + width, y + offset - width)
        x2, y2 = (x, y + offset) if offset <= height else (x + offset - height, y + height)
        if math.hypot(x2 - x1, y2 - y1) > 0.5:  # noqa: PLR2004
            lines.append(Line(x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke))
    return lines


def elided(text: str, width: float, size: float = TEXT) -> str:
    """The text, cut with an ellipsis where it would be wider than `width` drawing units."""
    room = max(int(width / (size * _LETTER)), 4)
    return text if len(text) <= room else f"{text[: room - 1].rstrip()}…"


def wrapped(text: str, width: float, size: float = TEXT, most: int = 2, *, bold: bool = False) -> list[str]:
    """The text in at most `most` lines of `width` drawing units; the last one elided."""
    width /= _BOLD if bold else 1.0
    room = max(int(width / (size * _LETTER)), 4)
    lines: list[str] = []
    words = text.split(" ")
    while words and len(lines) < most - 1:
        line = words.pop(0)
        while words and len(line) + 1 + len(words[0]) <= room:
            line = f"{line} {words.pop(0)}"
        lines.append(elided(line, width, size))
    return [*lines, elided(" ".join(words), width, size)] if words else lines


def scene(name: str, title: str, description: str, height: float, shapes: Iterable[Shape]) -> Scene:
    """A picture of the usual width."""
    return Scene(name=name, title=title, description=description, height=height, shapes=tuple(shapes))


def shifted(shapes: Iterable[Shape], dx: float, dy: float) -> list[Shape]:
    """The shapes in another place."""
    return [_shifted(shape, dx, dy) for shape in shapes]


def _shifted(shape: Shape, dx: float, dy: float) -> Shape:
    if isinstance(shape, Line):
        moved = {"x1": shape.x1 + dx, "x2": shape.x2 + dx, "y1": shape.y1 + dy, "y2": shape.y2 + dy}
        return msgspec.structs.replace(shape, **moved)
    if isinstance(shape, Polygon):
        return msgspec.structs.replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
    return msgspec.structs.replace(shape, x=shape.x + dx, y=shape.y + dy)


def cross(x: float, y: float, reach: float, width: float = 3.0) -> list[Line]:
    """Two strokes over something that is lost or broken."""
    ends = ((-reach, reach), (reach, -reach))
    return [
        Line(x1=x - reach, y1=y + start, x2=x + reach, y2=y + end, stroke="danger", width=width) for start, end in ends
    ]
