"""Where legs and neutral stand: against earth, against the ground at the panel, and how far the neutral has moved.

Earth is the transformer's grounded point. A service neutral that has gone bad moves the panel's ground, and every
frame bonded to it, away from earth, while neutral to ground reads 0 V: both scales are drawn over one line.
"""

import math
from collections.abc import Iterator

from msgspec import Struct

from feedproof.advice.summary import neutral_entries
from feedproof.advice.wording import quantity, sentence
from feedproof.contract.assessment import Assessment, Estimate, LegVoltage, NeutralToEarth, NeutralToGround
from feedproof.note.pictures import plane
from feedproof.note.pictures.framed import is_calm
from feedproof.note.pictures.marks import leg_mark, leg_role
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
    wrapped,
)

NAME = "standing"
TITLE = "Where legs and neutral stand"

_MOST_ROWS = 3
_MARGIN = 34.0
_ROW = 121.0
_ALONG = 1e-6
_NOMINAL = (LegVoltage(conductor="L1", voltage=120.0, angle=0.0, unit="V"),)
#: Smaller differences are within what a meter shows [V].
_UNMOVED = 1.0
#: Places as near to each other look alike [V].
_ALIKE = 4.0


class Stand(Struct, frozen=True, kw_only=True):
    """One load state: volts against earth, toward L1."""

    title: str
    ground: float
    """The panel's ground."""
    neutral: float
    sided: bool
    """Whether the readings tell to which side they have moved."""
    earth: NeutralToEarth | None
    entry: NeutralToGround


def draw(assessment: Assessment) -> Scene:
    """The picture; with nothing estimated it shows the legs alone and says so."""
    legs = tuple(assessment.supply.legs) if assessment.supply is not None else _NOMINAL
    if any(abs(math.sin(math.radians(leg.angle))) >= _ALONG for leg in legs):
        return plane.draw(assessment, legs, lost(assessment), calm=is_calm(assessment))
    stands = [_stand(assessment, entry) for entry in neutral_entries(assessment)]
    # Largest deviation first, so that what is dangerous is seen and not cut off.
    stands = _unlike(sorted(stands, key=lambda stand: -max(abs(stand.neutral), abs(stand.ground))))
    axis = _axis(legs)
    shapes: list[Shape] = []
    for index, stand in enumerate(stands[:_MOST_ROWS]):
        shapes += _row(axis, stand, assessment, index * _ROW)
    height = min(len(stands), _MOST_ROWS) * _ROW
    if not stands:
        shapes += [*_nothing(axis, assessment)]
        height = 74.0
    if len(stands) > _MOST_ROWS:
        more = f"and {len(stands) - _MOST_ROWS} more, nearer to earth, under In figures"
        shapes.append(Text(x=6.0, y=height + 12.0, text=more, fill="muted", size=SMALL))
        height += 18.0
    return scene(NAME, TITLE, _description(axis, stands), height, shapes)


def lost(assessment: Assessment) -> frozenset[str]:
    """Conductors that the leading finding has lost or is not sure of."""
    place = assessment.finding.place
    if place.endswith("neutral"):
        return frozenset("N")
    if place in {"both_legs", "supply_lost", "breaker"}:
        return frozenset({"L1", "L2"})
    own = assessment.finding.conductor
    return frozenset({own}) if own is not None and place.endswith("leg") else frozenset()


class _Axis(Struct, frozen=True, kw_only=True):
    left: float
    """L1 [V]."""
    right: float
    """L2, against its sign [V]; 0 where there is none."""
    scale: float
    legs: tuple[LegVoltage, ...]

    def x(self, volts: float) -> float:
        """Place of a voltage toward L1, held inside the picture."""
        return min(max(_MARGIN + (self.left - volts) * self.scale, 8.0), WIDTH - 8.0)


def _axis(legs: tuple[LegVoltage, ...]) -> _Axis:
    toward = {leg.conductor: leg.voltage * math.cos(math.radians(leg.angle)) for leg in legs}
    left = max([volts for volts in toward.values() if volts > 0], default=120.0)
    right = max([-volts for volts in toward.values() if volts < 0], default=0.3 * left)
    return _Axis(left=left, right=right, scale=(WIDTH - 2.0 * _MARGIN) / (left + right), legs=legs)


