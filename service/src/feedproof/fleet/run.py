"""Whole files over all cores: in chunks, each written down when it is done, so that a stopped run can go on.

First the file is read from front to end and put down as reading sets, in chunks that hang on nothing but the file; what
cannot be read, and what is not asked for, is settled there. Then a pool of processes assesses the chunks, each of which
writes the one that it has done under its number. When all are there, they are joined in order. A run that is stopped,
by whatever means, leaves whole chunks; the same command then does the others. So none is lost and none comes twice, and
the file that comes out is the same to the byte whatever the number of processes.
"""

import hashlib
import json
import shutil
import time
import warnings
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import BinaryIO

import duckdb
import msgspec
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet
from msgspec import Struct

from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.fleet.admission import check_columns
from feedproof.fleet.batches import APART, Unit, units_of
from feedproof.fleet.files import columns_of, exists, format_of, identity, read_rows
from feedproof.fleet.job import Job
from feedproof.fleet.pool import DOCUMENTS, OF_SETS, REJECTS, SETS, assess_all, done_of, refused_of
from feedproof.fleet.progress import Progress
from feedproof.fleet.ratebook import Ratebook, as_text
from feedproof.fleet.schema import assessed, form_of, others
from feedproof.fleet.store import Store, check_store
from feedproof.fleet.tables import assessments
from feedproof.fleet.writing import check_targets, write_batches

CHUNK = 64
"""Sets that a process takes at a time, and that are lost at most when it dies."""
_CHUNKS_OF_GROUP = 128
_AT_ONCE = 2048
_TOLD_GROUPS = 10
_ENCODER = msgspec.msgpack.Encoder(decimal_format="number")


class Summary(Struct, frozen=True, kw_only=True):
    """How a run went."""

    sets: int
    """Sets asked for, the refused ones among them."""
    refused: int
    resumed: int
    """Sets that an earlier run had done."""
    computed: int
    """Sets whose answer this run has computed; that of the others was there."""
    seconds: float
    """Of this run [s]."""


def run(job: Job, progress: Progress | None = None) -> Summary:
    """Assess a file.

    Parameters
    ----------
    job : Job
        What to assess.
    progress : Progress, optional
        Told how far the run is.

    Returns
    -------
    Summary
        How it went.

    Raises
    ------
    ValueError
        If the file cannot be read as reading sets, something is there already, or what an earlier run left does not
        belong to this job.
    OSError
        If a file cannot be read or written.
    Unfinished
        If more sets were refused than is allowed, or workers died again and again. The same job goes on from there, as
        it does after an interruption.
    """
    start = time.monotonic()
    form, keep = _columns(job)
    check_targets(job, assessed(keep))
    if job.store is not None:
        check_store(job.answers)
    job.parts.mkdir(parents=True, exist_ok=True)
    with (job.parts / "lock").open("wb") as lock:
        _hold(lock, job.parts)
        sets, told = job.parts / SETS, _fingerprint(job)
        if not sets.exists():
            _prepare(sets, job, form, keep, told)
        counts = _chunk_sizes(sets, told)
        if job.rates is not None:
            _tell_strangers(sets, job.rates)
        resumed = sum(count for index, count in enumerate(counts) if job.part(index).exists())
        if progress is not None:
            progress.show(resumed, sum(counts))
        if job.store is None:
            check_store(job.answers)
        computed = assess_all(job, form, counts, progress)
        Store(job.answers).close()
        refused = _join(job, assessed(keep))
    shutil.rmtree(job.parts)
    return Summary(
        sets=sum(counts), refused=refused, resumed=resumed, computed=computed, seconds=time.monotonic() - start
    )


# --- what is there --------------------------------------------------------------------------------------------


