"""How a reading can hurt whoever takes it."""

from feedproof.advice.caution_rules import GROUND_PROBABILITY, HAZARD_PROBABILITY
from feedproof.advice.texts import in_language, safety_texts
from feedproof.contract.next_reading import Hazard
from feedproof.inference import Hazards, Prospect
from feedproof.readings import LOADED_STATES, PANELS


def hazards_of(
    prospect: Prospect, hazards: Hazards, language: str, *, still_disconnected: bool = False
) -> list[Hazard]:
    """Hazards of taking the reading.

    Parameters
    ----------
    prospect : Prospect
        The reading.
    hazards : Hazards
        Posterior probabilities [1].
    language : str
        BCP 47 tag.
    still_disconnected : bool
        Whether the appliance is disconnected, and stays so: nobody has to touch it.

    Returns
    -------
    list of Hazard
        At least one: no reading on a supply is without hazard.
    """
    codes = _codes(prospect, hazards, still_disconnected=still_disconnected)
    texts = {hazard.code: hazard.text for hazard in safety_texts().reading_hazards}
    return [Hazard(code=code, text=in_language(texts[code], language)) for code in codes]


def _codes(prospect: Prospect, hazards: Hazards, *, still_disconnected: bool) -> list[str]:
    if prospect.kind == "resistance":
        return ["isolation_needed", *(["open_panel"] if prospect.point in PANELS else [])]
    codes = {"voltage": ["live_contact"], "current": ["clamp_near_live"], "proximity": ["silence_is_no_proof"]}[
        prospect.kind
    ]
    if prospect.point in PANELS:
        codes.append("open_panel")
    elif prospect.point == "appliance_terminals":
        codes.append("opened_appliance")
    elif prospect.kind != "proximity" and prospect.load_state_kind != "disconnected":
        codes.append("connected_plug")
    if prospect.load_state_kind in LOADED_STATES:
        codes.append("load_current")
    if prospect.meter_kind == "low_impedance_voltmeter":
        neutral_at_risk = hazards.neutral_fault >= HAZARD_PROBABILITY
        codes += ["neutral_pulled_up"] if "N" in prospect.conductors and neutral_at_risk else []
        on_ground = "G" in prospect.conductors and hazards.ground_open >= GROUND_PROBABILITY
        codes += ["frame_carries_test_current"] if on_ground else []
        codes.append("meter_heats")
    if not still_disconnected and hazards.frame_live >= HAZARD_PROBABILITY:
        codes.append("frame_maybe_live")
    if max(hazards.earth_above_30_volts, hazards.service_neutral_fault) >= HAZARD_PROBABILITY:
        codes.append("frames_off_earth")
    return codes
