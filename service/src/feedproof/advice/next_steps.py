"""The next readings in words: what each would settle, and how it can hurt."""

from feedproof.advice.cautions import HAZARD_PROBABILITY
from feedproof.advice.summary import WORTH_BITS
from feedproof.advice.texts import in_language, safety_texts
from feedproof.advice.wording import fault_name
from feedproof.contract.assessment import NextReading
from feedproof.inference import Hazards, Outcome, Prospect

_ENERGIZED_STATES = frozenset({"running", "test_load"})
_PAIRED = frozenset({"voltage", "resistance"})


def to_wire(outcome: Outcome, language: str) -> list[NextReading]:
    """The next readings of the answer, ranked as the inference ranked them.

    Parameters
    ----------
    outcome : Outcome
        Its prospects, most worth taking first.
    language : str
        BCP 47 tag of the hazards' texts.

    Returns
    -------
    list of NextReading
        One for each prospect, in the same order.
    """
    return [_one(prospect, outcome.hazards, language) for prospect in outcome.prospects]


def _one(prospect: Prospect, hazards: Hazards, language: str) -> NextReading:
    conductors: list[str] = [*prospect.conductors]
    return NextReading(
        kind=prospect.kind,
        between=conductors if prospect.kind in _PAIRED else None,
        at=conductors[0] if prospect.kind == "proximity" else None,
        through=conductors[0] if prospect.kind == "current" else None,
        point=prospect.point,
        meter_kind=prospect.meter_kind,
        meter=prospect.meter,
        load_state=prospect.load_state,
        information=prospect.information,
        why=why(prospect),
        hazards=hazards_of(prospect, hazards, language),
    )


def why(prospect: Prospect) -> str:
    """What the reading would settle."""
    if prospect.information < WORTH_BITS:
        return "It would tell little more."
    if prospect.separates is None:
        purpose = "Narrows down the fault."
    else:
        first, second = (_in_contrast(fault, conductor) for fault, conductor in prospect.separates)
        purpose = f"Tells {first} from {second}." if first != second else "Narrows down the fault."
    reason = _because(prospect)
    return f"{purpose} {reason}" if reason else purpose


def _in_contrast(fault: str, conductor: str | None) -> str:
    return {"none_found": "a sound supply", "readings_inconsistent": "wrong readings"}.get(
        fault, fault_name(fault, conductor)
    )


def _because(prospect: Prospect) -> str | None:
    if prospect.kind == "resistance":
        return "It shows an open or bad conductor without any voltage on it."
    if prospect.kind == "proximity":
        return "It takes no contact, but it proves nothing alone."
    if prospect.load_state_kind in _ENERGIZED_STATES:
        return "Load current makes a bad joint show itself as lost voltage."
    if prospect.meter_kind == "low_impedance_voltmeter":
        return "Its test current pulls down what only strays hold up."
    if prospect.load_state_kind == "idle":
        return "The connected appliance pulls a floating conductor to where it can be seen."
    return None


def hazards_of(prospect: Prospect, hazards: Hazards, language: str) -> list[str]:
    """Hazards of taking the reading, in words.

    Parameters
    ----------
    prospect : Prospect
        The reading.
    hazards : Hazards
        Posterior probabilities [1].
    language : str
        BCP 47 tag.

    Returns
    -------
    list of str
        At least one: no reading on a supply is without hazard.
    """
    texts = {hazard.code: hazard.text for hazard in safety_texts().reading_hazards}
    return [in_language(texts[code], language) for code in _codes(prospect, hazards)]


def _codes(prospect: Prospect, hazards: Hazards) -> list[str]:
    if prospect.kind == "resistance":
        return ["isolation_needed", *(["open_panel"] if prospect.point == "service_panel" else [])]
    codes = {"voltage": ["live_contact"], "current": ["clamp_near_live"], "proximity": ["silence_is_no_proof"]}[
        prospect.kind
    ]
    if prospect.point == "service_panel":
        codes.append("open_panel")
    elif prospect.point == "appliance_terminals":
        codes.append("opened_appliance")
    elif prospect.kind != "proximity" and prospect.load_state_kind != "disconnected":
        codes.append("connected_plug")
    if prospect.load_state_kind in _ENERGIZED_STATES:
        codes.append("load_current")
    if prospect.meter_kind == "low_impedance_voltmeter":
        neutral_at_risk = hazards.neutral_fault >= HAZARD_PROBABILITY
        codes += ["neutral_pulled_up"] if "N" in prospect.conductors and neutral_at_risk else []
        codes.append("meter_heats")
    if prospect.load_state_kind != "disconnected" and hazards.frame_live >= HAZARD_PROBABILITY:
        codes.append("cabinet_maybe_live")
    return codes
