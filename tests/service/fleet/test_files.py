"""The three formats in and out, and what cannot be read told with its row."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
import pytest

from feedproof.fleet.batches import Unit, units_of
from feedproof.fleet.files import LONGEST_LINE, columns_of, format_of, identity, read_rows
from feedproof.fleet.schema import ASSESSED, form_of
from feedproof.fleet.tables import assessments
from feedproof.fleet.writing import write_batches
from support.fleets import long_rows, long_table, nested_row, nested_table
from support.proof_cases import CASES

NAMES = [name for name, case in CASES.items() if case.readings][:4]
NESTED_ROWS = [nested_row(name, CASES[name]) for name in NAMES]
LONG_ROWS = [row for name in NAMES for row in long_rows(name, CASES[name])]


def units(path: Path | str, ignore: tuple[str, ...] = ()) -> list[Unit]:
    return list(units_of(read_rows(path, ignore), form_of(columns_of(path))))


def written(path: Path, table: pa.Table) -> Path:
    if path.suffix == ".parquet":
        pyarrow.parquet.write_table(table, path, row_group_size=3)
    elif path.suffix == ".csv":
        pyarrow.csv.write_csv(table, path)
    else:
        path.write_text("".join(json.dumps(row) + "\n" for row in table.to_pylist()), encoding="utf-8")
    return path


def values(found: list[Unit]) -> list[list[dict[str, Any]]]:
    return [[{n: v for n, v in row.items() if v is not None} for row in unit.rows] for unit in found]


@pytest.mark.parametrize("ending", ["parquet", "csv", "ndjson", "jsonl"])
def test_the_long_form_comes_back_from_every_format(tmp_path: Path, ending: str) -> None:
    path = written(tmp_path / f"fleet.{ending}", long_table(LONG_ROWS))
    found = units(path)
    assert [len(unit.rows) for unit in found] == [len(CASES[name].readings) for name in NAMES]
    assert [unit.row for unit in found] == [1 + sum(len(u.rows) for u in found[:n]) for n in range(len(found))]
    wanted = [{n: v for n, v in row.items() if v is not None} for row in LONG_ROWS]
    assert [row for rows in values(found) for row in rows] == wanted
    assert not any(unit.refused for unit in found)


def test_the_nested_form_comes_back_from_parquet_and_ndjson(tmp_path: Path) -> None:
    table = nested_table(NESTED_ROWS)
    from_parquet = units(written(tmp_path / "fleet.parquet", table))
    assert [unit.rows[0] for unit in from_parquet] == table.to_pylist()
    lines = tmp_path / "fleet.ndjson"
    lines.write_text("".join(json.dumps(row) + "\n" for row in NESTED_ROWS), encoding="utf-8")
    assert [unit.rows[0] for unit in units(lines)] == json.loads(json.dumps(NESTED_ROWS))


def test_a_folder_of_parquet_files_is_one_source(tmp_path: Path) -> None:
    folder = tmp_path / "fleet"
    folder.mkdir()
    for n, row in enumerate(NESTED_ROWS):
        pyarrow.parquet.write_table(nested_table([row]), folder / f"{n}.parquet")
    assert [unit.reference for unit in units(folder)] == NAMES
    assert [unit.row for unit in units(folder)] == [1, 2, 3, 4]
    before = identity(folder)
    pyarrow.parquet.write_table(nested_table(NESTED_ROWS[:2]), folder / "0.parquet")
    assert identity(folder) != before


def test_columns_have_their_types_and_some_are_left_unread(tmp_path: Path) -> None:
    table = nested_table(NESTED_ROWS).append_column("year", pa.array([2024] * len(NAMES), pa.int16()))
    path = written(tmp_path / "fleet.parquet", table)
    assert columns_of(path)["year"] == pa.int16()
    assert "year" not in units(path, ignore=("year",))[0].rows[0]


@pytest.mark.parametrize("ending", ["csv.gz", "csv.zst", "ndjson.gz", "jsonl.zst"])
def test_packed_files_are_read_and_written(tmp_path: Path, ending: str) -> None:
    kind, packing = ending.split(".")
    plain = written(tmp_path / f"fleet.{kind}", long_table(LONG_ROWS))
    packed = tmp_path / f"fleet.{ending}"
    with pa.output_stream(str(packed), compression="gzip" if packing == "gz" else "zstd") as file:
        file.write(plain.read_bytes())
    assert units(packed) == units(plain)
    table = answers()
    for path in (tmp_path / f"out.{kind}", tmp_path / f"out.{ending}"):
        write_batches(path, table.schema, table.to_batches())
    with pa.input_stream(str(tmp_path / f"out.{ending}")) as file:
        assert file.read() == (tmp_path / f"out.{kind}").read_bytes()


def test_addresses_are_read_and_written_as_paths_are(tmp_path: Path) -> None:
    path = written(tmp_path / "fleet.csv", long_table(LONG_ROWS))
    assert units(path.as_uri()) == units(path)
    table = answers()
    write_batches((tmp_path / "out.parquet").as_uri(), table.schema, table.to_batches())
    assert assessments((tmp_path / "out.parquet").as_uri()).table("assessed").to_arrow_table().num_rows == 2
    for address in ("elsewhere://box/visits", "fsspec+elsewhere://box/visits"):
        with pytest.raises(ValueError, match="elsewhere"):
            format_of(address)


def test_rows_of_one_reference_that_stand_apart_are_no_set(tmp_path: Path) -> None:
    rows = [*LONG_ROWS[1:], LONG_ROWS[0]]
    found = units(written(tmp_path / "fleet.parquet", long_table(rows)))
    assert [unit.reference for unit in found] == [*NAMES, NAMES[0]]
    assert "stand apart" in str(found[-1].refused)
    assert "sort the file by reference and reading" in str(found[-1].refused)


def test_lines_that_are_no_documents_are_told_with_their_row(tmp_path: Path) -> None:
    good = json.dumps(NESTED_ROWS[0]).encode()
    lines = [good, b"{", b"[1]", b'"x"', b"\xff\xfe", good[:-1] + b', "x": ' + b"[" * 5000, b" " * 10 + good]
    path = tmp_path / "fleet.ndjson"
    path.write_bytes(b"\n".join([*lines, b"9" * (2 * LONGEST_LINE + 10), good]))
    found = units(path)
    assert [unit.row for unit in found if unit.refused] == [2, 3, 4, 5, 6, 8]
    assert [unit.row for unit in found if not unit.refused] == [1, 7, 9]
    assert "bytes" in str(found[7].refused)


@pytest.mark.parametrize("value", ["1" + "0" * 30, '"\\ud800"'])
def test_json_that_no_table_can_hold_is_told(tmp_path: Path, value: str) -> None:
    """RFC 8259, 6 and 8.2: such numbers and such halves of characters are JSON, and few programs can take them."""
    path = tmp_path / "fleet.ndjson"
    good = json.dumps(NESTED_ROWS[0])
    path.write_text("\n".join([good, good[:-1] + f', "note": {value}}}', good]), encoding="utf-8")
    first, second, third = units(path)
    assert (first.refused, third.refused) == (None, None)
    assert str(second.refused).startswith("what no table can hold")


def test_a_value_that_is_no_number_of_json_is_named(tmp_path: Path) -> None:
    path = tmp_path / "fleet.ndjson"
    path.write_text(json.dumps(NESTED_ROWS[0]) + "\n\n" + '{"readings": [{"value": NaN}]}\n', encoding="utf-8")
    found = units(path)
    assert [unit.row for unit in found] == [1, 3]
    assert "NaN" in str(found[1].refused)


def test_a_row_with_cells_too_many_or_too_few_is_told(tmp_path: Path) -> None:
    path = written(tmp_path / "fleet.csv", long_table(LONG_ROWS))
    lines = path.read_text(encoding="utf-8").splitlines()
    first = len(CASES[NAMES[0]].readings)
    # One row lost its end in the second set; another is in Latin-1 and stands between sets.
    lines[first + 2] = lines[first + 2][:20]
    raw = "\n".join(lines).encode()
    path.write_bytes(raw)
    found = units(path)
    told = {unit.row: unit.refused for unit in found if unit.refused}
    assert told.keys() == {first + 1, first + 2}
    assert "cannot be read" in str(told[first + 1])
    # What was left of it ends within quotes, so the line after it went along.
    assert f"in lines {first + 3} to {first + 4}" in str(told[first + 2])
    path.write_bytes(raw.replace(NAMES[3].encode(), b"caf\xe9"))
    assert any(unit.refused == "not UTF-8" for unit in units(path))


def test_a_quote_that_is_not_closed_takes_no_row_along_unsaid(tmp_path: Path) -> None:
    """RFC 4180, section 2, rules 5 to 7: a quoted cell ends with a quote before a comma or the line's end."""
    path = tmp_path / "fleet.csv"
    head = "reference,region,l1_n_disconnected\n"
    path.write_text(head + 'a,lake,120\nb,"lake,120\nc,lake,120\nd,"hill",7\ne,lake\nf,hill,121\n', encoding="utf-8")
    found = units(path)
    assert [unit.reference for unit in found if not unit.refused] == ["a", "f"]
    (swallowed, short) = [str(unit.refused) for unit in found if unit.refused]
    assert "in lines 3 to 5" in swallowed
    assert short == "2 cells, where the head has 3"