def _columns(job: Job) -> tuple[str, pa.Schema]:
    """Form of the source, and the columns to keep with their types."""
    kinds = {name: kind for name, kind in columns_of(job.source).items() if name not in job.ignore}
    lines = format_of(job.source) == "ndjson"
    try:
        form = form_of(kinds)
    except ValueError:
        if not lines:
            raise
        # The form cannot be told from broken lines: each is then refused by itself.
        form = "nested"
    grouping = job.rates.by if job.rates else []
    keep = list(dict.fromkeys([*(others(kinds, form) if "*" in job.keep else job.keep), *grouping]))
    if not lines:
        check_columns(kinds, form, keep)
    missing = [name for name in keep if name not in kinds]
    if missing and kinds:
        raise ValueError(f"{job.source}: no column {', '.join(missing)} to keep")
    return form, pa.schema([pa.field(name, kinds.get(name, pa.string())) for name in keep])


def _hold(lock: BinaryIO, parts: Path) -> None:
    """Make sure that no other run works on the same parts; the system lets go when this process ends."""
    try:
        import fcntl  # noqa: PLC0415 - not there on every system
    except ImportError:
        return
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise ValueError(f"another run is at work on {parts}") from None


def _fingerprint(job: Job) -> dict[str, object]:
    """What tells a job from another, to be found again in what it has put down."""
    return {
        **{name: getattr(job, name) for name in ("where", "sample")},
        **{name: list(getattr(job, name)) for name in ("keep", "ignore")},
        "input": identity(job.source),
        "append": identity(job.target) if job.append and exists(job.target) else None,
        "base_rates": None if job.rates is None else hashlib.sha256(msgspec.json.encode(job.rates)).hexdigest(),
        "model": [MODEL_VERSION, priors_digest()],
        "columns": assessed().names,
    }


def _chunk_sizes(sets: Path, told: dict[str, object]) -> list[int]:
    """Sets in each chunk of what has been put down, which must be of this job."""
    held = pyarrow.parquet.read_metadata(sets)
    before = json.loads((held.schema.to_arrow_schema().metadata or {})[b"job"])
    changed = ", ".join(name for name, value in told.items() if before.get(name) != value)
    if changed:
        raise ValueError(f"{sets.parent} is from another run ({changed} differs); remove it to begin anew")
    return [held.row_group(index).num_rows for index in range(held.num_row_groups)]


# --- reading --------------------------------------------------------------------------------------------------


def _prepare(sets: Path, job: Job, form: str, keep: pa.Schema, told: dict[str, object]) -> None:
    """Put down the reading sets that are asked for, a row group for each chunk.

    All are written first, and then chosen in SQL: only then it is known whose rows stand apart.
    """
    schema = pa.schema([*keep, *OF_SETS.items()], metadata={"job": json.dumps(told)})
    text = format_of(job.source) == "ndjson"
    units = units_of(read_rows(job.source, job.ignore), form)
    every, temporary = sets.with_suffix(".all"), sets.with_suffix(".unfinished")
    with pyarrow.parquet.ParquetWriter(every, schema, compression="zstd") as writer:
        while some := list(islice(units, _AT_ONCE)):
            rows = [_put_down(unit, keep.names, text=text) for unit in some]
            writer.write_batch(pa.RecordBatch.from_pylist(rows, schema=schema))
    chosen = _chosen(every, job, form)
    asked, why = chosen.column("row").to_numpy(), chosen.column("refused").combine_chunks()
    with pyarrow.parquet.ParquetFile(every) as file, pyarrow.parquet.ParquetWriter(temporary, schema) as writer:
        for batch in file.iter_batches(_AT_ONCE):
            at = np.searchsorted(asked, batch.column("row").to_numpy())
            found = np.flatnonzero(np.append(asked, -1)[at] == batch.column("row").to_numpy())
            kept = pa.Table.from_batches([batch]).take(found)
            kept = kept.set_column(
                schema.get_field_index("refused"), "refused", why.take(pa.array(at[found], pa.int64()))
            )
            writer.write_table(kept, row_group_size=CHUNK)
    temporary.replace(sets)
    every.unlink()


