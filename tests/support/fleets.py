"""Small fleets of the invented campground, in the forms that files take, and the answers that they must get."""

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
import numpy as np
import pyarrow as pa

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.faults.priors import BASE_RATES
from feedproof.fleet.schema import LONG, NESTED
from feedproof.inference import Simulation, simulate
from feedproof.readings import Load, LoadState, Meter, Reading, ReadingSet, Supply
from support.outcomes import volts
from support.proof_cases import visit

Row = dict[str, Any]

_POWER_BASE = {"N": 120.0**2}


def _meter(meter: Meter) -> Row:
    kind = str(type(meter).__struct_config__.tag)
    cells = {n: v for n, v in msgspec.structs.asdict(meter).items() if n not in {"name", "proved"}}
    return (
        {"kind": kind}
        | cells
        | ({"proved": {"before": True, "after": True}} if getattr(meter, "proved", False) else {})
    )


def _supply(supply: Supply) -> Row:
    cells: Row = msgspec.to_builtins(supply)
    return cells | {"neutral": "present" if supply.neutral else "absent"}


def _load(load: Load) -> Row:
    base = _POWER_BASE.get(load.between[1], 240.0**2)
    assert not load.reactance
    return {
        "between": list(load.between),
        "power": base / load.resistance,
        "tolerance_percent": load.tolerance_percent,
    }


def _state(state: LoadState) -> Row:
    return {"kind": state.kind, "loads": [_load(load) for load in state.loads] or None}


def _reading(reading: Reading) -> Row:
    kind = str(type(reading).__struct_config__.tag)
    cells = msgspec.structs.asdict(reading)
    cells.pop("range_stated", None)
    if "between" in cells:
        cells["between"] = list(cells["between"])
    return {"kind": kind} | cells | ({"supply": "isolated"} if kind == "resistance" else {})


_CELLS = ("kind", "value", "detected", "point", "over_range", "meter", "load_state", "id", "repeats")


def nested_row(reference: str, readings: ReadingSet) -> Row:
    """Give a reading set as a row of the nested form, in SI units."""
    return {
        "reference": reference,
        "supply": _supply(readings.supply),
        "appliance": {"kind": readings.appliance},
        "meters": {name: _meter(meter) for name, meter in readings.meters.items()},
        "load_states": {name: _state(state) for name, state in readings.load_states.items()},
        "readings": [_reading(reading) for reading in readings.readings],
        "observations": [msgspec.to_builtins(seen) for seen in readings.observations] or None,
    }


def long_rows(reference: str, readings: ReadingSet) -> list[Row]:
    """Give a reading set as rows of the long form, in SI units."""
    nested = nested_row(reference, readings)
    supply = {f"supply_{n}": v for n, v in nested["supply"].items() if n != "run"}
    run = {f"run_{n}": v for n, v in nested["supply"]["run"].items()}
    seen = " ".join(f"{o.code}:{o.where}" if o.where else o.code for o in readings.observations)
    rows = []
    for index, reading in enumerate(nested["readings"]):
        state = nested["load_states"][reading["load_state"]]
        loads = state["loads"] or []
        conductors = [*reading.get("between", []), *(reading[n] for n in ("at", "through") if n in reading)]
        rows.append(
            {"reference": reference, "reading": index}
            | supply
            | run
            | {n: reading.get(n) for n in _CELLS}
            | {"conductor": conductors[0], "other_conductor": conductors[1] if len(conductors) > 1 else None}
            | {"isolated": True if reading.get("supply") == "isolated" else None}
            | {f"meter_{n}": v for n, v in nested["meters"][reading["meter"]].items() if n != "proved"}
            | {f"meter_proved_{n}": v for n, v in nested["meters"][reading["meter"]].get("proved", {}).items()}
            | {"appliance_kind": readings.appliance, "observations": seen or None}
            | {"load_state_kind": state["kind"]}
            | {
                f"load_{name}_{a}_{b}".lower(): load[name]
                for load in loads
                for a, b in [load["between"]]
                for name in ("power", "tolerance_percent")
            }
        )
    return rows


def nested_table(rows: Iterable[Row], *more: "pa.Field[Any]") -> pa.Table:
    """Give rows of the nested form as a table."""
    return pa.Table.from_pylist(
        [row | {n: list((row.get(n) or {}).items()) or None for n in ("meters", "load_states")} for row in rows],
        schema=pa.schema([*NESTED, *more]),
    )


