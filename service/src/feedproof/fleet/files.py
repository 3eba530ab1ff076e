"""Parquet, CSV and NDJSON, in and out, without ever holding a whole file.

CSV is the long form only, since a cell holds no list. In NDJSON each line is a request to the service (the nested form)
or a reading (the long form). What cannot even be read as a row is told as a refused one, and the rest goes on.
"""

import csv
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import msgspec
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from feedproof.door.documents import parse_document
from feedproof.errors import MalformedRequest
from feedproof.fleet.admission import Document, check_columns
from feedproof.fleet.batches import Assembler, Unit
from feedproof.fleet.ratebook import as_text
from feedproof.fleet.schema import LONG, form_of

SUFFIXES = {".parquet": "parquet", ".csv": "csv", ".ndjson": "ndjson", ".jsonl": "ndjson"}
"""Formats by the ending of a file's name."""
LONGEST_LINE = 4_000_000
"""An NDJSON line may have as many bytes as a request to the service may [1]."""
_ROWS = 512
_BYTES_OF_SET = 1500


def format_of(path: Path) -> str:
    """Format of a file by the ending of its name.

    Raises
    ------
    ValueError
        If it is none of those known.
    """
    if path.is_dir():
        return "parquet"
    try:
        return SUFFIXES[path.suffix.lower()]
    except KeyError:
        raise ValueError(f"{path}: the name ends in none of {', '.join(SUFFIXES)}") from None


