"""How far a reading may be off, and how far a sum of readings may: for the checks that need no model.

References
----------
Bounds ±a with nothing else known have the standard uncertainty a/√3: JCGM 100:2008 (GUM), 4.3.7 (clause number
from memory). Combination and the coverage factor 2: GUM, 5.1.2 and 6.2.1 (clause numbers from memory).
"""

import math
from collections.abc import Mapping, Sequence
from typing import TypeGuard

from feedproof.readings import (
    ClampAmmeter,
    CurrentReading,
    Meter,
    ProximityDetector,
    Reading,
    ResistanceReading,
    VoltageReading,
)

#: Coverage factor: some 95 % of honest readings stay inside [1].
COVERAGE = 2.0

#: Drift of the supply between two readings, as a standard uncertainty: some tenths of a percent, common practice,
#: no source. A resistance does not drift with the supply [1].
SUPPLY_DRIFT = 0.005

#: Where every digit after the point is missing, a person has rounded to whole units [1].
_HALF_UNIT = 0.5

_ROOT_THREE = math.sqrt(3.0)

NumberReading = VoltageReading | CurrentReading | ResistanceReading


def independent(reading: NumberReading, meter: Meter) -> float:
    """Standard uncertainty of one reading that no other reading shares [V, A or ohm].

    Counts of the last digit, rounding by the person, and the supply's drift. A clamp's percentage is in it, since
    it comes mostly from how the conductor lies in the jaws: common practice, no source.
    """
    if isinstance(meter, ProximityDetector):
        return 0.0
    counts = max(meter.accuracy_counts, 0.5) * meter.resolution
    person = _HALF_UNIT if reading.value.is_integer() and meter.resolution < 1.0 and reading.value != 0.0 else 0.0
    drift = 0.0 if isinstance(reading, ResistanceReading) else SUPPLY_DRIFT * reading.value
    jaws = meter.accuracy_percent / 100.0 * reading.value if isinstance(meter, ClampAmmeter) else 0.0
    return math.hypot(counts / _ROOT_THREE, person / _ROOT_THREE, jaws / _ROOT_THREE, drift)


def gain(meter: Meter) -> float:
    """Standard uncertainty of the meter's gain, common to all its readings [1]."""
    if isinstance(meter, (ProximityDetector, ClampAmmeter)):
        return 0.0
    return meter.accuracy_percent / 100.0 / _ROOT_THREE


def of_sum(terms: Sequence[tuple[float, NumberReading]], meters: Mapping[str, Meter]) -> float:
    """Expanded uncertainty of a weighted sum of readings [unit of the readings].

    U = 2·√(Σ (cᵢ uᵢ)² + Σ_m (g_m Σ_{i of m} cᵢ xᵢ)²): a meter's gain error moves all its readings together, so that
    it nearly cancels in a difference of readings of one meter.

    Parameters
    ----------
    terms : sequence of (float, reading)
        Weights c [1] and readings x.
    meters : mapping of Meter
        By name.

    Returns
    -------
    float
        At coverage factor 2.
    """
    variance = sum((weight * independent(reading, meters[reading.meter])) ** 2 for weight, reading in terms)
    for name in sorted({reading.meter for _, reading in terms}):
        common = sum(weight * reading.value for weight, reading in terms if reading.meter == name)
        variance += (gain(meters[name]) * common) ** 2
    return COVERAGE * math.sqrt(variance)


def is_number(reading: Reading) -> TypeGuard[NumberReading]:
    """Whether the reading has a figure that errors can be reckoned for; an over-range has none."""
    return isinstance(reading, NumberReading) and not (isinstance(reading, ResistanceReading) and reading.over_range)
