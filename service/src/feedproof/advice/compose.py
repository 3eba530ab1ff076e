"""Puts the answer together: the only way from an `Outcome` to an `Assessment`."""

import cmath
import math
from collections.abc import Sequence
from functools import cache
from typing import TypeVar, get_args, get_type_hints

from msgspec import Struct
from msgspec.structs import replace

from feedproof.advice import candidates as faults
from feedproof.advice import cautions, checks, confidence, estimates, next_steps, shown, unexplained
from feedproof.advice.determination import Ruling, rule
from feedproof.advice.disposition import decide, headline, next_action, refer
from feedproof.advice.summary import of_this_case
from feedproof.advice.texts import FALLBACK_LANGUAGE
from feedproof.advice.unexplained import flag
from feedproof.advice.wording import figure, identity_of, quantity, rounded, sentence, system_name
from feedproof.contract import assessment as wire
from feedproof.contract.visit import AssessedVisit, VisitMeter
from feedproof.inference import Outcome, ReadingEvidence
from feedproof.readings import LEG_ANGLES, NOMINAL_TO_NEUTRAL, ReadingSet, Run, VoltageReading

#: Leg-to-leg readings outside this share of nominal say that a leg is bad: they scale no picture [1].
_USABLE = (0.8, 1.2)

_BOTH_LEGS = 2


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
    ruling = rule(outcome, reading_set)
    disposition = decide(ruling, outcome, reading_set)
    finding = _finding(ruling, outcome, reading_set)
    refer_to = refer(ruling, disposition, outcome, reading_set)
    end = next_steps.end_of(ruling, disposition, outcome, reading_set)
    contradictions = [
        replace(check, ids=[readings[index].id for index in check.readings])
        for check in found_checks(ruling, outcome, reading_set)
    ]
    asked = [] if end else next_steps.wanted(ruling, outcome, reading_set)
    following = next_steps.to_wire(asked, outcome, reading_set, language)
    warned = cautions.find(reading_set, outcome, named, language, goes_on=bool(following))
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
            detection_limits=[estimates.detection_limit(limit, outcome.evidence, readings) for limit in outcome.limits],
            evidence=[_evidence(entry, reading_set) for entry in outcome.evidence],
            checks=contradictions,
            next_readings=following,
            next_reason=end,
            disposition=disposition,
            cautions=warned,
            assumptions=list(assumptions),
            model=model,
            supply=supply,
            headline=_headline(finding, ruling, outcome, reading_set),
            next_action=next_action(
                disposition,
                refer_to,
                finding,
                following[0].title if following else None,
                of_this_case(warned),
                read=bool(readings),
            ),
            refer_to=list(refer_to),
            neutral_to_earth=[estimates.neutral_to_earth(entry, reading_set) for entry in outcome.earth_voltages],
            visit=_visit(reading_set),
            break_position=estimates.break_position(outcome.break_position),
        )
    )


