"""Rows are parsed by the service's own parser: the same reading sets come of them, and the same refusals."""

import json
from typing import Any

import msgspec
import pytest

from feedproof.fleet.admission import Document, Refused, admit_rows, check_columns
from feedproof.fleet.schema import FORMS, WIDE
from feedproof.parsing import Admitted, read_request
from feedproof.readings import ClampAmmeter, Observation, Voltmeter
from support.fleets import long_rows, long_table, nested_row, nested_table
from support.proof_cases import CASES


def admit_nested(row: Document) -> Admitted:
    return admit_rows("nested", [row])


def admit_long(rows: list[Document]) -> Admitted:
    return admit_rows("long", rows)


WITH_READINGS = {name: case for name, case in CASES.items() if case.readings}


def read(raw: bytes) -> Admitted:
    """Give what is parsed; a row has no text that a digest could be of."""
    admitted = read_request(raw)
    return admitted._replace(reading_set=msgspec.structs.replace(admitted.reading_set, digest=None))


def test_a_request_as_a_row_gives_what_the_door_gives(example_requests: dict[str, bytes]) -> None:
    for name, raw in example_requests.items():
        assert admit_nested(json.loads(raw)) == read(raw), name


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
    with pytest.raises(ValueError, match="l1_n_idling"):
        check_columns([*WIDE.names, "l1_n_idling"], "wide", [])
    rows = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    with pytest.raises(Refused, match="suply_system"):
        admit_long([rows[0], rows[1] | {"suply_system": "wye_120_208"}, *rows[2:]])


def test_loads_of_the_long_form_keep_their_own_tolerances() -> None:
    rows = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    state: Document = {
        "load_state": "heating",
        "load_state_kind": "running",
        "conductor": "L1",
        "other_conductor": "L2",
    }
    state |= {"load_power_l1_l2": 4800.0, "load_tolerance_percent_l1_l2": 5.0}
    state |= {"load_power_l1_n": 60.0, "load_tolerance_percent_l1_n": 20.0, "load_power_l2_n": 40.0}
    made = admit_long([rows[0] | state])
    found = {load.between: load.tolerance_percent for load in made.reading_set.load_states["heating"].loads}
    assert (found["L1", "L2"], found["L1", "N"]) == (5.0, 20.0)
    told = [assumed.pointer for assumed in made.assumptions]
    assert "/load_states/heating/loads/2/tolerance_percent" in told


def test_a_wide_row_is_what_its_columns_say() -> None:
    row: Document = {
        "reference": "INVENTED cabin-4",
        "supply_system": "split_phase_120_240",
        "run_length": "18 m",
        "meter": "dmm",
        "meter_accuracy_percent": 0.5,
        "load_power_l1_l2": 4800.0,
        "l1_l2_disconnected": 246.0,
        "l1_n_disconnected": 3.7,
        "l2_n_disconnected": None,
        "l1_n_disconnected_low_impedance": "0.4 V",
        "l2_n_running_appliance_terminals": 121.0,
        "l1_running": 19.8,
    }
    request = {
        "reference": "INVENTED cabin-4",
        "supply": {"system": "split_phase_120_240", "run": {"length": "18 m"}},
        "meters": {
            "dmm": {"kind": "voltmeter", "accuracy_percent": 0.5},
            "dmm, low impedance": {"kind": "voltmeter", "input_impedance": 3000},
            "clamp": {"kind": "clamp_ammeter"},
        },
        "load_states": {
            kind: {"kind": kind, "loads": [{"between": ["L1", "L2"], "power": 4800}]}
            for kind in ("running", "test_load")
        },
        "readings": [
            {"kind": "voltage", "between": ["L1", "L2"], "value": 246, "meter": "dmm", "load_state": "disconnected"},
            {"kind": "voltage", "between": ["L1", "N"], "value": 3.7, "meter": "dmm", "load_state": "disconnected"},
            {
                "kind": "voltage", "between": ["L1", "N"], "value": "0.4 V",
                "meter": "dmm, low impedance", "load_state": "disconnected",
            },
            {
                "kind": "voltage", "between": ["L2", "N"], "value": 121, "meter": "dmm", "load_state": "running",
                "point": "appliance_terminals",
            },
            {"kind": "current", "through": "L1", "value": 19.8, "meter": "clamp", "load_state": "running"},
        ],
    }  # fmt: skip
    assert admit_rows("wide", [row]) == read(json.dumps(request).encode())
    with pytest.raises(Refused, match="/readings/0/value"):
        admit_rows("wide", [{"l1_n_idle": "120 A"}])


@pytest.mark.parametrize("label", ["clamp", f"{'a' * 40}, low impedance"])
def test_a_voltmeter_may_be_called_as_another_meter_of_a_wide_row_would_be(label: str) -> None:
    cells: Document = {"meter": label, "l1_n_idle": 120.0, "l2_n_idle_low_impedance": 119.0, "l1_running": 19.8}
    found = admit_rows("wide", [cells]).reading_set
    assert len({reading.meter for reading in found.readings}) == len(found.meters) == 3
    assert found.readings[0].meter == label
    kinds = [type(found.meters[reading.meter]) for reading in found.readings]
    assert kinds == [Voltmeter, Voltmeter, ClampAmmeter]


@pytest.mark.parametrize("cell", [["dmm"], {"a": 1}, [], [["dmm"]]])
@pytest.mark.parametrize("form", ["long", "wide"])
def test_a_cell_holds_one_value(form: str, cell: object) -> None:
    good: list[Document] = [{"l1_n_idle": 120.0}]
    if form == "long":
        good = long_rows("cabin 3", CASES["low impedance, all as it should be"])
    for name in FORMS[form].names:
        with pytest.raises(Refused, match=f"{name}: a list or an object"):
            admit_rows(form, [*good[:-1], good[-1] | {name: cell}])


def test_a_wide_row_without_readings_is_an_empty_set() -> None:
    assert admit_rows("wide", [{"reference": "INVENTED cabin-4", "l1_n_idle": None}]).reading_set.readings == ()


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
