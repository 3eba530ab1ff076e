"""The columns are documented, typed, and told apart."""

import pyarrow as pa
import pytest

from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.fleet.schema import ASSESSED, FORMS, LONG, NESTED, assessed, describe, form_of


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
    with pytest.raises(ValueError, match="neither form"):
        form_of(["reference", "value"])


def test_a_column_to_keep_needs_a_name_of_its_own() -> None:
    kept = assessed(pa.schema([pa.field("region", pa.string())]))
    assert kept.names == ["region", *ASSESSED.names]
    with pytest.raises(ValueError, match="finding"):
        assessed(pa.schema([pa.field("finding", pa.string())]))
