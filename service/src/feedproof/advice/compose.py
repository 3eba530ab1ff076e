"""Puts the answer together: the only way from an `Outcome` to an `Assessment`."""

from collections.abc import Sequence

from feedproof.advice import candidates as faults
from feedproof.advice import cautions, checks, confidence, estimates, limits, next_steps, unexplained
from feedproof.advice.believed import flag, stands_too_high
from feedproof.advice.determination import rule
from feedproof.advice.disposition import decide, refer
from feedproof.advice.first_lines import headline, next_action
from feedproof.advice.identity import identity_of
from feedproof.advice.numbers import finished
from feedproof.advice.supply import assessed_supply
from feedproof.advice.texts import FALLBACK_LANGUAGE
from feedproof.advice.visit import assessed_visit
from feedproof.contract import assessment as wire
from feedproof.inference import Outcome, ReadingEvidence
from feedproof.readings import ReadingSet


def compose(
    reading_set: ReadingSet,
    outcome: Outcome,
    assumptions: Sequence[wire.Assumption],
    model: wire.ModelIdentity,
    language: str = FALLBACK_LANGUAGE,
) -> wire.Assessment:
    """The assessment of one reading set.

    Parameters
    ----------
    reading_set : ReadingSet
        What was read.
    outcome : Outcome
        What was inferred from it.
    assumptions : sequence of Assumption
        Every value that the request left out.
    model : ModelIdentity
        Which model inferred it.
    language : str
        BCP 47 tag of the safety texts; English where a text lacks it.

    Returns
    -------
    Assessment
        Every number finite and at six significant digits.

    Raises
    ------
    NonFiniteNumberError
        If the inference gave a number that is infinite or not a number.
    """
    readings = reading_set.readings
    named = faults.merged(outcome.candidates)
    ruling = rule(outcome, outcome.candidates, reading_set)
    source = reading_set.supply.source
    too_high = stands_too_high(readings)
    disposition = decide(ruling, outcome, outcome.candidates, source, too_high=too_high)
    finding = faults.to_finding(ruling.place, ruling.finding, outcome.candidates)
    refer_to = refer(ruling, disposition, outcome.candidates, source)
    end = next_steps.end_of(ruling, disposition, outcome)
    contradictions = [*unexplained.checks(outcome, reading_set), *checks.find(reading_set)]
    following = [] if end else next_steps.to_wire(next_steps.wanted(ruling, outcome), outcome, reading_set, language)
    supply = assessed_supply(reading_set)
    return finished(
        wire.Assessment(
            reference=reading_set.reference,
            finding=finding,
            determination=ruling.determination,
            confidence=confidence.judge(ruling, outcome, named, contradictions, reading_set),
            candidates=faults.to_wire(named),
            neutral_to_ground=[
                estimates.neutral_to_ground(entry, reading_set, supply) for entry in outcome.neutral_voltages
            ],
            resistances=[estimates.resistance(entry, outcome.limits) for entry in outcome.resistances],
            detection_limits=[limits.to_wire(limit, outcome.evidence, readings) for limit in outcome.limits],
            evidence=[_evidence(entry, reading_set) for entry in outcome.evidence],
            checks=contradictions,
            next_readings=following,
            next_reason=end,
            disposition=disposition,
            cautions=cautions.find(reading_set, outcome, named, language, goes_on=bool(following)),
            assumptions=list(assumptions),
            model=model,
            supply=supply,
            headline=headline(finding, ruling, unexplained.words(outcome, reading_set), read=bool(readings)),
            next_action=next_action(
                disposition,
                refer_to,
                finding,
                following[0].title if following else None,
                read=bool(readings),
            ),
            refer_to=list(refer_to) if readings else [],
            neutral_to_earth=[estimates.neutral_to_earth(entry, reading_set) for entry in outcome.earth_voltages],
            visit=assessed_visit(reading_set),
            break_position=estimates.break_position(outcome.break_position),
        )
    )


def _evidence(entry: ReadingEvidence, reading_set: ReadingSet) -> wire.Evidence:
    reading = reading_set.readings[entry.reading]
    return wire.Evidence(
        reading=entry.reading,
        observed=wire.Observed(value=entry.observed, unit=entry.unit),
        expected_if_sound=wire.Expected(low=entry.sound[0], high=entry.sound[1]),
        expected_under_finding=wire.Expected(low=entry.finding[0], high=entry.finding[1]),
        flag=flag(entry),
        bits=entry.bits,
        identity=identity_of(reading, reading_set.load_states),
        test_current=entry.test_current,
    )