def long_table(rows: Iterable[Row], *more: "pa.Field[Any]") -> pa.Table:
    """Give rows of the long form as a table."""
    return pa.Table.from_pylist(list(rows), schema=pa.schema([*LONG, *more]))


def simulated(
    count: int, seed: int, rates: dict[str, float] | None = None, meter: str = "loz"
) -> list[tuple[str, ReadingSet]]:
    """Give visits to unplugged outlets with faults drawn by base rates: fault, and reading set."""
    weights = BASE_RATES if rates is None else rates
    rng = np.random.default_rng(seed)
    names = [name for name, rate in weights.items() if rate > 0.0]
    share = np.array([weights[name] for name in names])
    asked = visit(volts("L1", "L2", 0.0, meter), volts("L1", "N", 0.0, meter), volts("L2", "N", 0.0, meter))
    found = []
    for fault in rng.choice(names, size=count, p=share / share.sum()):
        taken = simulate(Simulation(fault=str(fault), readings=asked, seed=int(rng.integers(2**31))))
        found.append((str(fault), msgspec.structs.replace(asked, readings=taken)))
    return found


def drawn(faults: Sequence[str], fault: str) -> float:
    """Share of a fault among those that were drawn."""
    return sum(each == fault for each in faults) / len(faults)


def expected_cells(answer: Assessment) -> Row:
    """Give what flat columns must hold, from the service's own answer."""
    also = {(part.fault, part.conductor) for part in answer.finding.also}
    best = next(
        c
        for c in answer.candidates
        if c.fault == answer.finding.fault and {(p.fault, p.conductor) for p in c.also} == also
    )
    resistances = {entry.conductor.lower(): entry for entry in answer.resistances}
    limits = {entry.conductor.lower(): entry.value for entry in answer.detection_limits}
    still = [entry for entry in answer.neutral_to_ground if entry.during_reading is None]
    highest = max(still, key=lambda entry: entry.value, default=None)
    heated = [(entry.heat, entry.conductor) for entry in answer.resistances if entry.heat is not None]
    heat, hottest = max(heated, key=lambda pair: pair[0].value, default=(None, None))
    cells: Row = {
        "supply_system": answer.supply.system if answer.supply else None,
        "readings": len(answer.evidence),
        "finding_place": answer.finding.place,
        "finding_degree": answer.finding.degree,
        "refer_to": " ".join(answer.refer_to) or None,
        "heat_low": heat.low if heat else None,
        "heat_high": heat.high if heat else None,
        "heat_conductor": hottest,
        "finding": answer.finding.fault,
        "finding_conductor": answer.finding.conductor,
        "finding_location": answer.finding.location,
        "finding_also": " ".join(f"{part.fault}:{part.conductor or ''}" for part in answer.finding.also) or None,
        "finding_probability": answer.finding.probability,
        "finding_log_evidence": best.log_evidence,
        "determination": answer.determination,
        "disposition": answer.disposition,
        "caution_codes": " ".join(caution.code for caution in answer.cautions),
        "check_codes": " ".join(check.code for check in answer.checks) or None,
        "neutral_to_ground": highest.value if highest else None,
        "neutral_to_ground_low": highest.low if highest else None,
        "neutral_to_ground_high": highest.high if highest else None,
        "heat": heat.value if heat else None,
        "model_version": answer.model.version,
        "priors_digest": answer.model.priors_digest,
    }
    for conductor in ("l1", "l2", "n"):
        entry = resistances.get(conductor)
        cells[f"resistance_{conductor}"] = entry.value if entry else None
        cells[f"resistance_{conductor}_low"] = entry.low if entry else None
        cells[f"resistance_{conductor}_high"] = entry.high if entry else None
        cells[f"resistance_{conductor}_bound"] = entry.bound if entry else None
    for conductor in ("l1", "l2", "n", "g"):
        cells[f"detection_limit_{conductor}"] = limits.get(conductor)
    return cells


def expected_rows(sets: Sequence[ReadingSet]) -> list[Row]:
    """Give what each set's flat columns must hold."""
    return [expected_cells(assess(readings)) for readings in sets]
