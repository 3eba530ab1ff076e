"""Visits on drawn circuits: reading what the answer says next, or in a fixed order, until something is decided."""

from typing import Any, NamedTuple

import msgspec

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.contract.next_reading import NextReading
from feedproof.inference import Truth, draw
from feedproof.readings import Reading, ReadingSet, VoltageReading
from support.outcomes import DMM, LOZ, volts
from support.proof_cases import FOUR_WIRE, LABELS

#: A technician with both kinds of voltmeter, an appliance that heats across the legs, and a load for one side.
ARRANGEMENT = ReadingSet(
    supply=FOUR_WIRE,
    meters={"dmm": DMM, "loz": LOZ},
    load_states={name: LABELS[name] for name in ("disconnected", "idle", "heating", "one_side")},
)

#: Fixed orders of six readings, legs first, then the neutral; each ends with all that it takes to pass a sound supply.
FIXED: dict[str, tuple[Reading, ...]] = {
    "low impedance, then under load": (
        volts("L1", "L2", 0.0, "loz"),
        volts("L1", "N", 0.0, "loz"),
        volts("L2", "N", 0.0, "loz"),
        volts("L1", "L2", 0.0, state="heating"),
        volts("L1", "N", 0.0, state="one_side"),
        volts("N", "G", 0.0, state="one_side"),
    ),
    "unloaded, then under load": (
        volts("L1", "L2", 0.0),
        volts("L1", "N", 0.0),
        volts("L2", "N", 0.0),
        volts("L1", "L2", 0.0, state="heating"),
        volts("L1", "N", 0.0, state="one_side"),
        volts("L2", "N", 0.0, state="one_side"),
    ),
    "ground after the legs, then under load": (
        volts("L1", "L2", 0.0, "loz"),
        volts("L1", "N", 0.0, "loz"),
        volts("L2", "N", 0.0, "loz"),
        volts("N", "G", 0.0),
        volts("L1", "L2", 0.0, state="heating"),
        volts("L1", "N", 0.0, state="one_side"),
    ),
}
PROVEN = 5.0
"""A joint of so much would have shown [ohm]."""
MOST = 6
NEVER = MOST + 1
"""Stands for visits that end undecided."""


class Visit(NamedTuple):
    """How one visit went."""

    way: str
    fault: str
    readings: int
    """Until something was decided, or `NEVER`."""
    right: bool
    """Whether what was decided is what is there."""


def reading_of(step: NextReading) -> Reading:
    """Give the reading that an answer asks for."""
    asked = step.reading
    if asked is None or step.meter is not None:
        raise ValueError(f"{step.title} is no reading with a meter at hand")
    common: dict[str, Any] = {"meter": asked.meter, "load_state": asked.load_state, "point": asked.point}
    if asked.kind != "voltage" or asked.between is None:
        raise ValueError(f"no reading of kind {asked.kind} was offered")
    a, b = asked.between
    return VoltageReading(between=(a, b), value=0.0, **common)  # type: ignore[arg-type]


def _first(answer: Assessment) -> NextReading | None:
    """The first that is a reading with a meter at hand, in a load state of this appliance."""
    return next(
        (
            step
            for step in answer.next_readings
            if step.reading is not None and step.meter is None and step.reading.load_state in ARRANGEMENT.load_states
        ),
        None,
    )


def _right(truth: Truth, answer: Assessment) -> bool:
    """Whether the place that is established is, or holds, the place of what is there.

    A fault that holds 0.1 % or less is no candidate, so its place is then not the finding's.
    """
    named = {answer.finding.place, *(part.place for part in answer.finding.parts)}
    own = [
        c
        for c in answer.candidates
        if {(c.fault, c.conductor), *((p.fault, p.conductor) for p in c.also)} == truth.parts
    ]
    return any(c.place in named for c in own)


def _answered(seed: int, taken: list[Reading]) -> tuple[Truth, Assessment]:
    """What is there, and what is said after these readings; a further one leaves circuit and values as they are."""
    truth, noted = draw(msgspec.structs.replace(ARRANGEMENT, readings=tuple(taken)), (5, seed))
    return truth, assess(noted)


def decided(answer: Assessment) -> bool:
    """Whether a visit ends.

    A finding is established, or the job stops and nothing more is to be read, or both legs and the neutral are proven
    under load.
    """
    stopped = answer.disposition == "stop_and_refer" and not answer.next_readings
    coarse = [x for x in answer.detection_limits if x.conductor != "G" and (x.value is None or x.value > PROVEN)]
    return (
        answer.determination == "established"
        or stopped
        or (answer.disposition == "no_supply_fault_found" and not coarse)
    )


def _ended(way: str, truth: Truth, answer: Assessment, count: int) -> Visit:
    return Visit(way, truth.fault, count, _right(truth, answer))


def guided(seed: int) -> Visit:
    """Read what the answer puts first, again and again."""
    taken: list[Reading] = []
    truth, answer = _answered(seed, taken)
    while not decided(answer):
        following = _first(answer)
        if len(taken) == MOST or following is None:
            return _ended("guided", truth, answer, NEVER)
        taken.append(reading_of(following))
        truth, answer = _answered(seed, taken)
    return _ended("guided", truth, answer, len(taken))


def fixed(seed: int, way: str) -> Visit:
    """Read in a fixed order."""
    for count in range(1, MOST + 1):
        truth, answer = _answered(seed, list(FIXED[way][:count]))
        if decided(answer) or count == MOST:
            return _ended(way, truth, answer, count if decided(answer) else NEVER)
    raise ValueError("a visit needs at least one reading")


def visits(seed: int) -> list[Visit]:
    """One drawn circuit, visited in every way."""
    return [guided(seed), *(fixed(seed, way) for way in FIXED)]
