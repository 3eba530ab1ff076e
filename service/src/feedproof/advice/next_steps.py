"""What to read next, and whether anything at all: the end of a visit, and each reading with its words."""

from collections.abc import Sequence

from feedproof.advice.determination import Ruling
from feedproof.advice.disposition import STOP_HAZARD
from feedproof.advice.how import hazards_of, is_disconnected, steps
from feedproof.advice.places import title
from feedproof.advice.shown import agreements
from feedproof.advice.unexplained import sole
from feedproof.advice.wording import (
    UNITS,
    conductors_of,
    kind_of,
    meter_kind_name,
    pair_name,
    percent,
    point_name,
    span,
    state_name,
    within,
)
from feedproof.contract.assessment import Disposition, NextReason
from feedproof.contract.next_reading import LoadToConnect, MeterToFetch, NextReading, ReadingToTake, Shown, StateToMake
from feedproof.inference import NEUTRAL_IN_DOUBT, Outcome, Prospect
from feedproof.instruments.typical import TYPICAL_METERS
from feedproof.readings import (
    LOADED_STATES,
    PANELS,
    Load,
    ReadingSet,
    ResistanceReading,
    meter_kind,
)

_PAIRED = frozenset({"voltage", "resistance"})

#: Once a place is probable and the job is to be referred, a reading is offered from this information on [bit].
WORTH_READING = 0.15

#: Places at which a frame, a ground or a neutral may be live, or a joint glow, whatever is read next.
DANGEROUS = frozenset(
    {
        "service_neutral",
        "feeder_neutral",
        "branch_neutral",
        "cord_neutral",
        "neutral",
        "transposed",
        "leak_to_ground",
        "neutral_not_bonded",
    }
)

#: What a reading at the unplugged outlet tells, of what one under a load to be brought tells, to stand before it [1].
_PLAIN_SHARE = 0.9

_MEASURE = {"voltage": "Voltage", "current": "Current through", "resistance": "Resistance", "proximity": "Proximity at"}
_QUESTIONS = {
    "lights_brighten_and_dim": (
        "Ask, or look: do lights elsewhere brighten and dim when appliances are switched? On the same panel only, or in"
        " the whole building?"
    ),
    "other_circuits_live": "Look: do other circuits of the building work?",
    "breaker_found_tripped": "Look at the circuit's breaker before anybody touches it: was it found tripped?",
}
_ANSWERS = {
    "lights_brighten_and_dim": "It parts a neutral upstream, of the service or of a feeder, from one of this circuit.",
    "other_circuits_live": "It parts an open breaker from a supply that is lost.",
    "breaker_found_tripped": (
        "It parts an open breaker from a break in the circuit. A tripped breaker has a cause: do not just reset it."
    ),
}


def end_of(ruling: Ruling, disposition: Disposition, outcome: Outcome, reading_set: ReadingSet) -> NextReason | None:
    """Why nothing more is to be read; None: something is.

    *Stop first* as soon as a dangerous place is probable: each further reading would be taken beside a frame or a
    neutral that may be live; and where a live frame or a glowing joint is more likely than not and no reading of the
    disconnected circuit would tell more. *Enough* once the place is established (where no fault was found: and nothing
    is `wanted`), or probable with nothing left that would tell. *Nothing would tell* where the place is undetermined
    and no permitted reading promises anything.

    Parameters
    ----------
    ruling : Ruling
        The determination.
    disposition : str
        Of the job.
    outcome : Outcome
        Its hazards and prospects count here.
    """
    decided = ruling.determination != "undetermined"
    offered = wanted(ruling, outcome, reading_set)
    if (decided and ruling.place.name in DANGEROUS) or (outcome.prospects and not permitted(ruling, outcome)):
        return "stop_first"
    passed = ruling.determination == "established" and not (ruling.place.name == "none" and offered)
    if passed or disposition == "repair_and_retest":
        return "enough"
    worth = WORTH_READING if decided and disposition == "stop_and_refer" else 0.0
    if not any(p.information >= worth for p in offered):
        return "enough" if decided else "nothing_would_tell"
    return None


def permitted(ruling: Ruling, outcome: Outcome) -> list[Prospect]:
    """Prospects that may be taken, and can be.

    Disconnected ones only beside a probable live frame or glowing joint, and at an outlet whose contacts stand at a
    voltage that no sound outlet gives; none under load at an outlet that feeds nothing.
    """
    return [p for p in outcome.prospects if _may(p.load_state_kind, ruling, outcome)]


