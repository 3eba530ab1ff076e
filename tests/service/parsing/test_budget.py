"""How large a visit may be: said by the parser, with figures, before anything is computed."""

import json
from typing import Any

import pytest

from feedproof.contract.problem import RequestFault
from feedproof.errors import RefusedRequest
from feedproof.inference.program import build
from feedproof.inference.scene import canonical_form, without_values
from feedproof.inference.weighing import places_of
from feedproof.parsing import budget, read_request, read_simulation
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


def largest(reading_set: ReadingSet) -> tuple[int, int]:
    """Most unknowns that a place really has, and how many places there are."""
    canonical = canonical_form(reading_set)
    bare = without_values(canonical.scene)
    places = places_of(reading_set, canonical.scene)
    return max(len(build(place, bare, bare.readings).keys) for place in places), len(places)


def test_the_figures_are_bounds_and_no_wide_ones_where_they_decide() -> None:
    most = passed = 0
    for seed in range(300):
        try:
            reading_set = admitted(visit(seed, simulated=False))
        except RefusedRequest:
            continue
        passed += 1
        unknowns, places = largest(reading_set)
        size = budget.size_of(reading_set)
        assert unknowns <= size.unknowns
        assert places <= size.places <= 1.25 * places + 5
        assert size.unknowns <= unknowns + 9 or size.unknowns < budget.MOST_UNKNOWNS - 9
        most = max(most, unknowns)
    assert passed > 100
    assert most >= budget.MOST_UNKNOWNS - 9


def test_nine_load_states_are_refused_with_the_figures_and_pass_in_two_parts() -> None:
    (fault,) = refused(loaded(9, 30))
    assert (fault.pointer, fault.code) == ("/load_states", "too_many_unknowns")
    # One gain, nine imbalances, nine times four loads, four wires, and five and nine times two of the building.
    for figure in ("9 load states", "36 loads", f"{1 + 9 + 36 + 4 + 23} unknowns", f"at most {budget.MOST_UNKNOWNS}"):
        assert figure in fault.detail
    assert "some load states by themselves" in fault.detail
    for states in (5, 4):
        assert len(admitted(loaded(states, 15)).readings) == 15


def test_readings_that_are_too_much_work_are_told_how_many_would_do() -> None:
    document = loaded(5, 200, supply={"system": "high_leg_delta_120_240"})
    (fault,) = refused(document)
    assert (fault.pointer, fault.code) == ("/readings", "too_much_work")
    assert "200 readings" in fault.detail
    assert "137 places" in fault.detail
    most = int(fault.accepted[0].split()[2])
    assert len(admitted(document | {"readings": document["readings"][:most]}).readings) == most
    assert refused(document | {"readings": document["readings"][: most + 1]})


def test_all_that_is_too_large_is_told_at_once_but_only_of_a_request_without_other_faults() -> None:
    document = loaded(40, 200, supply={"system": "high_leg_delta_120_240"})
    assert {fault.code for fault in refused(document)} == {"too_many_unknowns", "too_much_work"}
    document["readings"][0] = document["readings"][0] | {"meter": "nope"}
    assert [fault.code for fault in refused(document)] == ["undefined_meter"]


@pytest.mark.parametrize(
    "document",
    [
        loaded(5, 80),
        loaded(4, 40, supply={"system": "high_leg_delta_120_240"}),
        # Load states and meters that nothing was read with are no matter.
        loaded(2, 8) | {"load_states": {f"step {k}": {"kind": "running"} for k in range(50)}},
        {"meters": {f"m{k}": {"kind": "voltmeter"} for k in range(20)}, "readings": []},
    ],
)
def test_what_a_long_visit_brings_passes(document: dict[str, Any]) -> None:
    admitted(document)


def test_a_simulation_may_be_larger() -> None:
    def simulation(states: int) -> bytes:
        document = loaded(states, 200)
        asked = [{name: given for name, given in r.items() if name != "value"} for r in document["readings"]]
        return json.dumps(document | {"fault": "open_neutral", "readings": asked}).encode()

    assert len(read_simulation(simulation(30)).simulation.readings.readings) == 200
    with pytest.raises(RefusedRequest) as error:
        read_simulation(simulation(40))
    (fault,) = error.value.faults
    assert fault.code == "too_many_unknowns"
    assert f"at most {budget.MOST_SIMULATED}" in fault.detail
