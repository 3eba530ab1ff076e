"""Dangers that readings show by themselves, whatever fault is behind them and however probable a sound supply is.

At the contacts of an outlet with nothing plugged in, neutral and ground stand within a few volts of each other, and a
leg within 10 % of 120 V to either (ANSI C84.1, range B at most 127 V, from memory). A reading far outside that stands
until the same is read again and is right: what is plugged in there gets line voltage on its frame, or 240 V on what is
made for 120 V. Load current on the ground is never excused as a misread: no sound supply or appliance puts it there,
in whatever load state it does not show.
"""

from collections.abc import Iterator
from itertools import combinations

from feedproof.advice.uncertainty import of_sum
from feedproof.advice.unexplained import HIGH_LEG, SHOWS_VOLTAGE, is_later, is_slip, moves, same_thing, shows_voltage
from feedproof.advice.wording import conductors_of, identity_of, reading_words
from feedproof.contract.assessment import Observed
from feedproof.readings import (
    NOMINAL_BETWEEN_LEGS,
    NOMINAL_TO_NEUTRAL,
    PANELS,
    CurrentReading,
    Reading,
    ReadingSet,
    SystemName,
    VoltageReading,
    is_low_impedance,
)

#: Current that leakage and strays may carry, on the ground or with nothing connected [A]. 100 ft of cable couples
#: 0.1 mA and a sound appliance leaks milliamperes, so this is generous; common practice, no source.
STRAY_CURRENT = 0.05

#: Least voltage at an appliance that runs, as a share of nominal: 104 V on 120 V (ANSI C84.1, range B, utilization,
#: from memory). Motors are made for 10 % less than their rating, often 230 V (NEMA MG 1, from memory).
_LEAST_TO_RUN = 104.0 / 120.0

#: Systems that leg to leg tells apart, and how near it must come to nominal [1]: ANSI C84.1, range A, from memory.
_BY_LEGS: tuple[SystemName, ...] = ("split_phase_120_240", "wye_120_208")
_FITS = 0.05
#: Of a delta's high leg to neutral, 120·√3 [V].
_HIGH = 208.0
_BOTH = 2
_THREE = 3


def at_outlet(reading_set: ReadingSet) -> tuple[int, ...]:
    """Voltages at the contacts of an unplugged outlet that no sound outlet gives.

    Parameters
    ----------
    reading_set : ReadingSet
        The visit.

    Returns
    -------
    tuple of int
        Indices of the readings. One that was taken again, and then was right, is not among them, unless readings of
        other pairs agree with it or the fault comes and goes.
    """
    wrong = once_wrong(reading_set)
    agreeing = {index for three in agreements(reading_set) for index in three}
    return tuple(
        i
        for i in wrong
        if not _soft(i, wrong, reading_set) and (i in agreeing or not _withdrawn(i, wrong, reading_set))
    )


def once_wrong(reading_set: ReadingSet) -> tuple[int, ...]:
    """The same, with those that were right when taken again."""
    return tuple(i for i, reading in enumerate(reading_set.readings) if _is_wrong(reading, reading_set))


def on_ground(reading_set: ReadingSet) -> tuple[int, ...]:
    """Readings of load current on the ground; none in another load state undoes them.

    Parameters
    ----------
    reading_set : ReadingSet
        The visit.

    Returns
    -------
    tuple of int
        Indices of the readings.
    """
    return tuple(
        index
        for index, reading in enumerate(reading_set.readings)
        if isinstance(reading, CurrentReading)
        and reading.through == "G"
        and reading.value > of_sum([(1.0, reading)], reading_set.meters) + STRAY_CURRENT
    )


def too_low_to_run(reading_set: ReadingSet) -> tuple[int, ...]:
    """Voltages across an appliance that runs, below what appliances are made for: the run drops too much, if sound.

    Parameters
    ----------
    reading_set : ReadingSet
        The visit.

    Returns
    -------
    tuple of int
        Indices of the readings: leg to leg, or leg to neutral where there is one leg.
    """
    supply = reading_set.supply
    pair = {"L1", "N"} if supply.one_leg else {"L1", "L2"}
    least = _LEAST_TO_RUN * (NOMINAL_TO_NEUTRAL if supply.one_leg else NOMINAL_BETWEEN_LEGS[supply.system])
    return tuple(
        index
        for index, reading in enumerate(reading_set.readings)
        if isinstance(reading, VoltageReading)
        and {*reading.between} == pair
        and reading_set.load_states[reading.load_state].kind == "running"
        and reading.value + of_sum([(1.0, reading)], reading_set.meters) < least
    )


def dead(reading_set: ReadingSet) -> bool:
    """Whether the outlet was read dead: leg to leg and a leg to neutral or ground, and nothing there shows voltage."""
    there = [r for r in reading_set.readings if r.point not in PANELS]
    legs = [len({*r.between} & {"L1", "L2"}) for r in there if isinstance(r, VoltageReading)]
    across = reading_set.supply.one_leg or _BOTH in legs
    return across and 1 in legs and not any(shows_voltage(r) for r in there)


