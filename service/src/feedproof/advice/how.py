"""How a reading is taken, step by step (the circuit, the place, the meter, the contacts), and how it can hurt."""

from feedproof.advice.cautions import GROUND_PROBABILITY, HAZARD_PROBABILITY
from feedproof.advice.texts import in_language, safety_texts
from feedproof.advice.wording import conductor_name, meter_kind_name, quantity
from feedproof.contract.next_reading import Hazard
from feedproof.inference import Hazards, Prospect
from feedproof.readings import LOADED_STATES, PANELS, ReadingSet

_PANELS = {
    "service_panel": "the service panel",
    "sub_panel": "the sub-panel that feeds this circuit",
    "panel": "the panel that feeds this circuit",
}
_START = {
    "range": "Set the oven, or a large surface element, to its highest setting, and wait until it heats.",
    "dryer": "Start the dryer on its hottest setting, and wait until drum and heater run.",
    "water_heater": "Draw hot water until the element comes on.",
    "air_conditioner": "Set the thermostat so that the compressor starts, and wait until it has run up.",
    "heat_pump": "Set the thermostat so that the compressor starts, and wait until it has run up.",
    "vehicle_charger": "Start charging at the highest current that is set.",
    "pump": "Let the pump start, and wait until it has run up.",
}
_CONTACTS = {
    "L1": "the first line contact (L1)",
    "L2": "the second line contact (L2)",
    "N": "the neutral contact",
    "G": "the ground contact",
}


def steps(prospect: Prospect, readings: ReadingSet, meter: str) -> list[str]:
    """Steps of one reading, in order, in plain words.

    Parameters
    ----------
    prospect : Prospect
        The reading.
    readings : ReadingSet
        The visit.
    meter : str
        Name of the meter.
    """
    return [
        *_circuit(prospect, readings),
        *_place(prospect),
        *_on(prospect, readings),
        *_meter(prospect, meter),
        "Write down what it shows.",
    ]


def is_disconnected(readings: ReadingSet) -> bool:
    """Whether every reading so far was taken with the appliance disconnected."""
    return _kinds(readings) == {"disconnected"}


def _kinds(readings: ReadingSet) -> set[str]:
    """Kinds of the load states that were read so far."""
    return {readings.load_states[reading.load_state].kind for reading in readings.readings}


def _circuit(prospect: Prospect, readings: ReadingSet) -> list[str]:
    kind = prospect.load_state_kind
    wired = readings.supply.receptacle == "hardwired"
    if prospect.kind == "resistance":
        return [
            "Switch the circuit's breaker off, lock it, unplug the appliance, and let what stores energy discharge.",
            "Show with a proven voltmeter that every contact is dead.",
        ]
    if kind == "disconnected":
        if is_disconnected(readings):
            return ["Leave the appliance disconnected."]
        if wired:
            return ["Breaker off, show that it is dead, take the appliance's wires off, breaker on again."]
        return ["If the appliance is plugged in: breaker off first, then unplug it, then breaker on again."]
    if kind == "test_load" and prospect.point != "appliance_terminals":
        what = _load(prospect)
        return [
            f"Breaker off, unplug the appliance, and put {what} in its place, through an adapter rated for the circuit."
        ]
    if _kinds(readings) <= {"disconnected"} and not wired:
        return ["If the appliance is disconnected: breaker off first, then plug it in, then breaker on again."]
    return []


def _load(prospect: Prospect) -> str:
    """The known load that is to be connected."""
    if not prospect.loads:
        return "a known load"
    load = prospect.loads[0]
    size = quantity(abs(complex(load.resistance, load.reactance)), "ohm")
    watts = quantity(round(14400.0 / load.resistance, -2), "W")
    between = f"{conductor_name(load.between[0])} and {conductor_name(load.between[1])}"
    return f"a known load of {size} (on 120 V, {watts}) between {between}"


def _on(prospect: Prospect, readings: ReadingSet) -> list[str]:
    """What is switched on, once all that has to be opened is open."""
    kind = prospect.load_state_kind
    if kind == "idle":
        return ["Do not start the appliance."]
    if kind == "running":
        return [_START.get(readings.appliance, "Start the appliance so that it draws its full current.")]
    return ["Breaker on, and switch the load on."] if kind == "test_load" else []


def _place(prospect: Prospect) -> list[str]:
    if prospect.point in _PANELS:
        return [f"At {_PANELS[prospect.point]}: cover off, standing dry and to one side; only the probes go in."]
    if prospect.point == "appliance_terminals":
        if prospect.load_state_kind == "test_load":
            return [
                "Breaker off, show that it is dead; access cover of the appliance's terminal block off, plug left in.",
                f"Appliance switched off, put {_load(prospect)} on the terminal block, by leads rated for its current.",
            ]
        return ["Breaker off, access cover of the appliance's terminal block off, breaker on again; leave the plug in."]
    return []


def _meter(prospect: Prospect, meter: str) -> list[str]:
    pair = prospect.conductors
    box = prospect.point in _PANELS
    name = f"the {meter_kind_name(prospect.meter_kind)}"
    if prospect.meter is not None and prospect.meter != prospect.meter_kind:
        name += f" ({meter})"
    if prospect.kind == "current":
        return [f"Set {name} to AC amperes and close it around {conductor_name(pair[0])} alone."]
    if prospect.kind == "proximity":
        return [f"Prove {name} on something live, then hold it to {conductor_name(pair[0])}."]

    def contact(conductor: str) -> str:
        if box:
            return {"N": "the neutral bar", "G": "the ground bar"}.get(conductor, f"the bar of {conductor}")
        if prospect.point == "appliance_terminals":
            return f"the terminal of {conductor_name(conductor)}"
        return _CONTACTS[conductor]

    mode = {"resistance": "ohms", "voltage": "AC volts"}[prospect.kind]
    if prospect.meter_kind == "low_impedance_voltmeter":
        mode = "AC volts, low impedance"
    again = "Take the same reading again: set" if prospect.repeats is not None else "Set"
    return [f"{again} {name} to {mode}. One probe on {contact(pair[0])}, the other on {contact(pair[1])}."]


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
