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

from collections.abc import Iterable, Sequence
from itertools import islice

from feedproof.advice import shown
from feedproof.advice.candidates import NO_FAULT_NAMES, rivals
from feedproof.advice.determination import OPEN_RESISTANCE, SMALL_RESISTANCE, Ruling, beyond
from feedproof.advice.estimates import test_current
from feedproof.advice.places import is_at, is_either_leg
from feedproof.advice.unexplained import described, explained, flag
from feedproof.advice.unexplained import entries as unexplained
from feedproof.advice.wording import (
    conductor_name,
    conductors_of,
    fault_name,
    faults_name,
    joined,
    percent,
    quantity,
    sentence,
    span,
)
from feedproof.contract.assessment import Check, Confidence, ConfidenceLevel, Determination, Reason
from feedproof.inference import Candidate, Outcome, ReadingEvidence
from feedproof.readings import ProximityReading, Reading, ReadingSet, VoltageReading, is_low_impedance

_LEVELS: tuple[ConfidenceLevel, ...] = ("none", "low", "moderate", "high")
_START: dict[Determination, int] = {"established": 3, "probable": 2, "undetermined": 1}

#: What must have shown in every conductor before "no fault found" is held with high confidence [ohm]: at 5 A,
#: the current of a small motor, 1 Ω takes 5 V from a leg, as much as ANSI C84.1 range A gives away in 120 V.
FINE_RESISTANCE = 1.0

#: From this probability on a single reading may support a finding [1].
ALONE = 0.99

#: At most this many readings are named in one reason.
_NAMED = 3


