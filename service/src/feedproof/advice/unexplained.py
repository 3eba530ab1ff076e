"""Readings that the finding does not explain stand first in the answer; one that shows voltage is believed.

That is for safety, whatever the posterior says of misreads, by two rules that do not hang on probabilities. A reading
that shows voltage stands: nothing is established as dead, and no caution of live parts is dropped, while there is one
that the finding does not explain. And a tester can be dead as a whole (flat battery, blown fuse, wrong function, open
lead): then all that it shows is zeros, from one cause, so zeros from one tester that has shown nothing else establish
nothing.
"""

import math
from collections.abc import Collection, Mapping, Sequence

from feedproof.advice.wording import conductors_of, identity_of, kind_of, quantity, reading_words, sentence, span
from feedproof.contract.assessment import Check, Flag, Observed
from feedproof.inference import Candidate, Outcome, ReadingEvidence
from feedproof.readings import (
    PANELS,
    Conductor,
    CurrentReading,
    Meter,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    VoltageReading,
    Voltmeter,
)

#: From here on a reading shows voltage [V]: above what an idle neutral shows, and what IEC 61010-031 takes as hazardous
#: (read in a secondary copy).
SHOWS_VOLTAGE = 30.0

#: A detector that the finding expects to signal in so many cases contradicts it by signalling in none [1].
_EXPECTED_TO_SIGNAL = 0.5

#: Of a detector on a sound supply [1].
_ONE_IN_TWENTY = 0.05

_TAKE_AGAIN = "Take it again first; if it stays, nothing that is known here fits."
_SLIP = "It was read again, and then it was: the first is taken for a slip."
_OTHERWISE = "Another reading of the same was, and it is taken for a slip: say which was later (`repeats`)."
_NO_SLIP = (
    "It was otherwise when read again, and one digit does not make it so. Look for a joint that makes and breaks."
)
_LATER = "It is the later of two: the first does not undo it. Look for a joint that makes and breaks."
_COMES_AND_GOES = "What works when it is moved comes and goes: it is no slip. Look for a joint that makes and breaks."
_FIGURES = (VoltageReading, CurrentReading)
_BEYOND_ANY = 300.0
"""More than any circuit here gives [V, A]."""
_TWO_DIGITS, _ABOUT = 10.0, 0.03
"""From here on figures have two digits [V, A]; by how much two right readings may differ [1]."""
_AGREES = "Readings of other pairs agree with it: it is believed, though nothing that is known here gives it."


#: A leg that stands so far from the neutral is no 120 V leg [V]: the high leg of a delta has 208 V.
HIGH_LEG = 180.0


def stands_too_high(readings: Sequence[Reading]) -> bool:
    """Whether a leg reads far above 120 V to neutral or ground, as the high leg of a delta does."""
    return any(
        isinstance(reading, VoltageReading)
        and reading.value >= HIGH_LEG
        and len({"L1", "L2"} & {*reading.between}) == 1
        for reading in readings
    )


def shows_voltage(reading: Reading) -> bool:
    """Whether a reading shows voltage: 30 V or more, or a proximity detector's signal."""
    if isinstance(reading, ProximityReading):
        return reading.detected
    return isinstance(reading, VoltageReading) and reading.value >= SHOWS_VOLTAGE


def voltage_on(readings: Sequence[Reading], conductors: Collection[Conductor]) -> bool:
    """Whether a reading shows voltage on one of the conductors: between two of them, or a signal at one.

    Parameters
    ----------
    readings : sequence of Reading
        All of them.
    conductors : collection of str
        The conductors.
    """
    return any(shows_voltage(reading) and {*conductors_of(reading)} <= {*conductors} for reading in readings)


def against(
    finding: Candidate, readings: Sequence[Reading], evidence: Sequence[ReadingEvidence]
) -> tuple[ReadingEvidence, ...]:
    """Readings that show voltage where the finding says that there is none.

    Parameters
    ----------
    finding : Candidate
        The most probable fault.
    readings : sequence of Reading
        All of them.
    evidence : sequence of ReadingEvidence
        What was expected of each under the finding.

    Returns
    -------
    tuple of ReadingEvidence
        Empty where the finding calls nothing dead, or explains what is shown: a lost leg may be fed through a load.
    """
    dead = {
        conductor
        for fault, conductor in ((finding.fault, finding.conductor), *finding.also)
        if fault == "open_leg" and conductor is not None
    }
    all_dead = finding.fault == "no_supply" or {"L1", "L2"} <= dead
    at_outlet = finding.fault == "breaker_open"
    return tuple(
        entry
        for entry in evidence
        if shows_voltage(reading := readings[entry.reading])
        and (
            all_dead
            or (at_outlet and reading.point not in PANELS)
            or (not dead.isdisjoint(conductors_of(reading)) and not _explained(reading, entry))
        )
    )


