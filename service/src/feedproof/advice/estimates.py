"""The estimates of the answer: figures with their titles, and as a person writes them."""

import math
from collections.abc import Sequence
from typing import Any

from feedproof.advice.identity import identity_of, what_words
from feedproof.advice.supply import neutral_angle
from feedproof.advice.wording import conductor_name, point_name, quantity, sentence, short_conductor, span, state_name
from feedproof.contract import assessment as wire
from feedproof.inference import BreakPosition, EarthVoltage, Interval, Limit, NeutralVoltage, PathResistance
from feedproof.readings import ReadingSet

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
        title=f"Neutral and grounded frames to earth, {_state(entry.load_state, job)}",
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
    """To which leg the neutral has moved, or at which phase it stands; empty where it has not moved far."""
    if not legs or value < _NO_SIDE * min(leg.voltage for leg in legs):
        return ""
    if angle is None:
        return "to which side is not known"
    for leg in legs:
        if abs((angle - leg.angle + 180.0) % 360.0 - 180.0) < 1.0:
            return f"toward {leg.conductor}" if _is_on_a_line(legs) else f"toward {leg.conductor} ({leg.angle:.0f}°)"
    return f"at {angle:.0f}° from L1"


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
