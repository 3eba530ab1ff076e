"""The processes that assess a run's chunks, each of which writes the one that it has done under its number."""

import multiprocessing
import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import msgspec
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.dataset
import pyarrow.parquet

from feedproof.fleet.batches import Assessor, Unit
from feedproof.fleet.job import Job
from feedproof.fleet.progress import Progress
from feedproof.fleet.store import Store
from feedproof.gc_tuning import collect_seldom

SETS = "sets.parquet"
"""File of the sets to assess, a row group for each chunk."""
DOCUMENTS = "rows of the set"
"""Its column with their rows."""
OF_SETS: dict[str, pa.DataType] = {
    "row": pa.int64(),
    "reference": pa.string(),
    "refused": pa.string(),
    DOCUMENTS: pa.binary(),
}
"""Its columns beside those that are kept."""

#: The pool is given up when workers die this often without a chunk done in between.
_MOST_DEATHS = 3
_GOODBYE = 10.0
"""How long what looks after the workers may take to notice that they are gone [s]."""
_SHOWN_ROWS = 3

_REJECTED: dict[str, pa.DataType] = {"row": pa.int64(), "reference": pa.string(), "reason": pa.string()}
REJECTS = pa.schema(_REJECTED)
_PACKED = pa.ipc.IpcWriteOptions(compression="zstd")


class Unfinished(RuntimeError):
    """The run stopped before its end; what is done is kept."""


def assess_all(job: Job, form: str, counts: list[int], progress: Progress | None) -> int:
    """Assess the chunks that are not done, with a new pool where workers die; gives how many sets were computed."""
    deaths = before = computed = 0
    while todo := [index for index in range(len(counts)) if not job.part(index).exists()]:
        deaths = deaths + 1 if len(todo) == before else 0
        if deaths >= _MOST_DEATHS:
            raise Unfinished(f"workers died {_MOST_DEATHS} times with chunk {todo[0]} or one of the next in the works")
        before = len(todo)
        done = sum(counts) - sum(counts[index] for index in todo)
        refused = 0 if job.most_rejects is None else refused_of(job.parts).count_rows()
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(job.workers, context, initializer=_begin, initargs=(job, form))
        try:
            for future in as_completed([pool.submit(_work, index) for index in todo]):
                assessed, bad, anew = future.result()
                done, refused, computed = done + assessed, refused + bad, computed + anew
                _hold_to(job, refused)
                if progress is not None:
                    progress.show(done, sum(counts))
        except BrokenProcessPool:
            continue
        finally:
            _dismiss(pool)
    return computed


def _hold_to(job: Job, refused: int) -> None:
    if job.most_rejects is None or refused <= job.most_rejects:
        return
    first = refused_of(job.parts).head(_SHOWN_ROWS).to_pylist()
    told = "; ".join(f"row {row['row']}: {row['reason']}" for row in first)
    raise Unfinished(
        f"{refused} sets refused, more than {job.most_rejects}: {told}; with a larger --max-rejects the command goes"
        " on from here"
    )


def done_of(parts: Path, schema: pa.Schema) -> pyarrow.dataset.Dataset:
    """What the workers have written so far, in order."""
    return pyarrow.dataset.dataset(sorted(map(str, parts.glob("part-*.arrow"))), schema, format="arrow")


def refused_of(parts: Path) -> pyarrow.dataset.Scanner:
    """Refused sets of the chunks that are done, as in `REJECTS`."""
    refused: Any = pc.field("refused")
    columns: Any = {"row": pc.field("row"), "reference": pc.field("reference"), "reason": refused}
    return done_of(parts, pa.schema(OF_SETS)).scanner(columns=columns, filter=refused.is_valid(), use_threads=False)


def _dismiss(pool: ProcessPoolExecutor) -> None:
    """Stop at once; chunks in the works are lost."""
    processes = list((getattr(pool, "_processes", None) or {}).values())
    manager = getattr(pool, "_executor_manager_thread", None)
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()
    for process in processes:
        process.join()
    if manager is not None:
        # It closes the pipe that the library writes to at the process's end: one must come after the other.
        manager.join(_GOODBYE)


_READY: list[tuple[Job, pyarrow.parquet.ParquetFile, Assessor]] = []


def _begin(job: Job, form: str) -> None:
    """Make ready a worker: it leaves interruptions to the parent, and ends when the parent ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow, daemon=True).start()
    collect_seldom()
    file = pyarrow.parquet.ParquetFile(job.parts / SETS)
    keep = pa.schema([field for field in file.schema_arrow if field.name not in OF_SETS])
    _READY.append((job, file, Assessor(form, keep, job.rates, Store(job.answers))))


def _follow() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _work(index: int) -> tuple[int, int, int]:
    """Assess a chunk and write it down under its number, whole or not at all; gives sets, refused and computed ones."""
    job, file, assessor = _READY[-1]
    units, before = [], assessor.computed
    for held in file.read_row_group(index).to_pylist():
        first, *rest = msgspec.msgpack.decode(held[DOCUMENTS])
        kept = {name: cell for name, cell in held.items() if name not in OF_SETS}
        units.append(Unit(held["row"], [first | kept, *rest], held["refused"]))
    batch = assessor.assess(units)
    temporary = job.part(index).with_suffix(f".{os.getpid()}")
    with temporary.open("wb") as opened:
        # For so few rows Parquet takes three times as long to write and six times as long to read.
        with pa.ipc.new_file(opened, batch.schema, options=_PACKED) as writer:
            writer.write_batch(batch)
        opened.flush()
        os.fsync(opened.fileno())
    temporary.replace(job.part(index))
    return batch.num_rows, batch.num_rows - batch.column("refused").null_count, assessor.computed - before