def _explained(reading: Reading, entry: ReadingEvidence) -> bool:
    if isinstance(reading, ProximityReading):
        return entry.finding[1] >= _EXPECTED_TO_SIGNAL
    return entry.observed <= entry.finding[1]


def flag(entry: ReadingEvidence, meter: Meter) -> Flag:
    """How a reading stands to what a sound supply would have given; of a detector, whether one of twenty would too.

    A display stands for all that rounds to it: of a meter with steps of 1 V, 0 V is as expected of 0.02 to 0.97 V.

    Parameters
    ----------
    entry : ReadingEvidence
        What was seen, and what a sound supply gives.
    meter : Meter
        That it was read with.
    """
    low, high = entry.sound
    if entry.unit == "1":
        alike = high if entry.observed else 1.0 - low
        return "as_expected" if alike >= _ONE_IN_TWENTY else "high" if entry.observed else "low"
    half = 0.5 * getattr(meter, "resolution", 0.0)
    if entry.observed + half < low and not entry.over_range:
        return "low"
    return "high" if entry.observed - half > high else "as_expected"


def unproven(readings: Sequence[Reading], meters: Mapping[str, Meter]) -> str | None:
    """The one voltmeter that has shown nothing but zeros; None where there is none, or more than one that agree.

    Parameters
    ----------
    readings : sequence of Reading
        All of them.
    meters : mapping of Meter
        By name.

    Returns
    -------
    str or None
        Its name.
    """
    shown: dict[str, bool] = {}
    for reading in readings:
        meter = meters[reading.meter]
        if isinstance(reading, VoltageReading) and isinstance(meter, Voltmeter) and not meter.proved:
            # The display of a dead tester may show a few counts.
            zero = max(meter.accuracy_counts, 1.0) * meter.resolution
            shown[reading.meter] = shown.get(reading.meter, False) or reading.value > zero
    silent = [name for name, alive in shown.items() if not alive]
    return silent[0] if len(silent) == 1 else None


def described(entry: ReadingEvidence, reading_set: ReadingSet) -> str:
    """The reading in words: "3.7 V L1 to neutral (appliance disconnected)"."""
    reading = reading_set.readings[entry.reading]
    return reading_words(observed(entry, reading), identity_of(reading, reading_set.load_states))


def observed(entry: ReadingEvidence, reading: Reading) -> Observed:
    """What was read, for the answer; over range is no figure."""
    if entry.over_range and isinstance(reading, ResistanceReading):
        display = f"OL (above {quantity(reading.value, 'ohm')})" if reading.range_stated else "OL"
    elif isinstance(reading, ProximityReading):
        display = "signal" if reading.detected else "no signal"
    else:
        display = quantity(entry.observed, entry.unit)
    return Observed(value=entry.observed, unit=entry.unit, over_range=entry.over_range, display=display)


def entries(outcome: Outcome) -> list[ReadingEvidence]:
    """Evidence of the readings that the finding does not explain, in their order."""
    return [entry for entry in outcome.evidence if entry.reading in outcome.unexplained]


def same_thing(reading: Reading) -> tuple[object, ...]:
    """What was read, where and in which load state: equal for a reading and the same taken again."""
    return (kind_of(reading), frozenset(conductors_of(reading)), reading.point, reading.load_state)


def moves(reading_set: ReadingSet) -> bool:
    """Whether the fault comes and goes: then no reading is undone by another."""
    return any(seen.code == "works_when_moved" for seen in reading_set.observations)


def is_later(index: int, other: int, readings: Sequence[Reading]) -> bool:
    """Whether one reading is stated to take the other again, directly or over a third.

    Parameters
    ----------
    index, other : int
        Of the two readings.
    readings : sequence of Reading
        All of them; their own order says nothing.
    """
    by_id = {reading.id: at for at, reading in enumerate(readings) if reading.id is not None}
    at: int | None = index
    for _ in readings:
        repeated = None if at is None else readings[at].repeats
        at = None if repeated is None else by_id.get(repeated)
        if at == other:
            return True
    return False


def read_again(outcome: Outcome, reading_set: ReadingSet) -> frozenset[int]:
    """Unexplained readings that were taken again, and then were as the finding has them: slips of the pen.

    None where the fault comes and goes, none that was itself taken after the others, and none that no slip of one digit
    makes of what was read again: 24 V and then 120 V is a joint that makes and breaks.
    """
    if moves(reading_set):
        return frozenset()
    readings = reading_set.readings
    return frozenset(
        index
        for index in outcome.unexplained
        if any(
            not is_later(index, other, readings) and is_slip(readings[index], readings[other])
            for other in _explained_alike(index, outcome, reading_set)
        )
    )


