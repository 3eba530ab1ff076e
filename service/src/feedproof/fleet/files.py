"""Parquet, CSV and NDJSON, on this machine or in an object store, packed or not, without ever holding a whole file.

A location is a path, or an address that pyarrow reaches: `s3://bucket/visits.csv.gz`, `gs://...`, `abfs://...`, and as
`fsspec+sftp://...` what fsspec has, where that is installed. What cannot even be read as a row is told as a
refused one, and the rest goes on.
"""

import codecs
import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import count
from pathlib import Path
from typing import Any

import msgspec
import pyarrow as pa
import pyarrow.csv
import pyarrow.fs
import pyarrow.parquet

from feedproof.errors import MalformedRequest
from feedproof.fleet.admission import Document
from feedproof.fleet.schema import LONG, WIDE, WIDE_READING, plain, plainly
from feedproof.parsing.documents import parse_document

Location = str | Path

SUFFIXES = {".parquet": "parquet", ".csv": "csv", ".ndjson": "ndjson", ".jsonl": "ndjson"}
"""Formats by the ending of a file's name."""
PACKED = {".gz": "gzip", ".zst": "zstd"}
"""Compression by what follows that ending, for CSV and NDJSON; Parquet has its own within."""
LONGEST_LINE = 4_000_000
"""Longest NDJSON line that is read [byte]: beside a reading set it may have columns to keep."""
_ROWS = 512


def format_of(location: Location) -> str:
    """Format of a file by the ending of its name; a folder holds Parquet files.

    Raises
    ------
    ValueError
        If it is none of those known.
    """
    name = Path(str(location))
    packed = name.suffix.lower() in PACKED
    found = SUFFIXES.get((name.with_suffix("") if packed else name).suffix.lower())
    if found is not None and not (packed and found == "parquet"):
        return found
    if is_folder(location):
        return "parquet"
    raise ValueError(
        f"{location}: the name ends in none of {', '.join(SUFFIXES)}; CSV and NDJSON may be followed by"
        f" {' or '.join(PACKED)}"
    )


def file_system(location: Location) -> tuple[pyarrow.fs.FileSystem, str]:
    """File system, and the path in it."""
    text = str(location)
    if "://" not in text:
        return pyarrow.fs.LocalFileSystem(), text
    try:
        return pyarrow.fs.FileSystem.from_uri(text)
    except ImportError as error:
        raise ValueError(f"{text}: {error}") from None


def _information(location: Location) -> pyarrow.fs.FileInfo:
    system, path = file_system(location)
    found: pyarrow.fs.FileInfo = system.get_file_info(path)
    return found


def place(location: Location) -> Path:
    """Where a location lies, however it is spelled: the same for the same file or folder."""
    system, path = file_system(location)
    return Path(path).resolve() if isinstance(system, pyarrow.fs.LocalFileSystem) else Path(system.type_name, path)


def is_folder(location: Location) -> bool:
    """Whether a folder is there."""
    return bool(_information(location).type == pyarrow.fs.FileType.Directory)


def exists(location: Location) -> bool:
    """Whether something is there already."""
    return bool(_information(location).type != pyarrow.fs.FileType.NotFound)


def files_of(location: Location) -> list[str]:
    """The file itself, or the Parquet files of a folder in the order of their names.

    Raises
    ------
    OSError
        If there is none.
    """
    found = _information(location)
    if found.type == pyarrow.fs.FileType.NotFound:
        raise FileNotFoundError(f"No such file: {location}")
    if found.type != pyarrow.fs.FileType.Directory:
        return [str(location)]
    system, path = file_system(location)
    inside = system.get_file_info(pyarrow.fs.FileSelector(path, recursive=True))
    start = str(location).removesuffix(path)
    names = sorted(start + entry.path for entry in inside if entry.path.endswith(".parquet"))
    if not names:
        raise FileNotFoundError(f"{location}: no Parquet file in it")
    return names


def identity(location: Location) -> list[list[object]]:
    """What tells an input from another: names, sizes and times of change."""
    found = [(name, _information(name)) for name in files_of(location)]
    return [[Path(name).name, entry.size, entry.mtime_ns] for name, entry in found]


def open_input(location: Location) -> Any:  # noqa: ANN401
    """A file to read bytes from, unpacked on the way."""
    system, path = file_system(location)
    packing = PACKED.get(Path(path).suffix.lower())
    return system.open_input_stream(path, compression=packing) if packing else system.open_input_file(path)


