"""The answer in words, from the `Assessment` alone: what the text and the note share."""

import math
import re
from collections.abc import Sequence

from feedproof.advice.identity import reading_words, what_words
from feedproof.advice.wording import (
    faults_name,
    percent,
    point_name,
    quantity,
    sentence,
    short_conductor,
    span,
    state_name,
)
from feedproof.contract.assessment import (
    Assessment,
    Assumption,
    Candidate,
    ConductorResistance,
    DetectionLimit,
    Estimate,
    Evidence,
    Finding,
    LegVoltage,
    NeutralToGround,
)
from feedproof.contract.next_reading import NextReading

_HEADINGS = {
    "stop_and_refer": "Stop, and refer the supply",
    "repair_and_retest": "Repair cord, plug or terminal block, and read again",
    "take_more_readings": "Take more readings",
    "no_supply_fault_found": "No supply fault found in these readings",
}
_DETERMINATIONS = {"established": "established", "probable": "probable", "undetermined": "not determined"}
_CONFIDENCE = {
    "high": "high confidence",
    "moderate": "moderate confidence",
    "low": "low confidence",
    "none": "no confidence",
}

#: Heat below this along a path is not worth a word [W].
WORTH_WATTS = 1.0
#: As many of the next readings as a person can plan; fewer where the job is to stop.
_AHEAD = {"take_more_readings": 3}
_AHEAD_OTHERWISE = 1
#: A neutral nearer to the middle than this share of a leg has no side worth naming [1].
_NO_SIDE = 0.1
#: A meter that moves the neutral by less moves it by nothing that a person could see [V].
_UNMOVED = 0.05

_NOT_CLEARED = (
    "This clears the readings, not the supply: what they could not have shown stands under the detection limits, "
    "and every conductor still counts as live."
)


def heading(assessment: Assessment) -> str:
    """What to do, in a few words."""
    return _HEADINGS.get(assessment.disposition, assessment.disposition.replace("_", " "))


def steps(assessment: Assessment) -> list[str]:
    """What to do first, as sentences."""
    if assessment.disposition in {"stop_and_refer", "repair_and_retest"}:
        return [assessment.next_action]
    if assessment.disposition == "no_supply_fault_found":
        return [
            "Look for the cause in the appliance next.",
            _NOT_CLEARED,
        ]
    told = ["Condemn no part yet: the supply is not decided."]
    if assessment.finding.fault == "readings_inconsistent":
        told.append("Take the readings that stand out again, one by one (see what was found).")
    if following := ahead(assessment):
        return [*told, f"Next: {following[0].title}."]
    return [*told, "No further reading with these meters promises more: bring another kind of meter, or refer the job."]


def dangers(assessment: Assessment) -> list[str]:
    """The first sentence of each danger caution, for the top; the whole of each stands under the cautions."""
    texts = [caution.text for caution in assessment.cautions if caution.severity == "danger"]
    return [f"{text.partition('. ')[0].rstrip('.')}." for text in texts]


def finding_words(finding: Finding | Candidate) -> str:
    """The finding's name with everything that is present beside it."""
    return sentence(_name(finding))


def _name(finding: Finding | Candidate) -> str:
    return faults_name(finding.fault, finding.conductor, [(part.fault, part.conductor) for part in finding.also])


def finding_line(assessment: Assessment) -> str:
    """Finding and probability in one line."""
    if not assessment.evidence:
        # "In these readings" says nothing where there are none.
        name = _name(assessment.finding).replace(" in these readings", "")
        usual = f"{name}, {percent(assessment.finding.probability)}"
        return f"Nothing read yet. Before any reading, the most usual: {usual}"
    return f"{assessment.finding.title}: {percent(assessment.finding.probability)}"


def sureness(assessment: Assessment) -> str:
    """How sure: determination and confidence in one sentence."""
    determination = _DETERMINATIONS.get(assessment.determination, assessment.determination)
    confidence = _CONFIDENCE.get(assessment.confidence.level, assessment.confidence.level)
    if not assessment.evidence:
        return f"Not determined, {confidence}: nothing has been read."
    if assessment.determination == "undetermined":
        return f"Not determined, {confidence}: this is the most probable of several."
    return f"{sentence(determination)}, with {confidence}."


