"""What to do with the job as a word, a shape and an outline: told apart without color, on a screen and on paper."""

from msgspec import Struct

from feedproof.note.scene import Circle, Polygon, Shape, rectangle

#: Side of the square that a shape fills.
SIZE = 24.0


class Sign(Struct, frozen=True, kw_only=True):
    """How one disposition looks."""

    word: str
    ink: str
    """Role of the band's color."""
    shapes: tuple[Shape, ...]
    """In a square of `SIZE`, in the roles `paper` on a band of `ink`."""


def _polygon(*points: tuple[float, float], fill: str = "paper") -> Polygon:
    return Polygon(points=points, fill=fill)


_OCTAGON = ((7.5, 1.0), (16.5, 1.0), (23.0, 7.5), (23.0, 16.5), (16.5, 23.0), (7.5, 23.0), (1.0, 16.5), (1.0, 7.5))
_ARROW = ((1.0, 9.0), (11.0, 9.0), (11.0, 3.0), (23.0, 12.0), (11.0, 21.0), (11.0, 15.0), (1.0, 15.0))
_HEXAGON = ((6.0, 2.0), (18.0, 2.0), (23.0, 12.0), (18.0, 22.0), (6.0, 22.0), (1.0, 12.0))

#: None of them is a check mark: no supply is ever passed as safe.
SIGNS: dict[str, Sign] = {
    "stop_and_refer": Sign(
        word="STOP AND HAND OVER", ink="danger", shapes=(_polygon(*_OCTAGON), rectangle(5.0, 10.0, 14.0, 4.0, "danger"))
    ),
    "repair_and_retest": Sign(
        word="REPAIR, THEN READ AGAIN",
        ink="finding",
        shapes=(_polygon(*_HEXAGON), Circle(x=12.0, y=12.0, radius=5.0, fill="finding")),
    ),
    "take_more_readings": Sign(word="NOT DECIDED: READ ON", ink="ink", shapes=(_polygon(*_ARROW),)),
    "no_supply_fault_found": Sign(
        word="NO SUPPLY FAULT FOUND",
        ink="muted",
        shapes=(Circle(x=12.0, y=12.0, radius=9.0, stroke="paper", width=4.0),),
    ),
}


def sign(disposition: str) -> Sign:
    """The sign of a disposition; of one that later versions add, that of reading on."""
    return SIGNS.get(disposition, SIGNS["take_more_readings"])
