"""Where the neutral stands between legs that another phase lies between (wye): a plane of phasors."""

import math
from collections.abc import Callable, Iterator

from feedproof.advice.summary import neutral_entries
from feedproof.advice.wording import quantity
from feedproof.contract.assessment import Assessment, LegVoltage, NeutralToGround
from feedproof.note.pictures.marks import DANGEROUS, leg_mark, leg_role
from feedproof.note.scene import SMALL, TEXT, WIDTH, Circle, Line, Scene, Shape, Text, diamond, elided, scene

NAME = "standing"
TITLE = "Where legs and neutral stand"

_MOST_ROWS = 8
_NUMBER = 12.0
"""Room that the number of a mark takes."""


def draw(assessment: Assessment, legs: tuple[LegVoltage, ...], gone: frozenset[str], *, calm: bool) -> Scene:
    """The picture; what is lost is crossed out, and no neutral is solid where the finding is not calm."""
    reach, x0 = 98.0, WIDTH * 0.47
    largest = max([leg.voltage for leg in legs] + [min(entry.high, 300.0) for entry in assessment.neutral_to_ground])
    scale = reach / largest
    entries = neutral_entries(assessment)[:_MOST_ROWS]
    y0 = 40.0 + scale * _height_above(entries, legs)
    top = y0 + scale * _height_above(entries, legs, -1.0) + 34.0

    def at(volts: float, angle: float) -> tuple[float, float]:
        turn = math.radians(angle)
        return x0 + volts * scale * math.cos(turn), y0 - volts * scale * math.sin(turn)

    shapes: list[Shape] = [
        Text(x=6.0, y=14.0, text="Voltages to the panel's ground, as phasors", size=SMALL, fill="muted"),
        Circle(x=x0, y=y0, radius=DANGEROUS * scale, stroke="rule", dash=True),
        Text(x=x0, y=y0 - DANGEROUS * scale - 4.0, text="30 V", anchor="middle", size=SMALL, fill="muted"),
        Line(x1=x0 - 4.0, y1=y0, x2=x0 + 4.0, y2=y0, stroke="ink", width=1.6),
        Line(x1=x0, y1=y0 - 4.0, x2=x0, y2=y0 + 4.0, stroke="ink", width=1.6),
    ]
    for leg in legs:
        x, y = at(leg.voltage, leg.angle)
        shapes.append(Line(x1=x0, y1=y0, x2=x, y2=y, stroke=leg_role(leg.conductor), width=2.0))
        shapes += leg_mark(leg.conductor, x, y, gone=leg.conductor in gone)
        beside = x + 10.0 if x >= x0 else x - 10.0
        anchor = "start" if x >= x0 else "end"
        label = f"{leg.conductor} {quantity(leg.voltage, 'V')}"
        shapes.append(
            Text(x=beside, y=y + 4.0, text=label, anchor=anchor, bold=True, fill=leg_role(leg.conductor), size=SMALL)
        )
    numbers: list[Text] = []
    for number, entry in enumerate(entries, start=1):
        shapes += _phasor(entry, at, scale, (x0, y0), calm=calm)
        numbers.append(_beside(*_place(entry, at), str(number), numbers))
        shapes += _legend(entry, number, top + 30.0 * (number - 1))
    shapes += numbers
    height = top + 30.0 * max(len(entries), 1)
    if not entries:
        shapes.append(Text(x=6.0, y=top, text="These readings give no estimate of the neutral.", fill="muted"))
    return scene(NAME, TITLE, _description(assessment, legs), height, shapes)


def _height_above(entries: list[NeutralToGround], legs: tuple[LegVoltage, ...], sign: float = 1.0) -> float:
    """How far the drawing reaches above the middle (below it with sign -1) [V]."""
    reach = [DANGEROUS, *(sign * leg.voltage * math.sin(math.radians(leg.angle)) for leg in legs)]
    for entry in entries:
        turn = 1.0 if entry.angle is None else sign * math.sin(math.radians(entry.angle))
        reach.append(min(entry.high, 300.0) * turn)
    return max(reach)


def _phasor(
    entry: NeutralToGround,
    at: Callable[[float, float], tuple[float, float]],
    scale: float,
    origin: tuple[float, float],
    *,
    calm: bool,
) -> Iterator[Shape]:
    if entry.angle is None:
        for volts in {entry.low, entry.high}:
            yield Circle(x=origin[0], y=origin[1], radius=max(volts * scale, 1.0), stroke="finding", dash=True)
        fill = "paper"
    else:
        (x1, y1), (x2, y2) = at(entry.low, entry.angle), at(entry.high, entry.angle)
        yield Line(x1=x1, y1=y1, x2=x2, y2=y2, stroke="finding", width=6.0)
        fill = "ink" if calm or entry.value >= DANGEROUS else "paper"
    yield diamond(*_place(entry, at), 6.0, fill, "ink" if calm else "danger")


def _place(entry: NeutralToGround, at: Callable[[float, float], tuple[float, float]]) -> tuple[float, float]:
    """Where the mark stands; with the phase unknown somewhere on the ring, away from the legs."""
    return at(entry.value, 60.0 if entry.angle is None else entry.angle)


def _beside(x: float, y: float, number: str, others: list[Text]) -> Text:
    """The number of a mark, above those of the marks that it nearly covers."""
    top = y - 6.0
    while any(abs(other.x - x - 9.0) < _NUMBER and abs(other.y - top) < _NUMBER for other in others):
        top -= _NUMBER
    return Text(x=x + 9.0, y=top, text=number, bold=True, size=SMALL)


def _legend(entry: NeutralToGround, number: int, y: float) -> Iterator[Shape]:
    yield Text(x=6.0, y=y, text=f"{number}", bold=True)
    yield Text(x=24.0, y=y, text=elided(entry.display, WIDTH - 30.0, TEXT), bold=True)
    yield Text(x=24.0, y=y + 13.0, text=elided(entry.title, WIDTH - 30.0, SMALL), size=SMALL)


def _description(assessment: Assessment, legs: tuple[LegVoltage, ...]) -> str:
    stands = ", ".join(f"{leg.conductor} at {quantity(leg.voltage, 'V')}" for leg in legs)
    parts = [f"Voltages to the grounded point at the panel. Legs: {stands}."]
    parts += [f"{entry.title}: {entry.display}." for entry in neutral_entries(assessment)]
    if not assessment.neutral_to_ground:
        parts.append("These readings give no estimate of the neutral.")
    return " ".join(parts)
