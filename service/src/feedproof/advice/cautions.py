"""The cautions of an answer: few, this case's own hazard first, each in the form that the case asks for.

Texts, severities, sources and the names of the rules are data (`data/cautions.toml`). A rule gives the ground that set
its caution off, or None: from 1 % of its hazard on, and from some 15 % on as an order instead of an "if".
"""

from collections.abc import Callable, Sequence

import msgspec
from msgspec import Struct

from feedproof.advice import shown
from feedproof.advice.candidates import NEUTRAL_FAULTS, SERVICE_NEUTRAL_FAULTS, probability_of
from feedproof.advice.determination import OPEN_RESISTANCE, beyond
from feedproof.advice.texts import CautionText, Form, Reason, basis_words, called, caution_texts, in_language
from feedproof.advice.unexplained import SHOWS_VOLTAGE, shows_voltage, voltage_on
from feedproof.advice.wording import joined, percent, quantity
from feedproof.contract.assessment import Caution, Severity
from feedproof.inference import Candidate, Outcome
from feedproof.readings import (
    Conductor,
    Ohmmeter,
    ProximityDetector,
    ProximityReading,
    ReadingSet,
    ResistanceReading,
    VoltageReading,
    Voltmeter,
)

#: A caution is given from this probability of its hazard on: one job in a hundred [1].
HAZARD_PROBABILITY = 0.01

#: Of what concerns the ground alone: well above what is usual before any reading [1].
GROUND_PROBABILITY = 0.05

#: From here on a hazard is likely, and its caution an order; below, it says what to look for first [1].
LIKELY = 0.15

#: From here on a leak is more probable than all else [1].
MOST = 0.5

#: Tolerance for rounding, so that a probability of exactly 1 % counts as 1 % [1].
_HAIR = 1e-9

_DEAD = frozenset({"no_supply", "breaker_open", "open_leg", "legs_from_same_pole"})
_TRIPPED = frozenset({"breaker_found_tripped", "ground_fault_breaker_tripped"})


class Ground(Struct, frozen=True, kw_only=True):
    """What set a caution off."""

    reason: Reason
    likely: bool = True
    """Likely or shown: an order. Else only possible: an "if"."""
    proven: bool = True
    """Not so where nothing but the want of a proof speaks for the hazard: an order, but no danger."""
    probability: float | None = None
    """Of the hazard [1]; None: the reason is another."""
    read: str | None = None
    """The reading that shows it, in words or as a figure with its unit; None: none does."""


class Circumstances(Struct, frozen=True, kw_only=True):
    """What the rules look at."""

    reading_set: ReadingSet
    outcome: Outcome
    candidates: Sequence[Candidate]

    @property
    def neutral_proven(self) -> bool:
        """Whether an open neutral would have shown, and a bad one is under 1 % probable.

        Not where all read zero, or a reading is not explained: what else is wrong then, the readings do not say.
        """
        would_show = not beyond(self.outcome.limits, ("N",), OPEN_RESISTANCE)
        contact = any(isinstance(r, VoltageReading) and shows_voltage(r) for r in self.reading_set.readings)
        plain = contact and not any(entry.far_outside() for entry in self.outcome.evidence)
        return plain and would_show and not _enough(self.outcome.hazards.neutral_fault)


_Rule = Callable[[Circumstances], Ground | None]


def _enough(probability: float, least: float = HAZARD_PROBABILITY) -> bool:
    return probability >= least - _HAIR


def _figure(probability: float, least: float = HAZARD_PROBABILITY) -> Ground | None:
    if not _enough(probability, least):
        return None
    return Ground(reason="probability", likely=_enough(probability, LIKELY), probability=probability)


def _always(_: Circumstances) -> Ground:
    return Ground(reason="always")


def _leg_live(at: Circumstances) -> Ground:
    if _enough(at.outcome.hazards.leg_live):
        return Ground(reason="probability", probability=at.outcome.hazards.leg_live)
    # Readings of zero prove nothing unless the tester was proved, and a supply may come back then too.
    meters = at.reading_set.meters
    used = [meter for r in at.reading_set.readings if isinstance(meter := meters[r.meter], Voltmeter)]
    proved = bool(used) and all(meter.proved for meter in used)
    live = any(shows_voltage(reading) for reading in at.reading_set.readings)
    return Ground(reason="shown" if live else "proven" if proved else "unproven")