def test_a_number_with_an_underscore_is_none(tmp_path: Path) -> None:
    path = tmp_path / "fleet.csv"
    path.write_text("reference,l1_l2_disconnected\na,2_40\nb,240\n", encoding="utf-8")
    assert [unit.rows[0]["l1_l2_disconnected"] for unit in units(path)] == ["2_40", 240.0]


def test_columns_that_come_late_in_ndjson_are_known(tmp_path: Path) -> None:
    path = tmp_path / "fleet.ndjson"
    path.write_text('{"reference": "a"}\n{"reference": "b", "l1_n_idle": 120, "region": "lake"}\n', encoding="utf-8")
    assert list(columns_of(path)) == ["reference", "l1_n_idle", "region"]
    assert form_of(columns_of(path)) == "wide"


def test_numbers_with_units_pass_in_a_text_column(tmp_path: Path) -> None:
    path = tmp_path / "fleet.csv"
    path.write_text(
        "reference,reading,kind,conductor,other_conductor,value,meter,meter_kind,meter_input_impedance,load_state\n"
        'cabin 3,0,voltage,L1,L2,"243 V",dmm,voltmeter,"10 Mohm",disconnected\n',
        encoding="utf-8",
    )
    (unit,) = units(path)
    assert unit.rows[0]["value"] == "243 V"
    assert unit.rows[0]["reading"] == 0


