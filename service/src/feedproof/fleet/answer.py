"""One reading set's assessment as flat columns: the service's own inference and rules, without the words.

What to read next is computed only where an answer hangs on it: where no meter is listed, the cautions go by the
readings that are proposed.
"""

import math
from collections.abc import Iterable

from feedproof.advice import candidates as faults
from feedproof.advice import cautions
from feedproof.advice.compose import found_checks
from feedproof.advice.determination import OPEN_RESISTANCE, beyond, rule
from feedproof.advice.disposition import decide, refer
from feedproof.advice.texts import FALLBACK_LANGUAGE
from feedproof.advice.wording import conductors_of, kind_of, rounded
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from feedproof.inference import Candidate, Interval, Outcome, PathResistance, infer
from feedproof.readings import LOADED_STATES, ReadingSet, VoltageReading, Voltmeter, meter_kind

Cell = str | float | int | bool | None

_FIRST = ASSESSED.names.index("supply_system")
#: A path that no reading can move is held at one value, to rounding [1].
_CONSTANT = 1.0 + 1e-9
_OWN = ("layout", "reference_voltage", "reference_meter", "reference_tolerance")
ANSWER_COLUMNS: tuple[str, ...] = tuple(name for name in ASSESSED.names[_FIRST:] if name not in _OWN)
"""Columns that depend on what was read, and not on the caller's labels and order."""


def answer(reading_set: ReadingSet) -> dict[str, Cell]:
    """The columns that the readings themselves decide.

    Parameters
    ----------
    reading_set : ReadingSet
        In SI units.

    Returns
    -------
    dict of str to (str, float, int, bool or None)
        By column, all of `ANSWER_COLUMNS`; numbers with as many digits as the service gives.

    Raises
    ------
    ArithmeticError
        If a number of the answer is not finite.
    """
    found = infer(reading_set, look_ahead=lambda _: not reading_set.meters)
    named = faults.merged(found.candidates)
    ruling = rule(found, reading_set)
    finding = faults.to_finding(ruling.place, ruling.finding, found.candidates)
    # As in the answer's candidates: all places of the same faults together.
    led = (ruling.finding.fault, ruling.finding.conductor), set(ruling.finding.also)
    whole = next(c for c in named if ((c.fault, c.conductor), set(c.also)) == led)
    disposition = decide(ruling, found, reading_set)
    by_fault = _by_fault(found.candidates)
    cells: dict[str, Cell] = dict.fromkeys(ANSWER_COLUMNS)
    cells |= {
        "supply_system": reading_set.supply.system,
        "readings": len(reading_set.readings),
        "finding": finding.fault,
        "finding_place": finding.place,
        "finding_degree": finding.degree,
        "finding_conductor": finding.conductor,
        "finding_location": finding.location,
        "finding_also": _words(f"{part.fault}:{part.conductor or ''}" for part in finding.also),
        "finding_probability": rounded(finding.probability),
        "finding_log_evidence": rounded(whole.log_evidence),
        "determination": ruling.determination,
        "disposition": disposition,
        "refer_to": _words(refer(ruling, disposition, found, reading_set)),
        "caution_codes": _words(c.code for c in cautions.find(reading_set, found, named, FALLBACK_LANGUAGE)),
        "check_codes": _words(check.code for check in found_checks(ruling, found, reading_set)),
        "supply_fault_probability": rounded(faults.fault_probability(named)),
        "model_version": MODEL_VERSION,
        "priors_digest": priors_digest(base_rates=reading_set.base_rates),
    }
    for fault in FAULT_ORDER:
        probability, log_evidence = by_fault.get(fault, (0.0, None))
        cells[f"probability_{fault}"] = rounded(min(probability, 1.0))
        cells[f"log_evidence_{fault}"] = None if log_evidence is None else rounded(log_evidence)
    _estimates(cells, found, {name: state.kind for name, state in reading_set.load_states.items()})
    for limit in found.limits:
        if limit.resistance is not None:
            cells[f"detection_limit_{limit.conductor.lower()}"] = rounded(limit.resistance)
    cells["open_neutral_would_show"] = not beyond(found.limits, ("N",), OPEN_RESISTANCE)
    return cells


def own_columns(reading_set: ReadingSet) -> dict[str, Cell]:
    """The columns that hang on the caller's labels and order: which readings, and the first leg to leg without a load.

    On one leg the first reading of leg to neutral stands for that of leg to leg.
    """
    pair = {"L1", "N"} if reading_set.supply.one_leg else {"L1", "L2"}
    cells: dict[str, Cell] = dict.fromkeys(_OWN)
    layout = set()
    for reading in reading_set.readings:
        meter, between = reading_set.meters[reading.meter], conductors_of(reading)
        state = reading_set.load_states[reading.load_state].kind
        first = cells["reference_meter"] is None and state not in LOADED_STATES
        if first and isinstance(meter, Voltmeter) and isinstance(reading, VoltageReading) and {*between} == pair:
            limit = 0.01 * meter.accuracy_percent * reading.value + meter.accuracy_counts * meter.resolution
            cells["reference_voltage"], cells["reference_meter"] = rounded(reading.value), reading.meter
            cells["reference_tolerance"] = rounded(limit / reading.value) if reading.value > 0.0 else None
        kind = meter_kind(meter).removesuffix("_voltmeter")
        layout.add(" ".join((kind_of(reading), "-".join(sorted(between)), reading.point, state, kind)))
    cells["layout"] = _words(sorted(layout), "; ")
    return cells


def _by_fault(candidates: Iterable[Candidate]) -> dict[str, tuple[float, float]]:
    """Probability [1] and log evidence [nat] of each fault weighed, wherever it sits and with what beside it."""
    members: dict[str, list[Candidate]] = {}
    for candidate in candidates:
        members.setdefault(candidate.fault, []).append(candidate)
    return {fault: (sum(c.probability for c in own), faults.joint_evidence(own)) for fault, own in members.items()}


def _words(codes: Iterable[str], between: str = " ") -> str | None:
    return between.join(codes) or None


def _put(cells: dict[str, Cell], name: str, interval: Interval) -> None:
    ends = {name: interval.value, f"{name}_low": interval.low, f"{name}_high": interval.high}
    cells.update({column: rounded(value) for column, value in ends.items()})


def _informed(path: PathResistance) -> bool:
    """Whether an interval is less than half as wide, as a logarithm, as what is usual, or lies beyond it."""
    low, high = path.interval.low, path.interval.high
    if path.sound is None or high < low * _CONSTANT:
        return False
    return low > path.sound[1] or math.log(high / low) < 0.5 * math.log(path.sound[1] / path.sound[0])


def _estimates(cells: dict[str, Cell], found: Outcome, kinds: dict[str, str]) -> None:
    """The neutral where it stands highest, the resistances, and the hottest path."""
    undisturbed = [entry for entry in found.neutral_voltages if entry.during_reading is None]
    if undisturbed:
        highest = max(undisturbed, key=lambda e: (e.interval.value, kinds[e.load_state]))
        _put(cells, "neutral_to_ground", highest.interval)
        cells["neutral_to_ground_state"] = kinds[highest.load_state]
    for path in found.resistances:
        if path.conductor != "G":
            name = f"resistance_{path.conductor.lower()}"
            _put(cells, name, path.interval)
            cells |= {f"{name}_bound": path.interval.bound, f"{name}_informed": _informed(path)}
    heated = [(entry.heat, entry.conductor) for entry in found.resistances if entry.heat is not None]
    if heated:
        heat, cells["heat_conductor"] = max(heated, key=lambda pair: (pair[0].value, pair[1]))
        _put(cells, "heat", heat)
