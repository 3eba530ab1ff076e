"""Assessments read back, a few columns at a time and batch by batch."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.json
import pyarrow.parquet

from feedproof.fleet.files import format_of
from feedproof.fleet.schema import ASSESSED


def read_columns(path: Path, columns: Sequence[str]) -> Iterator[pa.RecordBatch]:
    """Read columns of a file of assessments.

    Parameters
    ----------
    path : Path
        What `feedproof fleet` wrote, in any of its formats.
    columns : sequence of str
        Which; those that an assessment has come with its types, others as the file has them.

    Yields
    ------
    pyarrow.RecordBatch
        With these columns in this order.

    Raises
    ------
    ValueError
        If the file lacks one of them.
    """
    wanted = list(dict.fromkeys(columns))
    kinds = {name: ASSESSED.field(name).type for name in wanted if name in ASSESSED.names}
    for batch in _batches(path, kinds):
        lacking = [name for name in wanted if name not in batch.schema.names]
        if lacking:
            raise ValueError(f"{path}: no column {', '.join(lacking)}")
        table = pa.Table.from_batches([batch]).select(wanted)
        schema = pa.schema([pa.field(f.name, kinds.get(f.name, f.type)) for f in table.schema])
        yield from table.cast(schema).combine_chunks().to_batches()


def _batches(path: Path, kinds: dict[str, pa.DataType]) -> Iterator[pa.RecordBatch]:
    kind = format_of(path)
    if kind == "parquet":
        for file in sorted(path.rglob("*.parquet")) if path.is_dir() else [path]:
            with pyarrow.parquet.ParquetFile(file) as opened:
                yield from opened.iter_batches(batch_size=8192)
    elif kind == "csv":
        options = pyarrow.csv.ConvertOptions(
            column_types=kinds, strings_can_be_null=True, quoted_strings_can_be_null=True
        )
        yield from pyarrow.csv.open_csv(path, convert_options=options)
    else:
        schema = pa.schema([pa.field(name, kind) for name, kind in kinds.items()])
        parsed = pyarrow.json.ParseOptions(explicit_schema=schema)
        yield from pyarrow.json.open_json(path, parse_options=parsed)
