"""The legs have no names of their own: exchanging L1 and L2 in a request exchanges them in its answer."""

import json
import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import msgspec

from feedproof.contract.assessment import Assessment, Estimate
from feedproof.parsing import read_request

Json = dict[str, Any]

MIRROR = {"L1": "L2", "L2": "L1", "N": "N", "G": "G"}
SAME = {name: name for name in MIRROR}


def mirrored(body: Json) -> Json:
    """Exchange the names of the legs in a request."""
    twin: Json = msgspec.json.decode(msgspec.json.encode(body))
    for reading in twin["readings"]:
        for field in ("at", "through"):
            if field in reading:
                reading[field] = MIRROR[reading[field]]
        if "between" in reading:
            reading["between"] = [MIRROR[name] for name in reading["between"]]
    for state in (twin.get("load_states") or {}).values():
        for load in state.get("loads") or ():
            load["between"] = [MIRROR[name] for name in load["between"]]
    return twin


class Way(NamedTuple):
    """How one answer is to be turned so that it is the other."""

    names: dict[str, str]
    """Conductors of the one by those of the other."""
    places: list[int]
    """Index in the one of each of the other's readings."""


def _contents(body: Json) -> list[str]:
    """What each reading says, whatever its meter and its load state are called."""
    visit = read_request(msgspec.json.encode(body)).reading_set
    said = []
    for reading in visit.readings:
        words = msgspec.to_builtins(reading)
        meter = msgspec.to_builtins(visit.meters[words.pop("meter")]) | {"name": ""}
        state = msgspec.to_builtins(visit.load_states[words.pop("load_state")])
        loads = [load | {"between": sorted(load["between"])} for load in state["loads"]]
        words |= {"between": sorted(words["between"])} if "between" in words else {}
        said.append(json.dumps([words, meter, state["kind"], sorted(map(json.dumps, loads))], sort_keys=True))
    return said


def ways(body: Json) -> Iterator[Way]:
    """Ways in which the answer to the mirrored request may be the answer to the request.

    A request that is its own mirror image, up to the order of its readings, may as well be answered as it stands:
    which of two like legs is drawn first is a tie.
    """
    yield Way(MIRROR, list(range(len(body["readings"]))))
    ours, twins = _contents(body), _contents(mirrored(body))
    if sorted(ours) == sorted(twins):
        by_content = [sorted(range(len(said)), key=lambda k, said=said: (said[k], k)) for said in (ours, twins)]  # type: ignore[misc]
        places = [0] * len(ours)
        for own, other in zip(*by_content, strict=True):
            places[other] = own
        yield Way(SAME, places)


def _close(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=1e-4, abs_tol=1e-9)


def _estimates(answer: Assessment, way: Way | None = None) -> dict[tuple[Any, ...], Estimate]:
    names, places = way or (SAME, range(len(answer.evidence)))
    found: dict[tuple[Any, ...], Estimate] = {}
    for voltage in answer.neutral_to_ground:
        during = None if voltage.during_reading is None else places[voltage.during_reading]
        found["neutral", voltage.load_state, voltage.point, during] = voltage
    for path in answer.resistances:
        found["resistance", names[path.conductor], path.point] = path
        if path.heat is not None:
            found["heat", names[path.conductor], path.point] = path.heat
    return found


def _verdicts(ours: Assessment, twins: Assessment, names: dict[str, str]) -> Iterator[str]:
    """Differences of what was found and of what could not have been."""
    rates = {(c.fault, names.get(c.conductor or "")): c.probability for c in twins.candidates if not c.also}
    for candidate in ours.candidates:
        if not candidate.also:
            rate = rates.pop((candidate.fault, candidate.conductor), -1.0)
            if not math.isclose(rate, candidate.probability, rel_tol=1e-6, abs_tol=1e-9):
                yield f"{candidate.fault} {candidate.conductor}: {candidate.probability} and {rate}"
    if rates:
        yield f"only the twin has {rates}"
    limits = {names[limit.conductor]: limit.value for limit in twins.detection_limits}
    for limit in ours.detection_limits:
        there = limits.get(limit.conductor, -1.0)
        if (there is None) != (limit.value is None) or not _close(there or 0.0, limit.value or 0.0):
            yield f"detection limit of {limit.conductor}: {limit.value} and {there}"
    found = twins.finding
    # As probable on the one leg as on the other: either may be named first, or none.
    like = [
        c
        for c in ours.candidates
        if c.fault == found.fault and (found.conductor is None or c.conductor == names[found.conductor])
    ]
    if not like or not math.isclose(found.probability, ours.finding.probability, rel_tol=1e-6):
        yield f"found {ours.finding} and {found}"


def _figures(ours: Assessment, twins: Assessment, way: Way) -> Iterator[str]:
    """Differences of what is said under the finding."""
    here, there_too = _estimates(ours), _estimates(twins, way)
    if here.keys() != there_too.keys():
        yield f"estimates of {here.keys()} and {there_too.keys()}"
    for thing in here.keys() & there_too.keys():
        one, other = here[thing], there_too[thing]
        if one.bound != other.bound or not all(
            _close(getattr(one, end), getattr(other, end)) for end in ("value", "low", "high")
        ):
            yield f"{thing}: {one} and {other}"
    for there_evidence in twins.evidence:
        here_evidence = ours.evidence[way.places[there_evidence.reading]]
        if not math.isclose(here_evidence.bits, there_evidence.bits, rel_tol=1e-4, abs_tol=1e-4):
            yield f"bits of reading {here_evidence.reading}: {here_evidence.bits} and {there_evidence.bits}"


def check_mirror(body: Json, ours: Assessment, twins: Assessment) -> None:
    """Exchanging the legs in the request exchanges them in the answer, and changes nothing else."""
    assert twins.determination == ours.determination
    assert twins.disposition == ours.disposition
    assert twins.confidence.level == ours.confidence.level
    assert twins.assumptions == ours.assumptions
    assert {caution.code for caution in twins.cautions} == {caution.code for caution in ours.cautions}
    found = []
    for way in ways(body):
        different = list(_verdicts(ours, twins, way.names))
        # As probable on the one leg as on the other: either may be named, and the figures are under it.
        if way.names.get(twins.finding.conductor or "") == ours.finding.conductor:
            different += _figures(ours, twins, way)
        different += [
            f"checks {check.code} {check.readings}"
            for check in twins.checks
            if (check.code, sorted(way.places[k] for k in check.readings))
            not in [(c.code, sorted(c.readings)) for c in ours.checks]
        ]
        if not different:
            return
        found.append(different)
    raise AssertionError(found)