def _stand(assessment: Assessment, entry: NeutralToGround) -> Stand:
    earth = next((e for e in assessment.neutral_to_earth if e.load_state == entry.load_state), None)
    side = _side(assessment, entry.load_state)
    ground = 0.0 if earth is None or earth.told_by == "prior" else _shown(earth)
    turn = side if entry.angle is None else math.copysign(1.0, math.cos(math.radians(entry.angle)))
    moved = max(ground, _shown(entry)) >= _UNMOVED
    return Stand(
        title=entry.title.removeprefix("Neutral to ground, ").removesuffix(", no meter connected"),
        ground=ground * (side or 1.0),
        neutral=ground * (side or 1.0) + _shown(entry) * (turn or 1.0),
        sided=not moved or (entry.angle is not None and ground < _UNMOVED) or bool(side),
        earth=earth,
        entry=entry,
    )


def _unlike(stands: list[Stand]) -> list[Stand]:
    """Without those that would be drawn as one before them."""
    found: dict[tuple[int, int, bool], Stand] = {}
    for stand in stands:
        found.setdefault((round(stand.ground / _ALIKE), round(stand.neutral / _ALIKE), stand.sided), stand)
    return [*found.values()]


def _shown(estimate: Estimate) -> float:
    return estimate.value if estimate.limit is None else estimate.limit


def _side(assessment: Assessment, state: str) -> float:
    """Toward which leg the neutral has moved, by the leg readings of a state: it reads less to that one; 0 unknown."""
    seen: dict[str, float] = {}
    for entry in assessment.evidence:
        identity = entry.identity
        if identity is not None and identity.kind == "voltage" and identity.load_state == state:
            pair = set(identity.conductors)
            for leg in ("L1", "L2"):
                if pair in ({leg, "N"}, {leg, "G"}):
                    seen.setdefault(leg, entry.observed.value)
    if len(seen) < 2 or seen["L1"] == seen["L2"]:  # noqa: PLR2004
        return 0.0
    return 1.0 if seen["L1"] < seen["L2"] else -1.0


def _description(axis: _Axis, stands: list[Stand]) -> str:
    legs = ", ".join(f"{leg.conductor} at {quantity(leg.voltage, 'V')}" for leg in axis.legs)
    parts = [f"Against earth, the transformer's grounded point: {legs}."]
    for stand in stands:
        parts.append(f"{stand.entry.title}: {stand.entry.display}.")
        if stand.earth is not None:
            parts.append(f"{stand.earth.title}: {stand.earth.display}.")
        if abs(stand.ground) >= _UNMOVED and stand.sided:
            parts.append(f"Against the panel's ground: {_against_ground(axis, stand)}.")
    if not stands:
        parts.append("These readings give no estimate of the neutral.")
    return " ".join(parts)


def _against(leg: LegVoltage, volts: float) -> float:
    return abs(leg.voltage * math.cos(math.radians(leg.angle)) - volts)


def _against_ground(axis: _Axis, stand: Stand) -> str:
    return ", ".join(f"{leg.conductor} {quantity(_against(leg, stand.ground), 'V')}" for leg in axis.legs)


def _legs(axis: _Axis, y: float, gone: frozenset[str]) -> Iterator[Shape]:
    for leg in axis.legs:
        x = axis.x(leg.voltage * math.cos(math.radians(leg.angle)))
        yield from leg_mark(leg.conductor, x, y, gone=leg.conductor in gone)


def _figures(axis: _Axis, y: float, volts: float, words: str, gone: frozenset[str]) -> Iterator[Shape]:
    """What each leg has against something, at both ends of the line."""
    yield Text(x=WIDTH / 2.0, y=y, text=words, anchor="middle", size=SMALL, fill="muted")
    for leg in axis.legs:
        first = leg.voltage * math.cos(math.radians(leg.angle)) > 0
        yield Text(
            x=6.0 if first else WIDTH - 6.0,
            y=y,
            text=f"{leg.conductor} {'lost?' if leg.conductor in gone else quantity(_against(leg, volts), 'V')}",
            anchor="start" if first else "end",
            bold=True,
            fill="danger" if leg.conductor in gone else leg_role(leg.conductor),
        )


