"""Readings that the finding itself does not explain: they stand first in the answer, whatever the posterior says."""

from feedproof.advice.identity import conductors_of, identity_of, kind_of, reading_words
from feedproof.advice.wording import quantity, sentence, span
from feedproof.contract.assessment import Check, Observed
from feedproof.inference import Outcome, ReadingEvidence
from feedproof.readings import ReadingSet

_TAKE_AGAIN = "Take it again first; if it stays, nothing that is known here fits."
_SLIP = "It was read again, and then it was: the first is taken for a slip."


def described(entry: ReadingEvidence, reading_set: ReadingSet) -> str:
    """The reading in words: "3.7 V L1 to neutral (appliance disconnected)"."""
    identity = identity_of(reading_set.readings[entry.reading], reading_set.load_states)
    return reading_words(Observed(value=entry.observed, unit=entry.unit), identity)


def entries(outcome: Outcome) -> list[ReadingEvidence]:
    """Evidence of the readings that the finding does not explain, in their order."""
    return [entry for entry in outcome.evidence if entry.reading in outcome.unexplained]


def read_again(outcome: Outcome, reading_set: ReadingSet) -> frozenset[int]:
    """Unexplained readings that were taken again, and then were as the finding has them: slips of the pen."""
    readings = reading_set.readings
    same = [(kind_of(r), frozenset(conductors_of(r)), r.point, r.meter, r.load_state) for r in readings]
    explained = {what for index, what in enumerate(same) if index not in outcome.unexplained}
    return frozenset(index for index in outcome.unexplained if same[index] in explained)


def words(outcome: Outcome, reading_set: ReadingSet) -> list[str]:
    """The same in words, each once."""
    return list(dict.fromkeys(described(entry, reading_set) for entry in entries(outcome)))


def checks(outcome: Outcome, reading_set: ReadingSet) -> list[Check]:
    """One check for each."""
    again = read_again(outcome, reading_set)
    return [
        Check(
            code="not_explained",
            readings=[entry.reading],
            text=f"{sentence(described(entry, reading_set))} is not what the finding gives ({_expected(entry)}). "
            f"{_SLIP if entry.reading in again else _TAKE_AGAIN}",
        )
        for entry in entries(outcome)
    ]


def _expected(entry: ReadingEvidence) -> str:
    return span(*entry.finding, entry.unit) if entry.unit != "1" else quantity(entry.finding[1], "")


def explained(check: Check, outcome: Outcome) -> bool:
    """Whether the finding gives readings such as these, one after another.

    What cannot go together at one instant may do so with a soft conductor that each meter moved in turn.
    """
    spans = {entry.reading: (entry.finding, entry.observed) for entry in outcome.evidence}
    return all(
        index in spans and spans[index][0][0] <= spans[index][1] <= spans[index][0][1] for index in check.readings
    )