class Source:
    """A file of reading sets, or a folder of Parquet files, read from front to end.

    Parameters
    ----------
    path : Path
        What to read.
    keep : sequence of str
        Columns to carry along.
    ignore : sequence of str
        Columns to leave unread.

    Raises
    ------
    ValueError
        If the columns are of neither form, or there are others that are neither kept nor ignored.
    OSError
        If it cannot be read.
    """

    def __init__(self, path: Path, keep: Iterable[str] = (), ignore: Iterable[str] = ()) -> None:
        self.path, self.format = path, format_of(path)
        self._ignore = frozenset(ignore)
        self._files = sorted(path.rglob("*.parquet")) if path.is_dir() else [path]
        if not self._files:
            raise ValueError(f"{path}: no Parquet file in it")
        self._done = 0
        kinds = self._columns()
        names = [name for name in kinds if name not in self._ignore]
        self.form = form_of(names)
        keep = list(keep)
        if self.format != "ndjson":
            check_columns(names, self.form, keep)
            missing = [name for name in keep if name not in names]
            if missing:
                raise ValueError(f"{path}: no column {', '.join(missing)} to keep")
        self.keep = pa.schema([pa.field(name, kinds.get(name, pa.string())) for name in keep])
        """Columns that are carried along, with their types; text in CSV and NDJSON."""
        self.size = self._size()

    @property
    def share(self) -> float:
        """How much of it has been read, 0 to 1 [1]."""
        return min(self._done / self.size, 1.0) if self.size else 1.0

    def sets(self) -> int:
        """About how many sets it holds: exact for the nested form in Parquet."""
        if self.format == "parquet":
            return self.size if self.form == "nested" else self.size // 4
        return max(1, self.size // (_BYTES_OF_SET if self.form == "nested" else _BYTES_OF_SET // 3))

    def units(self) -> Iterator[Unit]:
        """Give every reading set, in the order of the file, with the row that it begins at."""
        self._done = 0
        rows = {"parquet": self._parquet, "csv": self._csv, "ndjson": self._ndjson}[self.format]
        if self.form == "nested":
            for number, (document, problem) in enumerate(rows(), start=1):
                yield Unit(number, [document], problem)
            return
        assembler = Assembler()
        for number, (document, problem) in enumerate(rows(), start=1):
            if problem:
                # Whose row it was is not known: the set before it may lack it, and is not assessed without.
                cut = assembler.rest()
                if cut is not None:
                    yield cut._replace(refused=f"row {number}, which may belong to it, cannot be read")
                yield Unit(number, [document], problem)
                continue
            before = assembler.add(number, document)
            if before is not None:
                yield before
        last = assembler.rest()
        if last is not None:
            yield last

    # --- what the formats have of their own ----------------------------------------------------------------

    def _columns(self) -> dict[str, pa.DataType]:
        if self.format == "parquet":
            schemas = [pyarrow.parquet.read_schema(file) for file in self._files]
            if any(set(schema.names) != set(schemas[0].names) for schema in schemas):
                raise ValueError(f"{self.path}: its files differ in their columns")
            return {field.name: field.type for field in schemas[0]}
        if self.format == "csv":
            with self._text() as file:
                names = next(csv.reader(file), [])
            if len(set(names)) != len(names):
                raise ValueError(f"{self.path}: a column is named twice")
            return dict.fromkeys(names, pa.string())
        with self.path.open("rb") as file:
            first = file.readline(LONGEST_LINE)
            while first and not first.strip():
                first = file.readline(LONGEST_LINE)
        document, _ = _line(first)
        # A line that cannot be read is refused by itself; what form it should have had is then anyone's guess.
        return dict.fromkeys(document if "reading" in document else {"readings": 0} | document, pa.string())

    def _size(self) -> int:
        if self.format == "parquet":
            return sum(pyarrow.parquet.read_metadata(file).num_rows for file in self._files)
        return self.path.stat().st_size

    def _text(self) -> Any:  # noqa: ANN401
        return self.path.open(encoding="utf-8-sig", errors="surrogateescape", newline="")

    def _parquet(self) -> Iterator[tuple[Document, str | None]]:
        for path in self._files:
            with pyarrow.parquet.ParquetFile(path, pre_buffer=False) as file:
                names = [name for name in file.schema_arrow.names if name not in self._ignore]
                for batch in file.iter_batches(batch_size=_ROWS, columns=names, use_threads=False):
                    for document in batch.to_pylist():
                        self._done += 1
                        yield document, None

    def _csv(self) -> Iterator[tuple[Document, str | None]]:
        with self._text() as file:
            lines = csv.reader(file)
            names = next(lines)
            read = [_READ.get(str(LONG.field(name).type)) if name in LONG.names else None for name in names]
            while True:
                try:
                    cells = next(lines)
                except StopIteration:
                    return
                except csv.Error as error:
                    yield {}, f"not a row of CSV: {error}"
                    continue
                self._done = file.buffer.tell()
                if not cells:
                    continue
                document = {
                    name: None if text == "" else text if convert is None else convert(text)
                    for name, text, convert in zip(names, cells, read, strict=False)
                    if name not in self._ignore
                }
                problem = None
                if len(cells) != len(names):
                    problem = f"{len(cells)} cells, where the head has {len(names)}"
                elif any("\udc80" <= mark <= "\udcff" for text in cells for mark in text):
                    problem, document = "not UTF-8", {}
                yield document, problem

    def _ndjson(self) -> Iterator[tuple[Document, str | None]]:
        keep = frozenset(self.keep.names)
        with self.path.open("rb") as file:
            while line := file.readline(LONGEST_LINE + 1):
                self._done += len(line)
                if len(line) > LONGEST_LINE:
                    while line and not line.endswith(b"\n"):
                        line = file.readline(LONGEST_LINE)
                        self._done += len(line)
                    yield {}, f"longer than {LONGEST_LINE} bytes"
                elif line.strip():
                    document, problem = _line(line)
                    found = {name: value for name, value in document.items() if name not in self._ignore}
                    yield found | {name: as_text(found.get(name)) for name in keep}, problem


def _line(line: bytes) -> tuple[Document, str | None]:
    try:
        document = parse_document(line)
    except MalformedRequest as error:
        return {}, str(error)
    return (document, None) if isinstance(document, dict) else ({}, "not a JSON object")


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _whole(text: str) -> int | str:
    try:
        return int(text)
    except ValueError:
        return text


def _truth(text: str) -> bool | str:
    return {"true": True, "1": True, "false": False, "0": False}.get(text.lower(), text)


_READ: Mapping[str, Callable[[str], object]] = {"double": _number, "int64": _whole, "bool": _truth}


class Sink:
    """A file of record batches of one schema; it appears under its name when all has been written.

    Parameters
    ----------
    path : Path
        Where; its ending says in which format.
    schema : pyarrow.Schema
        Columns.
    """

    def __init__(self, path: Path, schema: pa.Schema) -> None:
        self.path, self._format = path, format_of(path)
        self._temporary = path.with_name(f".{path.name}.unfinished")
        self._writer: Any = None
        if self._format == "parquet":
            self._writer = pyarrow.parquet.ParquetWriter(self._temporary, schema, compression="zstd")
        elif self._format == "csv":
            self._writer = pyarrow.csv.CSVWriter(self._temporary, schema)
        else:
            self._writer = self._temporary.open("wb")

    def write(self, batch: pa.RecordBatch) -> None:
        """Add rows."""
        if self._format == "ndjson":
            for row in batch.to_pylist():
                self._writer.write(msgspec.json.encode(row, enc_hook=str) + b"\n")
        else:
            self._writer.write_batch(batch)

    def close(self) -> None:
        """Finish the file and give it its name."""
        self._writer.close()
        with self._temporary.open("rb") as file:
            os.fsync(file.fileno())
        self._temporary.replace(self.path)

    def abandon(self) -> None:
        """Leave nothing behind."""
        self._writer.close()
        self._temporary.unlink(missing_ok=True)


def write_batches(path: Path, schema: pa.Schema, batches: Iterable[pa.RecordBatch]) -> None:
    """Write record batches to a file, or nothing.

    Parameters
    ----------
    path : Path
        Where; its ending says in which format.
    schema : pyarrow.Schema
        Columns.
    batches : iterable of pyarrow.RecordBatch
        Rows.
    """
    sink = Sink(path, schema)
    try:
        for batch in batches:
            sink.write(batch)
    except BaseException:
        sink.abandon()
        raise
    sink.close()
