"""Names of readings, and readings that take another again."""

from collections.abc import Sequence

from feedproof.parsing.diagnostics import Diagnostics
from feedproof.readings import CurrentReading, ProximityReading, Reading


def _measured(reading: Reading) -> dict[str, object]:
    """What was measured, by the field that says it: readings of the same have all of it in common."""
    match reading:
        case ProximityReading():
            conductors: dict[str, object] = {"at": {reading.at}}
        case CurrentReading():
            conductors = {"through": {reading.through}}
        case _:
            conductors = {"between": set(reading.between)}
    return {"kind": type(reading), **conductors, "point": reading.point, "load_state": reading.load_state}


def check_repeats(readings: Sequence[Reading], diagnostics: Diagnostics) -> None:
    """Hold ids and repeats against each other: each id once, a repeat of what reads the same, and never in a circle."""
    named: dict[str, int] = {}
    for index, reading in enumerate(readings):
        if reading.id is not None and named.setdefault(reading.id, index) != index:
            detail = f"another reading has the id '{reading.id}'; give each its own"
            diagnostics.fault(f"/readings/{index}/id", "given_twice", detail, ["an id of its own"], reading.id)
    before = [None if reading.repeats is None else named.get(reading.repeats) for reading in readings]
    for index, reading in enumerate(readings):
        if reading.repeats is not None:
            _check(readings, index, before, sorted(set(named) - {reading.id}), diagnostics)


def _check(
    readings: Sequence[Reading], index: int, before: Sequence[int | None], ids: list[str], diagnostics: Diagnostics
) -> None:
    pointer, first, repeats = f"/readings/{index}/repeats", before[index], readings[index].repeats
    if first is None:
        # A reading that could not be parsed may have had that id.
        if not diagnostics.is_broken("/readings"):
            diagnostics.fault(pointer, "undefined_reading", "no reading has this id", ids, repeats)
        return
    if _goes_round(index, before):
        detail = "the reading repeats itself" if first == index else "they repeat each other, so none was the first"
        diagnostics.fault(pointer, "contradiction", detail, ["the id of an earlier reading"], repeats)
        return
    ours, theirs = _measured(readings[index]), _measured(readings[first])
    other = [field for field in ours if ours[field] != theirs.get(field)]
    if other and not any(diagnostics.is_broken(f"/readings/{i}") for i in (index, first)):
        detail = f"'{repeats}' has another {' and '.join(other)}; only what reads the same again repeats it"
        diagnostics.fault(pointer, "contradiction", detail, ["the id of a reading of the same"], repeats)


def _goes_round(index: int, before: Sequence[int | None]) -> bool:
    """Whether going from repeat to repeat leads back to where it began."""
    at = before[index]
    for _ in before:
        if at is None or at == index:
            break
        at = before[at]
    return at == index
