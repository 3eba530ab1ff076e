"""Generated requests mended where a schema cannot say what is needed, and checks that no schema can make."""

import json
import math
import re
from collections.abc import Callable
from typing import Any

from feedproof.contract.assessment import Assessment, Candidate
from feedproof.contract.quantities import QUANTITIES, SMALLEST, Quantity
from feedproof.errors import RefusedRequest
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.parsing import read_request, read_simulation
from feedproof.units import Refusal, convert

Json = dict[str, Any]

KINDS = ("disconnected", "idle", "running", "test_load")
METER_FOR = {
    "voltage": "voltmeter",
    "proximity": "proximity_detector",
    "current": "clamp_ammeter",
    "resistance": "ohmmeter",
}


def _within(place: Json, field: str, quantity: str) -> None:
    """A string may match the published pattern and lie out of bounds; a number may be too small to mean anything."""
    kind: Quantity = QUANTITIES[quantity]
    value = place.get(field)
    if value is not None and isinstance(convert(value, kind), Refusal):
        place[field] = kind.high


def _series(supply: Json) -> str:
    """Series of the stated receptacle, with its dash: the NEMA designation up to the rating."""
    receptacle = (supply.get("receptacle") or "").removeprefix("L")
    return receptacle.partition("-")[0] + "-" if "-" in receptacle else ""


def _lacks(supply: Json) -> set[str]:
    """Conductors that the outlet has not: 6 and 2 have no neutral, 10 and 2 no ground (NEMA WD 6, public tables)."""
    series = _series(supply)
    found = {"N"} if series in {"2-", "6-"} or (not series and supply.get("neutral") == "absent") else set()
    return found | ({"G"} if series in {"2-", "10-"} else set())


def _mend_supply(supply: Json) -> None:
    if supply.get("system") == "single_phase_120":
        supply["system"] = "split_phase_120_240"
    if supply.get("equipment_ground") == "absent":
        supply["equipment_ground"] = "unknown"
    if _series(supply) in {"1-", "5-", "TT-"}:
        # One leg; the other conductors of the request would all have to go.
        supply["receptacle"] = "14-50R"
    if _series(supply):
        supply.pop("neutral", None)
        supply.pop("equipment_ground", None)
    if "N" in _lacks(supply):
        supply.pop("frame_bonded_to_neutral", None)


def _mend_between(place: Json, lacks: set[str]) -> None:
    """Put other conductors where there are none; metalwork is read where there is no ground."""
    pair = ["G" if c == "metalwork" and "G" not in lacks else c for c in place["between"]]
    if set(pair) & lacks or pair[0] == pair[1]:
        pair = ["L1", "L2"]
    place["between"] = pair


def _mend_load(load: Json, lacks: set[str]) -> None:
    _mend_between(load, lacks | {"metalwork"})
    if set(load["between"]) == {"N", "G"}:
        load["between"] = ["L1", "G"]
    if load.get("power") is None:
        load.pop("voltage", None)
    _within(load, "voltage", "load_voltage")
    if load.get("power") is None and load.get("resistance") is None:
        load["resistance"] = 12
    if load.get("power") is not None:
        load.pop("resistance", None)
        load.pop("reactance", None)
    _within(load, "power", "load_power")
    _within(load, "resistance", "load_resistance")
    _within(load, "reactance", "load_reactance")


def _mend_meter(meter: Json) -> None:
    step = {"voltmeter": "voltage", "clamp_ammeter": "current", "ohmmeter": "resistance"}.get(meter["kind"])
    _within(meter, "input_impedance", "input_impedance")
    _within(meter, "input_capacitance", "input_capacitance")
    _within(meter, "threshold", "threshold")
    if step:
        _within(meter, "resolution", f"{step}_resolution")


def _mend_place(reading: Json, supply: Json) -> None:
    """Have each reading taken where its conductors are."""
    if reading.get("point") == "sub_panel" and supply.get("fed_from") == "service_panel":
        reading["point"] = "panel"
    at_panel = (reading.get("point") or "receptacle").endswith("panel")
    lacks = set() if at_panel else _lacks(supply)
    if "between" in reading:
        _mend_between(reading, lacks)
    for field in ("at", "through"):
        if reading.get(field) in lacks:
            reading[field] = "L1"


