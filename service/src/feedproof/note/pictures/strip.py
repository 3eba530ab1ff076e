"""One reading on a scale of its own: the sound range fills the middle third, whatever the unit."""

from feedproof.contract.assessment import Evidence
from feedproof.note.scene import Line, Scene, Shape, arrow_head, diamond, hatching, rectangle

WIDTH = 120.0
HEIGHT = 20.0
_LEFT, _RIGHT = 8.0, WIDTH - 8.0
_THIRD = (_RIGHT - _LEFT) / 3.0
_MIDDLE = HEIGHT / 2.0


def place(entry: Evidence) -> float:
    """Where the reading stands: 0 at the low end of the sound range, 1 at its high end; not held to the strip."""
    sound, seen = entry.expected_if_sound, entry.observed.value
    # Over range is a lower bound: where that leaves room, it stands at the end of the sound range.
    seen = max(seen, sound.high) if entry.observed.over_range else seen
    # A range of no width (a detector's) still needs a side: a twentieth of what there is.
    width = max(sound.high - sound.low, 0.05 * max(sound.high, seen), 1e-9)
    return (seen - sound.low) / width


def draw(entry: Evidence) -> Scene:
    """The strip; a reading beyond its ends is an arrow that points on."""
    where = place(entry)
    x = _LEFT + _THIRD * (1.0 + where)
    shapes: list[Shape] = [Line(x1=_LEFT, y1=_MIDDLE, x2=_RIGHT, y2=_MIDDLE, stroke="rule", width=1.4)]
    shapes += hatching(_LEFT + _THIRD, _MIDDLE - 5.0, _THIRD, 10.0, "sound", 3.5)
    shapes.append(rectangle(_LEFT + _THIRD, _MIDDLE - 5.0, _THIRD, 10.0, None, "sound"))
    ink = "ink" if entry.flag == "as_expected" else "danger"
    if not _LEFT <= x <= _RIGHT:
        right = x > _RIGHT
        shapes.append(arrow_head(WIDTH - 1.0 if right else 1.0, _MIDDLE, 10.0, ink, right=right))
    else:
        shapes.append(diamond(x, _MIDDLE, 6.0, ink, "paper"))
    told = {"low": "below", "high": "above"}.get(entry.flag, "as")
    return Scene(
        name=f"strip-{entry.reading + 1}",
        title=f"Reading {entry.reading + 1}",
        description=f"{told.capitalize()} what a sound supply gives.",
        height=HEIGHT,
        width=WIDTH,
        shapes=tuple(shapes),
    )
