"""The two lines that a screen shows first: what was found, and what to do."""

from collections.abc import Sequence

from feedproof.advice.candidates import DEGREE_TOLD, without_degree
from feedproof.advice.determination import Ruling
from feedproof.advice.places import wider
from feedproof.advice.wording import conductor_name, fault_name, joined, party_names, percent, sentence
from feedproof.contract.assessment import Disposition, Finding

_RESTATE = (
    "State the supply system that was found, and ask again; a heating element then makes three quarters of its heat."
)
_REPAIRS = {
    "leak_to_ground": "find and repair the leak in the appliance",
    "appliance": "find and repair the leak in the appliance",
    "joined": "take out the strap between neutral and ground",
    "transposed": "put the exchanged wires of cord, plug or terminal block where they belong",
}
_LEAKS = "The appliance leaks as well: find and repair that too before it is switched on again."
_REPAIR = "repair cord, plug or terminal block"
_OF_THE_VISIT = {
    "readings": "the readings do not go together",
    "tester": "the tester may be dead, and its zeros then say nothing",
}
_NOTHING_MORE = (
    "No further reading with these meters would tell: bring another kind of meter, or refer the job to an electrician."
)


def headline(finding: Finding, ruling: Ruling, unexplained: Sequence[str], *, read: bool) -> str:
    """What was found, with how probable it is; on readings that decide nothing, that, and what could hide.

    Parameters
    ----------
    finding : Finding
        As the answer has it.
    ruling : Ruling
        The determination and its grounds.
    unexplained : sequence of str
        Readings, in words, that the finding itself does not explain: they stand first.
    read : bool
        Whether there are any readings.
    """
    if not read:
        return "Nothing read yet: the answer is what to read first."
    told = _found(finding, ruling)
    # A finding that the readings are inconsistent says it itself.
    if not unexplained or finding.place == "readings":
        return told
    others = f" and {len(unexplained) - 1} more" if len(unexplained) > 1 else ""
    fit = "do not fit" if others else "does not fit"
    return f"{sentence(unexplained[0])}{others} {fit} what was found. {told}"


def _found(finding: Finding, ruling: Ruling) -> str:
    if finding.place == "none":
        if ruling.determination == "undetermined":
            if ruling.hidden:
                names = joined([conductor_name(c) for c in ruling.hidden])
                return f"Not decided: {names} may be open and these readings would look the same."
            return f"Not decided: {percent(finding.probability)} for no supply fault in these readings."
        return f"No supply fault found in these readings: {percent(finding.probability)}"
    if ruling.determination == "undetermined":
        if finding.place in _OF_THE_VISIT:
            return f"Not decided: {_OF_THE_VISIT[finding.place]}."
        words = f"{without_degree(finding)}{_beside(finding, ruling)}"
        return f"Not decided. Most probable: {_within(words)}, {percent(finding.probability)}"
    words = f"{without_degree(finding)}{_beside(finding, ruling)}"
    return f"{words}: {percent(finding.probability)}{_degree(finding)}"


def _beside(finding: Finding, ruling: Ruling) -> str:
    """The second fault, where it is as sure as a degree must be to be told."""
    if ruling.paired < DEGREE_TOLD:
        return ""
    return f", with {joined([fault_name(part.fault, part.conductor) for part in finding.also])}"


def _degree(finding: Finding) -> str:
    """How bad it is, where a place can be more or less so."""
    if finding.fault == "intermittent_connection":
        return ", on and off"
    if not {*wider(finding.place)} & {"leg", "neutral"}:
        return ""
    told = {"open": ", open", "high_resistance": ", high resistance"}
    return told.get(finding.degree or "", ", open or high resistance not told apart")


def next_action(
    disposition: Disposition, refer_to: Sequence[str], finding: Finding, following: str | None, *, read: bool
) -> str:
    """What to do first, in one line.

    Parameters
    ----------
    disposition : str
        Of the job.
    refer_to : sequence of str
        Who must act.
    finding : Finding
        As the answer has it.
    following : str or None
        Title of the reading to take next; None: there is none.
    read : bool
        Whether there are any readings.
    """
    place = finding.place
    if not read:
        first = "No meter here can take a reading" if following is None else f"First: {following}"
        return f"Prove the tester on a known live source. {_ended(first)}"
    if place == "other_supply_system" and disposition != "stop_and_refer":
        return f"Do not start the appliance. {_RESTATE}"
    if disposition == "stop_and_refer":
        who = party_names([party for party in refer_to if party != "technician"])
        if following is not None:
            return f"Condemn no part of the appliance; refer this to {who}. Worth reading first: {_ended(following)}"
        stop = f"Stop. Leave the circuit off and condemn no part of the appliance; hand this to {who}."
        leaks = any(part.fault == "leak_to_ground" for part in finding.also)
        return f"{stop} {_LEAKS}" if leaks else stop
    if disposition == "repair_and_retest":
        return f"Switch the breaker off, prove it dead, {_REPAIRS.get(place, _REPAIR)}, then read again."
    if disposition == "no_supply_fault_found":
        return "Look for the cause in the appliance next. Every conductor still counts as live."
    if place == "tester":
        return "Prove the tester on a known live source, and take the readings again."
    if following is not None:
        return f"Condemn no part yet. Next: {_ended(following)}"
    if place == "readings":
        return "Condemn no part yet. Take the readings that stand out again, one by one."
    return f"Condemn no part yet. {_NOTHING_MORE}"


def _within(words: str) -> str:
    """A title inside a sentence."""
    return words if words[:2] in {"L1", "L2"} else words[:1].lower() + words[1:]


def _ended(words: str) -> str:
    """A sentence with its end."""
    return words if words.endswith(("?", ".")) else f"{words}."