def _mend_names(readings: list[Json]) -> None:
    """Keep each id once, and a repeat only of an earlier reading of the same."""
    named: dict[str, Json] = {}
    for reading in readings:
        if reading.get("id") is not None:
            reading["id"] = reading["id"].removesuffix("\n") or "x"
        first = named.get(reading.get("repeats") or "", {})
        same = ("kind", "between", "at", "through", "load_state")
        if any(first.get(field) != reading.get(field) for field in same) or (first.get("point") or "receptacle") != (
            reading.get("point") or "receptacle"
        ):
            reading.pop("repeats", None)
        if reading.get("id") in named:
            del reading["id"]
        if reading.get("id") is not None:
            named[reading["id"]] = reading


def _mend_observations(seen: list[Any]) -> list[Any]:
    """Keep each code once, with a place only where one is asked for."""
    kept: dict[str, Any] = {}
    for one in seen:
        code = one if isinstance(one, str) else one["code"]
        if not isinstance(one, str) and code != "lights_brighten_and_dim":
            one.pop("where", None)
        kept.setdefault(code, one)
    return list(kept.values())


def _mend_reading(reading: Json, body: Json) -> None:
    wanted = METER_FOR[reading["kind"]]
    fitting = [name for name, meter in body["meters"].items() if meter["kind"] == wanted]
    if reading["meter"] not in fitting:
        if not fitting:
            name = next(n for n in (wanted, f"{wanted}-2", f"{wanted}-3") if n not in body["meters"])
            body["meters"][name] = {"kind": wanted}
            fitting = [name]
        reading["meter"] = fitting[0]
    if reading["load_state"] not in {*body["load_states"], *KINDS}:
        reading["load_state"] = "idle"
    label = reading["load_state"]
    if reading.get("point") == "appliance_terminals" and body["load_states"].get(label, {"kind": label})["kind"] == (
        "disconnected"
    ):
        reading["point"] = "receptacle"
    if reading["kind"] != "proximity":
        _within(reading, "value", f"read_{reading['kind']}")
    _within(reading, "highest", "meter_range")
    if isinstance(reading.get("value"), str) and "L" in reading["value"]:
        reading.pop("over_range", None)
    _mend_place(reading, body.get("supply") or {})


