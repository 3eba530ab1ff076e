"""Between the form and the service: what was typed becomes a visit, what was answered becomes what the form shows."""

import re
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct

from feedproof_sdk import Assessment, ClampAmmeter, ProximityDetector, Supply, Visit, Voltmeter, errors
from feedproof_sdk.types.assessment import NextReading
from feedproof_sdk.types.request import ConductorName

MeterName = Literal["dmm", "loz", "clamp", "pen"]
StateName = Literal["disconnected", "idle", "running"]
Seen = Literal[
    "breaker_found_tripped",
    "ground_fault_breaker_tripped",
    "other_circuits_live",
    "other_circuits_dead",
    "lights_brighten_and_dim",
    "scorched_or_discoloured",
    "works_when_moved",
]
ShortText = Annotated[str, Meta(max_length=200)]


class Taken(Struct, frozen=True, forbid_unknown_fields=True):
    """One reading, as the form sends it."""

    meter: MeterName
    at: Annotated[str, Meta(pattern="^(L1|L2|N|G)(-(L1|L2|N|G))?$")]
    """One conductor, or two with a hyphen between."""
    state: StateName
    value: ShortText
    """As typed; for the proximity detector `signals` or `silent`."""


class Form(Struct, frozen=True, forbid_unknown_fields=True):
    """One visit, as the form sends it: whole, each time."""

    reference: ShortText
    system: Literal["split_phase_120_240", "wye_120_208", "high_leg_delta_120_240"]
    ground: Literal["present", "absent", "unknown"]
    frame: Literal["yes", "no", "unknown"]
    meters: Annotated[tuple[MeterName, ...], Meta(min_length=1, max_length=4)]
    loz_impedance: ShortText
    readings: Annotated[tuple[Taken, ...], Meta(max_length=100)]
    observations: Annotated[tuple[Seen, ...], Meta(max_length=7)] = ()


class Mark(Struct, frozen=True):
    """What is wrong with one reading, or with the visit."""

    reading: int | None
    detail: str


_DECIMAL_COMMA = re.compile(r"^([-+]?\d+),(\d{1,2}|\d{4,})(?=\D*$)")
_OVER_RANGE = {"OL", "O.L", "O.L.", "0L", "0.L"}

STATES = ("disconnected", "idle", "running")
METER_KINDS: dict[str, MeterName] = {
    "high_impedance_voltmeter": "dmm",
    "low_impedance_voltmeter": "loz",
    "clamp_ammeter": "clamp",
    "proximity_detector": "pen",
}


def visit_of(form: Form) -> Visit:
    """Write the form down as a visit.

    Raises
    ------
    errors.BadQuantity
        If a value is no finite number; the service tells of all else.
    msgspec.ValidationError
        If a voltage has but one conductor.
    """
    bonded = {"yes": True, "no": False, "unknown": None}[form.frame]
    supply = Supply(system=form.system, equipment_ground=form.ground, frame_bonded_to_neutral=bonded)
    visit = Visit(form.reference, supply=supply)
    # All that are at hand, so that the service suggests what can be done; those of readings in any case.
    named: tuple[MeterName, ...] = (*form.meters, *(taken.meter for taken in form.readings))
    for meter in dict.fromkeys(named):
        match meter:
            case "dmm":
                visit.meter(meter, Voltmeter(input_impedance="10 Mohm"))
            case "loz":
                visit.meter(meter, Voltmeter(input_impedance=typed(form.loz_impedance)))
            case "clamp":
                visit.meter(meter, ClampAmmeter())
            case "pen":
                visit.meter(meter, ProximityDetector())
    for taken in form.readings:
        _add(visit, taken)
    for seen in dict.fromkeys(form.observations):
        visit.observed(seen)
    return visit


def _add(visit: Visit, taken: Taken) -> None:
    state = {"disconnected": visit.disconnected, "idle": visit.idle, "running": visit.running}[taken.state]()
    first, _, second = taken.at.partition("-")
    match taken.meter:
        case "clamp":
            state.current(_conductor(first), typed(taken.value), taken.meter)
        case "pen":
            state.proximity(_conductor(first), detected=taken.value == "signals", meter=taken.meter)
        case "dmm" | "loz":
            state.voltage(_conductor(first), _conductor(second), typed(taken.value), taken.meter)


def _conductor(name: str) -> ConductorName:
    conductor: ConductorName = msgspec.convert(name, ConductorName)
    return conductor


def typed(text: str) -> float | str:
    """Take a bare number as one in the unit that the form prints beside the box; leave all else to the service.

    A single comma with no point is a decimal comma; a comma before just three digits may part thousands, so it is left.
    """
    plain = _DECIMAL_COMMA.sub(r"\1.\2", text.strip())
    if plain.upper() in _OVER_RANGE:
        return "OL"
    try:
        return float(plain)
    except ValueError:
        return plain


def shown(answer: Assessment) -> dict[str, Any]:
    """Say what the answer means for the person before the appliance."""
    # The first that this form has the buttons for, or else the first.
    steps = [suggestion(step) for step in answer.next_readings if step.reading is not None]
    following = next((step for step in steps if step["take"]), next(iter(steps), None))
    return {
        "disposition": answer.disposition,
        # The service's own words: whatever a later one answers, nothing here makes an all-clear of it.
        "headline": answer.headline,
        "action": answer.next_action,
        "reasons": [reason.text for reason in answer.confidence.reasons],
        "next": following,
        # Every one of them, in the order that the service ranks them.
        "cautions": [
            {
                "rank": caution.rank,
                "severity": caution.severity.upper(),
                "title": caution.title,
                "text": caution.text,
                "because": caution.because,
            }
            for caution in answer.cautions
        ],
        "limits": [limit.meaning for limit in answer.detection_limits],
    }


def suggestion(reading: NextReading) -> dict[str, Any]:
    """Turn the next reading into words, and into what the form's buttons are to be set to where it has them."""
    asked = reading.reading
    take = None
    if asked is not None:
        conductors = asked.between or [name for name in (asked.at, asked.through) if name]
        meter = asked.meter if reading.meter is None else METER_KINDS.get(reading.meter_kind or "")
        known = meter in METER_KINDS.values() and asked.load_state in STATES and asked.point == "receptacle"
        take = {"meter": meter, "at": "-".join(conductors), "state": asked.load_state} if known else None
    return {
        "words": reading.title if reading.title.endswith("?") else f"{reading.title}.",
        "steps": reading.steps,
        "expect": [f"{shown.title}: {shown.display}" for shown in reading.expect],
        "why": reading.why,
        "hazards": [hazard.text for hazard in reading.hazards],
        "take": take,
    }


def marks(refused: errors.InvalidReadingSet) -> list[Mark]:
    """Say what is wrong beside what is wrong: the faults of the request by the reading that each is about."""
    found: list[Mark] = []
    for fault in refused.errors:
        about = re.match(r"/readings/(\d+)(/|$)", fault.pointer)
        named = "" if about else "Low-impedance voltmeter: " if fault.pointer.startswith("/meters/loz") else ""
        found.append(Mark(int(about[1]) if about else None, f"{named}{fault.detail}"))
    return found
