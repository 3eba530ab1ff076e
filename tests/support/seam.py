"""The inference as the proofs call it: through its seam, whatever engine stands behind it."""

from feedproof.inference import Candidate, Circuits, Outcome, circuits_of, infer
from feedproof.readings import ReadingSet


def never(_: Outcome) -> bool:
    """What to read next is not wanted."""
    return False


def sites(readings: ReadingSet) -> tuple[Candidate, ...]:
    """Every site that is weighed for these readings, most probable first."""
    return infer(readings, look_ahead=never).candidates


def every_circuit(readings: ReadingSet) -> list[tuple[Candidate, Circuits]]:
    """Every site that is weighed, with each kind of circuit that it stands for."""
    return [(site, circuits) for site in sites(readings) for circuits in circuits_of(readings, site)]


def site(readings: ReadingSet, fault: str, conductor: str | None = None) -> Candidate:
    """Give the most probable site of one fault alone, on a conductor where several carry it."""
    return next(c for c in sites(readings) if c.fault == fault and not c.also and conductor in {None, c.conductor})


def circuit_of_branch(readings: ReadingSet, fault: str, conductor: str | None = None) -> Circuits:
    """Give the circuit of one fault alone on a conductor of the branch, or wherever it sits if not there."""
    found = [c for c in sites(readings) if c.fault == fault and not c.also and conductor in {None, c.conductor}]
    own = next((c for c in found if c.location == "between_panel_and_receptacle"), found[0])
    return max(circuits_of(readings, own), key=lambda circuits: circuits.share)
