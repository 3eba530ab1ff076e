"""The two lines that a screen shows first: what was found, and what to do."""

from collections.abc import Sequence

from feedproof.advice.determination import Ruling
from feedproof.advice.wording import conductor_name, joined, percent, sentence
from feedproof.contract.assessment import Disposition, Finding

_PARTIES = {"utility": "the utility", "electrician": "a licensed electrician", "technician": "the technician"}
_RESTATE = (
    "State the supply system that was found, and ask again; a heating element then makes three quarters of its heat."
)


def headline(finding: Finding, ruling: Ruling, *, read: bool) -> str:
    """What was found, with how probable it is; on readings that decide nothing, that, and what could hide.

    Parameters
    ----------
    finding : Finding
        As the answer has it.
    ruling : Ruling
        The determination and its grounds.
    read : bool
        Whether there are any readings.
    """
    if not read:
        return "Nothing read yet: the answer is what to read first."
    if finding.place == "none":
        if ruling.determination == "undetermined":
            if ruling.hidden:
                names = joined([conductor_name(c) for c in ruling.hidden])
                return f"Not decided: {names} may be open and these readings would look the same."
            return f"Not decided: {percent(finding.probability)} for no supply fault in these readings."
        return f"No supply fault found in these readings: {percent(finding.probability)}"
    if ruling.determination == "undetermined":
        title = finding.title[:1].lower() + finding.title[1:]
        return f"Not decided. Most probable: {title}, {percent(finding.probability)}"
    return f"{finding.title}: {percent(finding.probability)}"


def next_action(disposition: Disposition, refer_to: Sequence[str], place: str, *, read: bool) -> str:
    """What to do first, in one line.

    Parameters
    ----------
    disposition : str
        Of the job.
    refer_to : sequence of str
        Who must act.
    place : str
        The finding's.
    read : bool
        Whether there are any readings.
    """
    if not read:
        return "Prove the tester on a known live source, then take the first reading."
    if place == "other_supply_system":
        return f"Do not start the appliance. {_RESTATE}"
    if disposition == "stop_and_refer":
        who = joined([_PARTIES[party] for party in refer_to if party != "technician"]) or "a licensed electrician"
        return f"Stop. Leave the circuit off and condemn no part of the appliance; hand this to {who}."
    if disposition == "repair_and_retest":
        return "Switch the breaker off, prove it dead, repair cord, plug or terminal block, then read again."
    if disposition == "no_supply_fault_found":
        return "Look for the cause in the appliance next. Every conductor still counts as live."
    if place == "tester":
        return "Prove the tester on a known live source, and take the readings again."
    return sentence("condemn no part yet: take the next reading.")