def _lighten(body: Json, read: Callable[[bytes], object]) -> None:
    """Leave out readings of a visit that is refused for being too large as a whole, and for nothing else."""
    while len(body["readings"]) > 1:
        try:
            read(json.dumps(body).encode())
        except RefusedRequest as refused:
            if not all(fault.code.startswith("too_") for fault in refused.faults):
                return
            body["readings"] = body["readings"][: len(body["readings"]) // 2]
        else:
            return


def mend(body: Json, read: Callable[[bytes], object] = read_request) -> Json:
    """Make a request that fits its schema fit the rules between its fields as well.

    JSON Schema cannot say that a meter must be defined, that a load has either power or resistance, that a
    conductor must exist in the stated system and receptacle and at the stated point, that a repeat must be one, that
    what was seen is stated once, that a string's number must lie within bounds, or how large a visit is as a whole.
    """
    supply = body.get("supply") or {}
    _mend_supply(supply)
    run = supply.get("run") or {}
    _within(supply, "frequency", "line_frequency")
    _within(run, "length", "run_length")
    _within(run, "temperature", "run_temperature")
    for group in ("meters", "load_states"):
        body[group] = {name.removesuffix("\n") or "x": entry for name, entry in (body.get(group) or {}).items()}
    if len(body["meters"]) > 16:
        body["meters"] = dict(list(body["meters"].items())[:16])
    for meter in body["meters"].values():
        _mend_meter(meter)
    for name, state in body["load_states"].items():
        if name in KINDS:
            state["kind"] = name
        if state["kind"] == "disconnected":
            state.pop("loads", None)
        for load in state.get("loads") or ():
            _mend_load(load, _lacks(supply))
    for reading in body["readings"]:
        _mend_reading(reading, body)
    _mend_names(body["readings"])
    if body.get("observations") is not None:
        body["observations"] = _mend_observations(body["observations"])
    if body.get("reference") is not None:
        body["reference"] = body["reference"].removesuffix("\n")
    if body.get("base_rates") is not None:
        kept = {name: rate for name, rate in body["base_rates"].items() if name in FAULT_NAMES and rate > SMALLEST}
        body["base_rates"] = kept | {"none_found": 1.0, "open_neutral": 1.0}
    _lighten(body, read)
    return body


def mend_simulation(body: Json) -> Json:
    """Do the same for a simulation, whose fault must be one that the circuit can have."""
    # A neutral is not everywhere, a leg is.
    body["fault"] = "open_leg"
    for field in ("conductor", "location", "resistance", "supply_voltage"):
        body.pop(field, None)
    return mend(body, read_simulation)


#: At how many places a fault can be that has one name at several: service, feeder, branch and cord; branch and cord.
PLACES_OF_ONE_FAULT = {
    "open_leg": 4,
    "high_resistance_leg": 4,
    "intermittent_connection": 4,
    "open_neutral": 2,
    "high_resistance_neutral": 2,
}


def _at_one_place(candidate: Candidate) -> float:
    """Share of a candidate's probability that the likeliest of its places holds at least [1]."""
    faults = [candidate.fault, *(part.fault for part in candidate.also)]
    return 1.0 / max(PLACES_OF_ONE_FAULT.get(fault, 1) for fault in faults)


def check_numbers(assessment: Assessment) -> None:
    """Probabilities sum to 1 and are in order; intervals are in order and finite."""
    named = [candidate.probability for candidate in assessment.candidates]
    assert named == sorted(named, reverse=True)
    # Candidates below 0.1 % are left out, of at most 60 or so that are considered.
    assert 0.94 <= math.fsum(named) <= 1.0 + 1e-5, math.fsum(named)
    # A candidate is one fault at all of its places, the finding the most probable place: it has no less than any share.
    least = max(candidate.probability * _at_one_place(candidate) for candidate in assessment.candidates)
    assert assessment.finding.probability >= least - 1e-6, (assessment.finding, named[:3])
    heats = [resistance.heat for resistance in assessment.resistances if resistance.heat is not None]
    for estimate in [*assessment.neutral_to_ground, *assessment.resistances, *heats]:
        assert estimate.low <= estimate.value <= estimate.high
        assert estimate.low >= 0.0
        assert math.isfinite(estimate.high)
    for evidence in assessment.evidence:
        for span in (evidence.expected_if_sound, evidence.expected_under_finding):
            assert span.low <= span.high


def _sentences(assessment: Assessment) -> list[str]:
    """Give all that the answer says in words of its own."""
    said = [assessment.headline, assessment.next_action]
    said += [reason.text for reason in assessment.confidence.reasons]
    said += [check.text for check in assessment.checks]
    for caution in assessment.cautions:
        said += [caution.title, caution.text, caution.because]
    for reading in assessment.next_readings:
        said += [reading.title, reading.why, *reading.steps, *(hazard.text for hazard in reading.hazards)]
    return said


def check_words(assessment: Assessment, body: Json) -> None:
    """Every caution has a basis and a cause; a supply is never called safe; every reading is answered for."""
    assert assessment.cautions
    for caution in assessment.cautions:
        assert caution.text
        assert caution.basis
        assert caution.because
    assert {"licensed_work"} <= {caution.code for caution in assessment.cautions}
    assert len(assessment.evidence) == len(body["readings"])
    assert [evidence.reading for evidence in assessment.evidence] == list(range(len(body["readings"])))
    assert assessment.reference == body.get("reference")
    for check in assessment.checks:
        assert all(0 <= index < len(body["readings"]) for index in check.readings)
    labels = {*(body.get("meters") or {}), *(body.get("load_states") or {})}
    for sentence in _sentences(assessment):
        # The caller's own labels stand in sentences, whatever they say.
        words = re.sub("|".join(map(re.escape, sorted(labels, key=len, reverse=True))) or "(?!)", "", sentence)
        assert not re.search(r"\bsafe(ly|ty)?\b", words, re.IGNORECASE), sentence
