"""How far the finding can be leaned on, and why, in words that a person can act on.

The level follows the determination, and goes down one step for each thing that a careful electrician would hold
against it:

=============  ========  ====================================================================================
determination  starts    one step down for
=============  ========  ====================================================================================
established    high      readings that contradict and that the finding does not explain; one reading alone
                         carrying a finding under 99 %; for `none_found`, a conductor in which 1 Ω would not have
                         shown
probable       moderate  the same contradiction
undetermined   low       no contact reading at all, or readings that contradict one another as the finding
=============  ========  ====================================================================================
"""

from collections.abc import Sequence

from feedproof.advice.candidates import NOT_A_FAULT, rivals
from feedproof.advice.checks import LOW_IMPEDANCE
from feedproof.advice.determination import OPEN_RESISTANCE, SMALL_RESISTANCE, Ruling, beyond, branch_conductors
from feedproof.advice.identity import conductors_of, identity_of, reading_words
from feedproof.advice.limits import test_current
from feedproof.advice.wording import (
    conductor_name,
    fault_name,
    faults_name,
    joined,
    percent,
    quantity,
    sentence,
    span,
)
from feedproof.contract.assessment import Check, Confidence, ConfidenceLevel, Determination, Observed
from feedproof.inference import Candidate, Outcome, ReadingEvidence
from feedproof.readings import ProximityReading, Reading, ReadingSet, VoltageReading

#: What must have shown in every conductor before "no fault found" is held with high confidence [ohm]: at 5 A,
#: the current of a small motor, 1 Ω takes 5 V from a leg, as much as ANSI C84.1 range A gives away in 120 V.
FINE_RESISTANCE = 1.0

#: From here on one reading may carry a finding alone [1].
ALONE = 0.99

#: As many readings are named as a person can take in.
_NAMED = 3

_LEVELS: tuple[ConfidenceLevel, ...] = ("none", "low", "moderate", "high")
_START: dict[Determination, int] = {"established": 3, "probable": 2, "undetermined": 1}


def judge(
    ruling: Ruling,
    outcome: Outcome,
    candidates: Sequence[Candidate],
    checks: Sequence[Check],
    reading_set: ReadingSet,
) -> Confidence:
    """Level and reasons.

    Parameters
    ----------
    ruling : Ruling
        The determination and its grounds.
    outcome : Outcome
        What was inferred.
    candidates : sequence of Candidate
        One for each fault, most probable first.
    checks : sequence of Check
        Contradictions among the readings.
    reading_set : ReadingSet
        The readings, for their words.

    Returns
    -------
    Confidence
        With at least one reason.
    """
    if not reading_set.readings:
        return Confidence(level="none", reasons=["There are no readings yet: this is only what is usual."])
    return Confidence(
        level=_level(ruling, outcome, checks, reading_set),
        reasons=_reasons(ruling, outcome, candidates, checks, reading_set),
    )


def _level(ruling: Ruling, outcome: Outcome, checks: Sequence[Check], reading_set: ReadingSet) -> ConfidenceLevel:
    level = _START[ruling.determination]
    if ruling.determination == "undetermined":
        contact = any(not isinstance(reading, ProximityReading) for reading in reading_set.readings)
        return _LEVELS[level if contact and ruling.finding.fault != "readings_inconsistent" else 0]
    if not all(_explained(check, outcome) for check in checks):
        level -= 1
    if ruling.determination == "established" and _weak_point(ruling, outcome, reading_set):
        level -= 1
    return _LEVELS[level]