def _chosen(every: Path, job: Job, form: str) -> pa.Table:
    """Rows of the sets that are asked for, in order, and why those are refused that are."""
    base = duckdb.connect()
    base.read_parquet(str(every)).create_view("every")
    base.execute("CREATE TABLE known (reference VARCHAR)")
    if job.append and exists(job.target):
        base.register("there", assessments(job.target).sql("SELECT DISTINCT reference FROM assessed").to_arrow_table())
        base.execute("INSERT INTO known FROM there WHERE reference IS NOT NULL")
    try:
        # The condition stands where nothing but the caller's own columns and ours can be meant.
        found: pa.Table = base.sql(
            f"WITH meant AS (SELECT row FROM every WHERE ({job.where or 'true'}) OR refused IS NOT NULL),"
            " place AS (SELECT min(row) AS row, count(*) AS places FROM every"
            f" GROUP BY {'reference, ' if form == 'long' else ''} CASE WHEN reference IS NULL OR {form != 'long'}"
            " THEN row END) SELECT row, CASE WHEN place.places > 1 THEN"
            f" '{APART}; they stand at ' || place.places || ' places' ELSE refused END AS refused"
            " FROM every JOIN place USING (row) SEMI JOIN meant USING (row) WHERE"
            " md5_number_lower(coalesce(reference, CAST(row AS VARCHAR))) / 18446744073709551616 < $share"
            " AND NOT coalesce(reference IN (FROM known), false) ORDER BY row",
            params={"share": job.sample},
        ).to_arrow_table()
    except duckdb.Error as error:
        raise ValueError(f"--where {job.where}: {error}") from None
    return found


def _put_down(unit: Unit, keep: list[str], *, text: bool) -> dict[str, object]:
    first = unit.rows[0]
    kept = {name: as_text(first.get(name)) if text else first.get(name) for name in keep}
    rows = [{name: value for name, value in row.items() if name not in kept} for row in unit.rows]
    return kept | {
        "row": unit.row,
        "reference": unit.reference,
        "refused": unit.refused,
        DOCUMENTS: _ENCODER.encode(rows),
    }


def _tell_strangers(sets: Path, rates: Ratebook) -> None:
    """Warn of groups that have no base rates of their own."""
    rows = pyarrow.parquet.read_table(sets, columns=rates.by).to_pylist() if rates.by else []
    groups = {tuple(as_text(row[name]) for name in rates.by): row for row in rows}
    unknown = [", ".join(map(str, group)) for group, row in groups.items() if rates.own(row) is None]
    if unknown:
        told = "; ".join(sorted(unknown)[:_TOLD_GROUPS])
        warnings.warn(
            f"{len(unknown)} groups of {', '.join(rates.by)} have no base rates of their own and take those of all:"
            f" {told}",
            stacklevel=2,
        )


# --- joining --------------------------------------------------------------------------------------------------


def _join(job: Job, schema: pa.Schema) -> int:
    """Put the chunks together in order; gives the number of refused sets."""

    def good() -> Iterator[pa.RecordBatch]:
        chunks = done_of(job.parts, schema).to_batches(use_threads=False)
        while some := list(islice(chunks, _CHUNKS_OF_GROUP)):
            table = pa.Table.from_batches(some)
            yield from table.filter(pc.is_null(table["refused"])).combine_chunks().to_batches()

    # Written where there is none, too: a report then knows that there were none.
    write_batches(job.rejects, REJECTS, _rejects(job))
    write_batches(job.target, schema, good(), add=job.append and exists(job.target))
    return refused_of(job.parts).count_rows()


def _rejects(job: Job) -> Iterator[pa.RecordBatch]:
    """What was refused; where sets are added, after what was before, but for references that this run has met again."""
    if job.append and exists(job.rejects):
        met = pyarrow.parquet.read_table(job.parts / SETS, columns=["reference"])["reference"]
        again = set(met.drop_null().to_pylist())
        there = (row for _, row, broken in read_rows(job.rejects) if not broken and row.get("reference") not in again)
        before = [row | {"row": int(row["row"])} for row in there]
        yield from pa.Table.from_pylist(before, REJECTS).to_batches()
    yield from refused_of(job.parts).to_batches()
