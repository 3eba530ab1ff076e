"""Pairs of texts that may not stand together in one answer: read aloud, the second would take the first back."""

import re
from collections.abc import Callable
from typing import NamedTuple

from feedproof.contract.assessment import Assessment, Caution

_Says = Callable[[Assessment], bool]


class Pair(NamedTuple):
    """Two things that an answer may say, but not both."""

    name: str
    one: _Says
    other: _Says


def _orders(answer: Assessment, *codes: str) -> list[Caution]:
    """Cautions that are orders, not an "if"."""
    return [c for c in answer.cautions if c.code in codes and not c.title.startswith("If ")]


def _has(pattern: str, *texts: str) -> bool:
    return any(re.search(pattern, text) for text in texts)


def _goes_on(answer: Assessment) -> bool:
    return bool(answer.next_readings)


def _nothing_found(answer: Assessment) -> bool:
    return answer.disposition == "no_supply_fault_found"


def _calls_the_utility(answer: Assessment) -> bool:
    return _has(r"call the utility", *(c.title for c in answer.cautions if not c.title.startswith("If ")))


def _ends_the_readings(answer: Assessment) -> bool:
    """An order to switch off and leave off, or to switch the main or a feeder off."""
    return any(
        _has(r"leave it off|[Mm]ain breaker off|disconnect off", caution.title)
        for caution in _orders(answer, *(c.code for c in answer.cautions))
    )


def _shows_on_neutral_or_ground(answer: Assessment) -> bool:
    return any(
        entry.identity is not None
        and set(entry.identity.conductors) <= {"N", "G"}
        and (
            (entry.identity.kind == "voltage" and entry.observed.value >= 30.0)
            or _signals(entry.identity.kind, entry.observed.value)
        )
        for entry in answer.evidence
    )


def _live_readings(answer: Assessment) -> bool:
    return any(entry.observed.unit != "ohm" for entry in answer.evidence)


def _signals(kind: str, value: float) -> bool:
    return kind == "proximity" and value > 0.0


PAIRS = (
    Pair(
        "look in the appliance; switch off, call or keep off for a fault of the supply",
        _nothing_found,
        lambda a: bool(
            _orders(a, "service_neutral", "feeder_neutral", "heat_at_joint_urgent", "grounded_frames_off_earth")
            or [c for c in _orders(a, "frame_as_live") if c.because_code == "probability"]
        ),
    ),
    Pair(
        "no fault found; an open conductor could hide",
        _nothing_found,
        lambda a: _has(r"could be open|may be open", a.headline, *(r.text for r in a.confidence.reasons)),
    ),
    Pair(
        "a fault is named as found; nothing is decided",
        lambda a: not a.headline.startswith(("Not decided", "Nothing read")) and ". Not decided" not in a.headline,
        lambda a: a.determination == "undetermined",
    ),
    Pair(
        "nothing is decided; the finding is established or probable",
        lambda a: "Not decided" in a.headline,
        lambda a: a.determination != "undetermined",
    ),
    Pair(
        "no fault found, in the heading; more readings or a stop, in the disposition",
        lambda a: a.headline.startswith("No supply fault found"),
        lambda a: a.disposition == "stop_and_refer",
    ),
    Pair(
        "stop, leave the circuit off; read on",
        lambda a: _has(r"^Stop\.|Leave the circuit off", a.next_action),
        _goes_on,
    ),
    Pair("switch off and leave off; read on", _ends_the_readings, _goes_on),
    Pair("read on; nothing is to be read", _goes_on, lambda a: a.next_reason is not None),
    Pair(
        "next, a reading; none is named",
        lambda a: _has(r"Next: |First: |Worth reading", a.next_action),
        lambda a: not _goes_on(a),
    ),
    Pair("call the utility; nobody refers to it", _calls_the_utility, lambda a: "utility" not in a.refer_to),
    Pair(
        "hand this over; to nobody",
        lambda a: _has(r"hand this to|refer this to", a.next_action),
        lambda a: not a.refer_to,
    ),
    Pair(
        "repair it yourself; for an electrician or the utility",
        lambda a: a.disposition == "repair_and_retest",
        lambda a: a.refer_to != ["technician"],
    ),
    Pair("condemn no part; look in the appliance", lambda a: "ondemn no part" in a.next_action, _nothing_found),
    Pair(
        "it speaks for a fault; a sound supply would have given it",
        lambda _: True,
        lambda a: any(
            entry.flag == "as_expected" and entry.reading in reason.readings
            for reason in a.confidence.reasons
            if reason.code == "speaks_for_it"
            for entry in a.evidence
        ),
    ),
    Pair(
        "high confidence; settle the readings first",
        lambda a: a.confidence.level == "high",
        lambda a: any(reason.code in {"contradiction", "not_explained"} for reason in a.confidence.reasons),
    ),
    Pair(
        "voltage on neutral or ground; no caution of a live neutral",
        _shows_on_neutral_or_ground,
        lambda a: not _orders(a, "neutral_as_live"),
    ),
    Pair(
        "the tester is to be proven; the finding is established on it alone",
        lambda a: "Prove the tester" in a.next_action and bool(a.evidence),
        lambda a: a.determination == "established",
    ),
    Pair(
        "reads to the ground bar: 0 V; frames off earth, and no word of it",
        lambda a: bool(_orders(a, "grounded_frames_off_earth")),
        # Behind a generator there is no grounded point to state it to, and nobody refers to a utility; where nothing
        # was read in any load state, there is none to state it for.
        lambda a: not a.neutral_to_earth and "utility" in a.refer_to and _live_readings(a),
    ),
    Pair(
        "the same said twice",
        lambda _: True,
        lambda a: (
            len({c.title for c in a.cautions}) != len(a.cautions)
            or len({r.text for r in a.confidence.reasons}) != len(a.confidence.reasons)
        ),
    ),
)


def contradictions(answer: Assessment) -> list[str]:
    """Names of the pairs that stand together in an answer.

    Parameters
    ----------
    answer : Assessment
        Any.

    Returns
    -------
    list of str
        Empty where its texts go together.
    """
    return [pair.name for pair in PAIRS if pair.one(answer) and pair.other(answer)]