def _weak_point(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> bool:
    if ruling.finding.fault == "none_found":
        return bool(beyond(outcome.limits, branch_conductors(reading_set.supply.system), FINE_RESISTANCE))
    return len(ruling.speaking) == 1 and ruling.support < ALONE


def _reasons(
    ruling: Ruling,
    outcome: Outcome,
    candidates: Sequence[Candidate],
    checks: Sequence[Check],
    reading_set: ReadingSet,
) -> list[str]:
    reasons = [*_believed(ruling, reading_set), *_carrying(ruling, reading_set)]
    reasons += _alike(ruling, candidates)
    reasons += _untested(ruling, outcome, reading_set)
    reasons += _currents(ruling, outcome, reading_set.readings)
    reasons += _contradictions(outcome, checks)
    reasons += _priors(ruling, reading_set)
    return reasons or [f"It is the most probable of all that was considered, at {percent(ruling.support)}."]


def _explained(check: Check, outcome: Outcome) -> bool:
    """Whether the finding gives readings such as these, one after another.

    What cannot go together at one instant may do so with a soft conductor that each meter moved in turn.
    """
    spans = {entry.reading: (entry.finding, entry.observed) for entry in outcome.evidence}
    return all(
        index in spans and spans[index][0][0] <= spans[index][1] <= spans[index][0][1] for index in check.readings
    )


def _contradictions(outcome: Outcome, checks: Sequence[Check]) -> list[str]:
    if not checks:
        return []
    if all(_explained(check, outcome) for check in checks):
        return ["Some readings do not go together on a sound supply (see checks); under the finding they do."]
    return ["Some readings do not go together (see checks). Settle those first: the finding rests on them."]


def _describe(entry: ReadingEvidence, reading_set: ReadingSet) -> str:
    identity = identity_of(reading_set.readings[entry.reading], reading_set.load_states)
    return reading_words(Observed(value=entry.observed, unit=entry.unit), identity)


def _believed(ruling: Ruling, reading_set: ReadingSet) -> list[str]:
    """What stands against a finding whatever its probability."""
    reasons = [
        f"{sentence(_describe(entry, reading_set))} shows voltage where the finding says that there is none. It is "
        "believed: nothing counts as dead. Take it again with a tester proven on a live source."
        for entry in ruling.against[:_NAMED]
    ]
    silent = ruling.unproven
    if silent is not None and any(reading_set.readings[entry.reading].meter == silent for entry in ruling.speaking):
        reasons.append(
            f"{silent} has shown nothing but zeros, as a tester does that is dead itself: prove it on a known live "
            "source and read again."
        )
    return reasons


def _carrying(ruling: Ruling, reading_set: ReadingSet) -> list[str]:
    """The readings that carry the finding, or that none does."""
    if ruling.finding.fault in NOT_A_FAULT:
        if ruling.finding.fault == "readings_inconsistent":
            reasons = ["No circuit gives these readings together: at least one is wrong or belongs elsewhere."]
            for entry in ruling.speaking[:_NAMED]:
                usual = span(*entry.sound, entry.unit)
                reasons.append(f"{sentence(_describe(entry, reading_set))} stands out: expected was {usual}.")
            return reasons
        return []
    reasons = [
        f"{sentence(_describe(entry, reading_set))} speaks for it: on a sound supply it should be "
        f"{span(*entry.sound, entry.unit)}."
        for entry in ruling.speaking[:_NAMED]
    ]
    if len(ruling.speaking) == 1:
        reasons.append("One reading alone carries the finding: repeat it if you can.")
    if not ruling.speaking and ruling.proximity_speaks:
        reasons.append("Only a proximity detector speaks for it, and that can be fooled: measure by contact.")
    elif not ruling.speaking:
        reasons.append("No single reading speaks clearly for it.")
    return reasons


def _alike(ruling: Ruling, candidates: Sequence[Candidate]) -> list[str]:
    finding = ruling.finding
    if ruling.alike:
        names = [
            f"{faults_name(c.fault, c.conductor, c.also)} ({percent(c.probability)})" for c in (finding, *ruling.alike)
        ]
        return [f"These readings cannot tell apart: {joined(names)}."]
    if ruling.determination == "established":
        return []
    others = rivals(finding, candidates)
    if not others:
        return []
    name = faults_name(others[0].fault, others[0].conductor, others[0].also)
    return [f"Next most probable: {name}, {percent(others[0].probability)}."]


def _untested(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[str]:
    """What the readings could not have shown."""
    reasons = []
    hidden = [conductor_name(conductor) for conductor in ruling.hidden]
    if hidden and ruling.finding.fault == "none_found":
        reasons.append(
            f"{sentence(joined(hidden))} could be open and these readings would look the same: "
            f"{'it was' if len(hidden) == 1 else 'they were'} not tested under load or with a low-impedance meter."
        )
    elif ruling.coarse and ruling.finding.fault == "none_found":
        worst = max(
            limit.resistance
            for limit in outcome.limits
            if limit.conductor in ruling.coarse and limit.resistance is not None
        )
        names = joined([conductor_name(conductor) for conductor in ruling.coarse])
        reasons.append(
            f"A bad joint of up to about {quantity(worst, 'ohm')} in {names} would not have shown; only a reading "
            f"under load shows {quantity(SMALL_RESISTANCE, 'ohm')}."
        )
    elif _weak_point(ruling, outcome, reading_set) and ruling.finding.fault == "none_found":
        reasons.append(f"A joint of more than {quantity(FINE_RESISTANCE, 'ohm')} may remain; see the detection limits.")
    if (
        not any("G" in conductors_of(reading) for reading in reading_set.readings)
        and reading_set.supply.equipment_ground != "absent"
    ):
        reasons.append("The equipment ground was not read, so nothing is said of it.")
    return reasons


def _currents(ruling: Ruling, outcome: Outcome, readings: Sequence[Reading]) -> list[str]:
    """What current the low-impedance meter drew, and what that could show."""
    if ruling.finding.fault != "none_found":
        return []
    limits = {limit.conductor: limit.resistance for limit in outcome.limits}
    for conductor in ("N", "L1", "L2"):
        drawn = test_current(conductor, outcome.evidence, readings)
        limit = limits.get(conductor)
        if drawn is None or limit is None or limit > OPEN_RESISTANCE or limit <= SMALL_RESISTANCE:
            continue
        current, name = quantity(drawn[0], "A"), conductor_name(conductor)
        return [f"The low-impedance meter drew {current}: enough to show {quantity(limit, 'ohm')} in {name}, not less."]
    return []


def _priors(ruling: Ruling, reading_set: ReadingSet) -> list[str]:
    """Where a wide prior, not a reading, decides."""
    reasons = []
    run = reading_set.supply.run
    if ruling.finding.fault.startswith("high_resistance") and (run.size is None or run.length is None):
        reasons.append(
            f"The run's size or length is not stated, so that a {fault_name(ruling.finding.fault)} is told from plain "
            "wire only by what is usual. State them for a sharper answer."
        )
    voltages = [reading for reading in reading_set.readings if isinstance(reading, VoltageReading)]
    if voltages and all(_impedance(reading, reading_set) > LOW_IMPEDANCE for reading in voltages):
        unloaded = all(reading_set.load_states[reading.load_state].kind == "disconnected" for reading in voltages)
        if unloaded:
            reasons.append(
                "Every voltage was read with a high-impedance meter on an unloaded outlet: strays alone can give such "
                "readings on a conductor that is open."
            )
    return reasons


def _impedance(reading: VoltageReading, reading_set: ReadingSet) -> float:
    meter = reading_set.meters[reading.meter]
    return getattr(meter, "input_impedance", LOW_IMPEDANCE)