def _neutral_as_live(at: Circumstances) -> Ground | None:
    if not at.reading_set.supply.neutral:
        return None
    given = _figure(at.outcome.hazards.neutral_above_30_volts)
    between = [r.value for r in at.reading_set.readings if isinstance(r, VoltageReading) and {*r.between} == {"N", "G"}]
    high = max(between, default=0.0)
    read = quantity(high, "V") if high >= SHOWS_VOLTAGE else None
    if given is not None and given.likely:
        return msgspec.structs.replace(given, read=read)
    if voltage_on(at.reading_set.readings, ("N", "G")):
        return Ground(reason="shown", read=read)
    return given if at.neutral_proven else Ground(reason="unproven", proven=False)


def _frame_as_live(at: Circumstances) -> Ground | None:
    given = _figure(at.outcome.hazards.frame_live)
    if given is not None and given.likely:
        return given
    bonded = at.reading_set.supply.frame_bonded_to_neutral
    frame: tuple[Conductor, ...] = ("G",) if bonded is False else ("N", "G")
    if voltage_on(at.reading_set.readings, frame):
        return Ground(reason="shown")
    if at.neutral_proven or bonded is False:
        return given
    return Ground(reason="bonded", proven=False) if bonded else Ground(reason="unknown", likely=False)


def _service_neutral(at: Circumstances) -> Ground | None:
    named = probability_of(SERVICE_NEUTRAL_FAULTS, at.candidates)
    return _figure(max(at.outcome.hazards.service_neutral_fault, named))


def _frames_off_earth(at: Circumstances) -> Ground | None:
    """With a service neutral in doubt every grounded frame is, whatever it reads now."""
    own, upstream = _figure(at.outcome.hazards.earth_above_30_volts), _service_neutral(at)
    if own is not None and (own.likely or upstream is None or not upstream.likely):
        return own
    return upstream if upstream is None else msgspec.structs.replace(upstream, reason="upstream")


def _hazard(hazard: str, least: float = HAZARD_PROBABILITY) -> _Rule:
    return lambda at: _figure(getattr(at.outcome.hazards, hazard), least)


def _ground_current(at: Circumstances) -> Ground | None:
    """Once read it stays, whatever is read in another load state."""
    read = shown.words(shown.on_ground(at.reading_set), at.reading_set)
    return (
        Ground(reason="shown", read=read[0]) if read else _figure(at.outcome.hazards.ground_current, GROUND_PROBABILITY)
    )


def _outlet_voltage(at: Circumstances) -> Ground | None:
    """What was read once, and then was right, leaves an "if"."""
    stands = shown.at_outlet(at.reading_set)
    read = shown.words(stands or shown.once_wrong(at.reading_set), at.reading_set)
    return Ground(reason="shown", read=joined(read), likely=bool(stands)) if read else None


def _leak(at: Circumstances) -> Ground | None:
    given = _figure(probability_of(frozenset({"leak_to_ground"}), at.candidates), GROUND_PROBABILITY)
    if given is None or given.probability is None:
        return given
    # What holds may be read on until a leak is the most probable; what tripped may not.
    tripped = any(seen.code in _TRIPPED for seen in at.reading_set.observations)
    return msgspec.structs.replace(given, likely=given.probability >= MOST or (tripped and given.likely))


def _neutral_missing(at: Circumstances) -> Ground | None:
    if not at.reading_set.supply.neutral:
        return None
    hazards = at.outcome.hazards
    named = probability_of(NEUTRAL_FAULTS | SERVICE_NEUTRAL_FAULTS, at.candidates)
    return _figure(max(hazards.neutral_fault, hazards.service_neutral_fault, named))


def _dead_conductor(at: Circumstances) -> Ground | None:
    return _figure(probability_of(_DEAD, at.candidates))


def _breaker_tripped(at: Circumstances) -> Ground | None:
    if any(seen.code in _TRIPPED for seen in at.reading_set.observations):
        return Ground(reason="shown")
    return _figure(probability_of(frozenset({"breaker_open"}), at.candidates))


def _instrument(kind: str, reading: type, meter: type) -> _Rule:
    """Rule of an instrument that was used, is listed, or may be used next."""

    def used(at: Circumstances) -> Ground | None:
        there = (
            any(isinstance(taken, reading) for taken in at.reading_set.readings)
            or any(isinstance(listed, meter) for listed in at.reading_set.meters.values())
            or any(prospect.kind == kind for prospect in at.outcome.prospects)
        )
        return Ground(reason="always") if there else None

    return used


