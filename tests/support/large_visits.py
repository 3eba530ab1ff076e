"""Generated visits, up to the limits of the contract: what the parser must judge by its figures, and the engine bear.

As a program: answers of the visits of a seed that are let in, one line each, `python large_visits.py SEED COUNT`.
"""

import json
import random
import sys
from typing import Any

import msgspec

from feedproof.assess import assess
from feedproof.contract import words
from feedproof.contract.request import AssessmentRequest
from feedproof.errors import RefusedRequest, SimulationError
from feedproof.inference import Simulation, simulate
from feedproof.parsing import admit, read_request
from feedproof.readings import ProximityReading

SYSTEMS = ("split_phase_120_240", "split_phase_120_240", "wye_120_208", "single_phase_120", "high_leg_delta_120_240")
POINTS = (
    ("receptacle",),
    ("service_panel", "receptacle"),
    ("sub_panel", "receptacle"),
    ("panel", "receptacle", "appliance_terminals"),
)
KINDS = (("running",), ("idle",), ("disconnected",), ("test_load",), ("running", "idle", "test_load", "disconnected"))
METERS = {
    "voltage": "voltmeter",
    "current": "clamp_ammeter",
    "proximity": "proximity_detector",
    "resistance": "ohmmeter",
}
READ = (("voltage",), ("voltage", "current"), ("resistance",), tuple(METERS))
FAULTS = ("none_found", "open_neutral", "high_resistance_neutral", "high_resistance_leg", "open_service_neutral")


def _reading(draw: random.Random, kind: str, document: dict[str, Any], points: tuple[str, ...]) -> dict[str, Any]:
    conductors = ["L1", "N", "G"] if document["supply"]["system"] == "single_phase_120" else ["L1", "L2", "N", "G"]
    state = draw.choice(list(document["load_states"]))
    point = draw.choice(points)
    if document["load_states"][state]["kind"] == "disconnected" and point == "appliance_terminals":
        point = "receptacle"
    fitting = [name for name, meter in document["meters"].items() if meter["kind"] == METERS[kind]]
    found = {"kind": kind, "meter": draw.choice(fitting), "load_state": state, "point": point}
    if kind == "current":
        return found | {"through": draw.choice(conductors), "value": round(draw.uniform(0.0, 40.0), 2)}
    if kind == "proximity":
        return found | {"at": draw.choice(conductors), "detected": draw.random() < 0.5}
    value = draw.uniform(0.0, 260.0) if kind == "voltage" else 10.0 ** draw.uniform(-1.0, 7.0)
    found |= {"between": draw.sample(conductors, 2), "value": round(value, 2)}
    return found | ({"supply": "isolated"} if kind == "resistance" else {})


def visit(seed: int, *, simulated: bool = True) -> dict[str, Any]:
    """Draw a request of the published form, of any size; it may be found too large.

    Parameters
    ----------
    seed : int
        Of the draw.
    simulated : bool
        Whether the readings of most visits are those of one circuit, which takes longer than all else.
    """
    draw = random.Random(seed)
    system, points, kinds, read = draw.choice(SYSTEMS), draw.choice(POINTS), draw.choice(KINDS), draw.choice(READ)
    legs = ["L1", "N"] if system == "single_phase_120" else ["L1", "L2", "N"]
    small = draw.random() < 0.7
    states = draw.randint(1, 8 if small else words.MAX_LOAD_STATES)
    loads = draw.choice((0, 0, 1, 2, 5, words.MAX_LOADS))
    fed = draw.choice(("unknown", "service_panel", "sub_panel", "sub_panel_bonded"))
    if {"service_panel", "sub_panel"} & set(points):
        fed = "service_panel" if "service_panel" in points else "sub_panel"
    supply = {"system": system, "fed_from": fed, "source": draw.choice(("utility", "utility", "generator"))}
    document: dict[str, Any] = {"supply": supply, "meters": {}, "load_states": {}, "readings": []}
    for number in range(draw.randint(len(read), 6 if small else words.MAX_METERS)):
        document["meters"][f"meter {number}"] = {"kind": METERS[read[number % len(read)]]}
    for number in range(states):
        kind = kinds[number % len(kinds)]
        stated = [{"between": draw.sample(legs, 2), "resistance": round(draw.uniform(5.0, 100.0), 2)}] * loads
        document["load_states"][f"state {number}"] = {"kind": kind} | (
            {"loads": stated} if loads and kind != "disconnected" else {}
        )
    for _ in range(draw.randint(0, 60 if small else words.MAX_READINGS)):
        document["readings"].append(_reading(draw, draw.choice(read), document, points))
    if draw.random() < 0.3:
        document["base_rates"] = {fault: draw.choice((0.01, 1.0, 10.0)) for fault in FAULTS}
    return _as_simulated(draw, document) if simulated and draw.random() >= 0.3 else document


def _as_simulated(draw: random.Random, document: dict[str, Any]) -> dict[str, Any]:
    """The same with the readings of one circuit, where the model has it: then they agree, and much is drawn."""
    try:
        reading_set = admit(msgspec.convert(document, AssessmentRequest), weighed=False).reading_set
        found = simulate(Simulation(fault=draw.choice(FAULTS), readings=reading_set, seed=draw.randrange(1000)))
    except (RefusedRequest, SimulationError):
        return document
    for given, reading in zip(document["readings"], found, strict=True):
        if isinstance(reading, ProximityReading):
            given["detected"] = reading.detected
        else:
            given["value"] = reading.value
    return document


def main() -> None:
    """Print the answers of visits that are not too large."""
    seed, count = map(int, sys.argv[1:])
    answered = 0
    while answered < count:
        seed += 1
        try:
            admitted = read_request(json.dumps(visit(seed)).encode())
        except RefusedRequest:
            continue
        sys.stdout.write(f"{seed} {msgspec.json.encode(assess(*admitted)).decode()}\n")
        answered += 1


if __name__ == "__main__":
    main()
