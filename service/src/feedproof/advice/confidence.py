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

from feedproof.advice.determination import Ruling
from feedproof.advice.reasons import reason, reasons, weak_point
from feedproof.advice.unexplained import explained
from feedproof.contract.assessment import Check, Confidence, ConfidenceLevel, Determination
from feedproof.inference import Candidate, Outcome
from feedproof.readings import ProximityReading, ReadingSet

_LEVELS: tuple[ConfidenceLevel, ...] = ("none", "low", "moderate", "high")
_START: dict[Determination, int] = {"established": 3, "probable": 2, "undetermined": 1}


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
    return Confidence(
        level=_level(ruling, outcome, checks, reading_set),
        reasons=reasons(ruling, outcome, candidates, checks, reading_set),
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
