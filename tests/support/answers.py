"""Short questions to an assessment."""

from feedproof.contract.assessment import Assessment, Candidate, NeutralToGround
from feedproof.contract.next_reading import NextReading


def _parts(candidate: Candidate) -> set[tuple[str, str | None]]:
    return {(candidate.fault, candidate.conductor), *((part.fault, part.conductor) for part in candidate.also)}


def probability(assessment: Assessment, *faults: str, conductor: str | None = None) -> float:
    """Give the probability that one of the faults is there, alone or beside another.

    Parameters
    ----------
    assessment : Assessment
        The answer.
    *faults : str
        Names.
    conductor : str, optional
        Count only those on this conductor.
    """
    return sum(
        c.probability
        for c in assessment.candidates
        if any(fault in faults and conductor in {None, on} for fault, on in _parts(c))
    )


def named(assessment: Assessment, least: float = 0.01) -> set[tuple[str, str | None]]:
    """Give (fault, conductor) of every candidate of at least that probability, second faults included."""
    return {part for c in assessment.candidates if c.probability >= least for part in _parts(c)}


def neutral(assessment: Assessment, *, load_state: str | None = None, during: int | None = None) -> NeutralToGround:
    """Give the estimate of the neutral in a load state, or while a reading was taken."""
    return next(
        n for n in assessment.neutral_to_ground if n.during_reading == during and load_state in {None, n.load_state}
    )


def limit(assessment: Assessment, conductor: str) -> float:
    """Give the detection limit of a conductor [ohm]; infinite where nothing would have shown."""
    found = next(x for x in assessment.detection_limits if x.conductor == conductor)
    return float("inf") if found.value is None else found.value


def draws_current(step: NextReading) -> bool:
    """Whether a reading draws current through what it reads: a low-impedance meter, or a load in the circuit."""
    return step.meter_kind == "low_impedance_voltmeter" or (
        step.load_state is not None and step.load_state.kind != "disconnected"
    )
