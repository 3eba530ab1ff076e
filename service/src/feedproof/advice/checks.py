"""Readings that no single circuit can give together, found without the model.

A check accuses no one: it says which readings to take again. Readings are taken one after another with one
meter at a time, so a soft node (a floating neutral, say) can move between two of them; each text names that way
out beside the plain mistake. The order of the readings does not matter; what takes another again says so (`repeats`).
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations

from feedproof.advice import shown
from feedproof.advice.determination import Ruling
from feedproof.advice.shown import STRAY_CURRENT
from feedproof.advice.uncertainty import NumberReading, is_number, of_sum
from feedproof.advice.unexplained import is_later, shows_voltage
from feedproof.advice.wording import (
    UNITS,
    conductors_of,
    joined,
    kind_of,
    pair_name,
    point_name,
    quantity,
    sentence,
    short_conductor,
    state_name,
)
from feedproof.contract.assessment import Check
from feedproof.readings import (
    CONDUCTORS,
    Conductor,
    CurrentReading,
    Meter,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Terminal,
    VoltageReading,
    Voltmeter,
    is_low_impedance,
)

#: Two voltmeters load a circuit alike when their impedances differ by less than this factor; a floating
#: conductor may truly read 119 V on one and 7 V on another.
ALIKE_IMPEDANCE = 3.0

#: The smallest number of readings in which a disagreement can show.
_PAIR = 2

#: Any three conductors, by the pairs among them.
_TRIANGLES = [[frozenset(edge) for edge in combinations(three, 2)] for three in combinations(CONDUCTORS, 3)]

_Indexed = tuple[int, Reading]
_Voltages = list[tuple[int, VoltageReading]]


def find(reading_set: ReadingSet) -> list[Check]:
    """All checks that the readings fail.

    Parameters
    ----------
    reading_set : ReadingSet
        The readings with their meters and load states.

    Returns
    -------
    list of Check
        By code and readings; empty where nothing contradicts.
    """
    groups: dict[tuple[str, str], list[_Indexed]] = defaultdict(list)
    for index, reading in enumerate(reading_set.readings):
        groups[reading.point, reading.load_state].append((index, reading))
    found: list[Check] = []
    for (point, label), members in groups.items():
        where = f"{point_name(point)}, {state_name(label, reading_set.load_states[label].kind)}"
        for rule in _RULES:
            found += rule(members, where, reading_set)
    return sorted(found, key=lambda check: (check.code, check.readings))


#: Places that put load current on the ground; a neutral upstream sends it over the panels' grounds.
_ON_GROUND = frozenset(
    {
        "leak_to_ground",
        "appliance",
        "joined",
        "transposed",
        "connections",
        *("service_neutral", "feeder_neutral", "neutral"),
    }
)


_PUT_THERE = (
    ": no sound supply or appliance puts that there. A leak in the appliance does, a strap between neutral and ground,"
    " exchanged wires or a lost neutral. It is no misread, and a reading without current in another load state does not"
    " undo it."
)
_TOO_LITTLE = (
    " is less than appliances are made to run on (ANSI C84.1, range B at the appliance: 104 V on 120 V), and no bad"
    " joint explains it. Wires that are sound but too thin or too long for this load do that: the run is to be sized"
    " for it. A motor that runs on so little burns."
)


def shown_alone(ruling: Ruling, reading_set: ReadingSet) -> list[Check]:
    """What readings show by themselves: load current on the ground, and too little voltage across what runs.

    The one where no finding is decided that puts it there, the other where no bad joint takes the rest.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    reading_set : ReadingSet
        The visit.
    """
    explained = ruling.determination != "undetermined" and ruling.place.name in _ON_GROUND

    def told(index: int) -> str:
        return sentence(shown.told(index, reading_set))

    on_ground = [
        Check(code="current_on_ground", readings=[index], text=told(index) + _PUT_THERE)
        for index in ruling.on_ground
        if not explained
    ]
    return on_ground + [
        Check(code="too_low_to_run", readings=[index], text=told(index) + _TOO_LITTLE) for index in ruling.too_low
    ]


def _voltages(members: Iterable[_Indexed]) -> dict[frozenset[Terminal], _Voltages]:
    pairs: dict[frozenset[Terminal], _Voltages] = defaultdict(list)
    for index, reading in members:
        if isinstance(reading, VoltageReading):
            pairs[frozenset(reading.between)].append((index, reading))
    return pairs


def _triangles(members: Sequence[_Indexed]) -> Iterator[tuple[_Voltages, list[_Voltages]]]:
    """Readings of three conductors against each other: those of each side with those of the two other sides.

    By each meter that read all three sides; together where no one meter did.
    """
    names = sorted({reading.meter for _, reading in members if isinstance(reading, VoltageReading)})
    by_meter = [_voltages((i, r) for i, r in members if r.meter == name) for name in names]
    together = _voltages(members)
    for edges in _TRIANGLES:
        whole = [pairs for pairs in by_meter if all(edge in pairs for edge in edges)]
        for pairs in whole or [together]:
            if all(edge in pairs for edge in edges):
                for edge in edges:
                    yield pairs[edge], [pairs[other] for other in edges if other != edge]


def _value(entry: tuple[int, NumberReading]) -> float:
    return entry[1].value


def _excess(
    whole: NumberReading, parts: Sequence[tuple[int, NumberReading]], reading_set: ReadingSet
) -> tuple[float, float]:
    """By how much a reading is more than others together, and how much of that the meters' errors may explain."""
    allowed = of_sum([(1.0, whole), *((-1.0, part) for _, part in parts)], reading_set.meters)
    return whole.value - sum(part.value for _, part in parts), allowed