def _may(kind: str, ruling: Ruling, outcome: Outcome) -> bool:
    hazards = outcome.hazards
    live = outcome.evidence and max(hazards.frame_live, hazards.heat_above_30_watts) >= STOP_HAZARD
    if live or ruling.wrong:
        return kind == "disconnected"
    return not (ruling.dead and kind in LOADED_STATES)


def wanted(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[Prospect]:
    """Prospects that are asked for. A supply that is proven still has its ground looked at where a clamp is at hand.

    A neutral that is joined to the ground, or exchanged with it, reads right on every voltage. What a check says to
    take again stands first. What is read at the unplugged outlet, with a meter that is there, stands before a load that
    has to be brought, where it tells nearly as much.
    """
    found = permitted(ruling, outcome)
    if ruling.determination == "established" and ruling.place.name == "none":
        return [p for p in found if p.kind == "current" and p.conductors == ("G",) and p.meter is not None]
    plain = [p for p in found if p.point == "receptacle" and p.load_state_kind == "disconnected" and p.meter]
    for prospect in [p for p in found if p.load_state_kind == "test_load"]:
        before = [p for p in plain if p.information >= _PLAIN_SHARE * prospect.information]
        if before and found.index(before[0]) > found.index(prospect):
            found.remove(before[0])
            found.insert(found.index(prospect), before[0])
    first = _again(found, ruling, outcome, reading_set)
    return [*first, *(p for p in found if p not in first)]


def _again(offered: Sequence[Prospect], ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[Prospect]:
    """The first reading that a check says to take again: as offered, else made, its information not reckoned."""
    believed = {index for three in agreements(reading_set) for index in three}
    for index in sole(outcome, reading_set):
        reading = reading_set.readings[index]
        state = reading_set.load_states[reading.load_state]
        # Nobody is asked to put an ohmmeter on what runs, whatever the request calls the state.
        ohms_on_load = isinstance(reading, ResistanceReading) and state.kind in LOADED_STATES
        hazards = outcome.hazards
        upstream = max(hazards.service_neutral_fault, hazards.feeder_neutral_fault) >= NEUTRAL_IN_DOUBT
        plugs_in = upstream and state.kind != "disconnected"
        if index in believed or ohms_on_load or plugs_in or not _may(state.kind, ruling, outcome):
            continue
        if "metalwork" in conductors_of(reading):
            continue
        made = Prospect(
            kind=kind_of(reading),
            conductors=tuple(c for c in conductors_of(reading) if c != "metalwork"),
            point=reading.point,
            meter=reading.meter,
            meter_kind=meter_kind(reading_set.meters[reading.meter]),
            load_state=reading.load_state,
            load_state_kind=state.kind,
            loads=state.loads,
            information=0.0,
            separates=None,
            repeats=index,
        )
        return [next((p for p in offered if p.repeats == index), made)]
    return []


def to_wire(prospects: Sequence[Prospect], outcome: Outcome, readings: ReadingSet, language: str) -> list[NextReading]:
    """The next readings of the answer, ranked as the inference ranked them.

    Parameters
    ----------
    prospects : sequence of Prospect
        Those that are asked for, most worth taking first.
    outcome : Outcome
        Its hazards count here.
    readings : ReadingSet
        The visit: its appliance, receptacle, and what was read already.
    language : str
        BCP 47 tag of the hazards' texts.

    Returns
    -------
    list of NextReading
        One for each prospect, in the same order.
    """
    return [_one(prospect, outcome, readings, language) for prospect in prospects]


def _one(prospect: Prospect, outcome: Outcome, readings: ReadingSet, language: str) -> NextReading:
    if prospect.observation is not None:
        code = prospect.observation
        return NextReading(
            id=f"observation {code}",
            title=_QUESTIONS[code],
            reading=None,
            observation=code,
            steps=[_QUESTIONS[code]],
            expect=[],
            information=prospect.information,
            why=_ANSWERS[code],
            why_code="asks",
            hazards=[],
        )
    label = _label(prospect, readings)
    meter = prospect.meter or prospect.meter_kind
    reading = _reading(prospect, meter, label, readings)
    return NextReading(
        id=" ".join((prospect.kind, "-".join(prospect.conductors), prospect.point, label, meter)),
        title=_title(prospect, label, meter),
        reading=reading,
        load_state=StateToMake(kind=prospect.load_state_kind, loads=[_load(load) for load in prospect.loads] or None),
        meter=None if prospect.meter is not None else _common(prospect.meter_kind),
        meter_kind=prospect.meter_kind,
        steps=steps(prospect, readings, meter),
        expect=[_shown(prospect.kind, e.place, e.conductor, e.low, e.high) for e in prospect.expected],
        information=prospect.information,
        why=why(prospect),
        why_code=_purpose(prospect)[0],
        hazards=hazards_of(
            prospect,
            outcome.hazards,
            language,
            still_disconnected=prospect.load_state_kind == "disconnected" and is_disconnected(readings),
        ),
    )


def _title(prospect: Prospect, label: str, meter: str) -> str:
    """The reading as an order: what, where, with which meter, in which load state."""
    kind = meter_kind_name(prospect.meter_kind)
    named = f"{'an' if kind[:1] in 'aeio' else 'a'} {kind}"
    if prospect.meter is not None:
        named += f" ({meter})"
    again = ", again" if prospect.repeats is not None else ""
    what = f"{_MEASURE[prospect.kind]} {pair_name(prospect.conductors)}{again}"
    state = state_name(label, prospect.load_state_kind)
    return f"{what} at the {point_name(prospect.point)}, with {named}, {state}"


def _label(prospect: Prospect, readings: ReadingSet) -> str:
    """Name of the load state: the request's own, or one that it does not use for another."""
    label = prospect.load_state
    if not prospect.state_is_new:
        return label
    while label in readings.load_states:
        label = f"{label}_2"
    return label


def _reading(prospect: Prospect, meter: str, label: str, readings: ReadingSet) -> ReadingToTake:
    conductors: list[str] = [*prospect.conductors]
    kind = prospect.kind
    return ReadingToTake(
        kind=kind,
        between=conductors if kind in _PAIRED else None,
        at=conductors[0] if kind == "proximity" else None,
        through=conductors[0] if kind == "current" else None,
        supply="isolated" if kind == "resistance" else None,
        meter=meter,
        load_state=label,
        point=prospect.point,
        repeats=None if prospect.repeats is None else readings.readings[prospect.repeats].id,
    )


def _load(load: Load) -> LoadToConnect:
    return LoadToConnect(
        between=list(load.between),
        resistance=load.resistance,
        reactance=load.reactance or None,
        tolerance_percent=load.tolerance_percent,
    )


def _common(kind: str) -> MeterToFetch:
    typical = next(meter for meter in TYPICAL_METERS if meter.name == kind)
    low = kind == "low_impedance_voltmeter"
    return MeterToFetch(kind=typical.kind, input_impedance=typical.figure("input_impedance").value if low else None)


def _shown(kind: str, place: str, conductor: str | None, low: float, high: float) -> Shown:
    unit = UNITS[kind]
    display = f"signals in {percent(high)}" if kind == "proximity" else span(low, high, unit)
    return Shown(
        place=place, conductor=conductor, title=title(place, conductor), low=low, high=high, unit=unit, display=display
    )


def why(prospect: Prospect) -> str:
    """What the reading would settle."""
    purpose, reason = _purpose(prospect)[1], _because(prospect)
    return f"{purpose} {reason}" if reason else purpose


def _purpose(prospect: Prospect) -> tuple[str, str]:
    """What the reading is for, as a word and in words."""
    if prospect.repeats is not None:
        return "takes_again", "That reading stands alone: the same again tells a slip from a fault."
    if prospect.separates is None or prospect.separates[0] == prospect.separates[1]:
        return "narrows_down", "Narrows down the fault."
    first, second = (_in_contrast(place, conductor) for place, conductor in prospect.separates)
    return "tells_apart", f"Tells {first} from {second}."


def _in_contrast(place: str, conductor: str | None) -> str:
    if place == "none":
        return "a sound supply"
    return f'"{within(title(place, conductor))}"'


def _because(prospect: Prospect) -> str | None:
    if prospect.kind == "resistance":
        return "It shows an open or bad conductor without any voltage on it."
    if prospect.kind == "proximity":
        return "It takes no contact, but it proves nothing alone."
    if prospect.kind == "current":
        return "The current shows which conductors carry the load, and that none of it returns on the ground."
    if prospect.point in PANELS:
        return "At the panel it parts what is upstream from this circuit."
    if prospect.load_state_kind in LOADED_STATES:
        return "Load current makes a bad joint show itself as lost voltage."
    if prospect.meter_kind == "low_impedance_voltmeter":
        return "Its test current pulls down what only strays hold up."
    if prospect.load_state_kind == "idle":
        return "The connected appliance pulls a floating conductor to where it can be seen."
    return None
