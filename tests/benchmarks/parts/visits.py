"""Reading sets to measure on: invented visits to a lakeside campground, as the model itself would have them read."""

import itertools
import json
from collections.abc import Sequence

import msgspec

from feedproof.inference import Simulation, simulate
from feedproof.readings import Conductor, LoadState, Point, Reading, ReadingSet
from support.outcomes import METERS, amps, ohms, volts
from support.proof_cases import FOUR_WIRE, LABELS, near

LEGS: tuple[tuple[Conductor, Conductor], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))
PAIRS: tuple[tuple[Conductor, Conductor], ...] = (*LEGS, ("N", "G"))

#: What is wrong in turn. Mostly nothing, as among real visits.
FAULTS: tuple[tuple[str, Conductor | None], ...] = (
    ("none_found", None),
    ("open_neutral", "N"),
    ("none_found", None),
    ("high_resistance_neutral", "N"),
    ("open_leg", "L1"),
    ("none_found", None),
    ("high_resistance_leg", "L2"),
    ("none_found", None),
    ("open_service_neutral", "N"),
    ("voltage_low", None),
)


def _all_pairs(meter: str, state: str, point: Point = "receptacle") -> list[Reading]:
    return [volts(a, b, 0.0, meter, state, point) for a, b in PAIRS]


def _loaded() -> list[Reading]:
    found: list[Reading] = []
    for state in ("heating", "one_side"):
        found += [volts(a, b, 0.0, "dmm", state) for a, b in LEGS]
        found += [amps("L1", 0.0, state), amps("N", 0.0, state), volts("N", "G", 0.0, "dmm", state)]
        found += [volts(a, b, 0.0, "dmm", state, "service_panel") for a, b in LEGS]
    return found


#: Readings in the order that they are taken, over and over where more are asked for than there are.
LAYOUTS: dict[str, list[Reading]] = {
    "unloaded": _all_pairs("dmm", "disconnected"),
    "low impedance": _all_pairs("loz", "disconnected"),
    "idle": [*_all_pairs("dmm", "idle"), near("N", detected=False), *_all_pairs("loz", "idle")],
    "loaded": _loaded(),
    "mixed": [
        *(volts(a, b, 0.0) for a, b in LEGS),
        volts("L1", "N", 0.0, "loz"),
        volts("L2", "N", 0.0, "loz"),
        near("N", detected=False),
        ohms("N", "G", 0.0),
        volts("L1", "N", 0.0, state="one_side"),
        volts("L2", "N", 0.0, state="one_side"),
        amps("N", 0.0, state="one_side"),
        *_loaded(),
    ],
}


def arrangement(layout: str, count: int) -> ReadingSet:
    """Give a reading set of so many readings, without values."""
    taken = tuple(itertools.islice(itertools.cycle(LAYOUTS[layout]), count))
    return _visit(taken)


def _visit(taken: Sequence[Reading]) -> ReadingSet:
    states: dict[str, LoadState] = {r.load_state: LABELS[r.load_state] for r in taken}
    return ReadingSet(
        supply=FOUR_WIRE, meters={r.meter: METERS[r.meter] for r in taken}, load_states=states, readings=tuple(taken)
    )


def visits(layout: str, count: int, sets: int) -> list[ReadingSet]:
    """Give reading sets of one arrangement with what a person would have read, a fault after another."""
    bare = arrangement(layout, count)
    found = []
    for seed, (fault, conductor) in zip(range(sets), itertools.cycle(FAULTS), strict=False):
        read = simulate(Simulation(fault=fault, conductor=conductor, readings=bare, seed=seed))
        found.append(msgspec.structs.replace(bare, readings=read))
    return found


def body(readings: ReadingSet) -> bytes:
    """Give a reading set as a client sends it: plain SI numbers."""

    def without(record: msgspec.Struct, *names: str) -> dict[str, object]:
        plain: dict[str, object] = msgspec.to_builtins(record)
        return {k: v for k, v in plain.items() if k not in {"name", "type", *names} and v is not None}

    def kind(record: msgspec.Struct) -> str:
        return str(record.__struct_config__.tag)

    states = {}
    for name, state in readings.load_states.items():
        loads = [{"between": list(x.between), "resistance": x.resistance} for x in state.loads]
        states[name] = {"kind": state.kind, **({"loads": loads} if loads else {})}
    taken = []
    for reading in readings.readings:
        one = {"kind": kind(reading), **without(reading, "over_range", "range_stated")}
        if one["kind"] == "resistance":
            one["supply"] = "isolated"
        taken.append(one)
    document = {
        "reference": "INVENTED lakeside campground",
        "supply": without(readings.supply, "neutral"),
        "meters": {name: {"kind": kind(m), **without(m, "proved")} for name, m in readings.meters.items()},
        "load_states": states,
        "readings": taken,
    }
    return json.dumps(document).encode()