def changed(outcome: Outcome, reading_set: ReadingSet) -> frozenset[int]:
    """Unexplained readings that were otherwise when they were taken again, and are no slips."""
    again = read_again(outcome, reading_set)
    return frozenset(i for i in outcome.unexplained if i not in again and _explained_alike(i, outcome, reading_set))


def is_slip(first: Reading, again: Reading) -> bool:
    """Whether one digit lost, added or mistaken, or a misplaced point, makes one reading of about the other.

    Parameters
    ----------
    first, again : Reading
        Of the same thing; only volts and amperes are told so, and more of them than any circuit has is always a slip.
    """
    if not (isinstance(first, _FIGURES) and isinstance(again, _FIGURES)) or first.value > _BEYOND_ANY:
        return True
    if again.value < _TWO_DIGITS:
        # One digit more makes at most ten times as much and nine: 120 V and then 0 V is none.
        return first.value < 10.0 * (again.value + 1.0)
    least, most = (1.0 - _ABOUT) * again.value, (1.0 + _ABOUT) * again.value
    if any(least <= ten * first.value <= most for ten in (0.1, 10.0)):
        return True
    written = f"{round(first.value)}"
    return any(_one_off(written, str(about)) for about in range(math.ceil(least), math.floor(most) + 1))


def _one_off(a: str, b: str) -> bool:
    """Whether two numbers differ by one digit that is lost, added or another."""
    if len(a) == len(b):
        return sum(x != y for x, y in zip(a, b, strict=True)) <= 1
    short, long = sorted((a, b), key=len)
    return any(short == long[:k] + long[k + 1 :] for k in range(len(long)))


def sole(outcome: Outcome, reading_set: ReadingSet) -> list[int]:
    """Unexplained readings that were not taken again."""
    readings = reading_set.readings
    taken = [(same_thing(reading), reading.meter) for reading in readings]
    return [index for index in outcome.unexplained if taken.count(taken[index]) == 1]


def _explained_alike(index: int, outcome: Outcome, reading_set: ReadingSet) -> list[int]:
    """Readings of the same with the same meter that the finding explains."""
    readings = reading_set.readings
    return [
        other
        for other, reading in enumerate(readings)
        if other not in outcome.unexplained
        and same_thing(reading) == same_thing(readings[index])
        and reading.meter == readings[index].meter
    ]


def words(outcome: Outcome, reading_set: ReadingSet) -> list[str]:
    """The same in words, each once."""
    return list(dict.fromkeys(described(entry, reading_set) for entry in entries(outcome)))


def checks(outcome: Outcome, reading_set: ReadingSet, agreeing: Collection[int] = ()) -> list[Check]:
    """One check for each.

    Parameters
    ----------
    outcome : Outcome
        With the readings that the finding does not explain.
    reading_set : ReadingSet
        The visit.
    agreeing : collection of int
        Readings that readings of other pairs agree with.
    """
    return [
        Check(
            code="not_explained",
            readings=[entry.reading],
            text=f"{sentence(described(entry, reading_set))} is not what the finding gives ({_expected(entry)}). "
            f"{_AGREES if entry.reading in agreeing else _standing(entry.reading, outcome, reading_set)}",
        )
        for entry in entries(outcome)
    ]


def _standing(index: int, outcome: Outcome, reading_set: ReadingSet) -> str:
    """What becomes of a reading that the finding does not explain."""
    alike = _explained_alike(index, outcome, reading_set)
    if not alike:
        return _TAKE_AGAIN
    if moves(reading_set):
        return _COMES_AND_GOES
    if index not in read_again(outcome, reading_set):
        later = all(is_later(index, other, reading_set.readings) for other in alike)
        return _LATER if later else _NO_SLIP
    return _SLIP if any(is_later(other, index, reading_set.readings) for other in alike) else _OTHERWISE


def _expected(entry: ReadingEvidence) -> str:
    return span(*entry.finding, entry.unit) if entry.unit != "1" else quantity(entry.finding[1], "")


def explained(check: Check, outcome: Outcome) -> bool:
    """Whether the finding gives readings such as these, one after another.

    What cannot go together at one instant may do so with a soft conductor that each meter moved in turn.
    """
    inside = {
        entry.reading
        for entry in outcome.evidence
        if entry.observed <= entry.finding[1] and (entry.over_range or entry.finding[0] <= entry.observed)
    }
    return inside.issuperset(check.readings)