def if_it_holds(assessment: Assessment) -> str:
    """What to add to the title of estimates, which are made under the finding: nothing where it is established."""
    return "" if assessment.determination == "established" else ", if the finding holds"


def ahead(assessment: Assessment) -> list[NextReading]:
    """The next readings that a note names: as many as can be planned."""
    return list(assessment.next_readings[: _AHEAD.get(assessment.disposition, _AHEAD_OTHERWISE)])


def estimate_words(estimate: Estimate) -> str:
    """An estimate with its interval: "116 V (112 V to 119 V)", "at least 2 kΩ"."""
    if estimate.bound == "at_least":
        return f"at least {quantity(estimate.low, estimate.unit)}"
    if estimate.bound == "at_most":
        return f"at most {quantity(estimate.high, estimate.unit)}"
    value, ends = quantity(estimate.value, estimate.unit), span(estimate.low, estimate.high, estimate.unit)
    return value if ends == value else f"{value} ({ends})"


def neutral_condition(entry: NeutralToGround, evidence: Sequence[Evidence]) -> str:
    """When the neutral stands there: the load state, and the meter where one holds it there."""
    during = next((item for item in evidence if item.reading == entry.during_reading), None)
    if entry.during_reading is None:
        return f"{state_words(entry.load_state, evidence)}, no meter connected"
    if during is None or during.identity is None:
        return f"{state_words(entry.load_state, evidence)}, while reading {entry.during_reading + 1} is taken"
    on = what_words(during.identity)
    return f"{state_words(entry.load_state, evidence)}, with {during.identity.meter} on {on}"


def neutral_entries(assessment: Assessment) -> list[NeutralToGround]:
    """Where the neutral stands, without the meters that leave it where it stands anyway."""
    alone = {entry.load_state: entry for entry in assessment.neutral_to_ground if entry.during_reading is None}
    return [
        entry
        for entry in assessment.neutral_to_ground
        if entry.during_reading is None or _is_moved(entry, alone.get(entry.load_state))
    ]


def _is_moved(entry: NeutralToGround, alone: NeutralToGround | None) -> bool:
    if alone is None or (entry.bound, entry.angle, entry.point) != (alone.bound, alone.angle, alone.point):
        return True
    pairs = ((entry.value, alone.value), (entry.low, alone.low), (entry.high, alone.high))
    return any(abs(ours - theirs) >= _UNMOVED for ours, theirs in pairs)


def side_words(entry: NeutralToGround, legs: Sequence[LegVoltage]) -> str:
    """To which leg the neutral has moved, or at which phase it stands; empty where it has not moved far."""
    if not legs or entry.value < _NO_SIDE * min(leg.voltage for leg in legs):
        return ""
    if entry.angle is None:
        return "to which side is not known"
    for leg in legs:
        if abs((entry.angle - leg.angle + 180.0) % 360.0 - 180.0) < 1.0:
            return f"toward {leg.conductor}" if _is_on_a_line(legs) else f"toward {leg.conductor} ({leg.angle:.0f}°)"
    return f"at {entry.angle:.0f}° from L1"


def _is_on_a_line(legs: Sequence[LegVoltage]) -> bool:
    return all(abs(math.sin(math.radians(leg.angle))) < 1e-6 for leg in legs)  # noqa: PLR2004


def neutral_words(entry: NeutralToGround, assessment: Assessment) -> str:
    """Where the neutral stands, with its interval and its side."""
    side = side_words(entry, assessment.supply.legs if assessment.supply is not None else ())
    return f"{estimate_words(entry)}, {side}" if side else estimate_words(entry)


def bits_words(bits: float) -> str:
    """Weight of a reading; what rounds to nothing has no sign."""
    shown = f"{bits:+.1f}"
    return f"{shown[1:] if float(shown) == 0.0 else shown} bit"


def state_words(label: str, evidence: Sequence[Evidence]) -> str:
    """A load state by its label, with its kind where a reading tells it."""
    kinds = [item.identity.load_state_kind for item in evidence if item.identity and item.identity.load_state == label]
    return state_name(label, kinds[0] if kinds else label)