#: The rules by the name that the data file calls them.
RULES: dict[str, _Rule] = {
    "always": _always,
    "leg_live": _leg_live,
    "neutral_as_live": _neutral_as_live,
    "frame_as_live": _frame_as_live,
    "service_neutral_fault": _service_neutral,
    "feeder_neutral_fault": _hazard("feeder_neutral_fault"),
    "earth_above_30_volts": _frames_off_earth,
    "ground_open": _hazard("ground_open", GROUND_PROBABILITY),
    "ground_current": _ground_current,
    "leak_to_ground": _leak,
    "outlet_voltage": _outlet_voltage,
    "false_ground": _hazard("false_ground", GROUND_PROBABILITY),
    "heat_above_5_watts": _hazard("heat_above_5_watts"),
    "heat_above_30_watts": _hazard("heat_above_30_watts"),
    "dead_conductor_suspected": _dead_conductor,
    "breaker_tripped": _breaker_tripped,
    "neutral_missing": _neutral_missing,
    "proximity_detector": _instrument("proximity", ProximityReading, ProximityDetector),
    "ohmmeter": _instrument("resistance", ResistanceReading, Ohmmeter),
}


#: Number of cautions of this job that are placed before the one on proving the tester.
_BEFORE_THE_PROOF = 1

_PROOF = "prove_the_tester"

_Given = tuple[CautionText, Ground]


def find(
    reading_set: ReadingSet, outcome: Outcome, candidates: Sequence[Candidate], language: str, *, goes_on: bool = False
) -> list[Caution]:
    """All cautions of the answer, ranked.

    What is likely or shown of this case stands first, then what is only possible, then the practice of the work; the
    proof of the tester is among the first two. Before any reading there is only the practice of the work.

    Parameters
    ----------
    reading_set : ReadingSet
        The job: what was read, with which meters, on which supply.
    outcome : Outcome
        With the hazards' probabilities.
    candidates : sequence of Candidate
        One for each fault.
    language : str
        BCP 47 tag of the texts; English where one is missing.
    goes_on : bool
        Whether the answer names a further reading.

    Returns
    -------
    list of Caution
        Never empty: some cautions belong to every job.
    """
    at = Circumstances(reading_set=reading_set, outcome=outcome, candidates=candidates)
    grounds = {text.code: RULES[text.trigger](at) for text in caution_texts()}
    given = [
        (text, ground)
        for text in caution_texts()
        if (ground := grounds[text.code]) is not None
        and (reading_set.readings or text.about == "practice")
        and not _is_superseded(text, ground, grounds)
    ]
    who = called(reading_set.supply.source, language)
    return [
        _caution(rank, text, ground, language, who, goes_on=goes_on)
        for rank, (text, ground) in enumerate(_ranked(given), start=1)
    ]


def _is_superseded(text: CautionText, ground: Ground, grounds: dict[str, Ground | None]) -> bool:
    """Whether another caution says the same and more; what is only possible never stands for what is likely."""
    by = [grounds[code] for code in text.superseded_by]
    if any(other is not None and other.likely >= ground.likely for other in by):
        return True
    return not ground.likely and any(grounds[code] is not None for code in text.possible_superseded_by)


def _ranked(given: Sequence[_Given]) -> list[_Given]:
    likely = [entry for entry in given if entry[0].about == "hazard" and entry[1].likely]
    likely.sort(key=lambda entry: not entry[1].proven)
    possible = [entry for entry in given if entry[0].about == "hazard" and not entry[1].likely]
    proof = [entry for entry in given if entry[0].code == _PROOF]
    practice = [entry for entry in given if entry[0].about == "practice" and entry[0].code != _PROOF]
    dangers = [entry for entry in practice if _severity(*entry) == "danger"]
    rest = [entry for entry in practice if entry not in dangers]
    return [*likely[:_BEFORE_THE_PROOF], *proof, *likely[_BEFORE_THE_PROOF:], *dangers, *possible, *rest]


def _severity(text: CautionText, ground: Ground) -> Severity:
    """A danger only where it will hurt, not where it could: ANSI Z535.4."""
    certain = ground.likely and ground.proven
    return "warning" if text.severity == "danger" and not certain else text.severity


def _caution(rank: int, text: CautionText, ground: Ground, language: str, who: str, *, goes_on: bool) -> Caution:
    form = Form(title=text.title, text=text.text)
    if not ground.likely:
        form = text.possible or form
    elif goes_on:
        form = text.meanwhile or form
    if ground.read is not None:
        form = text.shown or form
    because = in_language(text.because_for.get(ground.reason, text.because), language)
    return Caution(
        rank=rank,
        code=text.code,
        severity=_severity(text, ground),
        title=in_language(form.title, language).format(called=who),
        text=in_language(form.text, language).format(called=who, read=ground.read),
        basis=basis_words(text),
        because=because.format(probability=percent(ground.probability or 0.0), read=ground.read),
        because_code=ground.reason,
    )
