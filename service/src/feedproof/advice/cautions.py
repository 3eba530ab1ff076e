"""Which cautions a job needs. They err toward more: a hazard of 1 % is enough, of the ground alone 5 %.

Texts, severities and sources are data (`data/cautions.toml`); here are the rules that the data names. A rule
gives the words of what set the caution off, or None.
"""

from collections.abc import Callable, Sequence

from msgspec import Struct

from feedproof.advice.believed import far_outside, shows_voltage, voltage_on
from feedproof.advice.candidates import NEUTRAL_FAULTS, SERVICE_NEUTRAL_FAULTS, probability_of
from feedproof.advice.determination import OPEN_RESISTANCE, beyond
from feedproof.advice.texts import CautionText, basis_words, caution_texts, in_language
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Caution
from feedproof.inference import Candidate, Outcome
from feedproof.readings import (
    Conductor,
    Ohmmeter,
    ProximityDetector,
    ProximityReading,
    ReadingSet,
    ResistanceReading,
    VoltageReading,
)

#: A caution is given from this probability of its hazard on: one job in a hundred [1].
HAZARD_PROBABILITY = 0.01

#: Of what concerns the ground alone: well above what is usual before any reading [1].
GROUND_PROBABILITY = 0.05

#: Before any reading: what concerns the taking of readings, and nothing else.
_OF_A_PLAN = frozenset(
    {"live_contacts", "prove_the_tester", "licensed_work", "silent_proximity_detector", "resistance_isolated_only"}
)

#: Rounding and summing may leave a probability that is 1 % by definition a hair below it [1].
_HAIR = 1e-9

_SEVERITY_ORDER = {"danger": 0, "warning": 1, "notice": 2}

_DEAD = frozenset({"no_supply", "breaker_open", "open_leg", "legs_from_same_pole"})


class Circumstances(Struct, frozen=True, kw_only=True):
    """What the rules look at."""

    reading_set: ReadingSet
    outcome: Outcome
    candidates: Sequence[Candidate]
    language: str = "en"

    @property
    def neutral_proven(self) -> bool:
        """Whether an open neutral would have shown, and a bad one is under 1 % probable.

        Not where all read zero, or a reading is not explained: what else is wrong then, the readings do not say.
        """
        would_show = not beyond(self.outcome.limits, ("N",), OPEN_RESISTANCE)
        contact = any(isinstance(r, VoltageReading) and shows_voltage(r) for r in self.reading_set.readings)
        plain = contact and not any(far_outside(entry) for entry in self.outcome.evidence)
        return plain and would_show and not _enough(self.outcome.hazards.neutral_fault)

    @property
    def shown(self) -> bool:
        """Whether any reading shows voltage."""
        return any(shows_voltage(reading) for reading in self.reading_set.readings)


_Rule = Callable[[CautionText, Circumstances], str | None]


def find(reading_set: ReadingSet, outcome: Outcome, candidates: Sequence[Candidate], language: str) -> list[Caution]:
    """All cautions of the answer, the most severe first.

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

    Returns
    -------
    list of Caution
        Never empty: some cautions belong to every job.
    """
    circumstances = Circumstances(reading_set=reading_set, outcome=outcome, candidates=candidates, language=language)
    reasons = {text.code: RULES[text.trigger](text, circumstances) for text in caution_texts()}
    given = [
        Caution(
            code=text.code,
            severity=text.severity,
            text=in_language(text.text, language),
            basis=basis_words(text),
            because=because,
        )
        for text in caution_texts()
        if (because := reasons[text.code]) is not None
        and (reading_set.readings or text.code in _OF_A_PLAN)
        and (text.superseded_by is None or reasons[text.superseded_by] is None)
    ]
    return sorted(given, key=lambda caution: _SEVERITY_ORDER[caution.severity])


def _enough(probability: float) -> bool:
    return probability >= HAZARD_PROBABILITY - _HAIR


def _always(text: CautionText, at: Circumstances) -> str | None:
    return in_language(text.because, at.language)


def _figure(text: CautionText, at: Circumstances, probability: float, least: float = HAZARD_PROBABILITY) -> str | None:
    if probability < least - _HAIR:
        return None
    return in_language(text.because, at.language).format(probability=percent(probability))