def judge(
    ruling: Ruling, outcome: Outcome, candidates: Sequence[Candidate], checks: Sequence[Check], reading_set: ReadingSet
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
        nothing = reason("no_readings", "There are no readings yet: this is only what is usual.")
        return Confidence(level="none", reasons=[nothing])
    # What no sound supply gives stands first, then what the finding does not explain, what carries it and what it
    # leaves open.
    found = [
        *_shown(ruling, reading_set),
        *_unexplained(ruling, outcome, reading_set),
        *_believed(ruling, reading_set),
        *_carrying(ruling, reading_set),
        *_alike(ruling, candidates),
        *_untested(ruling, outcome, reading_set),
        *_currents(ruling, outcome, reading_set.readings),
        *_contradictions(outcome, checks),
        *_priors(ruling, reading_set),
    ]
    only = f"It is the most probable of all that was considered, at {percent(ruling.support)}."
    return Confidence(
        level=_level(ruling, outcome, checks, reading_set), reasons=found or [reason("most_probable", only)]
    )


def _level(ruling: Ruling, outcome: Outcome, checks: Sequence[Check], reading_set: ReadingSet) -> ConfidenceLevel:
    level = _START[ruling.determination]
    if ruling.determination == "undetermined":
        contact = any(not isinstance(reading, ProximityReading) for reading in reading_set.readings)
        return _LEVELS[level if contact and ruling.finding.fault != "readings_inconsistent" else 0]
    if not all(explained(check, outcome) for check in checks):
        level -= 1
    if ruling.determination == "established" and weak_point(ruling, outcome, reading_set):
        level -= 1
    return _LEVELS[level]


def weak_point(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> bool:
    """Whether an established finding has one: a joint that could hide from it, or one reading alone that carries it."""
    if ruling.finding.fault == "none_found":
        return bool(beyond(outcome.limits, reading_set.supply.carrying, FINE_RESISTANCE))
    return len(ruling.speaking) == 1 and ruling.support < ALONE


def reason(code: str, text: str, *entries: ReadingEvidence) -> Reason:
    """One reason, and the readings that it speaks of."""
    return Reason(code=code, text=text, readings=sorted(entry.reading for entry in entries))


def _shown(ruling: Ruling, reading_set: ReadingSet) -> list[Reason]:
    """What readings show by themselves is not outvoted by what is probable."""
    entries = (*ruling.wrong, *ruling.on_ground)
    if not entries or ruling.place.name not in {"none", "readings"}:
        return []
    told = joined(shown.words(entries, reading_set)[:_NAMED])
    text = f"{sentence(told)}: no sound supply gives that, however probable a sound one is by the other readings."
    return [Reason(code="no_sound_supply", text=text, readings=sorted(entries))]


def _unexplained(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[Reason]:
    """What the finding does not explain stands before all that speaks for it; of none it is said by the finding."""
    if ruling.place.name == "readings":
        return []
    found = []
    told = {*ruling.wrong, *ruling.on_ground}
    for name, entries in _once((e for e in unexplained(outcome) if e.reading not in told), reading_set):
        expected = f" ({span(*entries[0].finding, entries[0].unit)})" if entries[0].unit != "1" else ""
        text = f"{sentence(name)} is not what the finding gives{expected}: take it again first."
        found.append(reason("not_explained", text, *entries))
    return found


def _once(entries: Iterable[ReadingEvidence], reading_set: ReadingSet) -> list[tuple[str, list[ReadingEvidence]]]:
    """Readings in words, the same said once, as many as a person can take in."""
    told: dict[str, list[ReadingEvidence]] = {}
    for entry in entries:
        told.setdefault(described(entry, reading_set), []).append(entry)
    return [*told.items()][:_NAMED]


def _contradictions(outcome: Outcome, checks: Sequence[Check]) -> list[Reason]:
    checks = [check for check in checks if check.code not in {"not_explained", "current_on_ground", "too_low_to_run"}]
    if not checks:
        return []
    code = "contradiction"
    text = "Some readings do not go together (see checks). Settle those first: the finding rests on them."
    if all(explained(check, outcome) for check in checks):
        code = "contradiction_explained"
        text = "Some readings do not go together on a sound supply (see checks); under the finding they do."
    concerned = sorted({index for check in checks for index in check.readings})
    return [Reason(code=code, text=text, readings=concerned)]


def _believed(ruling: Ruling, reading_set: ReadingSet) -> list[Reason]:
    """What stands against a finding whatever its probability."""
    found = []
    for name, entries in _once(ruling.against, reading_set):
        text = (
            f"{sentence(name)} shows voltage where the finding says that there is none. It is believed: nothing counts"
            " as dead. Take it again with a tester proven on a live source."
        )
        found.append(reason("voltage_believed", text, *entries))
    silent = ruling.unproven
    zeros = [entry for entry in ruling.speaking if reading_set.readings[entry.reading].meter == silent]
    if silent is not None and zeros:
        text = (
            f"{silent} has shown nothing but zeros, as a tester does that is dead itself: prove it on a known live"
            " source and read again."
        )
        found.append(reason("tester_unproven", text, *zeros))
    return found


def _carrying(ruling: Ruling, reading_set: ReadingSet) -> list[Reason]:
    """The readings that carry the finding, or that none does."""
    if ruling.finding.fault in NO_FAULT_NAMES:
        return _standing_out(ruling, reading_set) if ruling.finding.fault == "readings_inconsistent" else []
    # Readings that a sound supply would also give are not named as support, and equal ones are named once.
    outside = [entry for entry in ruling.speaking if _stands_out(entry, reading_set)]
    found = []
    for name, entries in _once(outside, reading_set):
        sound = span(*entries[0].sound, entries[0].unit)
        text = f"{sentence(name)} speaks for it: on a sound supply it should be {sound}."
        found.append(reason("speaks_for_it", text, *entries))
    if len(ruling.speaking) == 1:
        alone = "One reading alone carries the finding: repeat it if you can."
        found.append(reason("one_reading_alone", alone, *ruling.speaking))
    if not ruling.speaking and ruling.proximity_speaks:
        fooled = "Only a proximity detector speaks for it, and that can be fooled: measure by contact."
        found.append(reason("proximity_alone", fooled))
    elif not outside and len(ruling.speaking) != 1:
        alone = "Several readings say the same, and together they speak for it."
        found.append(reason("none_alone", alone if ruling.together else "No single reading speaks clearly for it."))
    return found


def _stands_out(entry: ReadingEvidence, reading_set: ReadingSet) -> bool:
    return flag(entry, reading_set.meters[reading_set.readings[entry.reading].meter]) != "as_expected"


def _standing_out(ruling: Ruling, reading_set: ReadingSet) -> list[Reason]:
    found = []
    for three in islice(shown.agreements(reading_set), 1):
        whole, *parts = (shown.told(index, reading_set).partition(" (")[0] for index in three)
        text = (
            f"Nothing that is known here gives these readings, but they agree with one another: {whole} is"
            f" {joined(parts)} together. They are not to be dismissed."
        )
        found.append(Reason(code="agree_with_one_another", text=text, readings=sorted(three)))
    if not found:
        together = (
            "Nothing that is known here gives these readings together. What no sound supply gives is believed until it"
            " is read again."
            if ruling.wrong
            else "No circuit gives these readings together: at least one is wrong or belongs elsewhere."
        )
        found = [reason("do_not_go_together", together)]
    for name, entries in _once((e for e in ruling.speaking if _stands_out(e, reading_set)), reading_set):
        text = f"{sentence(name)} stands out: expected was {span(*entries[0].sound, entries[0].unit)}."
        found.append(reason("stands_out", text, *entries))
    return found


def _alike(ruling: Ruling, candidates: Sequence[Candidate]) -> list[Reason]:
    finding, place = ruling.finding, ruling.place
    alike = [finding, *ruling.alike]
    if is_either_leg(place.name, place.conductor):
        legs = (c for c in candidates if is_at(c, place) and c.conductor != finding.conductor)
        alike[1:1] = islice(legs, 1)
    if len(alike) > 1:
        names = [f"{faults_name(c.fault, c.conductor, c.also)} ({percent(c.probability)})" for c in alike]
        return [reason("not_told_apart", f"These readings cannot tell apart: {joined(names)}.")]
    if ruling.determination == "established":
        return []
    # Candidates at the finding's own place (other leg, other degree) are not rivals.
    others = [c for c in rivals(finding, candidates) if not is_at(c, place)]
    if not others:
        return []
    name = faults_name(others[0].fault, others[0].conductor, others[0].also)
    return [reason("next_most_probable", f"Next most probable: {name}, {percent(others[0].probability)}.")]


def _untested(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[Reason]:
    """What the readings could not have shown."""
    found = []
    hidden = [conductor_name(conductor) for conductor in ruling.hidden]
    if hidden and ruling.finding.fault == "none_found":
        tested = f"{'it was' if len(hidden) == 1 else 'they were'} not tested under load or with a low-impedance meter"
        text = f"{sentence(joined(hidden))} could be open and these readings would look the same: {tested}."
        found.append(reason("open_could_hide", text))
    elif ruling.coarse and ruling.finding.fault == "none_found":
        worst = max(
            limit.resistance
            for limit in outcome.limits
            if limit.conductor in ruling.coarse and limit.resistance is not None
        )
        names = joined([conductor_name(conductor) for conductor in ruling.coarse])
        text = (
            f"A bad joint of up to about {quantity(worst, 'ohm')} in {names} would not have shown; only a reading "
            f"under load shows {quantity(SMALL_RESISTANCE, 'ohm')}."
        )
        found.append(reason("joint_could_hide", text))
    elif weak_point(ruling, outcome, reading_set) and ruling.finding.fault == "none_found":
        text = f"A joint of more than {quantity(FINE_RESISTANCE, 'ohm')} may remain; see the detection limits."
        found.append(reason("small_joint_could_hide", text))
    if (
        not any("G" in conductors_of(reading) for reading in reading_set.readings)
        and reading_set.supply.equipment_ground != "absent"
    ):
        found.append(reason("ground_not_read", "The equipment ground was not read, so nothing is said of it."))
    return found


def _currents(ruling: Ruling, outcome: Outcome, readings: Sequence[Reading]) -> list[Reason]:
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
        text = f"The low-impedance meter drew {current}: enough to show {quantity(limit, 'ohm')} in {name}, not less."
        return [reason("test_current", text, drawn[1])]
    return []


def _priors(ruling: Ruling, reading_set: ReadingSet) -> list[Reason]:
    """Where a wide prior, not a reading, decides."""
    found = []
    run = reading_set.supply.run
    if ruling.finding.fault.startswith("high_resistance") and (run.size is None or run.length is None):
        text = (
            f"The run's size or length is not stated, so that a {fault_name(ruling.finding.fault)} is told from plain "
            "wire only by what is usual. State them for a sharper answer."
        )
        found.append(reason("run_not_stated", text))
    voltages = [reading for reading in reading_set.readings if isinstance(reading, VoltageReading)]
    if voltages and not any(is_low_impedance(reading_set.meters[reading.meter]) for reading in voltages):
        unloaded = all(reading_set.load_states[reading.load_state].kind == "disconnected" for reading in voltages)
        if unloaded:
            text = (
                "Every voltage was read with a high-impedance meter on an unloaded outlet: strays alone can give such "
                "readings on a conductor that is open."
            )
            found.append(reason("unloaded_high_impedance", text))
    return found