def _finding(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> wire.Finding:
    """The finding, with the name of another supply system where the readings tell it."""
    finding = faults.to_finding(ruling.place, ruling.finding, outcome.candidates)
    system = shown.system(reading_set) if finding.place == "other_supply_system" else None
    return finding if system is None else replace(finding, title=f"{finding.title} ({system_name(system)})")


def _headline(finding: wire.Finding, ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> str:
    not_sound = shown.words((*ruling.wrong, *ruling.on_ground), reading_set)
    unlike = unexplained.words(outcome, reading_set)
    low = shown.words(ruling.too_low, reading_set)
    return headline(finding, ruling, unlike, not_sound, low, read=bool(reading_set.readings))


def found_checks(ruling: Ruling, outcome: Outcome, reading_set: ReadingSet) -> list[wire.Check]:
    """Every check of the answer: what the finding does not explain, what no sound supply gives, what does not agree."""
    agreeing = {index for three in shown.agreements(reading_set) for index in three}
    return [
        # Load current on the ground is no misread: it has a check of its own.
        *(c for c in unexplained.checks(outcome, reading_set, agreeing) if not {*c.readings} & {*ruling.on_ground}),
        *checks.shown_alone(ruling, reading_set),
        *checks.find(reading_set),
    ]


def _evidence(entry: ReadingEvidence, reading_set: ReadingSet) -> wire.Evidence:
    reading = reading_set.readings[entry.reading]
    return wire.Evidence(
        reading=entry.reading,
        observed=unexplained.observed(entry, reading),
        expected_if_sound=wire.Expected(low=entry.sound[0], high=entry.sound[1]),
        expected_under_finding=wire.Expected(low=entry.finding[0], high=entry.finding[1]),
        flag=flag(entry, reading_set.meters[reading.meter]),
        bits=entry.bits,
        identity=identity_of(reading, reading_set.load_states),
        test_current=entry.test_current,
        id=reading.id,
    )


def _visit(reading_set: ReadingSet) -> AssessedVisit:
    """What the request states of the visit; nothing is filled in.

    Parameters
    ----------
    reading_set : ReadingSet
        With the details of the visit, the supply and the meters.
    """
    told = reading_set.visit
    kind = "" if reading_set.appliance == "other" else sentence(reading_set.appliance.replace("_", " "))
    return AssessedVisit(
        site=told.site or None,
        appliance=", ".join(part for part in (kind, told.appliance) if part) or None,
        receptacle=reading_set.supply.receptacle,
        run=_run(reading_set.supply.run),
        taken_by=told.taken_by or None,
        taken_at=told.taken_at or None,
        calibration=told.calibration or None,
        meters=[
            VisitMeter(name=name, proved=getattr(meter, "proved", False)) for name, meter in reading_set.meters.items()
        ],
    )


def _run(run: Run) -> str | None:
    length = None if run.length is None else quantity(run.length, "m")
    warm = None if run.temperature is None else f"at {figure(run.temperature)} °C"
    return ", ".join(part for part in (run.size, run.material, length, warm) if part) or None


def assessed_supply(reading_set: ReadingSet) -> wire.AssessedSupply:
    """System and legs; voltages scaled to the median leg-to-leg reading where there is a plausible one."""
    angles = LEG_ANGLES[reading_set.supply.system]
    scale = 1.0
    if len(angles) == _BOTH_LEGS:
        first, second = (cmath.rect(NOMINAL_TO_NEUTRAL, math.radians(angle)) for angle in angles.values())
        nominal = abs(first - second)
        shares = sorted(
            reading.value / nominal
            for reading in reading_set.readings
            if isinstance(reading, VoltageReading) and {*reading.between} == {"L1", "L2"}
        )
        usable = [share for share in shares if _USABLE[0] <= share <= _USABLE[1]]
        scale = usable[len(usable) // 2] if usable else 1.0
    return wire.AssessedSupply(
        system=reading_set.supply.system,
        frequency=reading_set.supply.frequency,
        legs=[
            wire.LegVoltage(conductor=leg, voltage=scale * NOMINAL_TO_NEUTRAL, angle=angle, unit="V")
            for leg, angle in angles.items()
        ],
    )


StructT = TypeVar("StructT", bound=Struct)


class NonFiniteNumberError(ArithmeticError):
    """A number of the answer is infinite or not a number: a fault of the service, never of the request."""


@cache
def _number_fields(kind: type[Struct]) -> tuple[str, ...]:
    """Fields of a type that may hold a float, at any depth: the others need no look."""
    return tuple(name for name, hint in get_type_hints(kind).items() if _may_hold_float(hint))


def _may_hold_float(hint: object) -> bool:
    if hint is float:
        return True
    if isinstance(hint, type) and issubclass(hint, Struct):
        return bool(_number_fields(hint))
    return any(_may_hold_float(part) for part in get_args(hint))


def finished(value: StructT) -> StructT:
    """A copy with every float finite and at `feedproof.advice.wording.OUTPUT_DIGITS` significant digits.

    Parameters
    ----------
    value : Struct
        The answer or any part of it.

    Returns
    -------
    Struct
        Of the same type.

    Raises
    ------
    NonFiniteNumberError
        If any float in it is infinite or not a number; the message names the type and the field.
    """
    changes = {}
    for name in _number_fields(type(value)):
        try:
            changes[name] = _finished(getattr(value, name))
        except OverflowError:
            raise NonFiniteNumberError(f"{type(value).__name__}.{name} is not a finite number") from None
    return replace(value, **changes) if changes else value


def _finished(value: object) -> object:
    if isinstance(value, float):
        if not math.isfinite(value):
            raise OverflowError
        return rounded(value)
    if isinstance(value, Struct):
        return finished(value)
    return [_finished(part) for part in value] if isinstance(value, list) else value