def test_a_spreadsheet_of_the_wide_form_holds_numbers(tmp_path: Path) -> None:
    path = tmp_path / "fleet.csv"
    path.write_text(
        "reference,run_length,l1_l2_disconnected,l1_n_disconnected_low_impedance,meter_low_impedance,load_power_l1_n\n"
        'cabin 3,18.5,243,"7.5 V",3000,1500\n'
        "cabin 4,18 m,abc,,,\n"
        "cabin 5,.5, 0243.,,,1500\n",
        encoding="utf-8",
    )
    first, second, third = units(path)
    assert list(first.rows[0].values()) == ["cabin 3", 18.5, 243.0, "7.5 V", 3000.0, 1500.0]
    assert list(second.rows[0].values()) == ["cabin 4", "18 m", "abc", None, None, None]
    assert list(third.rows[0].values()) == ["cabin 5", 0.5, 243.0, None, None, 1500.0]


def test_a_mark_of_the_byte_order_is_none_of_the_first_line(tmp_path: Path) -> None:
    path = tmp_path / "fleet.ndjson"
    path.write_text("\n".join(json.dumps(row) for row in NESTED_ROWS[:2]), encoding="utf-8-sig")
    assert [unit.refused for unit in units(path)] == [None, None]


@pytest.mark.parametrize("form", ["nested", "long"])
def test_a_reference_may_be_a_whole_number(form: str) -> None:
    rows = NESTED_ROWS[:2] if form == "nested" else LONG_ROWS
    numbers = {name: n for n, name in enumerate(dict.fromkeys(row["reference"] for row in rows))}
    given = ((n, row | {"reference": numbers[row["reference"]]}, None) for n, row in enumerate(rows))
    assert [unit.reference for unit in units_of(given, form)] == [str(n) for n in numbers.values()]


