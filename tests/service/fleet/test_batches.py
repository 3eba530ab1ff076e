"""Record batches in, record batches out: the answers are the service's own, whatever the form, the cut or the order."""

import json
from typing import Any

import pyarrow as pa
import pytest

from feedproof.assess import assess
from feedproof.faults.priors import BASE_RATES, MODEL_VERSION, completed_rates
from feedproof.fleet.batches import Assessor, Unit, assess_batches, units_of
from feedproof.fleet.ratebook import GroupRates, Ratebook
from feedproof.fleet.schema import ASSESSED, LONG, NESTED, own_columns
from feedproof.parsing import read_request
from feedproof.readings import ReadingSet
from support.fleets import expected_cells, expected_rows, long_rows, long_table, nested_row, nested_table, simulated
from support.proof_cases import CASES

NAMES = list(CASES)
REGION = pa.field("region", pa.string())


def rows(table: pa.Table, size: int = 1000, **options: Any) -> list[dict[str, Any]]:
    return [
        row for batch in assess_batches(table.to_batches(max_chunksize=size), **options) for row in batch.to_pylist()
    ]


@pytest.fixture(scope="module")
def answers() -> dict[str, dict[str, Any]]:
    return dict(zip(NAMES, expected_rows([CASES[name] for name in NAMES]), strict=True))


@pytest.fixture(scope="module")
def nested() -> pa.Table:
    return nested_table(nested_row(name, CASES[name]) for name in NAMES)


@pytest.fixture(scope="module")
def assessed(nested: pa.Table) -> list[dict[str, Any]]:
    return rows(nested)


def test_categories_of_a_data_frame_are_kept_as_text() -> None:
    """Views under unsigned numbers, as Polars gives itself as an Arrow stream."""
    regions = pa.DictionaryArray.from_arrays(
        pa.array([1, 0], pa.uint32()), pa.array(["lake", "hill"], pa.string_view())
    )
    rows = [nested_row(name, CASES[name]) for name in [n for n, case in CASES.items() if case.readings][:2]]
    table = nested_table(rows).append_column("region", regions)
    (batch,) = assess_batches(table.to_batches(), keep=own_columns(table.schema))
    assert batch.schema.field("region").type == pa.string()
    assert batch["region"].to_pylist() == ["hill", "lake"]


def test_every_row_is_the_services_own_answer_digit_for_digit(
    assessed: list[dict[str, Any]], answers: dict[str, dict[str, Any]]
) -> None:
    assert [row["reference"] for row in assessed] == NAMES
    assert [row["row"] for row in assessed] == list(range(1, len(NAMES) + 1))
    for row in assessed:
        wanted = answers[row["reference"]]
        assert {name: row[name] for name in wanted} == wanted, row["reference"]
        assert row["refused"] is None


def test_the_shipped_requests_get_the_services_own_answers(example_requests: dict[str, bytes]) -> None:
    batch = Assessor("nested").assess([Unit(n, [json.loads(raw)]) for n, raw in enumerate(example_requests.values())])
    for row, raw in zip(batch.to_pylist(), example_requests.values(), strict=True):
        wanted = expected_cells(assess(*read_request(raw)))
        assert {name: row[name] for name in wanted} == wanted


@pytest.mark.parametrize("fault", ["none_found", "open_neutral", "open_service_neutral"])
def test_before_any_reading_the_answer_is_the_services_own_whatever_is_usual(fault: str) -> None:
    request: dict[str, Any] = {"readings": [], "base_rates": {fault: 1.0}}
    (row,) = Assessor("nested").assess([Unit(1, [request])]).to_pylist()
    wanted = expected_cells(assess(*read_request(json.dumps(request).encode())))
    assert {name: row[name] for name in wanted} == wanted


def test_probabilities_by_fault_are_those_of_the_candidates(assessed: list[dict[str, Any]]) -> None:
    for row in assessed:
        by_fault: dict[str, float] = {}
        answer = assess(CASES[row["reference"]])
        for candidate in answer.candidates:
            by_fault[candidate.fault] = by_fault.get(candidate.fault, 0.0) + candidate.probability
        # What the answer does not list has less than 0.1 % each.
        for fault, probability in by_fault.items():
            assert row[f"probability_{fault}"] == pytest.approx(probability, abs=0.004)
        assert sum(v for n, v in row.items() if n.startswith("probability_")) == pytest.approx(1.0, abs=1e-4)


def test_the_schema_is_the_same_whatever_comes(nested: pa.Table) -> None:
    for table in (nested.slice(0, 1), nested_table([nested_row("plan", ReadingSet())])):
        for batch in assess_batches(table.to_batches()):
            assert batch.schema.equals(ASSESSED, check_metadata=False)
    assert list(assess_batches([])) == []


