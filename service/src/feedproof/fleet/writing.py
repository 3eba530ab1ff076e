"""Files that a run writes, each whole or not at all, and never over what it reads.

Formats and places are those of `feedproof.fleet.files`.
"""

import io
import os
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import msgspec
import pyarrow as pa
import pyarrow.csv
import pyarrow.fs
import pyarrow.parquet

from feedproof.faults.priors import MODEL_VERSION
from feedproof.fleet.files import (
    LONGEST_LINE,
    PACKED,
    Location,
    columns_of,
    exists,
    file_system,
    format_of,
    is_folder,
    open_input,
    place,
)
from feedproof.fleet.job import Job
from feedproof.fleet.pool import REJECTS
from feedproof.fleet.tables import assessments


def check_targets(job: Job, schema: pa.Schema) -> None:
    """Refuse, before anything is computed, what could not be written, or would destroy what is there."""
    source, *targets = places = [place(location) for location in (job.source, job.target, job.rejects)]
    if len(set(places)) < len(places) or any(source in target.parents for target in targets):
        raise ValueError("IN, OUT and the file of rejects must be three, and no file that is written may lie within IN")
    for target, columns in ((job.target, schema), (job.rejects, REJECTS)):
        _check_writable(target, columns)
        if not exists(target):
            continue
        if not (job.overwrite or job.append):
            raise ValueError(f"{target} is already there; --overwrite replaces it, and --append adds to it")
        if job.append:
            _check_addition(target, columns)
    if job.append and exists(job.target):
        asked = "SELECT DISTINCT model_version FROM counted WHERE model_version IS NOT NULL"
        if {model for (model,) in assessments(job.target).sql(asked).fetchall()} - {MODEL_VERSION}:
            raise ValueError(f"{job.target}: made with another model; assess all of it anew")


def _check_addition(target: str, columns: pa.Schema) -> None:
    if "://" in target:
        raise ValueError(f"{target}: only to a file of this machine can be added")
    # NDJSON without a line has no columns.
    there = columns_of(target) or (dict.fromkeys(columns.names) if format_of(target) == "ndjson" else {})
    typed = format_of(target) == "parquet"
    other = [field.name for field in columns if typed and there.get(field.name) != field.type]
    if list(there) != columns.names or other:
        raise ValueError(f"{target}: made with other columns, or of other types ({', '.join(other)})")


def write_batches(
    location: Location, schema: pa.Schema, batches: Iterable[pa.RecordBatch], *, add: bool = False
) -> None:
    """Write record batches to a file that appears under its name when all is written, or not at all.

    Parameters
    ----------
    location : str or Path
        Where; its ending says in which format. Folders that are missing are made.
    schema : pyarrow.Schema
        Columns.
    batches : iterable of pyarrow.RecordBatch
        Rows.
    add : bool
        Add to the file that is there. Of text every byte of it stays as it is.
    """
    kind = format_of(location)
    system, path = file_system(location)
    here = isinstance(system, pyarrow.fs.LocalFileSystem)
    # An object store shows a file only when it is whole.
    written = f"{Path(path).with_name(f'.{Path(path).name}.unfinished')}" if here else path
    if here:
        Path(path).parent.mkdir(parents=True, exist_ok=True)
    try:
        with system.open_output_stream(written, compression=PACKED.get(Path(path).suffix.lower())) as file:
            if add and kind == "parquet":
                batches = chain(_batches(location, schema), batches)
            elif add:
                _copy(location, file)
            _fill(file, kind, schema, batches, head=not add)
    except BaseException:
        if exists(written):
            system.delete_file(written)
        raise
    if here:
        with Path(written).open("rb") as whole:
            os.fsync(whole.fileno())
        Path(written).replace(path)


def _fill(file: Any, kind: str, schema: pa.Schema, batches: Iterable[pa.RecordBatch], *, head: bool) -> None:  # noqa: ANN401
    if kind == "ndjson":
        for batch in batches:
            for row in batch.to_pylist():
                file.write(msgspec.json.encode(row, enc_hook=str) + b"\n")
        return
    with _writer(kind, file, schema, head=head) as writer:
        for batch in batches:
            writer.write_batch(batch)


def _batches(location: Location, schema: pa.Schema) -> Iterator[pa.RecordBatch]:
    with open_input(location) as opened, pyarrow.parquet.ParquetFile(opened) as file:
        yield from (batch.cast(schema) for batch in file.iter_batches())


def _copy(location: Location, file: Any) -> None:  # noqa: ANN401
    last = b""
    with open_input(location) as there:
        while block := there.read(LONGEST_LINE):
            file.write(block)
            last = block
    if last and not last.endswith(b"\n"):
        file.write(b"\n")


def _check_writable(location: Location, schema: pa.Schema) -> None:
    """Refuse a place that is a folder, or a format that does not take some column.

    Raises
    ------
    ValueError
        With what it does not take.
    """
    if is_folder(location):
        raise ValueError(f"{location} is a folder; name a file")
    if format_of(location) == "ndjson":
        return
    try:
        with _writer(format_of(location), io.BytesIO(), schema):
            pass
    except pa.ArrowException as error:
        raise ValueError(f"{location}: a column that is kept cannot be written in this format ({error})") from None


def _writer(kind: str, file: Any, schema: pa.Schema, *, head: bool = True) -> Any:  # noqa: ANN401
    if kind == "parquet":
        return pyarrow.parquet.ParquetWriter(file, schema, compression="zstd")
    return pyarrow.csv.CSVWriter(file, schema, write_options=pyarrow.csv.WriteOptions(include_header=head))