def test_other_files_are_refused_by_name_or_content(tmp_path: Path) -> None:
    for name in ("fleet.xlsx", "fleet.parquet.gz", "fleet.gz"):
        with pytest.raises(ValueError, match="ends in none"):
            format_of(tmp_path / name)
    (tmp_path / "twice.csv").write_text("a,a\n1,2\n", encoding="utf-8")
    with pytest.raises(ValueError, match="twice"):
        columns_of(tmp_path / "twice.csv")
    with pytest.raises(OSError, match="no Parquet"):
        columns_of(tmp_path)
    with pytest.raises(OSError, match="No such file"):
        columns_of(tmp_path / "missing.parquet")


def answers() -> pa.Table:
    row: dict[str, Any] = {field.name: None for field in ASSESSED} | {
        "row": 3,
        "reference": 'café, "3"\nloft',
        "finding": "none_found",
        "finding_probability": 0.1 + 0.2,
        "open_neutral_would_show": True,
        "day": dt.date(2025, 3, 1),
    }
    return pa.Table.from_pylist([row, row | {"row": 4}], schema=pa.schema([*ASSESSED, pa.field("day", pa.date32())]))


WORDS = ["NULL", "n/a", "NA", "01", "1e5", "nan", "2025-06-03", "true", 'a,\n"b"']


@pytest.mark.parametrize("ending", ["csv", "csv.gz", "ndjson", "parquet"])
def test_words_of_ones_own_stay_as_they_are(tmp_path: Path, ending: str) -> None:
    """No word is taken for a null, a number, a truth or a date, whatever the format, also where rows were added."""
    rows = [dict.fromkeys(ASSESSED.names) | {"row": n, "reference": w, "region": w} for n, w in enumerate(WORDS)]
    table = pa.Table.from_pylist(rows, schema=pa.schema([pa.field("region", pa.string()), *ASSESSED]))
    path = tmp_path / f"out.{ending}"
    write_batches(path, table.schema, table.to_batches())
    write_batches(path, table.schema, table.to_batches(), add=True)
    back = assessments(path, ["region"]).sql("SELECT reference, region FROM assessed").fetchall()
    assert back == [(word, word) for word in WORDS * 2]


@pytest.mark.parametrize("ending", ["parquet", "csv", "ndjson"])
def test_assessments_come_back_from_every_format(tmp_path: Path, ending: str) -> None:
    table = answers()
    path = tmp_path / f"out.{ending}"
    write_batches(path, table.schema, table.to_batches(max_chunksize=1))
    back = assessments(path).table("assessed").to_arrow_table()
    assert back.select(ASSESSED.names).to_pylist() == table.select(ASSESSED.names).to_pylist()
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    with pytest.raises(ValueError, match="no column region"):
        assessments(path, ["region"])


def test_a_failed_write_leaves_nothing(tmp_path: Path) -> None:
    def broken() -> Any:
        yield from answers().to_batches()
        raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        write_batches(tmp_path / "out.parquet", answers().schema, broken())
    assert list(tmp_path.iterdir()) == []
