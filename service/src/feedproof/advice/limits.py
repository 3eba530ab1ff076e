"""Detection limits in words: what could hide behind these readings, and what current tested them."""

from collections.abc import Sequence

from feedproof.advice.determination import OPEN_RESISTANCE
from feedproof.advice.wording import conductor_name, pair_name, quantity, sentence
from feedproof.contract.assessment import DetectionLimit
from feedproof.inference import Limit, ReadingEvidence
from feedproof.readings import Conductor, Reading, VoltageReading

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


def to_wire(limit: Limit, evidence: Sequence[ReadingEvidence], readings: Sequence[Reading]) -> DetectionLimit:
    """One detection limit of the answer, with its meaning in words."""
    return DetectionLimit(
        conductor=limit.conductor,
        value=limit.resistance,
        unit="ohm",
        meaning=_meaning(limit, evidence, readings),
    )


def _meaning(limit: Limit, evidence: Sequence[ReadingEvidence], readings: Sequence[Reading]) -> str:
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
