"""Guided visits: a technician does what each answer asks next, and how that ends."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from support.trade.judge import named_places
from support.trade.technician import Taken, Technician

_NEUTRAL_IN_DOUBT = 0.05


@dataclass(frozen=True)
class Walk:
    """How a guided visit went."""

    answer: Mapping[str, Any]
    readings: int
    end: str
    """`next_reason` of the last answer, "asked for ever", or "nothing that could be taken"."""
    refused: tuple[str, ...]
    forbidden: tuple[str, ...]
    mistyped: int


def walk(technician: Technician, assess: Callable[[dict[str, Any]], Mapping[str, Any]], most: int = 12) -> Walk:
    """Do what `next_readings` asks, the first that can be done, until nothing more is asked.

    Parameters
    ----------
    technician : Technician
        At the start of his visit, or after some readings of his own.
    assess : callable
        From a request to an assessment as JSON.
    most : int
        Readings after which he gives up.
    """
    wrong = 0
    asked_before: set[str] = set()
    while True:
        answer = assess(technician.request())
        offered = answer.get("next_readings") or ()
        end = str(answer.get("next_reason") or "nothing more asked")
        done = None
        for step in offered if len(technician.taken) < most else ():
            if step.get("observation") is not None:
                code = str(step["observation"])
                if code in asked_before:
                    continue
                asked_before.add(code)
                technician.observe(code)
                done = Taken(None)
                break
            wanted = step.get("reading", step)
            against = forbidden_step(technician, wanted, answer)
            if against:
                technician.forbidden.append(against)
            done = technician.take(wanted, step.get("load_state") if "reading" in step else None)
            if done.reading is not None:
                break
            done = None
        if done is None:
            if offered:
                end = "asked for ever" if len(technician.taken) >= most else "nothing that could be taken"
            return Walk(
                answer, len(technician.taken), end, tuple(technician.refused), tuple(technician.forbidden), wrong
            )
        wrong += done.wrong


def forbidden_step(technician: Technician, wanted: Mapping[str, Any], answer: Mapping[str, Any]) -> str:
    """What a caution forbids of a reading that is asked for, or nothing.

    Resistance on a circuit that is not isolated; plugging in where a neutral upstream may be bad, so that neutral and
    frames may be live.
    """
    if wanted["kind"] == "resistance" and wanted.get("supply") != "isolated":
        return "resistance on a live circuit"
    last = technician.taken[-1]["load_state"] if technician.taken else "disconnected"
    plugs_in = last == "disconnected" and wanted["load_state"] != "disconnected"
    doubted = named_places(answer, _NEUTRAL_IN_DOUBT).keys() & {"service_neutral", "feeder_neutral", "neutral"}
    return f"plugging in with {min(doubted)} in doubt" if plugs_in and doubted and technician.taken else ""