def _triangle(members: Sequence[_Indexed], where: str, reading_set: ReadingSet) -> Iterator[Check]:
    """|V(a,b)| ≤ |V(a,c)| + |V(b,c)| at one instant, for any three conductors of any circuit.

    Where a pair was read more than once, the readings that hurt the inequality least stand for it.
    """
    for sides, others in _triangles(members):
        index, longest = min(sides, key=_value)
        rest = [max(other, key=_value) for other in others]
        shortfall, allowed = _excess(longest, rest, reading_set)
        if shortfall <= allowed:
            continue
        advice = (
            "On low-impedance meters that is how a conductor reads that has nothing behind it."
            if all(is_low_impedance(reading_set.meters[reading.meter]) for _, reading in ((index, longest), *rest))
            else "Read them again with a low-impedance meter."
        )
        sums = joined([f"{quantity(r.value, 'V')} ({pair_name(r.between)})" for _, r in rest])
        yield Check(
            code="sum_below_whole",
            readings=sorted([index, *(i for i, _ in rest)]),
            text=f"{sentence(where)}: {sums} together fall {quantity(shortfall, 'V')} short of the "
            f"{quantity(longest.value, 'V')} {pair_name(longest.between)}; the meters' errors explain at most "
            f"{quantity(allowed, 'V')}. Either a reading is wrong, or each time the meter itself moved a "
            f"conductor that has no firm source behind it. {advice}",
        )


def _repeat(members: Sequence[_Indexed], where: str, reading_set: ReadingSet) -> Iterator[Check]:
    """The same thing read twice under the same conditions must agree within the meters' errors."""
    groups: dict[tuple[str, frozenset[Terminal]], list[tuple[int, NumberReading]]] = defaultdict(list)
    for index, reading in members:
        if is_number(reading):
            groups[kind_of(reading), frozenset(conductors_of(reading))].append((index, reading))
    for (kind, _), entries in groups.items():
        for set_of_alike in _alike(entries, reading_set.meters):
            if len(set_of_alike) < _PAIR:
                continue
            low_index, low = min(set_of_alike, key=_value)
            high_index, high = max(set_of_alike, key=_value)
            allowed = of_sum([(1.0, high), (-1.0, low)], reading_set.meters)
            if high.value - low.value <= allowed:
                continue
            unit = UNITS[kind]
            taken, told = reading_set.readings, [quantity(low.value, unit), quantity(high.value, unit)]
            if is_later(low_index, high_index, taken):
                told.reverse()
            later = " later" if is_later(low_index, high_index, taken) or is_later(high_index, low_index, taken) else ""
            yield Check(
                code="repeat_disagrees",
                readings=sorted([low_index, high_index]),
                text=f"{sentence(where)}: {kind} {pair_name(conductors_of(low))} was read as "
                f"{told[0]} and{later} as {told[1]}; the meters' errors explain at most "
                f"{quantity(allowed, unit)} of difference. Something changed in between (a loose joint, a load that "
                "switched), or one reading is wrong. Read it again.",
            )


def _alike(
    entries: Sequence[tuple[int, NumberReading]], meters: dict[str, Meter]
) -> Iterator[list[tuple[int, NumberReading]]]:
    """The entries in groups of meters that load the circuit alike."""
    group: list[tuple[int, NumberReading]] = []
    first = 0.0
    for index, reading in sorted(entries, key=lambda entry: (_impedance(meters[entry[1].meter]), entry[0])):
        impedance = _impedance(meters[reading.meter])
        if group and impedance > ALIKE_IMPEDANCE * first:
            yield group
            group = []
        if not group:
            first = impedance
        group.append((index, reading))
    yield group


def _impedance(meter: Meter) -> float:
    return meter.input_impedance if isinstance(meter, Voltmeter) else 1.0


def _proximity_repeat(members: Sequence[_Indexed], where: str, _: ReadingSet) -> Iterator[Check]:
    """A detector that signalled once and once did not."""
    seen: dict[Conductor, list[tuple[int, bool]]] = defaultdict(list)
    for index, reading in members:
        if isinstance(reading, ProximityReading):
            seen[reading.at].append((index, reading.detected))
    for conductor, entries in seen.items():
        if len({detected for _, detected in entries}) > 1:
            yield Check(
                code="proximity_disagrees",
                readings=[index for index, _ in entries],
                text=f"{sentence(where)}: a proximity detector at {short_conductor(conductor)} signalled once and "
                "stayed silent once. Neither counts for much; measure the voltage by contact.",
            )