def columns_of(location: Location) -> dict[str, pa.DataType]:
    """Columns and their types, text in CSV and NDJSON; of NDJSON, all that any line has.

    Raises
    ------
    ValueError
        If a column is named twice, or files of one folder differ in theirs.
    """
    kind = format_of(location)
    if kind == "parquet":
        schemas = []
        for name in files_of(location):
            with open_input(name) as file:
                schemas.append(pyarrow.parquet.read_schema(file))
        if any(set(schema.names) != set(schemas[0].names) for schema in schemas):
            raise ValueError(f"{location}: its files differ in their columns")
        return {field.name: plain(field.type) for field in schemas[0]}
    if kind == "csv":
        with _text(location) as file:
            names = next(csv.reader(file), [])
        if len(set(names)) != len(names):
            raise ValueError(f"{location}: a column is named twice")
        return dict.fromkeys(names, pa.string())
    return dict.fromkeys((name for _, document, _ in _ndjson(location) for name in document), pa.string())


def read_rows(location: Location, ignore: Iterable[str] = ()) -> Iterator[tuple[int, Document, str | None]]:
    """Rows in the order of the file.

    Parameters
    ----------
    location : str or Path
        What to read.
    ignore : iterable of str
        Columns to leave unread.

    Yields
    ------
    row : int
        Its number, from 1; of NDJSON the line's, of CSV without the head.
    document : dict
        By column.
    problem : str or None
        Why it cannot be read.
    """
    left = frozenset(ignore)
    read = {"parquet": _parquet, "csv": _csv, "ndjson": _ndjson}[format_of(location)]
    for row, document, problem in read(location):
        yield row, {name: value for name, value in document.items() if name not in left}, problem


def _text(location: Location) -> io.TextIOWrapper:
    return io.TextIOWrapper(open_input(location), encoding="utf-8-sig", errors="surrogateescape", newline="")


def _parquet(location: Location) -> Iterator[tuple[int, Document, str | None]]:
    row = count(1)
    for name in files_of(location):
        with open_input(name) as opened, pyarrow.parquet.ParquetFile(opened, pre_buffer=False) as file:
            for batch in file.iter_batches(batch_size=_ROWS, use_threads=False):
                yield from ((next(row), document, None) for document in plainly(batch).to_pylist())


def _csv(location: Location) -> Iterator[tuple[int, Document, str | None]]:
    with _text(location) as file:
        # Strict, so that a quote that is not closed is told, and does not take the next rows into its cell.
        lines = csv.reader(file, strict=True)
        names = next(lines, [])
        read = [_read(name) for name in names]
        for row in count(1):
            before = lines.line_num
            try:
                cells = next(lines)
            except StopIteration:
                return
            except csv.Error as error:
                yield row, {}, f"not a row of CSV, in lines {before + 1} to {lines.line_num} of the file: {error}"
                continue
            document = {
                name: None if text == "" else convert(text)
                for name, text, convert in zip(names, cells, read, strict=False)
            }
            if any("\udc80" <= mark <= "\udcff" for text in cells for mark in text):
                yield row, {}, "not UTF-8"
            elif cells:
                fits = len(cells) == len(names)
                yield row, document, None if fits else f"{len(cells)} cells, where the head has {len(names)}"


def _ndjson(location: Location) -> Iterator[tuple[int, Document, str | None]]:
    with io.BufferedReader(open_input(location)) as file:
        row = 0
        while line := file.readline(LONGEST_LINE + 1):
            row += 1
            line = line.removeprefix(codecs.BOM_UTF8) if row == 1 else line
            if len(line) > LONGEST_LINE:
                while line and not line.endswith(b"\n"):
                    line = file.readline(LONGEST_LINE)
                yield row, {}, f"longer than {LONGEST_LINE} bytes"
            elif line.strip():
                yield row, *_line(line)


def _line(line: bytes) -> tuple[Document, str | None]:
    try:
        document = parse_document(line)
        # JSON allows whole numbers of any length, and halves of characters: no table holds them.
        msgspec.msgpack.encode(document)
    except MalformedRequest as error:
        return {}, str(error)
    except (OverflowError, UnicodeEncodeError) as error:
        return {}, f"what no table can hold: {error}"
    return (document, None) if isinstance(document, dict) else ({}, "not a JSON object")


_TRUTHS = {"true": True, "1": True, "false": False, "0": False}
_READ: Mapping[pa.DataType, Callable[[str], object]] = {
    pa.float64(): float,
    pa.int64(): int,
    pa.bool_(): lambda text: _TRUTHS[text.lower()],
}


def _read(name: str) -> Callable[[str], object]:
    """What reads a cell of a column; a text that it cannot read is left to the parsing."""
    form = LONG if name in LONG.names else WIDE
    own = form.field(name).type if name in form.names else pa.string()
    convert = _READ.get(pa.float64() if WIDE_READING.fullmatch(name) else own, str)

    def read(text: str) -> object:
        try:
            # Python takes 2_40 for a number.
            return text if "_" in text else convert(text)
        except (ValueError, KeyError):
            return text

    return read
