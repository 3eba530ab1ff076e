"""The estimates of the answer: figures with their titles, and as a person writes them."""

import math
from collections.abc import Sequence
from typing import Any

from feedproof.advice.determination import OPEN_RESISTANCE
from feedproof.advice.wording import (
    conductor_name,
    identity_of,
    pair_name,
    point_name,
    quantity,
    sentence,
    short_conductor,
    span,
    state_name,
    what_words,
)
from feedproof.contract import assessment as wire
from feedproof.contract.assessment import DetectionLimit
from feedproof.inference import (
    BreakPosition,
    EarthVoltage,
    Interval,
    Limit,
    NeutralVoltage,
    PathResistance,
    ReadingEvidence,
)
from feedproof.readings import Conductor, Reading, ReadingSet, VoltageReading

#: A difference of the two leg readings below this share of their mean points to no side [1].
_ONE_SIDED = 0.1

#: Readings of opposite legs that tell the side.
_BOTH_LEGS = 2

#: Above this a detection limit only shows that the conductor is not completely open [ohm].
_FAR = 1.0e6


def test_current(
    conductor: Conductor, evidence: Sequence[ReadingEvidence], readings: Sequence[Reading]
) -> tuple[float, ReadingEvidence] | None:
    """The largest current that a low-impedance voltmeter drew through the conductor.

    Parameters
    ----------
    conductor : Conductor
        One end of the meter.
    evidence : sequence of ReadingEvidence
        With the currents drawn [A].
    readings : sequence of Reading
        What the evidence refers to.

    Returns
    -------
    tuple of float and ReadingEvidence, or None
        The current [A] and the reading during which it flowed; None: no such meter was on the conductor.
    """
    drawn = [
        (entry.test_current, entry)
        for entry in evidence
        if entry.test_current is not None
        and isinstance(reading := readings[entry.reading], VoltageReading)
        and conductor in reading.between
    ]
    return max(drawn, key=lambda pair: pair[0]) if drawn else None


def detection_limit(limit: Limit, evidence: Sequence[ReadingEvidence], readings: Sequence[Reading]) -> DetectionLimit:
    """One detection limit of the answer, with its meaning in words."""
    return DetectionLimit(
        conductor=limit.conductor, value=limit.resistance, unit="ohm", meaning=_limit_words(limit, evidence, readings)
    )


def _limit_words(limit: Limit, evidence: Sequence[ReadingEvidence], readings: Sequence[Reading]) -> str:
    name = conductor_name(limit.conductor)
    if not evidence:
        words = f"Nothing has been read yet: even if {name} were open, nothing would show it."
    elif limit.resistance is None:
        words = f"These readings say nothing of {name}: even an open one would not have shown."
    else:
        size = quantity(limit.resistance, "ohm")
        words = f"{sentence(name)}: less than about {size} in series would not have shown in these readings."
        if limit.resistance >= OPEN_RESISTANCE:
            words = f"{sentence(name)} may be open: up to about {size} in series would not have shown."
        if limit.resistance >= _FAR:
            words = f"{sentence(name)} may be as good as open: only a clean break would have shown."
    drawn = test_current(limit.conductor, evidence, readings)
    if drawn is None:
        return words
    current, entry = drawn
    reading = readings[entry.reading]
    pair = pair_name(reading.between) if isinstance(reading, VoltageReading) else ""
    return f"{words} The low-impedance meter drew {quantity(current, 'A')} ({pair})."


#: A neutral nearer to the middle than this share of a leg has no side worth naming [1].
_NO_SIDE = 0.1

#: No voltage is told finer than a meter shows it [V].
_FINEST = 0.1


def neutral_to_ground(entry: NeutralVoltage, job: ReadingSet, supply: wire.AssessedSupply) -> wire.NeutralToGround:
    """Neutral to the panel's ground bar in one load state, with the side to which it has moved."""
    angle = neutral_angle(entry, job.readings, supply)
    told = _figures(entry.interval, "V", entry.told_by if job.readings else "prior")
    side = side_words(entry.interval.value, angle, supply.legs)
    return wire.NeutralToGround(
        **(told | {"display": f"{told['display']}, {side}"} if side else told),
        title=f"Neutral to ground, {_condition(entry, job)}",
        load_state=entry.load_state,
        point=entry.point,
        during_reading=entry.during_reading,
        angle=angle,
    )


def neutral_to_earth(entry: EarthVoltage, job: ReadingSet) -> wire.NeutralToEarth:
    """Neutral, and the frames bonded to it, to the transformer's grounded point."""
    return wire.NeutralToEarth(
        **_figures(entry.interval, "V", entry.told_by if job.readings else "prior"),
        title=f"Neutral and grounded frames to earth at the service panel, {_state(entry.load_state, job)}",
        load_state=entry.load_state,
    )


def resistance(entry: PathResistance, limits: Sequence[Limit]) -> wire.ConductorResistance:
    """Series resistance of a path with its heat.

    It is told by the prior, too, where it is bounded below what the readings would have shown.
    """
    limit = next((limit.resistance for limit in limits if limit.conductor == entry.conductor), None)
    too_little = entry.interval.bound == "at_most" and (limit is None or limit > entry.interval.high)
    told_by = "prior" if too_little and entry.section == "branch" else entry.told_by
    return wire.ConductorResistance(
        **_figures(entry.interval, "ohm", told_by),
        title=_path(entry),
        conductor=entry.conductor,
        point=entry.point,
        section=entry.section,
        heat=None if entry.heat is None else wire.Estimate(**_figures(entry.heat, "W", told_by)),
        sound=None if entry.sound is None else wire.Expected(low=entry.sound[0], high=entry.sound[1]),
    )