def system(reading_set: ReadingSet) -> SystemName | None:
    """The supply system that the voltages at the outlet fit, where it is not the stated one: by leg to leg.

    A delta's high leg is told by its 208 V to neutral: ANSI C84.1 nominal voltages, from memory.
    """
    taken = [r for r in reading_set.readings if isinstance(r, VoltageReading)]
    if any(len({*r.between} & {"L1", "L2"}) == 1 and abs(r.value - _HIGH) <= _FITS * _HIGH for r in taken):
        return "high_leg_delta_120_240"
    across = sorted(r.value for r in taken if {*r.between} == {"L1", "L2"})
    if not across:
        return None
    middle = across[len(across) // 2]
    near = min(_BY_LEGS, key=lambda name: abs(NOMINAL_BETWEEN_LEGS[name] - middle))
    fits = abs(NOMINAL_BETWEEN_LEGS[near] - middle) <= _FITS * NOMINAL_BETWEEN_LEGS[near]
    return near if fits and near != reading_set.supply.system else None


def words(indices: tuple[int, ...], reading_set: ReadingSet) -> list[str]:
    """Such readings in words, each once."""
    return list(dict.fromkeys(told(index, reading_set) for index in indices))


def told(index: int, reading_set: ReadingSet) -> str:
    """One reading in words: "120 V neutral to ground (appliance disconnected)"."""
    reading = reading_set.readings[index]
    unit = "A" if isinstance(reading, CurrentReading) else "V"
    seen = Observed(value=getattr(reading, "value", 1.0), unit=unit)
    return reading_words(seen, identity_of(reading, reading_set.load_states))


def agreements(reading_set: ReadingSet) -> Iterator[tuple[int, int, int]]:
    """Three voltages among three conductors of an unplugged outlet of which the largest is the sum of the others.

    Kirchhoff's voltage law on conductors of one line: three slips do not do that by chance. At least one of the three
    is a voltage that no sound outlet gives. The largest stands first.
    """
    taken = [(i, r) for i, r in enumerate(reading_set.readings) if _unplugged(r, reading_set)]
    for three in combinations(taken, _THREE):
        entries = [(i, r) for i, r in three if isinstance(r, VoltageReading)]
        pairs = {frozenset(r.between) for _, r in entries}
        if len(pairs) < _THREE or len(frozenset().union(*pairs)) != _THREE:
            continue
        if not any(_is_wrong(r, reading_set) for _, r in entries):
            continue
        (_, most), *rest = sorted(entries, key=lambda entry: -entry[1].value)
        terms = [(1.0, most), *((-1.0, r) for _, r in rest)]
        gap = abs(sum(weight * r.value for weight, r in terms))
        if gap <= of_sum(terms, reading_set.meters):
            first, second, third = sorted(entries, key=lambda entry: -entry[1].value)
            yield first[0], second[0], third[0]


def _unplugged(reading: Reading, reading_set: ReadingSet) -> bool:
    kind = reading_set.load_states[reading.load_state].kind
    return isinstance(reading, VoltageReading) and reading.point == "receptacle" and kind == "disconnected"


def _is_wrong(reading: Reading, reading_set: ReadingSet) -> bool:
    if not isinstance(reading, VoltageReading) or not _unplugged(reading, reading_set):
        return False
    pair = {*reading.between}
    if pair == {"N", "G"}:
        return reading.value >= SHOWS_VOLTAGE
    return reading.value >= HIGH_LEG and len(pair & {"L1", "L2"}) == 1


def _soft(index: int, wrong: tuple[int, ...], reading_set: ReadingSet) -> bool:
    """Whether only strays were read: a low-impedance meter pulls them down, and a generator's neutral may float."""
    reading = reading_set.readings[index]
    if is_low_impedance(reading_set.meters[reading.meter]):
        return False
    floats = reading_set.supply.source == "generator" and "G" in conductors_of(reading)
    return floats or any(
        other not in wrong
        and same_thing(again) == same_thing(reading)
        and is_low_impedance(reading_set.meters[again.meter])
        for other, again in enumerate(reading_set.readings)
    )


def _withdrawn(index: int, wrong: tuple[int, ...], reading_set: ReadingSet) -> bool:
    """Whether the same was read again, with the same meter, and was right: of a slip, not of a joint that makes."""
    reading = reading_set.readings[index]
    return not moves(reading_set) and any(
        other not in wrong
        and same_thing(again) == same_thing(reading)
        and again.meter == reading.meter
        and is_slip(reading, again)
        and not is_later(index, other, reading_set.readings)
        for other, again in enumerate(reading_set.readings)
    )
