"""Rows go through the service's own door: the same reading sets come of them, and the same refusals."""

import json
from typing import Any

import msgspec
import pytest

from feedproof.door import read_request
from feedproof.fleet.admission import Refused, admit_long, admit_nested, check_columns
from feedproof.readings import Observation, Voltmeter
from support.fleets import long_rows, long_table, nested_row, nested_table
from support.proof_cases import CASES

WITH_READINGS = {name: case for name, case in CASES.items() if case.readings}


def test_a_request_as_a_row_gives_what_the_door_gives(example_requests: dict[str, bytes]) -> None:
    for name, raw in example_requests.items():
        assert admit_nested(json.loads(raw)) == read_request(raw), name


@pytest.mark.parametrize("name", CASES)
def test_a_nested_table_gives_the_reading_set_that_it_was_made_of(name: str) -> None:
    (row,) = nested_table([nested_row(name, CASES[name])]).to_pylist()
    found = admit_nested(row).reading_set
    assert found.reference == name
    assert found.readings == CASES[name].readings
    assert (found.supply, found.meters, found.load_states) == (
        CASES[name].supply,
        CASES[name].meters,
        CASES[name].load_states,
    )


@pytest.mark.parametrize("name", WITH_READINGS)
def test_a_long_table_gives_the_reading_set_that_it_was_made_of(name: str) -> None:
    rows = long_table(long_rows(name, CASES[name])).to_pylist()
    found = admit_long(rows).reading_set
    assert (found.readings, found.supply) == (CASES[name].readings, CASES[name].supply)
    assert (found.meters, found.load_states) == (CASES[name].meters, CASES[name].load_states)


def row(**changes: Any) -> dict[str, Any]:
    made = nested_row("cabin 3", CASES["low impedance, all as it should be"])
    made["readings"][0] |= changes
    return made


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"value": None}, "/readings/0"),
        ({"value": float("nan")}, "/readings/0/value"),
        ({"value": "243 A"}, "/readings/0/value"),
        ({"meter": "other"}, "/readings/0/meter: not in meters"),
        ({"between": ["L1", "L1"]}, "/readings/0/between"),
        ({"kind": "guess"}, "/readings/0"),
        ({"shade": "green"}, "/readings/0/shade"),
    ],
)
def test_a_bad_row_is_refused_with_the_place_and_the_reason(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(Refused) as refused:
        admit_nested(row(**changes))
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_label_that_stands_twice_in_a_map_is_refused() -> None:
    made = row()
    made["meters"] = [(name, meter) for name, meter in made["meters"].items()] * 2
    with pytest.raises(Refused, match="twice"):
        admit_nested(made)


def test_rows_of_a_set_must_agree_and_stand_in_order() -> None:
    rows = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    with pytest.raises(Refused, match="supply_system: the rows of one set"):
        admit_long([rows[0], rows[1] | {"supply_system": "wye_120_208"}, rows[2]])
    with pytest.raises(Refused, match="meter_resolution: the rows of meter"):
        admit_long([rows[0], rows[1], rows[2] | {"meter_resolution": 0.5}])
    with pytest.raises(Refused, match="reading 2 where 0 should stand"):
        admit_long(rows[2:])
    with pytest.raises(Refused, match="reading 2 where 1 should stand"):
        admit_long([rows[0], rows[2]])


def test_a_resistance_on_a_live_circuit_is_refused_in_a_table_too() -> None:
    rows = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    rows[0] |= {"kind": "resistance", "meter_kind": "ohmmeter", "meter": "ohms", "isolated": None}
    with pytest.raises(Refused, match="/readings/0"):
        admit_long(rows)


def test_a_column_that_no_one_reads_is_refused() -> None:
    check_columns(["readings", "region"], "nested", ["region"])
    with pytest.raises(ValueError, match="suply"):
        check_columns(["readings", "suply"], "nested", [])


def test_both_forms_carry_what_is_known_of_feeder_receptacle_testers_and_what_was_seen() -> None:
    case = CASES["low impedance, all as it should be"]
    first, second, *rest = case.readings
    wider = msgspec.structs.replace(
        case,
        supply=msgspec.structs.replace(case.supply, fed_from="sub_panel", source="generator", receptacle="14-50R"),
        meters={
            name: msgspec.structs.replace(meter, proved=True) if isinstance(meter, Voltmeter) else meter
            for name, meter in case.meters.items()
        },
        readings=(
            msgspec.structs.replace(first, id="first", point="sub_panel"),
            second,
            msgspec.structs.replace(first, repeats="first", point="sub_panel"),
            *rest,
        ),
        appliance="range",
        observations=(
            Observation(code="lights_brighten_and_dim", where="whole_building"),
            Observation(code="works_when_moved"),
        ),
    )
    (nested,) = nested_table([nested_row("cabin 3", wider)]).to_pylist()
    long = long_table(long_rows("cabin 3", wider)).to_pylist()
    for found in (admit_nested(nested).reading_set, admit_long(long).reading_set):
        assert msgspec.structs.replace(found, reference=None) == msgspec.structs.replace(wider, reference=None)


def test_what_was_seen_is_refused_in_a_cell_as_in_a_request() -> None:
    rows = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    for cell, said in (("ghosts", "/observations/0"), ("works_when_moved:attic", "/observations/0/where")):
        with pytest.raises(Refused, match=said):
            admit_long([made | {"observations": cell} for made in rows])
