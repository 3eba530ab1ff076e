"""The columns are documented, typed, and told apart."""

import pyarrow as pa
import pytest

from feedproof.contract import request as wire
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.fleet.schema import ASSESSED, FORMS, LONG, NESTED, WIDE, assessed, describe, form_of, own_columns


@pytest.mark.parametrize("form", FORMS)
def test_every_column_says_what_it_means(form: str) -> None:
    text = describe(FORMS[form])
    assert len(text.splitlines()) >= len(FORMS[form])
    for line in text.splitlines():
        name, _, meaning = line.partition(": ")
        assert name.strip()
        assert meaning.split(". ", 1)[1].strip(), line


def test_what_comes_out_is_flat() -> None:
    assert not any(pa.types.is_nested(field.type) for field in ASSESSED)


def test_every_fault_has_a_probability_and_an_evidence() -> None:
    for kind in ("probability", "log_evidence"):
        assert {f"{kind}_{fault}" for fault in FAULT_NAMES} <= set(ASSESSED.names)


def test_forms_are_told_apart_by_their_columns() -> None:
    assert form_of(NESTED.names) == "nested"
    assert form_of(LONG.names) == "long"
    assert form_of(WIDE.names) == "wide"
    assert form_of(["visit", "l2_g_test_load_low_impedance"]) == "wide"
    for names in (["reference", "value"], ["l1_n"], ["l1_l3_idle"]):
        with pytest.raises(ValueError, match="no form of readings"):
            form_of(names)


def test_every_field_of_a_request_has_its_column() -> None:
    """The columns are made of the request's types: what a request can say, every row of the nested form can."""
    named = {field.name for field in NESTED}
    assert named == set(wire.AssessmentRequest.__struct_fields__)
    readings = NESTED.field("readings").type.value_type
    assert {field.name for field in readings} >= {"kind", *wire.VoltageReading.__struct_fields__, "over_range", "at"}
    assert NESTED.field("base_rates").type == pa.map_(pa.string(), pa.float64())
    assert "Needed." in describe(NESTED)
    for start in ("supply_", "run_", "meter_"):
        assert any(name.startswith(start) for name in WIDE.names)


def test_columns_of_the_callers_own_are_what_is_left() -> None:
    schema = pa.schema([*WIDE, pa.field("l1_n_idle", pa.float64()), pa.field("region", pa.string())])
    assert own_columns(schema).names == ["region"]


def test_a_column_to_keep_needs_a_name_of_its_own() -> None:
    kept = assessed(pa.schema([pa.field("region", pa.string())]))
    assert kept.names == ["region", *ASSESSED.names]
    with pytest.raises(ValueError, match="finding"):
        assessed(pa.schema([pa.field("finding", pa.string())]))
