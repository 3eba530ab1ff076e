"""Judges an assessment of a case whose truth is known: by place, by who has to act, by whether work stops."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from support.trade.places import ancestors, place_of, place_of_fault, who_acts
from support.trade.scene import Case

SUPPORT = 0.05
"""Probability from which a place counts as named [1]; from the contract's `refer_to`."""


@dataclass(frozen=True)
class Verdict:
    """What one answer is worth."""

    situation: str
    variant: str
    seed: int
    truth: str
    place: str
    determination: str
    probability: float
    outcome: str
    """`right`: the narrowest place established. `wider`: one that holds it, or may stand for it. `named`: not
    established, the truth among what has 5 %. `missed`: not established, the truth below 5 %. `hidden`: `none`
    established where the readings are a sound supply's. `wrong`: established, and not so. `refused`: no assessment."""
    decidable: bool
    referred: bool | None
    """All who have to act are named; null where that cannot be seen."""
    stopped: bool | None
    """The disposition is stop_and_refer; null where nothing asks for it."""
    sound_as_faulty: bool = False
    place_right: bool = False
    """The place of the finding is so, or holds what is so, whatever the determination."""
    position_held: bool | None = None
    """The interval of the break's position holds it; null where none is given, or there is no break."""

    @property
    def established(self) -> bool:
        """Whether anything is."""
        return self.determination == "established"

    @property
    def established_right(self) -> bool:
        """Established, and so."""
        return self.outcome in {"right", "wider"}


def named_places(answer: Mapping[str, Any], at_least: float = SUPPORT) -> dict[str, float]:
    """Places of the candidates with their probabilities, pairs of faults under both places."""
    found: dict[str, float] = {}
    for candidate in answer.get("candidates", ()):
        parts = [candidate, *candidate.get("also", ())]
        places = {part.get("place") or place_of_fault(part["fault"], part.get("location")) for part in parts}
        for place in places:
            found[place] = found.get(place, 0.0) + candidate["probability"]
    return {place: p for place, p in found.items() if p >= at_least}


def said_to_refer(answer: Mapping[str, Any]) -> frozenset[str]:
    """Who the answer names; of an answer without `refer_to`, who acts for each place it names."""
    if "refer_to" in answer:
        return frozenset(answer["refer_to"] or ())
    return frozenset().union(*(who_acts(place) for place in {place_of(answer), *named_places(answer)}))


def _held(estimate: Mapping[str, Any] | None, true: float | None) -> bool | None:
    """Whether an interval holds a figure; an end that is left open holds everything beyond."""
    if true is None or not isinstance(estimate, Mapping) or estimate.get("told_by") == "prior":
        return None
    low, high = estimate.get("low"), estimate.get("high")
    return (low is None or low <= true) and (high is None or true <= high)


def _leg_agrees(case: Case, answer: Mapping[str, Any], place: str) -> bool:
    conductor = answer["finding"].get("conductor")
    return case.truth.conductor not in {"L1", "L2"} or conductor in {None, case.truth.conductor} or "leg" not in place


def judge(case: Case, answer: Mapping[str, Any] | None) -> Verdict:
    """Hold an assessment against the truth.

    Parameters
    ----------
    case : Case
        The case.
    answer : mapping or None
        The assessment as JSON; None, or a problem object, counts as refused.
    """
    truth = case.truth
    common = (case.situation, case.variant, case.seed, truth.place)
    if answer is None or "finding" not in answer:
        return Verdict(*common, "", "", 0.0, "refused", truth.decidable, None, None)
    place, determination = place_of(answer), str(answer["determination"])
    established = determination == "established"
    named = {wide for found in {place, *named_places(answer)} for wide in ancestors(found)}
    allowed = truth.right
    place_right = place in allowed and _leg_agrees(case, answer, place)
    if established and place_right:
        outcome = "right" if place == truth.place else "wider"
    elif established and place == "none" and truth.hidden and "none" not in truth.never:
        outcome = "hidden"
    elif established:
        outcome = "wrong"
    else:
        outcome = "named" if named & (allowed | ancestors(truth.place)) else "missed"
    return Verdict(
        *common,
        place,
        determination,
        float(answer["finding"]["probability"]),
        outcome,
        truth.decidable,
        None if outcome == "hidden" else truth.who <= said_to_refer(answer),
        answer.get("disposition") == "stop_and_refer" if truth.stop and not truth.hidden else None,
        sound_as_faulty=truth.place == "none" and established and place != "none",
        place_right=place_right,
        position_held=_held(answer.get("break_position"), truth.break_metres),
    )