def test_the_long_form_gets_the_same(assessed: list[dict[str, Any]]) -> None:
    table = long_table(row for name in NAMES for row in long_rows(name, CASES[name]))
    found = {row["reference"]: row for row in rows(table, size=2)}
    for row in assessed:
        if CASES[row["reference"]].readings:
            mine = found[row["reference"]]
            assert {n: v for n, v in mine.items() if n != "row"} == {n: v for n, v in row.items() if n != "row"}


def test_neither_the_cut_nor_the_order_changes_an_answer(nested: pa.Table, assessed: list[dict[str, Any]]) -> None:
    def bare(found: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [{n: v for n, v in row.items() if n != "row"} for row in found]

    turned = nested.take(list(range(nested.num_rows))[::-1])
    assert bare(rows(turned, size=3)) == bare(assessed)[::-1]


def test_sets_that_read_the_same_are_assessed_once_and_answered_each() -> None:
    sets = [readings for _, readings in simulated(3, seed=5)]
    assessor = Assessor("nested")
    units = [Unit(n, [nested_row(f"visit {n}", sets[n % 3])]) for n in range(9)]
    found = assessor.assess(units).to_pylist()
    assert assessor.computed == 3
    assert [row["reference"] for row in found] == [f"visit {n}" for n in range(9)]
    fresh = Assessor("nested")
    again = fresh.assess(units[:3]).to_pylist()
    assert again == found[:3]


def test_a_bad_row_does_not_take_the_others_down(nested: pa.Table) -> None:
    good = nested.slice(0, 1).to_pylist()[0]
    bad = nested_row("bad", CASES[NAMES[0]])
    bad["readings"][0]["value"] = -1.0
    found = rows(nested_table([nested_row("good", CASES[NAMES[0]]), bad, nested_row("also good", CASES[NAMES[0]])]))
    assert [row["refused"] is None for row in found] == [True, False, True]
    assert "/readings/0/value" in found[1]["refused"]
    assert found[1]["finding"] is None
    assert found[1]["row"] == 2
    assert good["reference"] == NAMES[0]


ODD = (["dmm"], {"a": 1}, True, 1.5, 10**30, float("nan"), "")


@pytest.mark.parametrize("cell", ODD, ids=repr)
@pytest.mark.parametrize("form", ["nested", "long"])
def test_whatever_a_cell_holds_the_others_are_assessed(form: str, cell: object) -> None:
    """Lines of NDJSON hold any JSON; of a set with a strange cell it is said that it is refused."""
    case = CASES[NAMES[0]]
    names = (NESTED if form == "nested" else LONG).names
    sets = [(name, [nested_row(name, case)] if form == "nested" else long_rows(name, case)) for name in ("a", *names)]
    for name, own in sets[1:]:
        own[-1] |= {name: cell}
    given = ((n, row, None) for n, row in enumerate((row for _, own in (*sets, ("z", sets[0][1])) for row in own), 1))
    found = Assessor(form).assess(list(units_of(given, form))).to_pylist()
    assert found[0]["refused"] is None
    assert all(row["refused"] for row in found if row["finding"] is None)
    assert not any("Error" in (row["refused"] or "") for row in found), found


def test_columns_of_the_callers_own_are_carried_along(nested: pa.Table) -> None:
    some = nested.slice(0, 2).append_column(REGION, pa.array(["lake", None], pa.string()))
    found = rows(some, keep=pa.schema([REGION]))
    assert [row["region"] for row in found] == ["lake", None]
    assert next(iter(found[0])) == "region"
    with pytest.raises(ValueError, match="region"):
        rows(some)


def test_base_rates_of_a_group_are_those_of_a_request() -> None:
    _, readings = simulated(1, seed=8)[0]
    mine = {"none_found": 1.0, "open_neutral": 3.0, "high_resistance_neutral": 0.5}
    book = Ratebook(
        by=["region"],
        groups=[
            GroupRates(group={}, sets=10, base_rates=dict.fromkeys(BASE_RATES, 0.0) | {"none_found": 1.0}),
            GroupRates(group={"region": "lake"}, sets=10, base_rates=mine),
        ],
        model_version=MODEL_VERSION,
    )
    table = nested_table([nested_row(str(n), readings) for n in range(2)])
    table = table.append_column(REGION, pa.array(["lake", "hill"], pa.string()))
    lake, hill = rows(table, keep=pa.schema([REGION]), rates=book)
    wanted = expected_cells(
        assess(
            ReadingSet(
                **{n: getattr(readings, n) for n in ("supply", "meters", "load_states", "readings")},
                base_rates=completed_rates(mine),
            )
        )
    )
    assert {name: lake[name] for name in wanted} == wanted
    assert hill["probability_none_found"] == 1.0
    assert hill["log_evidence_open_neutral"] is None
