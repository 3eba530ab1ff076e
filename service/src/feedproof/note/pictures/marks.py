"""Marks that several pictures share: the legs, whole and lost."""

from collections.abc import Iterator

from feedproof.note.scene import Circle, Shape, cross, rectangle

#: From here on the neutral is dangerous to touch: the figure of the caution on it [V].
DANGEROUS = 30.0

_RADIUS = 6.0


def leg_role(conductor: str) -> str:
    """Color of a leg."""
    return "first_leg" if conductor == "L1" else "second_leg"


def leg_mark(conductor: str, x: float, y: float, *, gone: bool) -> Iterator[Shape]:
    """A round L1, a square L2; crossed out and hollow where the leg is lost."""
    role = leg_role(conductor)
    fill = "paper" if gone else role
    if conductor == "L1":
        yield Circle(x=x, y=y, radius=_RADIUS, fill=fill, stroke=role, width=2.0)
    else:
        yield rectangle(x - _RADIUS, y - _RADIUS, 2.0 * _RADIUS, 2.0 * _RADIUS, fill, role)
    if gone:
        yield from cross(x, y, _RADIUS + 2.0)
