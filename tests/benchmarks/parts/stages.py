"""Where the time of an assessment goes, from the body of a request to the body of the answer."""

import functools
import importlib
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import msgspec

from benchmarks.parts.rows import Budget, Row
from benchmarks.parts.visits import body, visits

#: Stage, and where the function is looked up that it is the time of. One stage never contains another.
STAGES = (
    ("door: request to readings", "feedproof.door", "read_request"),
    ("canonical form", "feedproof.inference.weighing", "canonical_form"),
    ("places", "feedproof.inference.weighing", "places_of"),
    ("every place located", "feedproof.inference.weighing", "locate"),
    ("places refined", "feedproof.inference.weighing", "refine"),
    ("draws of those that matter", "feedproof.inference.weighing", "draw"),
    ("voltages of the neutral", "feedproof.inference.weighing", "voltages"),
    ("path resistances", "feedproof.inference.weighing", "path_resistances"),
    ("detection limits", "feedproof.inference.weighing", "detection_limits"),
    ("evidence of readings", "feedproof.inference.weighing", "reading_evidence"),
    ("next readings", "feedproof.inference.weighing", "rank"),
    ("hazards", "feedproof.inference.weighing", "hazards"),
    ("advice in words", "feedproof.assess", "compose"),
    ("digest of the priors", "feedproof.assess", "priors_digest"),
    ("answer to bytes", "msgspec.json", "encode"),
)


def _timed(function: Callable[..., Any], stage: str, spent: Counter[str]) -> Callable[..., Any]:
    @functools.wraps(function)
    def wrapped(*given: Any, **named: Any) -> Any:
        began = time.process_time()
        try:
            return function(*given, **named)
        finally:
            spent[stage] += time.process_time() - began  # type: ignore[assignment]

    return wrapped


@contextmanager
def watched() -> Iterator[Counter[str]]:
    """Count the processor time of each stage while the block runs."""
    spent: Counter[str] = Counter()
    replaced: list[tuple[Any, str, Any]] = []
    try:
        for stage, place, name in STAGES:
            module = importlib.import_module(place)
            own = getattr(module, name, None)
            if own is not None and place != "msgspec.json":
                replaced.append((module, name, own))
                setattr(module, name, _timed(own, stage, spent))
        yield spent
    finally:
        for module, name, own in reversed(replaced):
            setattr(module, name, own)


def measure(budget: Budget) -> list[Row]:
    """Give each stage's share of the whole, on mixed sets of 10 readings."""
    from feedproof import assess, door  # noqa: PLC0415

    bodies = [body(readings) for readings in visits("mixed", 10, budget.sets)]
    for raw in bodies:
        assess.assess(*door.read_request(raw))
    with watched() as spent:
        began = time.process_time()
        for raw in bodies:
            answer = assess.assess(*door.read_request(raw))
            encoding = time.process_time()
            msgspec.json.encode(answer)
            spent["answer to bytes"] += time.process_time() - encoding  # type: ignore[assignment]
        whole = time.process_time() - began
    spent["everything else"] = whole - sum(spent.values())  # type: ignore[assignment]
    each = 1e3 / len(bodies)
    rows = [Row(stage, seconds * each, "ms", seconds / whole, "the whole") for stage, seconds in spent.most_common()]
    return [Row("body to body, 10 readings", whole * each, "ms", note=f"mean of {len(bodies)} sets"), *rows]
