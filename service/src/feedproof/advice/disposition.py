"""What to do with the job (stop and refer, go on reading, or no supply fault found), and the two lines that say it."""

from collections.abc import Sequence

from feedproof.advice.candidates import DEGREE_TOLD, SERVICE_NEUTRAL_FAULTS, probability_of, without_degree
from feedproof.advice.cautions import LIKELY
from feedproof.advice.determination import PROBABLE, Ruling
from feedproof.advice.places import (
    LEAST_PART,
    NO_FAULT_PLACES,
    PARTIES,
    Party,
    Place,
    acting,
    leading,
    narrow_places,
    parties,
    places,
    title,
    wider,
)
from feedproof.advice.unexplained import stands_too_high
from feedproof.advice.wording import (
    conductor_name,
    fault_name,
    joined,
    party_names,
    percent,
    sentence,
    system_name,
    within,
)
from feedproof.contract.assessment import Caution, Disposition, Finding
from feedproof.inference import Outcome
from feedproof.readings import ReadingSet, Source

#: A hazard that is more likely than not ends the reading, whatever fault is behind it [1].
STOP_HAZARD = 0.5

#: Not a fault of the supply but a wrong word in the request: correct it and ask again.
_RESTATE = frozenset({"other_supply_system"})


def decide(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> Disposition:
    """Disposition of the job. It does not hang on which further readings are on offer.

    *Stop and refer* where the contacts of an unplugged outlet stand at a voltage that no sound outlet gives; where
    what runs has too little voltage to run on, whatever takes it; where a supply fault is established or probable;
    where the readings make some supply fault probable though not which; and where a live frame or a joint hotter than
    30 W is more likely than not. *Repair and retest* where the fault sits in the technician's own part: cord, plug,
    terminal block, appliance. *No supply fault found* only where that finding is established or probable, some fault
    was weighed at all, and none of the supply's hazards is likely. Else *take more readings*.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    outcome : Outcome
        Its candidates and hazards count here.
    reading_set : ReadingSet
        What was read, and what feeds the building.

    Returns
    -------
    Disposition
        One of the contract's four.
    """
    if ruling.wrong or ruling.too_low:
        return "stop_and_refer"
    # Where a leg reads far above 120 V to neutral, another supply system than the stated one is no wrong word.
    restated = frozenset() if stands_too_high(reading_set.readings) else _RESTATE
    candidates, source = outcome.candidates, reading_set.supply.source
    if ruling.determination != "undetermined" and parties(candidates, ruling.place, source) == ["technician"]:
        return "repair_and_retest"
    faulty = sum(c.probability for c in candidates if c.place not in NO_FAULT_PLACES | restated)
    if (ruling.speaking or ruling.together) and faulty >= PROBABLE:
        return "stop_and_refer"
    hazards = outcome.hazards
    if outcome.evidence and max(hazards.frame_live, hazards.heat_above_30_watts) >= STOP_HAZARD:
        return "stop_and_refer"
    # With base rates that exclude every fault the readings prove nothing.
    tested = any(narrow not in NO_FAULT_PLACES for c in candidates for narrow, _ in narrow_places(c))
    # "Look in the appliance" must not be said where a caution orders to switch off.
    quiet = max(hazards.service_neutral_fault, hazards.feeder_neutral_fault, hazards.frame_live) < LIKELY
    if ruling.place.name == "none" and ruling.determination != "undetermined" and tested and quiet:
        return "no_supply_fault_found"
    return "take_more_readings"


def refer(ruling: Ruling, disposition: Disposition, outcome: Outcome, reading_set: ReadingSet) -> list[Party]:
    """Who must act on the finding, and on what a caution orders to be switched off upstream; nobody before a reading.

    Where the work stops though the readings do not tell the place, that is whoever acts on any place of 5 % or more.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    disposition : str
        Of the job.
    outcome : Outcome
        Its candidates and the hazards of a neutral upstream count here.
    reading_set : ReadingSet
        What was read, and what feeds the building.

    Returns
    -------
    list of str
        Of `utility`, `electrician`, `technician`, in this order.
    """
    if not reading_set.readings:
        return []
    candidates, source = outcome.candidates, reading_set.supply.source
    own = {*parties(candidates, ruling.place, source), *_upstream(outcome, source)}
    if ruling.paired >= DEGREE_TOLD:
        own |= {party for place in narrow_places(ruling.finding) for party in acting(place[0])}
    if ruling.wrong or ruling.too_low:
        own.add("electrician")
    if disposition == "stop_and_refer" and ruling.determination == "undetermined":
        held = places(candidates)
        for candidate in candidates:
            if any(held[key] >= LEAST_PART for key in narrow_places(candidate)):
                own |= {*parties(candidates, leading(candidates, [candidate]), source)}
    return [party for party in PARTIES if party in own]


def _upstream(outcome: Outcome, source: Source) -> set[Party]:
    """Whom a bad neutral upstream concerns from where on its caution is an order, whatever the finding is."""
    wanted: set[Party] = set()
    hazards, named = outcome.hazards, probability_of(SERVICE_NEUTRAL_FAULTS, outcome.candidates)
    if max(hazards.service_neutral_fault, named) >= LIKELY:
        wanted |= {*acting("service_neutral")} - ({"utility"} if source == "generator" else set())
    if hazards.feeder_neutral_fault >= LIKELY:
        wanted |= {*acting("feeder_neutral")}
    return wanted


_RESTATE_IT = "State {system}, and ask again.{heat}"
_THREE_QUARTERS = " A heating element then makes three quarters of its heat."
_REPAIRS = {
    "leak_to_ground": "find and repair the leak in the appliance before it is energized again",
    "appliance": "find and repair the leak in the appliance before it is energized again",
    "joined": "take out the strap between neutral and ground",
    "transposed": "put the exchanged wires of cord, plug or terminal block where they belong",
}
_LEAKS = "The appliance leaks as well: find and repair that too before it is switched on again."
_REPAIR = "repair cord, plug or terminal block"
_OF_THE_VISIT = {
    "readings": "the readings do not go together",
    "tester": "the tester may be dead, and its zeros then say nothing",
}
_STOP = "Stop. "
_LEAVE_OFF = "Leave the circuit off"
_MAIN_OFF = "Main breaker off, if without hazard,"
_YET = "Condemn no part yet. "
_METAL = "Touch no grounded metal."
_ORDERS = {
    "outlet_voltage_wrong": "Keep it unplugged.",
    "service_neutral": _METAL,
    "grounded_frames_off_earth": _METAL,
    "feeder_neutral": "Touch no frame on this panel.",
    "frame_as_live": "Touch no frame.",
    "neutral_as_live": "Neutral counts as live.",
    "leak_in_appliance": "Leave it off.",
    "current_on_ground": "Do not open the ground.",
    "heat_at_joint_urgent": "Fire hazard.",
    "absence_not_proven": "Nothing is proven dead.",
}
#: Probabilities that differ by less are one.
_HAIR = 1e-6


def headline(
    finding: Finding,
    ruling: Ruling,
    unexplained: Sequence[str],
    shown: Sequence[str],
    low: Sequence[str] = (),
    *,
    read: bool,
) -> str:
    """What was found, with how probable it is; on readings that decide nothing, that, and what could hide.

    Parameters
    ----------
    finding : Finding
        As the answer has it.
    ruling : Ruling
        The determination and its grounds.
    unexplained : sequence of str
        Readings, in words, that the finding itself does not explain: they stand first.
    shown : sequence of str
        Readings, in words, that no sound supply gives.
    low : sequence of str, optional
        Readings, in words, that are too low for what runs.
    read : bool
        Whether there are any readings.
    """
    if not read:
        return "Nothing read yet: the answer is what to read first."
    if shown and finding.place in {"none", "readings"}:
        return f"{_first(shown)}: no sound supply gives that. Not decided which fault does."
    told = _found(finding, ruling)
    if low:
        return f"{_first(low)}: too low to run on. {told}"
    # A finding that the readings are inconsistent says it itself.
    if not unexplained or finding.place == "readings":
        return told
    fit = "do not fit" if len(unexplained) > 1 else "does not fit"
    return f"{_first(unexplained)} {fit} what was found. {told}"


def _first(told: Sequence[str]) -> str:
    others = f" and {len(told) - 1} more" if len(told) > 1 else ""
    return f"{sentence(told[0])}{others}"


def _found(finding: Finding, ruling: Ruling) -> str:
    if ruling.determination == "undetermined":
        return _undecided(finding, ruling)
    if finding.place == "none" and ruling.too_low:
        return f"No bad joint found: {percent(finding.probability)}"
    if finding.place == "none":
        return f"No supply fault found in these readings: {percent(finding.probability)}"
    words = f"{without_degree(finding)}{_beside(finding, ruling)}"
    return f"{words}: {percent(finding.probability)}{_degree(finding)}"


def _undecided(finding: Finding, ruling: Ruling) -> str:
    """Most probable is said of what is; beside a finding that is not, because it may burn say, stands what is."""
    if finding.place in _OF_THE_VISIT:
        return f"Not decided: {_OF_THE_VISIT[finding.place]}."
    found, share = within(f"{without_degree(finding)}{_beside(finding, ruling)}"), percent(finding.probability)
    if ruling.against:
        return f"Not decided: {found}, {share}, but a reading shows voltage where that leaves none."
    first, *others = ruling.leaders
    if first.probability > finding.probability + _HAIR:
        return f"Not decided: {_share(first)}, {found} {share}."
    if finding.place == "none":
        if others and others[0].probability >= LIKELY and others[0].name not in NO_FAULT_PLACES:
            return f"Not decided: {_share(first)}, {_share(others[0])}."
        if ruling.hidden:
            names = joined([conductor_name(c) for c in ruling.hidden])
            return f"Not decided: {names} may be open and these readings would look the same."
        return f"Not decided: {share} for no supply fault in these readings."
    return f"Not decided. Most probable: {found}, {share}"


def _share(place: Place) -> str:
    return f"{within(title(place.name, place.conductor))} {percent(place.probability)}"


def _beside(finding: Finding, ruling: Ruling) -> str:
    """The second fault, where it is as sure as a degree must be to be told."""
    if ruling.paired < DEGREE_TOLD:
        return ""
    if all(part.fault == finding.fault for part in finding.also):
        return f", {joined([conductor_name(part.conductor) for part in finding.also if part.conductor])} alike"
    return f", with {joined([fault_name(part.fault, part.conductor) for part in finding.also])}"


def _degree(finding: Finding) -> str:
    """How bad it is, where a place can be more or less so."""
    if finding.fault == "intermittent_connection":
        return ", on and off"
    if not {*wider(finding.place)} & {"leg", "neutral"}:
        return ""
    degree = "open or high resistance not told apart" if finding.degree is None else finding.degree.replace("_", " ")
    return f", {degree}"


def next_action(
    disposition: Disposition,
    refer_to: Sequence[str],
    finding: Finding,
    following: str | None,
    dangers: Sequence[Caution] = (),
    *,
    read: bool,
) -> str:
    """What to do first, in one line: what this case's dangers ask for, then the work.

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
    dangers : sequence of Caution
        Of this case.
    read : bool
        Whether there are any readings.
    """
    told = _work(disposition, refer_to, finding, following, read=read)
    codes = {caution.code for caution in dangers}
    if told.startswith(_STOP):
        # A circuit that is left off clears the others, but no neutral upstream.
        main = told.replace(_LEAVE_OFF, _MAIN_OFF) if "service_neutral" in codes else told
        return f"{_ORDERS['outlet_voltage_wrong']} {main}" if "outlet_voltage_wrong" in codes else main
    if disposition == "repair_and_retest":
        return told
    # In a few words: their titles stand beside it. Who touches no frame touches no neutral.
    told_by_frame = {"neutral_as_live"} if "frame_as_live" in codes else set()
    said = [caution for caution in dangers if caution.code not in told_by_frame]
    orders = dict.fromkeys(_ORDERS.get(caution.code) or _ended(caution.title) for caution in said)
    if "service_neutral" in codes and following is None:
        orders = {f"{_MAIN_OFF.rstrip(',')}.": None, **orders}
    return " ".join([*orders, told.removeprefix(_YET) if orders and following else told])


def _work(
    disposition: Disposition, refer_to: Sequence[str], finding: Finding, following: str | None, *, read: bool
) -> str:
    place, who = finding.place, party_names([party for party in refer_to if party != "technician"])
    if not read:
        first = "No meter here can take a reading" if following is None else f"First: {following}"
        return f"Prove the tester on a known live source. {_ended(first)}"
    if place == "other_supply_system" and disposition != "stop_and_refer":
        told = finding.title.partition(" (")[2].removesuffix(")")
        heat = _THREE_QUARTERS if told == system_name("wye_120_208") else ""
        restate = _RESTATE_IT.format(system=told or "the supply system that was found", heat=heat)
        return f"Do not start the appliance. {restate}"
    if disposition == "stop_and_refer":
        if following is not None:
            return f"Condemn no part; refer this to {who}. Worth reading first: {_ended(following)}"
        stop = f"{_STOP}{_LEAVE_OFF} and condemn no part; hand this to {who}."
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
    return (
        "Condemn no part yet. No further reading with these meters would tell: bring another kind of meter, or refer"
        f" the job to {who}."
    )


def _ended(words: str) -> str:
    """A sentence with its end."""
    return words if words.endswith(("?", ".")) else f"{words}."
