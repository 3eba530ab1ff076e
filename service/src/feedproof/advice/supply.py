"""The supply as the answer draws it: the legs' voltages and phases, and where the neutral sits between them."""

import cmath
import math
from collections.abc import Sequence

from feedproof.contract.assessment import AssessedSupply, LegVoltage
from feedproof.inference import NeutralVoltage
from feedproof.readings import LEG_ANGLES, NOMINAL_TO_NEUTRAL, ReadingSet, VoltageReading

#: Leg-to-leg readings outside this share of nominal say that a leg is bad: they scale no picture [1].
_USABLE = (0.8, 1.2)

#: A difference of the two leg readings below this share of their mean points to no side [1].
_ONE_SIDED = 0.1

#: Readings of opposite legs that tell the side.
_BOTH_LEGS = 2


def assessed_supply(reading_set: ReadingSet) -> AssessedSupply:
    """System and legs; voltages scaled to the median leg-to-leg reading where there is a plausible one."""
    angles = LEG_ANGLES[reading_set.supply.system]
    scale = 1.0
    if len(angles) == _BOTH_LEGS:
        first, second = (cmath.rect(NOMINAL_TO_NEUTRAL, math.radians(angle)) for angle in angles.values())
        nominal = abs(first - second)
        shares = sorted(
            reading.value / nominal
            for reading in reading_set.readings
            if isinstance(reading, VoltageReading) and {*reading.between} == {"L1", "L2"}
        )
        usable = [share for share in shares if _USABLE[0] <= share <= _USABLE[1]]
        scale = usable[len(usable) // 2] if usable else 1.0
    return AssessedSupply(
        system=reading_set.supply.system,
        frequency=reading_set.supply.frequency,
        legs=[
            LegVoltage(conductor=leg, voltage=scale * NOMINAL_TO_NEUTRAL, angle=angle, unit="V")
            for leg, angle in angles.items()
        ],
    )


def neutral_angle(neutral: NeutralVoltage, readings: Sequence[object], supply: AssessedSupply) -> float | None:
    """Phase of the neutral against L1 [deg], None where nothing tells it.

    The inference's own figure where it gives one. Else the side of the leg that reads lower to the neutral: during
    a reading the leg that the meter was on; with no meter the two leg readings of the same load state and point.
    """
    if neutral.angle is not None:
        return neutral.angle
    angles: dict[str, float] = {leg.conductor: leg.angle for leg in supply.legs}
    if neutral.during_reading is not None:
        reading = readings[neutral.during_reading]
        pair = {*reading.between} if isinstance(reading, VoltageReading) else set()
        legs = pair & angles.keys()
        return angles[legs.pop()] if "N" in pair and len(legs) == 1 else None
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


def _nearer(values: dict[str, float], angles: dict[str, float], supply: AssessedSupply) -> float | None:
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