def _share(values: Iterable[bool | None]) -> str:
    known = [v for v in values if v is not None]
    return f"{sum(known)}/{len(known)}" if known else "-"


def table(verdicts: Sequence[Verdict]) -> str:
    """By situation, in Markdown; the last row is all of them."""
    head = (
        "situation",
        "cases",
        "established right of decidable",
        "established right of all",
        "established wrong",
        "hidden",
        "truth named",
        "missed",
        "refused",
        "referral right",
        "stop_and_refer",
        "sound as faulty",
    )
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    names = list(dict.fromkeys(v.situation for v in verdicts))
    for name in [*names, "all"]:
        part = [v for v in verdicts if name in {"all", v.situation}]
        row = [
            name,
            str(len(part)),
            _share(v.established_right for v in part if v.decidable),
            _share(v.established_right for v in part),
            *(str(sum(v.outcome == o for v in part)) for o in ("wrong", "hidden", "named", "missed", "refused")),
            _share(v.referred for v in part),
            _share(v.stopped for v in part),
            str(sum(v.sound_as_faulty for v in part)),
        ]
        lines.append("| " + " | ".join(row) + " |")
    return "\n".join(lines) + "\n"


def calibration(verdicts: Iterable[Verdict]) -> str:
    """Share of findings whose place is right, by the probability that they were given, in Markdown."""
    known = [v for v in verdicts if v.outcome != "refused"]
    lines = ["| probability | findings | mean | right |", "| --- | --- | --- | --- |"]
    edges = (0.0, 0.5, 0.75, 0.9, 0.95, 0.99, 1.01)
    for low, high in pairwise(edges):
        part = [v for v in known if low <= v.probability < high]
        if part:
            mean = sum(v.probability for v in part) / len(part)
            right = sum(v.place_right for v in part) / len(part)
            lines.append(f"| {low:g} to {min(high, 1.0):g} | {len(part)} | {mean:.3f} | {right:.3f} |")
    return "\n".join(lines) + "\n"


def beside(before: Sequence[Verdict], after: Sequence[Verdict]) -> str:
    """Two engines on the same cases, by situation, in Markdown: before / after."""
    head = ("situation", "cases", "established right", "established wrong", "referral right", "stop_and_refer kept")
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    pairs = list(zip(before, after, strict=True))
    if any((b.situation, b.seed) != (a.situation, a.seed) for b, a in pairs):
        raise ValueError("the two have been judged on different cases")
    for name in [*dict.fromkeys(v.situation for v in after), "all"]:
        part = [(b, a) for b, a in pairs if name in {"all", a.situation}]
        kept = [a.stopped for b, a in part if b.stopped]
        row = [
            name,
            str(len(part)),
            f"{sum(b.established_right for b, _ in part)} / {sum(a.established_right for _, a in part)}",
            f"{sum(b.outcome == 'wrong' for b, _ in part)} / {sum(a.outcome == 'wrong' for _, a in part)}",
            f"{sum(b.referred is True for b, _ in part)} / {sum(a.referred is True for _, a in part)}",
            f"{sum(k is True for k in kept)} of {len(kept)}",
        ]
        lines.append("| " + " | ".join(row) + " |")
    return "\n".join(lines) + "\n"


def mistakes(verdicts: Iterable[Verdict]) -> str:
    """Each wrong answer in a line."""
    return "".join(
        f"- {v.situation} {v.seed}, {v.variant}: {v.truth} established as {v.place} ({v.probability:.3f})\n"
        for v in verdicts
        if v.outcome == "wrong"
    )
