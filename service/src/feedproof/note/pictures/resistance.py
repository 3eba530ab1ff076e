"""Resistance in series with each conductor of each section, on a logarithmic scale.

What readings tell is solid; what is only assumed is dashed, hollow and says so.
"""

import math
from collections.abc import Iterator

from feedproof.advice.summary import WORTH_WATTS, resistance_words
from feedproof.advice.wording import quantity, sentence, short_conductor
from feedproof.contract.assessment import Assessment, ConductorResistance, DetectionLimit
from feedproof.note.scene import (
    SMALL,
    WIDTH,
    Circle,
    Line,
    Polygon,
    Scene,
    Shape,
    Text,
    arrow_head,
    diamond,
    elided,
    hatching,
    rectangle,
    scene,
)

#: Always drawn: a picture without it would look like a sound run.
SERVICE_NEUTRAL = "neutral of the service"

NAME = "resistance"
TITLE = "Resistance in series with each conductor"

#: Ends of the scale [ohm]: a good joint, and what leakage alone would give.
_LOWEST, _HIGHEST = 1e-2, 1e8
_TICKS = ((1e-2, "10 mΩ"), (1.0, "1 Ω"), (1e2, "100 Ω"), (1e4, "10 kΩ"), (1e6, "1 MΩ"), (1e8, "100 M"))

#: Where the contract calls a conductor open [ohm].
_OPEN = 1e3

_LEFT, _RIGHT = 26.0, WIDTH - 26.0
_TOP = 62.0
_ROW = 43.0


def draw(assessment: Assessment) -> Scene | None:
    """One row for each conductor that has an estimate or a detection limit; None where there is none."""
    limits = {limit.conductor: limit for limit in assessment.detection_limits}
    # Without readings an estimate would only show the prior.
    estimates = assessment.resistances if assessment.evidence else []
    rows: list[tuple[str, ConductorResistance | None]] = [(e.conductor, e) for e in estimates]
    rows += [(name, None) for name in limits if name not in {conductor for conductor, _ in rows}]
    if not rows:
        return None
    if not any(e.section == "service" and e.conductor == "N" for e in estimates):
        rows.append((SERVICE_NEUTRAL, None))
    bottom = _TOP + len(rows) * _ROW - 8.0
    shapes: list[Shape] = [*_scale(bottom), *_key()]
    for index, (conductor, entry) in enumerate(rows):
        shapes += _row(conductor, entry, limits.get(conductor), _TOP + index * _ROW)
    words = [_words(conductor, entry, limits.get(conductor)) for conductor, entry in rows]
    return scene(NAME, TITLE, " ".join(words), bottom + 22.0, shapes)


def _words(conductor: str, entry: ConductorResistance | None, limit: DetectionLimit | None) -> str:
    if entry is None:
        parts = [f"{sentence(short_conductor(conductor))}: not told."]
    else:
        parts = [f"{entry.title}: {resistance_words(entry)}."]
        if entry.sound is not None:
            sound = f"{quantity(entry.sound.low, 'ohm')} to {quantity(entry.sound.high, 'ohm')}"
            parts.append(f"Sound would be {sound}.")
    if limit is not None:
        parts.append(limit.meaning)
    return " ".join(parts)


def _x(resistance: float) -> float:
    held = min(max(resistance, _LOWEST), _HIGHEST)
    share = math.log10(held / _LOWEST) / math.log10(_HIGHEST / _LOWEST)
    return _LEFT + share * (_RIGHT - _LEFT)


def _scale(bottom: float) -> Iterator[Shape]:
    for resistance, label in _TICKS:
        yield Line(x1=_x(resistance), y1=_TOP - 4.0, x2=_x(resistance), y2=bottom, stroke="faint")
        yield Text(x=_x(resistance), y=bottom + 14.0, text=label, anchor="middle", size=SMALL, fill="muted")
    yield Line(x1=_x(_OPEN), y1=_TOP - 8.0, x2=_x(_OPEN), y2=bottom, stroke="rule", dash=True)
    yield Text(x=_x(_OPEN) + 3.0, y=_TOP - 12.0, text="open from 1 kΩ", size=SMALL, fill="muted")


