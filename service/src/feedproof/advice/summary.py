"""The answer in words, from the `Assessment` alone: what the text and the note share."""

from collections.abc import Sequence

from feedproof.advice.wording import faults_name, percent, quantity, sentence, span
from feedproof.contract.assessment import (
    Assessment,
    Assumption,
    Candidate,
    Caution,
    ConductorResistance,
    Evidence,
    Finding,
    NeutralToGround,
)
from feedproof.contract.next_reading import NextReading

#: Cautions that stand at the top of a screen whatever their severity.
_TOP_RANKS = 2

#: Code of the danger that belongs to all work on live parts.
_OF_ALL_WORK = "live_contacts"

#: Heat below this along a path is not mentioned [W].
WORTH_WATTS = 1.0
#: At most this many next readings are listed; one where the job is to stop.
_AHEAD = 3
#: Neutrals upstream, and from which probability on one is in question [1].
_UPSTREAM = frozenset({"service_neutral", "feeder_neutral"})
_IN_QUESTION = 0.01
#: Smaller shifts of the neutral by a meter are not mentioned [V].
_UNMOVED = 0.05


def warnings_first(assessment: Assessment) -> list[Caution]:
    """What stands at the top of a screen, by its title: every danger, and the first of all that is ranked."""
    return [c for c in assessment.cautions if c.severity == "danger" or c.rank <= _TOP_RANKS]


def of_this_case(cautions: Sequence[Caution]) -> list[Caution]:
    """Every danger that the readings leave or show, without that of all work on live parts."""
    return [c for c in cautions if c.severity == "danger" and c.code != _OF_ALL_WORK]


def finding_words(finding: Finding | Candidate) -> str:
    """The finding's name with everything that is present beside it."""
    also = [(part.fault, part.conductor) for part in finding.also]
    return sentence(faults_name(finding.fault, finding.conductor, also))


def sureness(assessment: Assessment) -> str:
    """How sure: determination and confidence in one sentence."""
    level = assessment.confidence.level
    confidence = f"{'no' if level == 'none' else level} confidence"
    if not assessment.evidence:
        return f"Not determined, {confidence}: nothing has been read."
    if assessment.determination == "undetermined":
        first = assessment.candidates[0] if assessment.candidates else None
        if first is not None and first.probability > assessment.finding.probability:
            return f"Not determined, {confidence}: this is not the most probable, but is to be ruled out."
        return f"Not determined, {confidence}."
    return f"{sentence(assessment.determination)}, with {confidence}."


def if_it_holds(assessment: Assessment) -> str:
    """What to add to the title of estimates, which are made under the finding: nothing where it is established."""
    return "" if assessment.determination == "established" else ", if the finding holds"


def ahead(assessment: Assessment) -> list[NextReading]:
    """The next readings that a note names: as many as can be planned."""
    return assessment.next_readings[: _AHEAD if assessment.disposition == "take_more_readings" else 1]


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


def resistance_words(entry: ConductorResistance) -> str:
    """Resistance of a path, with the heat along it where that is known and worth a word."""
    if entry.heat is None or entry.heat.high < WORTH_WATTS:
        return entry.display
    return f"{entry.display}; {entry.heat.display} of heat along it at the load current"


def figure_rows(assessment: Assessment) -> list[tuple[str, str]]:
    """Every estimate worth a line, with its title.

    Before any reading a resistance would only be what is usual; and what the neutral reads to earth is told where a
    neutral upstream is in question, so that nobody takes 0 V to ground for 0 V to earth.
    """
    rows = [(entry.title, entry.display) for entry in neutral_entries(assessment)]
    if assessment.evidence:
        rows += [(f"In series: {entry.title}", resistance_words(entry)) for entry in assessment.resistances]
    return rows + undrawn_rows(assessment)


def undrawn_rows(assessment: Assessment) -> list[tuple[str, str]]:
    """Of `figure_rows`, those that no picture shows."""
    rows = []
    if any(c.place in _UPSTREAM and c.probability >= _IN_QUESTION for c in assessment.candidates):
        rows += [(entry.title, entry.display) for entry in assessment.neutral_to_earth]
    if (found := assessment.break_position) is not None:
        rows.append((found.title, found.display))
    return rows


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
