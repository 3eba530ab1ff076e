"""Where the neutral sits between the legs, in each load state and while a meter is connected.

Legs that lie on one line (split phase, single phase, the two 120 V legs of a high-leg delta) give a line from L1
over the grounded point to L2. Legs with another phase between them (wye) give a plane of phasors.
"""

import math
from collections.abc import Callable, Iterator

from feedproof.advice.summary import neutral_entries
from feedproof.advice.wording import quantity, span
from feedproof.contract.assessment import Assessment, LegVoltage, NeutralToGround
from feedproof.note.scene import (
    SMALL,
    TEXT,
    WIDTH,
    Circle,
    Line,
    Scene,
    Shape,
    Text,
    arrow_head,
    diamond,
    elided,
    rectangle,
    scene,
    wrapped,
)

NAME = "neutral"
TITLE = "Where the neutral sits between the legs"

#: From here on the neutral is dangerous to touch: the figure of the caution on it [V].
DANGEROUS = 30.0

_MARGIN = 30.0
_ROW = 62.0
_TOP = 58.0
_MOST_ROWS = 8
_MARK = 7.0
_NUMBER = 11.0
"""Room that the number of a mark takes."""
_NOMINAL = (LegVoltage(conductor="L1", voltage=120.0, angle=0.0, unit="V"),)

_ALONG = 1e-6


def draw(assessment: Assessment) -> Scene:
    """The picture; with nothing estimated it shows the legs alone and says so."""
    legs = tuple(assessment.supply.legs) if assessment.supply is not None else _NOMINAL
    if all(abs(math.sin(math.radians(leg.angle))) < _ALONG for leg in legs):
        return _on_a_line(assessment, legs)
    return _on_a_plane(assessment, legs)


def _description(assessment: Assessment, legs: tuple[LegVoltage, ...]) -> str:
    stands = ", ".join(f"{leg.conductor} at {quantity(leg.voltage, 'V')}" for leg in legs)
    parts = [f"Voltages to the grounded point at the panel. Legs: {stands}."]
    parts += [f"{entry.title}: {entry.display}." for entry in neutral_entries(assessment)]
    if not assessment.neutral_to_ground:
        parts.append("These readings give no estimate of the neutral.")
    return " ".join(parts)


def _on_a_line(assessment: Assessment, legs: tuple[LegVoltage, ...]) -> Scene:
    left = max((leg.voltage for leg in legs if math.cos(math.radians(leg.angle)) > 0), default=120.0)
    right = max((leg.voltage for leg in legs if math.cos(math.radians(leg.angle)) < 0), default=0.3 * left)
    scale = (WIDTH - 2.0 * _MARGIN) / (left + right)
    axis = _Axis(scale=scale, zero=_MARGIN + left * scale, left=left, right=right)
    given = neutral_entries(assessment)
    entries = given[:_MOST_ROWS]
    rows = max(len(entries), 1)
    bottom = _TOP + rows * _ROW - 14.0
    shapes = [*_line_head(axis, legs)]
    for index, entry in enumerate(entries):
        shapes += _row(axis, entry, _TOP + index * _ROW)
    if not entries:
        shapes.append(Text(x=_MARGIN, y=_TOP + 16.0, text="These readings give no estimate.", fill="muted"))
    height = bottom + 10.0
    if len(given) > _MOST_ROWS:
        height += 18.0
        more = f"and {len(given) - _MOST_ROWS} more in the list beside"
        shapes.append(Text(x=_MARGIN, y=height - 8.0, text=more, fill="muted", size=SMALL))
    return scene(NAME, TITLE, _description(assessment, legs), height, shapes)


class _Axis:
    """From volts toward L1 to drawing units; L1 is at the left."""

    def __init__(self, *, scale: float, zero: float, left: float, right: float) -> None:
        self.scale, self.zero, self.left, self.right = scale, zero, left, right

    def x(self, volts: float) -> float:
        """Place of a voltage, held inside the picture."""
        return min(max(self.zero - volts * self.scale, 8.0), WIDTH - 8.0)

    def outside(self, volts: float) -> bool:
        """Whether the place had to be held."""
        return not 8.0 <= self.zero - volts * self.scale <= WIDTH - 8.0  # noqa: PLR2004


def _line_head(axis: _Axis, legs: tuple[LegVoltage, ...]) -> Iterator[Shape]:
    yield Text(x=axis.zero, y=14.0, text="ground 0 V", anchor="middle", size=SMALL, fill="muted")
    yield Line(x1=axis.zero, y1=18.0, x2=axis.zero, y2=34.0, stroke="rule")
    for volts in (DANGEROUS, -DANGEROUS):
        if -axis.right < volts < axis.left:
            yield Line(x1=axis.x(volts), y1=32.0, x2=axis.x(volts), y2=38.0, stroke="rule")
            yield Text(x=axis.x(volts), y=30.0, text="30 V", anchor="middle", size=SMALL, fill="muted")
    for leg in legs:
        toward = leg.voltage * math.cos(math.radians(leg.angle))
        anchor = "start" if toward > 0 else "end"
        edge = 6.0 if toward > 0 else WIDTH - 6.0
        text = f"{leg.conductor}  {quantity(leg.voltage, 'V')}"
        yield Text(x=edge, y=14.0, text=text, anchor=anchor, bold=True, fill=_leg_role(leg))
        yield from _leg_mark(leg, axis.x(toward), 26.0)


def _leg_role(leg: LegVoltage) -> str:
    return "first_leg" if leg.conductor == "L1" else "second_leg"


