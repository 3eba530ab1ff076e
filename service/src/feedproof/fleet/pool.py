"""The processes that assess a run's chunks, each of which writes the one that it has done under its number."""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import msgspec
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet

from feedproof.fleet.batches import Assessor, Unit
from feedproof.fleet.progress import Progress
from feedproof.fleet.ratebook import Ratebook
from feedproof.fleet.store import Store
from feedproof.gc_tuning import collect_seldom

SETS = "sets.parquet"
"""File of the sets to assess, a row group for each chunk."""
DOCUMENTS = "rows of the set"
"""Its column with their rows."""

#: The pool is given up when workers die this often without a chunk done in between.
_PATIENCE = 3
_TICK = 0.5
_GOODBYE = 10.0
"""How long what looks after the workers may take to notice that they are gone [s]."""
_TOLD = 3

_REASONS: tuple[str, ...] = ("row", "reference", "refused")
_REJECTED: dict[str, pa.DataType] = {"row": pa.int64(), "reference": pa.string(), "reason": pa.string()}
REJECTS = pa.schema(_REJECTED)
_PACKED = pa.ipc.IpcWriteOptions(compression="zstd")


class Unfinished(RuntimeError):
    """The run stopped before its end; what is done is kept."""


def part(parts: Path, index: int) -> Path:
    """Where a chunk is written down."""
    return parts / f"part-{index:08d}.arrow"


class Plan(NamedTuple):
    """What is done, and where."""

    parts: Path
    store: Path
    form: str
    rates: Ratebook | None
    workers: int
    most_rejects: int | None


def assess_all(plan: Plan, counts: list[int], progress: Progress | None) -> int:
    """Assess the chunks that are not done, with a new pool where workers die; gives how many sets were computed."""
    deaths = before = 0
    computed: list[int] = []
    while todo := [index for index in range(len(counts)) if not part(plan.parts, index).exists()]:
        deaths = deaths + 1 if len(todo) == before else 0
        if deaths >= _PATIENCE:
            raise Unfinished(f"workers died {_PATIENCE} times with chunk {todo[0]} or one of the next in the works")
        before = len(todo)
        try:
            _in_one_pool(plan, counts, todo, computed, progress)
        except BrokenProcessPool:
            continue
        except (KeyboardInterrupt, SystemExit):
            raise Unfinished("interrupted; the same command goes on from here") from None
    return sum(computed)


def _in_one_pool(
    plan: Plan, counts: list[int], todo: list[int], computed: list[int], progress: Progress | None
) -> None:
    parts = plan.parts
    done = sum(counts) - sum(counts[index] for index in todo)
    refused = 0 if plan.most_rejects is None else sum(refused_of(parts, index).num_rows for index in range(len(counts)))
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(plan.workers, context, initializer=_begin, initargs=(plan,))
    try:
        waiting = {pool.submit(_work, index) for index in todo}
        while waiting:
            ended, waiting = wait(waiting, timeout=_TICK, return_when=FIRST_COMPLETED)
            for future in ended:
                told = future.result()
                done, refused = done + told[0], refused + told[1]
                computed.append(told[2])
            _hold_to(plan, refused)
            if progress is not None:
                progress.show(done, sum(counts))
    finally:
        _dismiss(pool)


def _hold_to(plan: Plan, refused: int) -> None:
    if plan.most_rejects is None or refused <= plan.most_rejects:
        return
    done = sorted(int(path.stem.partition("-")[2]) for path in plan.parts.glob("part-*.arrow"))
    whose = (refused_of(plan.parts, index) for index in done)
    first = list(islice((row for table in whose for row in table.to_pylist()), _TOLD))
    told = "; ".join(f"row {row['row']}: {row['reason']}" for row in first)
    raise Unfinished(
        f"{refused} sets refused, more than {plan.most_rejects}: {told}; with a larger --max-rejects the command goes"
        " on from here"
    )


def read_part(path: Path, columns: Sequence[str] = ()) -> pa.Table:
    """What a worker has written; all of it, or some columns."""
    with pa.memory_map(str(path)) as file:
        fields = [pa.ipc.open_file(file).schema.get_field_index(name) for name in columns]
        return pa.ipc.open_file(file, options=pa.ipc.IpcReadOptions(included_fields=fields or None)).read_all()


def refused_of(parts: Path, index: int) -> pa.Table:
    """Refused sets of a chunk, none where it is not done."""
    path = part(parts, index)
    if not path.exists():
        return REJECTS.empty_table()
    table = read_part(path, _REASONS)
    return table.filter(pc.is_valid(table["refused"])).select(_REASONS).rename_columns(REJECTS.names)


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


_ASSESSORS: list[Callable[[int], tuple[int, int, int]]] = []


def _begin(plan: Plan) -> None:
    """Make ready a worker: it leaves interruptions to the parent, and ends when the parent ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()
    collect_seldom()
    file = pyarrow.parquet.ParquetFile(plan.parts / SETS)
    columns = file.schema_arrow
    keep = pa.schema([field for field in columns if field.name not in {"row", "reference", "refused", DOCUMENTS}])
    assessor = Assessor(plan.form, keep, plan.rates, Store(plan.store))

    def assess(index: int) -> tuple[int, int, int]:
        units, before = [], assessor.computed
        for held in file.read_row_group(index).to_pylist():
            first, *rest = msgspec.msgpack.decode(held[DOCUMENTS]) or [{}]
            kept = {name: held[name] for name in keep.names}
            units.append(Unit(held["row"], [first | kept, *rest], held["refused"]))
        batch = assessor.assess(units)
        path = part(plan.parts, index)
        temporary = path.with_suffix(f".{os.getpid()}")
        with temporary.open("wb") as opened:
            # For so few rows Parquet takes three times as long to write and six times as long to read.
            with pa.ipc.new_file(opened, batch.schema, options=_PACKED) as writer:
                writer.write_batch(batch)
            opened.flush()
            os.fsync(opened.fileno())
        temporary.replace(path)
        return batch.num_rows, batch.num_rows - batch.column("refused").null_count, assessor.computed - before

    _ASSESSORS.append(assess)


def _work(index: int) -> tuple[int, int, int]:
    """Assess a chunk and write it down under its number, whole or not at all; gives sets, refused and computed ones."""
    return _ASSESSORS[-1](index)
