"""Assessments as tables: read back for SQL, and counted into tables of their own."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
from msgspec import Struct

from feedproof.advice.wording import rounded
from feedproof.fleet.files import columns_of, files_of, format_of, open_input, read_rows
from feedproof.fleet.ratebook import as_text
from feedproof.fleet.schema import ASSESSED, check_alike

_SAME = ("layout", "finding", "finding_log_evidence", "supply_fault_probability", "reference_voltage")
_AT_ONCE = 2048
#: Significant digits of a share, a factor or an offset.
_DIGITS = 4

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
        If a column is missing, names differ in their case only, or the file is no table.
    """
    base = duckdb.connect()
    # Times with a zone become those of UTC, whatever the machine's own is.
    base.execute("SET TimeZone = 'UTC'")
    file = source if isinstance(source, str | Path) else None
    names = list(pa.table(source).column_names if file is None else columns_of(file))
    wanted = list(dict.fromkeys([*ASSESSED.names, *own]))
    # NDJSON without a line has no columns, and lacks none.
    empty = not names and file is not None and format_of(file) == "ndjson"
    lacking = [] if empty else sorted(set(wanted) - set(names))
    if lacking:
        raise ValueError(f"{file or 'data'}: no column {', '.join(lacking)}")
    check_alike(names)
    if file is None:
        base.register("given", pa.table(source).select(wanted))
    elif format_of(file) == "parquet" and "://" not in str(file):
        base.read_parquet(files_of(file)).create_view("given")
    else:
        base.register("read", _stream(file, wanted))
        base.execute("CREATE TABLE given AS FROM read")
    # Other columns of the caller's are left behind: one named as a column of a query would take its place.
    base.execute(f"CREATE VIEW assessed AS SELECT {', '.join(map(quoted, wanted))} FROM given")
    base.execute(
        "CREATE VIEW counted AS SELECT * FROM assessed WHERE refused IS NULL QUALIFY reference IS NULL OR row_number()"
        f" OVER (PARTITION BY reference, {', '.join(_SAME)} ORDER BY row) = 1"
    )
    return base


def digits(value: float) -> float:
    """A number as tables give it."""
    return rounded(value, _DIGITS)


def quoted(name: str) -> str:
    """A column's name as SQL takes it, whatever it holds."""
    return '"' + name.replace('"', '""') + '"'


def _stream(source: str | Path, wanted: list[str]) -> pa.RecordBatchReader:
    """Rows of a file; in CSV and NDJSON columns beside those of an assessment are text, as they stand there."""
    kind = format_of(source)
    if kind == "parquet":
        tables = (pyarrow.parquet.read_table(open_input(each), columns=wanted) for each in files_of(source))
        return pa.concat_tables(tables).to_reader()
    schema = pa.schema(
        [ASSESSED.field(name) if name in ASSESSED.names else pa.field(name, pa.string()) for name in wanted]
    )
    if kind == "csv":
        options = pyarrow.csv.ConvertOptions(
            column_types=schema,
            include_columns=wanted,
            null_values=[""],
            strings_can_be_null=True,
            quoted_strings_can_be_null=True,
        )
        parsing = pyarrow.csv.ParseOptions(newlines_in_values=True)
        return pyarrow.csv.open_csv(open_input(source), parse_options=parsing, convert_options=options)
    return pa.RecordBatchReader.from_batches(schema, _lines(source, schema))


def _lines(source: str | Path, schema: pa.Schema) -> Iterator[pa.RecordBatch]:
    rows = read_rows(source)
    while some := list(islice(rows, _AT_ONCE)):
        for row, _, problem in some:
            if problem:
                raise ValueError(f"{source}: row {row}: {problem}")
        cells = [
            {name: cell if name in ASSESSED.names else as_text(cell) for name, cell in document.items()}
            for _, document, _ in some
        ]
        yield pa.RecordBatch.from_pylist(cells, schema=schema)