def _off_line(members: Sequence[_Indexed], where: str, reading_set: ReadingSet) -> Iterator[Check]:
    """On a split phase the three conductors lie on one line: the largest of three voltages is the others' sum.

    Only with the appliance disconnected: a load may shift a bad neutral's phase.
    """
    if reading_set.supply.system != "split_phase_120_240":
        return
    if any(reading_set.load_states[reading.load_state].kind != "disconnected" for _, reading in members):
        return
    for sides, others in _triangles(members):
        ends = {*sides[0][1].between}
        if ends != {"L1", "L2"} or any("N" not in other[0][1].between for other in others):
            continue
        taken = [max(sides, key=_value)]
        taken += [min(other, key=_value) for other in others]
        (_, largest), *smaller = sorted(taken, key=lambda entry: -entry[1].value)
        excess, allowed = _excess(largest, smaller, reading_set)
        if -excess <= allowed:
            continue
        figures = joined([f"{quantity(r.value, 'V')} ({pair_name(r.between)})" for _, r in taken])
        yield Check(
            code="off_the_line",
            readings=sorted(index for index, _ in taken),
            text=f"{sentence(where)}: of {figures} on a split phase the largest should be the sum of the other two; "
            f"it is {quantity(-excess, 'V')} less, and the meters' errors explain at most {quantity(allowed, 'V')}. "
            "Legs of a three-phase supply read like this, and so may a conductor with no firm source; else a "
            "reading is wrong.",
        )


def _currents(members: Sequence[_Indexed], where: str, reading_set: ReadingSet) -> Iterator[Check]:
    """Currents into the appliance sum to zero, so none exceeds the sum of the others."""
    by_conductor: dict[Conductor, list[tuple[int, CurrentReading]]] = defaultdict(list)
    for index, reading in members:
        if isinstance(reading, CurrentReading):
            by_conductor[reading.through].append((index, reading))
    if any(conductor not in by_conductor for conductor in ("L1", "L2", "N")):
        return
    for conductor, entries in sorted(by_conductor.items()):
        index, most = min(entries, key=_value)
        rest = [max(others, key=_value) for other, others in sorted(by_conductor.items()) if other != conductor]
        excess, allowed = _excess(most, rest, reading_set)
        if excess > allowed + STRAY_CURRENT:
            yield Check(
                code="currents_do_not_close",
                readings=sorted([index, *(i for i, _ in rest)]),
                text=f"{sentence(where)}: {quantity(most.value, 'A')} through {short_conductor(conductor)} is "
                f"{quantity(excess, 'A')} more than the other conductors bring together. Either a reading is wrong, or "
                "current returns another way, through the ground or the building's metal.",
            )


def _current_of_nothing(members: Sequence[_Indexed], where: str, reading_set: ReadingSet) -> Iterator[Check]:
    """No current flows in the branch with the appliance disconnected."""
    for index, reading in members:
        if not isinstance(reading, CurrentReading) or reading.point == "service_panel":
            continue
        if reading_set.load_states[reading.load_state].kind != "disconnected":
            continue
        allowed = of_sum([(1.0, reading)], reading_set.meters)
        if reading.value > allowed + STRAY_CURRENT:
            yield Check(
                code="current_with_nothing_connected",
                readings=[index],
                text=f"{sentence(where)}: {quantity(reading.value, 'A')} through {short_conductor(reading.through)} "
                "with the appliance disconnected. Either something else is connected to this circuit, or the "
                "reading belongs to another load state or conductor.",
            )


def _ohmmeter_on_live(members: Sequence[_Indexed], where: str, _: ReadingSet) -> Iterator[Check]:
    """The panel's supply side stays live when the branch breaker is open: no place for an ohmmeter."""
    for index, reading in members:
        if not isinstance(reading, ResistanceReading) or reading.point != "service_panel":
            continue
        live = [
            (i, other)
            for i, other in members
            if isinstance(other, VoltageReading)
            and shows_voltage(other)
            and {"L1", "L2"} & {*other.between} & {*reading.between}
        ]
        if live:
            figures = joined([f"{quantity(other.value, 'V')} {pair_name(other.between)}" for _, other in live])
            yield Check(
                code="resistance_on_live_conductor",
                readings=sorted([index, *(i for i, _ in live)]),
                text=f"{sentence(where)}: resistance {pair_name(reading.between)} was read where {figures} "
                "stood. A panel stays live when the branch breaker is open; on a live conductor an ohmmeter is "
                "dangerous and shows nothing.",
            )


_Rule = Callable[[Sequence[_Indexed], str, ReadingSet], Iterator[Check]]
_RULES: tuple[_Rule, ...] = (
    _triangle,
    _repeat,
    _proximity_repeat,
    _off_line,
    _currents,
    _current_of_nothing,
    _ohmmeter_on_live,
)