def break_position(found: BreakPosition | None) -> wire.BreakPosition | None:
    """Where the run is open."""
    if found is None:
        return None
    name = "run" if found.conductor is None else conductor_name(found.conductor)
    return wire.BreakPosition(
        **_figures(found.interval, "m", "readings"),
        title=f"Break in {name}, from the outlet back",
        conductor=found.conductor,
    )


def _figures(interval: Interval, unit: str, told_by: str) -> dict[str, Any]:
    # A value that is not finite is refused when the answer is checked, with its path.
    finite = math.isfinite(interval.value + interval.low + interval.high)
    bounds: dict[str, float | None] = {"at_least": interval.low, "at_most": interval.high}
    return {
        "value": interval.value,
        "low": interval.low,
        "high": interval.high,
        "unit": unit,
        "bound": interval.bound,
        "limit": bounds.get(interval.bound),
        "told_by": told_by,
        "display": display(interval, unit, told_by) if finite else "",
    }


def display(interval: Interval, unit: str, told_by: str = "readings") -> str:
    """An estimate as a person writes it: "116 V (112 to 119 V)", "at least 2 kΩ", "below 0.1 V".

    Parameters
    ----------
    interval : Interval
        In `unit`.
    unit : str
        V, ohm, W or m.
    told_by : str
        `prior`: nothing was measured, and the words say so.
    """
    if interval.bound == "at_least":
        words = f"at least {quantity(interval.low, unit)}"
    elif unit == "V" and interval.high < _FINEST:
        words = f"below {quantity(_FINEST, unit)}"
    elif interval.bound == "at_most":
        words = f"at most {quantity(interval.high, unit)}"
    else:
        value, ends = quantity(interval.value, unit), span(interval.low, interval.high, unit)
        words = value if ends == value else f"{value} ({ends})"
    return f"not measured, usually {words}" if told_by == "prior" else words


def side_words(value: float, angle: float | None, legs: Sequence[wire.LegVoltage]) -> str:
    """To which leg the neutral has moved, by the phase of one of them; empty where it has not moved far."""
    if not legs or value < _NO_SIDE * min(leg.voltage for leg in legs):
        return ""
    if angle is None:
        return "to which side is not known"
    toward = next(leg.conductor for leg in legs if leg.angle == angle)
    return f"toward {toward}" if _is_on_a_line(legs) else f"toward {toward} ({angle:.0f}°)"


def _is_on_a_line(legs: Sequence[wire.LegVoltage]) -> bool:
    return all(abs(math.sin(math.radians(leg.angle))) < 1e-6 for leg in legs)  # noqa: PLR2004


def _state(label: str, job: ReadingSet) -> str:
    kind = job.load_states[label].kind if label in job.load_states else label
    return state_name(label, kind)


def _condition(entry: NeutralVoltage, job: ReadingSet) -> str:
    """When the neutral stands there: the load state, and the meter where one holds it there."""
    state = _state(entry.load_state, job)
    if entry.during_reading is None:
        return f"{state}, no meter connected"
    identity = identity_of(job.readings[entry.during_reading], job.load_states)
    return f"{state}, with {identity.meter} on {what_words(identity)}"


def _path(entry: PathResistance) -> str:
    name = sentence(short_conductor(entry.conductor))
    if entry.section == "branch":
        return f"{name}, panel to {point_name(entry.point)}"
    return f"{name} of the {entry.section}"


def neutral_angle(neutral: NeutralVoltage, readings: Sequence[object], supply: wire.AssessedSupply) -> float | None:
    """Phase of the neutral against L1 [deg], None where nothing tells it.

    The side of the leg that reads lower to the neutral: during a reading of a leg to it that leg, or the other where
    the leg reads higher than it should; with no meter the two leg readings of the same load state and point.
    """
    angles: dict[str, float] = {leg.conductor: leg.angle for leg in supply.legs}
    if neutral.during_reading is not None:
        reading = readings[neutral.during_reading]
        pair = {*reading.between} if isinstance(reading, VoltageReading) else set()
        legs = pair & angles.keys()
        if not isinstance(reading, VoltageReading) or "N" not in pair or len(legs) != 1:
            return None
        return _nearer({legs.pop(): reading.value}, angles, supply)
    values: dict[str, float] = {}
    for reading in readings:
        if isinstance(reading, VoltageReading) and (reading.load_state, reading.point) == (
            neutral.load_state,
            neutral.point,
        ):
            for leg in {*reading.between} & angles.keys():
                if "N" in reading.between:
                    values.setdefault(leg, reading.value)
    return _nearer(values, angles, supply)


def _nearer(values: dict[str, float], angles: dict[str, float], supply: wire.AssessedSupply) -> float | None:
    if not values:
        return None
    if len(values) == _BOTH_LEGS:
        (first, low), (_, high) = sorted(values.items(), key=lambda entry: entry[1])
        return angles[first] if high - low > _ONE_SIDED * (high + low) / 2.0 else None
    ((leg, value),) = values.items()
    own = next(entry.voltage for entry in supply.legs if entry.conductor == leg)
    if abs(value - own) <= _ONE_SIDED * own:
        return None
    other = next((angle for name, angle in angles.items() if name != leg), None)
    return angles[leg] if value < own else other
