"""What to do with the job: stop and refer, go on reading, or say that no supply fault was found."""

from collections.abc import Sequence

from feedproof.advice.candidates import NOT_A_FAULT, fault_probability
from feedproof.advice.determination import PROBABLE, Ruling
from feedproof.contract.assessment import Disposition
from feedproof.inference import Candidate, Outcome

#: A hazard that is more likely than not ends the reading, whatever fault is behind it [1].
STOP_HAZARD = 0.5

#: A further reading is worth taking while it promises at least this much about the fault [bit]: a twentieth of
#: a plain yes or no.
WORTH_READING = 0.05

#: Not a fault of the supply but a wrong word in the request: correct it and ask again.
_RESTATE = frozenset({"other_supply_system"})


def decide(ruling: Ruling, outcome: Outcome, candidates: Sequence[Candidate]) -> Disposition:
    """Disposition of the job.

    *Stop and refer* where a supply fault is established or probable; where the readings make some supply fault
    probable though not which; and where a live frame or a joint hotter than 30 W is more likely than not. *No
    supply fault found* only where that finding is established, or probable with nothing left to read that would
    tell more, and some fault was weighed at all. Else *take more readings*.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    outcome : Outcome
        Its hazards and prospects count here.
    candidates : sequence of Candidate
        One for each fault.

    Returns
    -------
    Disposition
        One of the contract's three.
    """
    finding = ruling.finding
    if ruling.speaking and fault_probability(c for c in candidates if c.fault not in _RESTATE) >= PROBABLE:
        return "stop_and_refer"
    hazards = outcome.hazards
    if outcome.evidence and max(hazards.frame_live, hazards.heat_above_30_watts) >= STOP_HAZARD:
        return "stop_and_refer"
    if finding.fault == "none_found":
        decided = ruling.determination == "established"
        exhausted = ruling.determination == "probable" and not any(
            prospect.information >= WORTH_READING for prospect in outcome.prospects
        )
        # Base rates may rule every fault out beforehand; then the readings have proven nothing.
        tested = any(c.fault not in NOT_A_FAULT for c in candidates)
        if tested and (decided or exhausted):
            return "no_supply_fault_found"
    return "take_more_readings"