def _row(axis: _Axis, stand: Stand, assessment: Assessment, top: float) -> Iterator[Shape]:
    gone, y = lost(assessment), top + 50.0
    yield Text(
        x=6.0, y=top + 16.0, text=elided(sentence(stand.title), 0.86 * (WIDTH - 12.0), SMALL), bold=True, size=SMALL
    )
    reference = stand.ground if stand.sided else 0.0
    yield from _figures(axis, top + 32.0, reference, "to the panel's ground", gone)
    yield from _line(axis, y, calm=is_calm(assessment), floating="N" in gone)
    yield from _legs(axis, y, gone)
    yield from _earth(axis.x(0.0), y)
    yield from _shift(axis, stand, y)
    yield from _marks(axis, stand, y, calm=is_calm(assessment))
    yield from _figures(axis, y + 38.0, 0.0, "to earth", gone)
    for index, line in enumerate(wrapped(_told(stand), WIDTH - 12.0, SMALL)):
        yield Text(x=6.0, y=y + 54.0 + 13.5 * index, text=line, size=SMALL)


def _told(stand: Stand) -> str:
    ground = f"Neutral to ground {stand.entry.display}"
    if stand.earth is None:
        return ground
    return f"{ground}; ground to earth {stand.earth.display}"


def _line(axis: _Axis, y: float, *, calm: bool, floating: bool) -> Iterator[Shape]:
    x1, x2 = axis.x(axis.left), axis.x(-axis.right)
    yield Line(x1=x1, y1=y, x2=x2, y2=y, stroke="rule", width=1.6, dash=not calm)
    if floating:
        # A floating neutral may take any voltage between the legs, whatever was read.
        yield from hatching(x1, y - 4.0, x2 - x1, 8.0, "danger", 9.0)


def _earth(x: float, y: float) -> Iterator[Shape]:
    yield Line(x1=x, y1=y, x2=x, y2=y + 13.0, stroke="ink", width=1.6)
    for index, reach in enumerate((9.0, 6.0, 3.0)):
        level = y + 13.0 + 4.0 * index
        yield Line(x1=x - reach, y1=level, x2=x + reach, y2=level, stroke="ink", width=1.6)


def _shift(axis: _Axis, stand: Stand, y: float) -> Iterator[Shape]:
    """From earth to where the neutral stands; to both sides where the side is not known."""
    if abs(stand.neutral) < _UNMOVED:
        return
    for sign in (1.0,) if stand.sided else (1.0, -1.0):
        x1, x2 = axis.x(0.0), axis.x(sign * stand.neutral)
        yield rectangle(min(x1, x2), y - 3.0, max(abs(x2 - x1), 2.0), 6.0, "danger")


def _marks(axis: _Axis, stand: Stand, y: float, *, calm: bool) -> Iterator[Shape]:
    sided = stand.sided and (calm or abs(stand.neutral) >= _UNMOVED)
    for sign in (1.0,) if stand.sided else (1.0, -1.0):
        x = axis.x(sign * stand.ground)
        yield Line(x1=x, y1=y - 12.0, x2=x, y2=y, stroke="ink", width=1.6)
        yield Line(x1=x - 7.0, y1=y - 12.0, x2=x + 7.0, y2=y - 12.0, stroke="ink", width=3.0)
        # Hollow mark: near 0 V in spite of a fault, or its side is not known.
        yield diamond(axis.x(sign * stand.neutral), y, 7.5, "ink" if sided else "paper", "ink" if calm else "danger")


def _nothing(axis: _Axis, assessment: Assessment) -> Iterator[Shape]:
    yield from _figures(axis, 18.0, 0.0, "to earth, as assumed", lost(assessment))
    yield from _line(axis, 38.0, calm=False, floating="N" in lost(assessment))
    yield from _legs(axis, 38.0, lost(assessment))
    yield Text(x=6.0, y=64.0, text="These readings give no estimate of the neutral.", fill="muted", size=SMALL)
