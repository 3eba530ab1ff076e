"""Processor time of one assessment, by how much was read and how, and by which faults are weighed."""

import time
from collections.abc import Sequence

import msgspec

from benchmarks.parts.rows import Budget, Row, share
from benchmarks.parts.visits import LAYOUTS, visits
from feedproof.assess import assess
from feedproof.faults.priors import BASE_RATES
from feedproof.readings import ReadingSet

REFERENCE = ("mixed", 10)
_NEUTRAL = {"open_neutral", "high_resistance_neutral", "open_service_neutral", "high_resistance_service_neutral"}
#: Which faults are weighed beside a sound supply, from few to all: a caller's base rates say so.
FAULT_SETS = {"open neutral alone": {"open_neutral"}, "faults of the neutral": _NEUTRAL, "all faults": set(BASE_RATES)}


def _once(readings: ReadingSet) -> float:
    """Processor time of one assessment [s]."""
    began = time.process_time()
    assess(readings)
    return time.process_time() - began


def _times(sets: Sequence[ReadingSet], seconds: float) -> list[float]:
    """Processor times of assessments of arrangements that have been met before."""
    found: list[float] = []
    for readings in sets:
        found.append(_once(readings))
        if sum(found) > seconds and len(found) > 1:
            break
    return found


def _never_met(readings: ReadingSet, number: int) -> ReadingSet:
    """The same readings on a run of a length that no other has: nothing prepared before serves them."""
    run = msgspec.structs.replace(
        readings.supply.run, length=(readings.supply.run.length or 15.0) + 1e-3 * (number + 1)
    )
    return msgspec.structs.replace(readings, supply=msgspec.structs.replace(readings.supply, run=run))


def _by_fault_set(budget: Budget, unit: float, to: str) -> list[Row]:
    """Give the middle and the slow end for the reference's readings, by which faults are weighed."""
    rows = []
    for name, faults in FAULT_SETS.items():
        rates = {fault: rate for fault, rate in BASE_RATES.items() if fault in faults | {"none_found"}}
        sets = [msgspec.structs.replace(one, base_rates=rates) for one in visits(*REFERENCE, budget.sets)]
        assess(sets[0])
        found = _times(sets, budget.seconds)
        what = f"{REFERENCE[0]}, {REFERENCE[1]} readings, {name}"
        for quantile, share_of in (("p50", 0.5), ("p99", 0.99)):
            seconds = share(found, share_of)
            rows.append(Row(f"{what}: {quantile}", 1e3 * seconds, "ms", seconds / unit, to, f"{len(found)} sets"))
    return rows


def measure(budget: Budget) -> list[Row]:
    """Give the middle and the slow end for each layout and number of readings, and for each set of faults."""
    names = list(LAYOUTS)[-budget.layouts :]
    warm: dict[tuple[str, int], list[float]] = {}
    cold: dict[tuple[str, int], list[float]] = {}
    for name in names:
        for count in budget.counts:
            sets = visits(name, count, budget.sets)
            assess(sets[0])
            warm[name, count] = _times(sets, budget.seconds)
            first = []
            for number, readings in enumerate(sets[:2]):
                first.append(_once(_never_met(readings, number)))
            cold[name, count] = first
    own = REFERENCE if REFERENCE in warm else next(iter(warm))
    unit = share(warm[own], 0.5)
    to = f"{own[0]}, {own[1]} readings"
    rows = []
    for (name, count), found in warm.items():
        what = f"{name}, {count} readings"
        middle, slow = share(found, 0.5), share(found, 0.99)
        rows += [
            Row(f"{what}: p50", 1e3 * middle, "ms", middle / unit, to, f"{len(found)} sets"),
            Row(f"{what}: p99", 1e3 * slow, "ms", slow / unit, to),
        ]
        first_time = share(cold[name, count], 0.5)
        rows.append(Row(f"{what}: arrangement never met before", 1e3 * first_time, "ms", first_time / unit, to))
    return rows + _by_fault_set(budget, unit, to)