def _leg_mark(leg: LegVoltage, x: float, y: float) -> Iterator[Shape]:
    if leg.conductor == "L1":
        yield Circle(x=x, y=y, radius=5.0, fill="first_leg")
    else:
        yield rectangle(x - 5.0, y - 5.0, 10.0, 10.0, "second_leg")


def _row(axis: _Axis, entry: NeutralToGround, top: float) -> Iterator[Shape]:
    lines = wrapped(entry.title, 230.0, SMALL)
    for index, line in enumerate(lines):
        yield Text(x=6.0, y=top + 12.0 + 12.0 * index, text=line, size=SMALL)
    yield Text(x=WIDTH - 6.0, y=top + 12.0, text=_value(entry), anchor="end", bold=True)
    interval = span(entry.low, entry.high, "V") if entry.bound == "two_sided" else "90 % bound"
    yield Text(x=WIDTH - 6.0, y=top + 24.0, text=interval, anchor="end", size=SMALL, fill="muted")
    y = top + 38.0
    yield Line(x1=axis.x(axis.left), y1=y, x2=axis.x(-axis.right), y2=y, stroke="rule", width=1.2)
    for volts in (axis.left, -axis.right):
        yield Line(x1=axis.x(volts), y1=y - 5.0, x2=axis.x(volts), y2=y + 5.0, stroke="rule", width=1.2)
    yield Line(x1=axis.zero, y1=y - 9.0, x2=axis.zero, y2=y + 9.0, stroke="rule", width=1.2)
    for volts in (DANGEROUS, -DANGEROUS):
        if -axis.right < volts < axis.left:
            yield Line(x1=axis.x(volts), y1=y - 9.0, x2=axis.x(volts), y2=y + 9.0, stroke="rule", dash=True)
    yield from _interval(axis, entry, y)


def _value(entry: NeutralToGround) -> str:
    if entry.bound == "at_least":
        return f"≥ {quantity(entry.low, 'V')}"
    return f"≤ {quantity(entry.high, 'V')}" if entry.bound == "at_most" else quantity(entry.value, "V")


def _signs(entry: NeutralToGround) -> tuple[float, ...]:
    """+1 toward L1, -1 toward L2; both where the side is not known."""
    if entry.angle is None:
        return (1.0, -1.0)
    return (1.0,) if math.cos(math.radians(entry.angle)) >= 0 else (-1.0,)


def _interval(axis: _Axis, entry: NeutralToGround, y: float) -> Iterator[Shape]:
    low = 0.0 if entry.bound == "at_most" else entry.low
    for sign in _signs(entry):
        high = (axis.left if sign > 0 else axis.right) if entry.bound == "at_least" else entry.high
        ends = sorted((axis.x(sign * low), axis.x(sign * high)))
        yield rectangle(ends[0], y - 4.0, max(ends[1] - ends[0], 2.0), 8.0, "finding")
        if entry.bound == "at_least" or axis.outside(sign * entry.high):
            yield arrow_head(axis.x(sign * high) - 3.0 * sign, y, 9.0, "finding", right=sign < 0)
    if entry.bound != "two_sided":
        return
    if entry.angle is None and entry.value * axis.scale < _MARK:
        # So near the middle that both sides are one place.
        yield diamond(axis.zero, y, _MARK, "ink", "ink")
        return
    for sign in _signs(entry):
        # An unknown side: hollow marks on both, so that neither is taken for the answer.
        fill = "paper" if entry.angle is None and entry.value > 0 else "ink"
        yield diamond(axis.x(sign * entry.value), y, _MARK, fill, "ink")


def _on_a_plane(assessment: Assessment, legs: tuple[LegVoltage, ...]) -> Scene:
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
        Text(x=6.0, y=14.0, text="Voltages to ground as phasors", size=SMALL, fill="muted"),
        Circle(x=x0, y=y0, radius=DANGEROUS * scale, stroke="rule", dash=True),
        Text(x=x0, y=y0 - DANGEROUS * scale - 4.0, text="30 V", anchor="middle", size=SMALL, fill="muted"),
        Line(x1=x0 - 4.0, y1=y0, x2=x0 + 4.0, y2=y0, stroke="ink", width=1.6),
        Line(x1=x0, y1=y0 - 4.0, x2=x0, y2=y0 + 4.0, stroke="ink", width=1.6),
    ]
    for leg in legs:
        x, y = at(leg.voltage, leg.angle)
        shapes.append(Line(x1=x0, y1=y0, x2=x, y2=y, stroke=_leg_role(leg), width=2.0))
        shapes += _leg_mark(leg, x, y)
        beside = x + 10.0 if x >= x0 else x - 10.0
        anchor = "start" if x >= x0 else "end"
        label = f"{leg.conductor} {quantity(leg.voltage, 'V')}"
        shapes.append(Text(x=beside, y=y + 4.0, text=label, anchor=anchor, bold=True, fill=_leg_role(leg), size=SMALL))
    numbers: list[Text] = []
    for number, entry in enumerate(entries, start=1):
        shapes += _phasor(entry, at, scale, (x0, y0))
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
) -> Iterator[Shape]:
    if entry.angle is None:
        for volts in {entry.low, entry.high}:
            yield Circle(x=origin[0], y=origin[1], radius=max(volts * scale, 1.0), stroke="finding", dash=True)
        fill = "paper"
    else:
        (x1, y1), (x2, y2) = at(entry.low, entry.angle), at(entry.high, entry.angle)
        yield Line(x1=x1, y1=y1, x2=x2, y2=y2, stroke="finding", width=6.0)
        fill = "ink"
    yield diamond(*_place(entry, at), 6.0, fill, "ink")


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
