"""Assessments as tables: read back for SQL, and counted into tables of their own."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.csv
import pyarrow.json
import pyarrow.parquet
from msgspec import Struct

from feedproof.fleet.files import files_of, format_of, open_input
from feedproof.fleet.schema import ASSESSED

_SAME = ("layout", "finding", "finding_log_evidence", "supply_fault_probability", "reference_voltage")

Cell = str | float | int | None


class Table(Struct, frozen=True, kw_only=True):
    """A table of a report."""

    name: str
    title: str
    note: str
    """What it says, and what it does not."""
    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]]

    def to_arrow(self) -> pa.Table:
        """As an Arrow table, which pandas, Polars and DuckDB take as it is."""
        return pa.Table.from_pylist([dict(zip(self.columns, row, strict=True)) for row in self.rows])


def table_of(
    base: duckdb.DuckDBPyConnection, sql: str, parameters: Mapping[str, object] | None = None, **told: str
) -> Table:
    """What a query gives, under the names of its columns; `told` are name, title and note."""
    found = base.sql(sql, params=parameters or {})
    return Table(columns=tuple(found.columns), rows=found.fetchall(), **told)


def assessments(source: object, own: Sequence[str] = ()) -> duckdb.DuckDBPyConnection:
    """A database with a view `assessed` of all rows, and `counted` of those to count.

    Refused rows are not counted, and rows that are the same visit twice, by reference and by all that was read, once.

    Parameters
    ----------
    source : Path, str, or Arrow data
        What `feedproof fleet` wrote, in any of its formats, or a data frame that gives itself as an Arrow stream.
    own : sequence of str
        Columns beside those of an assessment that it must have.

    Returns
    -------
    duckdb.DuckDBPyConnection
        In memory; large intermediate results go to disk.

    Raises
    ------
    ValueError
        If a column is missing, or the file is no table.
    """
    base = duckdb.connect()
    if not isinstance(source, str | Path):
        base.register("assessed", pa.table(source))
    elif format_of(source) == "parquet" and "://" not in str(source):
        base.read_parquet(files_of(source)).create_view("assessed")
    else:
        base.register("read", pa.RecordBatchReader.from_batches(*_stream(source)))
        base.execute("CREATE TABLE assessed AS SELECT * FROM read")
    lacking = sorted({*ASSESSED.names, *own} - set(base.table("assessed").columns))
    if lacking:
        raise ValueError(f"{source if isinstance(source, str | Path) else 'data'}: no column {', '.join(lacking)}")
    base.execute(
        "CREATE VIEW counted AS SELECT * FROM assessed WHERE refused IS NULL QUALIFY reference IS NULL OR row_number()"
        f" OVER (PARTITION BY reference, {', '.join(_SAME)} ORDER BY row) = 1"
    )
    return base


def quoted(name: str) -> str:
    """A column's name as SQL takes it, whatever it holds."""
    return '"' + name.replace('"', '""') + '"'


def _stream(source: str | Path) -> tuple[pa.Schema, Iterator[pa.RecordBatch]]:
    kinds = {field.name: field.type for field in ASSESSED}
    reader: Any
    if format_of(source) == "parquet":
        reader = pa.concat_tables(pyarrow.parquet.read_table(open_input(each)) for each in files_of(source)).to_reader()
    elif format_of(source) == "csv":
        options = pyarrow.csv.ConvertOptions(
            column_types=kinds, strings_can_be_null=True, quoted_strings_can_be_null=True
        )
        reader = pyarrow.csv.open_csv(open_input(source), convert_options=options)
    else:
        stated = pyarrow.json.ParseOptions(explicit_schema=pa.schema(list(ASSESSED)))
        reader = pyarrow.json.open_json(open_input(source), parse_options=stated)
    return reader.schema, iter(reader)
