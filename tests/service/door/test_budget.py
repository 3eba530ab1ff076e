"""How large a visit may be: said at the door, with figures, before anything is computed."""

import json
from typing import Any

import pytest

from feedproof.contract.problem import RequestFault
from feedproof.door import budget, read_request, read_simulation
from feedproof.errors import RefusedRequest
from feedproof.inference.program import build
from feedproof.inference.scene import canonical_form, without_values
from feedproof.inference.weighing import places_of
from feedproof.readings import ReadingSet
from support.large_visits import visit

PAIRS = [("L1", "L2"), ("L1", "N"), ("L2", "N"), ("N", "G")]


def loaded(states: int, readings: int, **more: Any) -> dict[str, Any]:
    """Voltages in load states whose loads nobody knows, in turn."""
    document: dict[str, Any] = {
        "meters": {"dmm": {"kind": "voltmeter"}},
        "load_states": {f"step {k}": {"kind": "running"} for k in range(states)},
        "readings": [
            {
                "kind": "voltage",
                "between": PAIRS[k % 4],
                "value": (241.0, 120.4, 120.6, 0.3)[k % 4],
                "meter": "dmm",
                "load_state": f"step {k % states}",
            }
            for k in range(readings)
        ],
    }
    return document | more


def admitted(document: dict[str, Any]) -> ReadingSet:
    return read_request(json.dumps(document).encode()).reading_set


def refused(document: dict[str, Any]) -> list[RequestFault]:
    with pytest.raises(RefusedRequest) as error:
        admitted(document)
    return error.value.faults


def largest(reading_set: ReadingSet) -> int:
    """Most unknowns that a place really has."""
    scene = without_values(canonical_form(reading_set).scene)
    places = places_of(reading_set, scene)
    assert len(places) == budget.size_of(reading_set).places
    return max(len(build(place, scene, scene.readings).keys) for place in places)


def test_no_visit_that_passes_has_more_unknowns_than_the_door_has_worked_out() -> None:
    passed = 0
    for seed in range(60):
        try:
            reading_set = admitted(visit(seed))
        except RefusedRequest:
            continue
        passed += 1
        assert largest(reading_set) <= budget.size_of(reading_set).unknowns
    assert passed > 10


def test_nine_load_states_are_refused_with_the_figures_and_pass_in_two_parts() -> None:
    (fault,) = refused(loaded(9, 30))
    size = budget.Size(
        readings=30, states=9, meters=1, points=1, loads=36, all_loads=36, unknowns=1 + 1 + 9 + 36 + 4 + 9, places=28
    )
    assert (fault.pointer, fault.code) == ("/load_states", "too_many_unknowns")
    for figure in (f"{size.loads} loads", f"{size.unknowns} unknowns", f"at most {budget.MOST_UNKNOWNS}"):
        assert figure in fault.detail
    assert "some load states by themselves" in fault.detail
    for states in (5, 4):
        assert len(admitted(loaded(states, 15)).readings) == 15


def test_readings_that_are_too_much_work_are_told_how_many_would_do() -> None:
    document = loaded(5, 200, supply={"system": "high_leg_delta_120_240"})
    (fault,) = refused(document)
    assert (fault.pointer, fault.code) == ("/readings", "too_much_work")
    assert "200 readings" in fault.detail
    assert "74 places" in fault.detail
    most = int(fault.accepted[0].split()[2])
    assert len(admitted(document | {"readings": document["readings"][:most]}).readings) == most
    assert refused(document | {"readings": document["readings"][: most + 1]})


def test_load_states_and_meters_that_nothing_was_read_with_count_for_what_to_read_next() -> None:
    many = {f"step {k}": {"kind": "running"} for k in range(28)}
    meters = {f"meter {k}": {"kind": "voltmeter"} for k in range(5)}
    few = loaded(2, 8)
    admitted(few | {"load_states": many})
    admitted(few | {"meters": few["meters"] | meters})
    (fault,) = refused(few | {"load_states": many, "meters": few["meters"] | meters})
    assert (fault.pointer, fault.code) == ("/meters", "too_many_choices")
    assert "6 meters, 28 load states with 112 loads, 1 points" in fault.detail
    (fault,) = refused(few | {"load_states": many | {"one more": {"kind": "idle"}}})
    assert (fault.pointer, fault.code) == ("/load_states", "too_many_load_states")
    assert "29 load states; at most 28" in fault.detail


def test_all_that_is_too_large_is_told_at_once_but_only_of_a_request_without_other_faults() -> None:
    meters = {f"meter {k}": {"kind": "voltmeter"} for k in range(9)}
    document = loaded(40, 200, supply={"system": "high_leg_delta_120_240"})
    document["meters"] |= meters
    assert {fault.code for fault in refused(document)} == {
        "too_many_load_states",
        "too_many_unknowns",
        "too_many_choices",
        "too_much_work",
    }
    document["readings"][0] = document["readings"][0] | {"meter": "nope"}
    assert [fault.code for fault in refused(document)] == ["undefined_meter"]


@pytest.mark.parametrize(
    "document",
    [
        loaded(5, 100),
        loaded(4, 60, supply={"system": "high_leg_delta_120_240"}),
        {"meters": {f"m{k}": {"kind": "voltmeter"} for k in range(20)}, "readings": []},
    ],
)
def test_what_a_long_visit_brings_passes(document: dict[str, Any]) -> None:
    admitted(document)


def test_a_simulation_needs_a_circuit_and_no_more() -> None:
    def simulation(states: int) -> bytes:
        document = loaded(states, 200)
        asked = [{name: given for name, given in r.items() if name != "value"} for r in document["readings"]]
        return json.dumps(document | {"fault": "open_neutral", "readings": asked}).encode()

    assert len(read_simulation(simulation(28)).reading_set.readings) == 200
    with pytest.raises(RefusedRequest) as error:
        read_simulation(simulation(29))
    assert [fault.code for fault in error.value.faults] == ["too_many_load_states"]