def _leg_live(text: CautionText, at: Circumstances) -> str | None:
    given = _figure(text, at, at.outcome.hazards.leg_live)
    if given is not None:
        return given
    # Zeros prove nothing dead as long as nobody can say that the tester was proven.
    return in_language(text.because_shown if at.shown else text.because_unproven, at.language)


def _neutral_as_live(text: CautionText, at: Circumstances) -> str | None:
    given = _figure(text, at, at.outcome.hazards.neutral_above_30_volts)
    if given is not None:
        return given
    if voltage_on(at.reading_set.readings, ("N", "G")):
        return in_language(text.because_shown, at.language)
    return None if at.neutral_proven else in_language(text.because_unproven, at.language)


def _cabinet_as_live(text: CautionText, at: Circumstances) -> str | None:
    given = _figure(text, at, at.outcome.hazards.frame_live)
    if given is not None:
        return given
    bonded = at.reading_set.supply.frame_bonded_to_neutral
    frame: tuple[Conductor, ...] = ("G",) if bonded is False else ("N", "G")
    if voltage_on(at.reading_set.readings, frame):
        return in_language(text.because_shown, at.language)
    if at.neutral_proven or bonded is False:
        return None
    return in_language(text.because_bonded if bonded else text.because_unknown, at.language)


def _service_neutral(text: CautionText, at: Circumstances) -> str | None:
    named = probability_of(SERVICE_NEUTRAL_FAULTS, at.candidates)
    return _figure(text, at, max(at.outcome.hazards.service_neutral_fault, named))


def _feeder_neutral(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.feeder_neutral_fault)


def _earth_above_30_volts(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.earth_above_30_volts)


def _ground_open(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.ground_open, GROUND_PROBABILITY)


def _ground_current(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.ground_current, GROUND_PROBABILITY)


def _false_ground(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.false_ground, GROUND_PROBABILITY)


def _heat_above_5_watts(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.heat_above_5_watts)


def _heat_above_30_watts(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, at.outcome.hazards.heat_above_30_watts)


def _neutral_missing(text: CautionText, at: Circumstances) -> str | None:
    hazards = at.outcome.hazards
    named = probability_of(NEUTRAL_FAULTS | SERVICE_NEUTRAL_FAULTS, at.candidates)
    return _figure(text, at, max(hazards.neutral_fault, hazards.service_neutral_fault, named))


def _dead_conductor(text: CautionText, at: Circumstances) -> str | None:
    return _figure(text, at, probability_of(_DEAD, at.candidates))


def _proximity_detector(text: CautionText, at: Circumstances) -> str | None:
    used = any(isinstance(reading, ProximityReading) for reading in at.reading_set.readings)
    listed = any(isinstance(meter, ProximityDetector) for meter in at.reading_set.meters.values())
    ahead = any(prospect.kind == "proximity" for prospect in at.outcome.prospects)
    return in_language(text.because, at.language) if used or listed or ahead else None


def _ohmmeter(text: CautionText, at: Circumstances) -> str | None:
    used = any(isinstance(reading, ResistanceReading) for reading in at.reading_set.readings)
    listed = any(isinstance(meter, Ohmmeter) for meter in at.reading_set.meters.values())
    ahead = any(prospect.kind == "resistance" for prospect in at.outcome.prospects)
    return in_language(text.because, at.language) if used or listed or ahead else None


#: The rules by the name that the data file calls them.
RULES: dict[str, _Rule] = {
    "always": _always,
    "leg_live": _leg_live,
    "neutral_as_live": _neutral_as_live,
    "cabinet_as_live": _cabinet_as_live,
    "service_neutral_fault": _service_neutral,
    "feeder_neutral_fault": _feeder_neutral,
    "earth_above_30_volts": _earth_above_30_volts,
    "ground_open": _ground_open,
    "ground_current": _ground_current,
    "false_ground": _false_ground,
    "heat_above_5_watts": _heat_above_5_watts,
    "heat_above_30_watts": _heat_above_30_watts,
    "dead_conductor_suspected": _dead_conductor,
    "neutral_missing": _neutral_missing,
    "proximity_detector": _proximity_detector,
    "ohmmeter": _ohmmeter,
}