def taken_as_sound(entry: ConductorResistance, limits: Sequence[DetectionLimit]) -> bool:
    """Whether the finding, not a reading, keeps the resistance low: nothing so small would have shown."""
    limit = next((limit.value for limit in limits if limit.conductor == entry.conductor), None)
    return entry.bound == "at_most" and (limit is None or limit > entry.high)


def resistance_words(entry: ConductorResistance, limits: Sequence[DetectionLimit]) -> str:
    """Resistance of a path, with the heat along it where that is known and worth a word."""
    if taken_as_sound(entry, limits):
        return f"taken as sound, {_resistance_and_heat(entry)}; too little for these readings to show"
    return _resistance_and_heat(entry)


def _resistance_and_heat(entry: ConductorResistance) -> str:
    if entry.heat is None or entry.heat.high < WORTH_WATTS:
        return estimate_words(entry)
    return f"{estimate_words(entry)}; {estimate_words(entry.heat)} of heat along it at the load current"


def evidence_words(entry: Evidence) -> str:
    """Which reading it was, and what was seen."""
    if entry.identity is None:
        return f"reading {entry.reading + 1}: {quantity(entry.observed.value, entry.observed.unit)}"
    return reading_words(entry.observed, entry.identity)


def expected_words(entry: Evidence, *, sound: bool) -> str:
    """What the reading should have been, on a sound supply or under the finding."""
    expected = entry.expected_if_sound if sound else entry.expected_under_finding
    if entry.identity is not None and entry.identity.kind == "proximity":
        return (
            f"signals in {percent(expected.low)}"
            if expected.low == expected.high
            else (f"signals in {percent(expected.low)} to {percent(expected.high)}")
        )
    return span(expected.low, expected.high, entry.observed.unit)


def path_title(entry: ConductorResistance) -> str:
    """Conductor and how far its path was read."""
    return f"{sentence(short_conductor(entry.conductor))}, panel to {point_name(entry.point)}"


def assumed_lines(assessment: Assessment) -> list[str]:
    """What was filled in, everything alike in one line: "/meters/dmm/input_capacitance: 100 pF. Typical of ..."."""
    alike: dict[tuple[str, str], list[str]] = {}
    for item in assessment.assumptions:
        alike.setdefault((assumed_words(item), item.basis), []).append(item.pointer)
    return [
        f"{_pointers(pointers)}: {value}. {sentence(basis.rstrip('.'))}." for (value, basis), pointers in alike.items()
    ]


def _pointers(pointers: Sequence[str]) -> str:
    """Pointers in a list, the same field of three or more readings in one: "/readings/0 to 9/point"."""
    fields: dict[str, list[int]] = {}
    for pointer in pointers:
        if found := re.fullmatch(r"/readings/(\d+)/(.+)", pointer):
            fields.setdefault(found[2], []).append(int(found[1]))
    told: list[str] = []
    for pointer in pointers:
        found = re.fullmatch(r"/readings/(\d+)/(.+)", pointer)
        indexes = sorted(fields[found[2]]) if found else []
        if found and len(indexes) > 2 and indexes == [*range(indexes[0], indexes[-1] + 1)]:  # noqa: PLR2004
            pointer = f"/readings/{indexes[0]} to {indexes[-1]}/{found[2]}"  # noqa: PLW2901
        told.append(pointer)
    return ", ".join(dict.fromkeys(told))


def hazards_words(readings: Sequence[NextReading], index: int) -> list[str]:
    """Hazards of one next reading; a pointer to an earlier one that has the very same."""
    hazards = readings[index].hazards
    for earlier in range(index):
        if hazards and readings[earlier].hazards == hazards:
            return [f"Hazards as for {earlier + 1}."]
    return [hazard.text for hazard in hazards]


def assumed_words(assumption: Assumption) -> str:
    """The value that was filled in, with its unit."""
    value = assumption.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if assumption.unit is None else f"{value} {assumption.unit}"
    return quantity(value, assumption.unit or "")
