"""What to do with the job: stop and refer, go on reading, or say that no supply fault was found."""

from collections.abc import Sequence

from feedproof.advice.candidates import DEGREE_TOLD
from feedproof.advice.cautions import LIKELY
from feedproof.advice.determination import PROBABLE, Ruling
from feedproof.advice.places import (
    LEAST_PART,
    NOT_A_FAULT,
    PARTIES,
    Party,
    acting,
    leading,
    narrow_places,
    parties,
    places,
)
from feedproof.contract.assessment import Disposition
from feedproof.inference import Candidate, Outcome
from feedproof.readings import Source

#: A hazard that is more likely than not ends the reading, whatever fault is behind it [1].
STOP_HAZARD = 0.5

#: Not a fault of the supply but a wrong word in the request: correct it and ask again.
_RESTATE = frozenset({"other_supply_system"})


def decide(
    ruling: Ruling,
    outcome: Outcome,
    candidates: Sequence[Candidate],
    source: Source = "utility",
    *,
    too_high: bool = False,
) -> Disposition:
    """Disposition of the job. It does not hang on which further readings are on offer.

    *Stop and refer* where a supply fault is established or probable; where the readings make some supply fault
    probable though not which; and where a live frame or a joint hotter than 30 W is more likely than not. *Repair and
    retest* where the fault sits in the technician's own part: cord, plug, terminal block, appliance. *No supply fault
    found* only where that finding is established or probable, some fault was weighed at all, and none of
    the supply's hazards is likely. Else *take more readings*.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    outcome : Outcome
        Its hazards count here.
    candidates : sequence of Candidate
        As the inference gives them.
    source : str
        What feeds the building.
    too_high : bool
        A leg reads far above 120 V to neutral: then another supply system than the stated one is no wrong word.

    Returns
    -------
    Disposition
        One of the contract's four.
    """
    restated = frozenset() if too_high else _RESTATE
    own = ruling.determination != "undetermined" and parties(candidates, ruling.place, source) == ["technician"]
    if own:
        return "repair_and_retest"
    faulty = sum(c.probability for c in candidates if c.place not in NOT_A_FAULT | restated)
    if ruling.speaking and faulty >= PROBABLE:
        return "stop_and_refer"
    hazards = outcome.hazards
    if outcome.evidence and max(hazards.frame_live, hazards.heat_above_30_watts) >= STOP_HAZARD:
        return "stop_and_refer"
    # With base rates that exclude every fault the readings prove nothing.
    tested = any(narrow not in NOT_A_FAULT for c in candidates for narrow, _ in narrow_places(c))
    # "Look in the appliance" must not be said where a caution orders to switch off.
    quiet = max(hazards.service_neutral_fault, hazards.feeder_neutral_fault, hazards.frame_live) < LIKELY
    if ruling.place.name == "none" and ruling.determination != "undetermined" and tested and quiet:
        return "no_supply_fault_found"
    return "take_more_readings"


def refer(
    ruling: Ruling, disposition: Disposition, candidates: Sequence[Candidate], source: Source = "utility"
) -> list[Party]:
    """Who must act on the finding.

    Where the work stops though the readings do not tell the place, that is whoever acts on any place of 5 % or more.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    disposition : str
        Of the job.
    candidates : sequence of Candidate
        As the inference gives them.
    source : str
        What feeds the building.

    Returns
    -------
    list of str
        Of `utility`, `electrician`, `technician`, in this order.
    """
    own = parties(candidates, ruling.place, source)
    if ruling.paired >= DEGREE_TOLD:
        both = {party for place in narrow_places(ruling.finding) for party in acting(place[0])}
        own = [party for party in PARTIES if party in {*own, *both}]
    if disposition != "stop_and_refer" or ruling.determination != "undetermined":
        return own
    held = places(candidates)
    wanted = {*own}
    for candidate in candidates:
        if any(held[key] >= LEAST_PART for key in narrow_places(candidate)):
            wanted |= {*parties(candidates, leading(candidates, [candidate]), source)}
    return [party for party in PARTIES if party in wanted]