def _key() -> Iterator[Shape]:
    yield from _sound_mark(6.0, 4.0, 22.0)
    yield Text(x=34.0, y=13.0, text="sound", size=SMALL, fill="muted")
    yield rectangle(84.0, 6.0, 22.0, 7.0, "finding")
    yield Text(x=112.0, y=13.0, text="told by readings", size=SMALL, fill="muted")
    yield from _assumed(222.0, 9.5, 244.0)
    yield Text(x=250.0, y=13.0, text="only assumed", size=SMALL, fill="muted")
    yield _limit_mark(14.0, 33.0)
    yield Text(x=24.0, y=32.0, text="smallest that would have shown", size=SMALL, fill="muted")


def _assumed(x1: float, y: float, x2: float) -> Iterator[Shape]:
    """A dashed line with hollow ends."""
    yield Line(x1=x1, y1=y, x2=x2, y2=y, stroke="muted", width=1.6, dash=True)
    for x in (x1, x2):
        yield Circle(x=x, y=y, radius=3.0, fill="paper", stroke="muted", width=1.2)


def _sound_mark(x: float, y: float, width: float) -> list[Shape]:
    return [*hatching(x, y, width, 10.0, "sound", 3.5), rectangle(x, y, width, 10.0, None, "sound")]


def _limit_mark(x: float, y: float) -> Polygon:
    """A flag that points down at the limit."""
    return Polygon(points=((x, y), (x - 5.0, y - 9.0), (x + 5.0, y - 9.0)), fill="ink")


def _row(
    conductor: str, entry: ConductorResistance | None, limit: DetectionLimit | None, top: float
) -> Iterator[Shape]:
    label = sentence(short_conductor(conductor)) if entry is None else entry.title
    yield Text(x=6.0, y=top + 10.0, text=elided(label, 215.0, SMALL), size=SMALL)
    assumed = entry is not None and entry.told_by == "prior"
    told = "only assumed" if assumed else _value(entry)
    ink = "muted" if assumed or entry is None else "ink"
    yield Text(x=WIDTH - 6.0, y=top + 10.0, text=told, anchor="end", bold=ink == "ink", fill=ink)
    y = top + 30.0
    yield Line(x1=_LEFT, y1=y, x2=_RIGHT, y2=y, stroke="rule", width=1.2)
    if entry is not None:
        yield from _sound(entry, y)
        if assumed:
            yield from _assumed(_x(entry.low), y, max(_x(entry.high), _x(entry.low) + 8.0))
        else:
            yield from _interval(entry, y)
    yield from _limit(limit, y)


def _value(entry: ConductorResistance | None) -> str:
    if entry is None:
        return "not told"
    bounds = {"at_least": f"≥ {quantity(entry.low, 'ohm')}", "at_most": f"≤ {quantity(entry.high, 'ohm')}"}
    told = bounds.get(entry.bound) or quantity(entry.value, "ohm")
    if entry.heat is None or entry.heat.value < WORTH_WATTS:
        return told
    return f"{told}, {quantity(entry.heat.value, 'W')} heat"


def _sound(entry: ConductorResistance, y: float) -> Iterator[Shape]:
    if entry.sound is not None:
        left, right = _x(entry.sound.low), _x(entry.sound.high)
        yield from _sound_mark(left, y - 11.0, max(right - left, 3.0))


def _interval(entry: ConductorResistance, y: float) -> Iterator[Shape]:
    low = _LOWEST if entry.bound == "at_most" else entry.low
    high = _HIGHEST if entry.bound == "at_least" else entry.high
    left, right = _x(low), _x(high)
    yield rectangle(left, y - 3.5, max(right - left, 2.0), 7.0, "finding")
    if entry.bound == "at_least" or entry.high > _HIGHEST:
        yield arrow_head(right + 6.0, y, 9.0, "finding", right=True)
    if entry.bound == "at_most" or entry.low < _LOWEST:
        yield arrow_head(left - 6.0, y, 9.0, "finding", right=False)
    if entry.bound == "two_sided":
        yield diamond(_x(entry.value), y, 6.0, "ink", "paper")


def _limit(limit: DetectionLimit | None, y: float) -> Iterator[Shape]:
    if limit is None:
        return
    if limit.value is None:
        text = "nothing would have shown"
        yield Text(x=_RIGHT, y=y - 6.0, text=text, anchor="end", size=SMALL, fill="muted")
        return
    x = _x(limit.value)
    yield _limit_mark(x, y - 1.0)
    yield Line(x1=x, y1=y - 10.0, x2=x, y2=y + 10.0, stroke="ink")
