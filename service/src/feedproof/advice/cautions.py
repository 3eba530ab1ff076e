"""The cautions of an answer: few, this case's own hazard first, each in the form that the case asks for.

Texts, severities and sources are data (`data/cautions.toml`); when each is given says `caution_rules`.
"""

from collections.abc import Sequence

from feedproof.advice.caution_rules import RULES, Circumstances, Ground
from feedproof.advice.texts import CautionText, Form, Texts, basis_words, called, caution_texts, in_language
from feedproof.advice.wording import percent
from feedproof.contract.assessment import Caution, Severity
from feedproof.inference import Candidate, Outcome
from feedproof.readings import ReadingSet

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
    because = in_language(_because(text, ground), language)
    return Caution(
        rank=rank,
        code=text.code,
        severity=_severity(text, ground),
        title=in_language(form.title, language).format(called=who),
        text=in_language(form.text, language).format(called=who),
        basis=basis_words(text),
        because=because if ground.probability is None else because.format(probability=percent(ground.probability)),
        because_code=ground.reason,
    )


def _because(text: CautionText, ground: Ground) -> Texts:
    named = {
        "shown": text.because_shown,
        "unproven": text.because_unproven,
        "bonded": text.because_bonded,
        "unknown": text.because_unknown,
        "upstream": text.because_upstream,
    }
    return named.get(ground.reason) or text.because
