"""Whole files over all cores: in chunks, each written down when it is done, so that a stopped run can go on.

The file is read from front to end into chunks of sets; a pool of processes assesses them, not many more at a time than
there are processes, and each process writes the chunk that it has done under a name that says which it is. When all
are there, they are joined in order. A run that is stopped, by whatever means, leaves whole chunks; the same command
then does the others. Sets are numbered by where they stand in the file, so none is lost and none comes twice.
"""

import hashlib
import json
import multiprocessing
import os
import shutil
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO

import msgspec
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet
from msgspec import Struct

from feedproof.collector import collect_seldom
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.fleet.batches import AT_ONCE, Assessor, Unit
from feedproof.fleet.files import Source, write_batches
from feedproof.fleet.progress import Progress
from feedproof.fleet.ratebook import Ratebook
from feedproof.fleet.schema import ASSESSED, assessed

#: A chunk that is in the works when workers die this often is given up.
_PATIENCE = 3
_LEAST = 16
_TICK = 0.5
_GOODBYE = 10.0
"""How long what looks after the workers may take to notice that they are gone [s]."""

_REJECTED: dict[str, pa.DataType] = {"row": pa.int64(), "reference": pa.string(), "reason": pa.string()}
REJECTS = pa.schema(_REJECTED)


class Unfinished(RuntimeError):
    """The run stopped before its end; what is done is kept."""


class Job(Struct, frozen=True, kw_only=True):
    """What to assess, and how."""

    source: Path
    target: Path
    rejects: Path
    keep: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()
    rates: Ratebook | None = None
    workers: int = 1


class Summary(Struct, frozen=True, kw_only=True):
    """How a run went."""

    sets: int
    """Sets read, the refused ones among them."""
    refused: int
    resumed: int
    """Sets that an earlier run had done."""
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
        If the file cannot be read as reading sets, or what an earlier run left does not belong to this job.
    OSError
        If a file cannot be read or written.
    Unfinished
        If the run was interrupted, or a chunk killed its worker again and again. The same job goes on from there.
    """
    start = time.monotonic()
    source = Source(job.source, job.keep, job.ignore)
    if job.target.exists():
        raise ValueError(f"{job.target} is already there")
    parts = job.target.with_name(f"{job.target.name}.parts")
    parts.mkdir(parents=True, exist_ok=True)
    with (parts / "lock").open("wb") as lock:
        _hold(lock, parts)
        chunk = _manifest(parts, job, source)
        done = _finished(parts)
        resumed = sum(done.values())
        if progress is not None:
            progress.begin(resumed)
        sets = _assess_all(parts, job, source, chunk, done, progress)
        refused = _join(parts, job, source, sets)
    shutil.rmtree(parts)
    return Summary(sets=sum(sets), refused=refused, resumed=resumed, seconds=time.monotonic() - start)


# --- what an earlier run left ---------------------------------------------------------------------------------


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


def _manifest(parts: Path, job: Job, source: Source) -> int:
    """Sets in a chunk; held to those of the run that the parts come from."""
    path = parts / "job.json"
    wanted: dict[str, object] = {
        "input": _identity(job.source),
        "keep": list(job.keep),
        "ignore": list(job.ignore),
        "base_rates": None if job.rates is None else hashlib.sha256(msgspec.json.encode(job.rates)).hexdigest(),
        "model": [MODEL_VERSION, priors_digest()],
        "columns": ASSESSED.names,
    }
    if path.exists():
        before = json.loads(path.read_text(encoding="utf-8"))
        chunk: int = before.pop("chunk")
        if before != wanted:
            changed = ", ".join(name for name, value in wanted.items() if before.get(name) != value)
            raise ValueError(f"{parts} is from another run ({changed} differs); remove it to begin anew")
        return chunk
    chunk = min(AT_ONCE, max(_LEAST, source.sets() // (8 * job.workers)))
    temporary = path.with_suffix(".unfinished")
    temporary.write_text(json.dumps(wanted | {"chunk": chunk}), encoding="utf-8")
    temporary.replace(path)
    return chunk


def _identity(path: Path) -> list[list[object]]:
    """What tells an input from another: names, sizes and times of change."""
    files = sorted(path.rglob("*.parquet")) if path.is_dir() else [path]
    return [[file.name, file.stat().st_size, file.stat().st_mtime_ns] for file in files]


def _part(parts: Path, index: int) -> Path:
    return parts / f"part-{index:08d}.parquet"


def _finished(parts: Path) -> dict[int, int]:
    """Sets in each chunk that is done."""
    found = {}
    for path in parts.glob("part-*.parquet"):
        found[int(path.stem.removeprefix("part-"))] = pyarrow.parquet.read_metadata(path).num_rows
    return found


# --- the pool -------------------------------------------------------------------------------------------------


def _chunks(source: Source, size: int) -> Iterator[tuple[int, list[Unit]]]:
    units = source.units()
    index = 0
    while chunk := list(islice(units, size)):
        yield index, chunk
        index += 1


def _assess_all(
    parts: Path, job: Job, source: Source, size: int, done: dict[int, int], progress: Progress | None
) -> list[int]:
    """Sets in each chunk, when all are done."""
    counter = multiprocessing.get_context("spawn").Value("q", 0)
    crew = _Crew(parts, job, source, counter)
    sets: list[int] = []
    before = sum(done.values())

    def tell() -> None:
        if progress is not None:
            seen = sum(sets)
            total = round(seen / source.share) if source.share > 0.0 else source.sets()
            progress.show(min(before + counter.value, total), total)

    try:
        for index, units in _chunks(source, size):
            sets.append(len(units))
            if index not in done:
                while crew.full:
                    crew.advance(tell)
                crew.submit(index, units)
        while crew.waiting:
            crew.advance(tell)
        tell()
    except (KeyboardInterrupt, SystemExit):
        crew.dismiss()
        raise Unfinished("interrupted; the same command goes on from here") from None
    except BaseException:
        crew.dismiss()
        raise
    crew.close()
    return sets


class _Crew:
    """The worker processes, renewed when one dies, and the chunks that they have."""

    def __init__(self, parts: Path, job: Job, source: Source, counter: Any) -> None:  # noqa: ANN401
        self._arguments = (str(parts), source.form, source.keep, job.rates, counter)
        self._workers = job.workers
        self._limit = job.workers + 2
        self._at_work: dict[Future[None], tuple[int, list[Unit]]] = {}
        self._deaths: dict[int, int] = {}
        self._pool = self._new()

    def _new(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            self._workers, multiprocessing.get_context("spawn"), initializer=_begin, initargs=self._arguments
        )

    @property
    def full(self) -> bool:
        return len(self._at_work) >= self._limit

    @property
    def waiting(self) -> bool:
        return bool(self._at_work)

    def submit(self, index: int, units: list[Unit]) -> None:
        try:
            future = self._pool.submit(_work, index, units)
        except BrokenProcessPool:
            self._renew()
            future = self._pool.submit(_work, index, units)
        self._at_work[future] = index, units

    def advance(self, tell: Callable[[], None]) -> None:
        """Wait until a chunk is done, telling how far it is meanwhile."""
        done, _ = wait(self._at_work, timeout=_TICK, return_when=FIRST_COMPLETED)
        tell()
        broken = False
        for future in done:
            try:
                future.result()
            except BrokenProcessPool:
                broken = True
                continue
            del self._at_work[future]
        if broken:
            self._renew()

    def _renew(self) -> None:
        """A worker has died and took the pool along: a new one does what was in the works."""
        left = list(self._at_work.values())
        self._at_work = {}
        self._pool.shutdown(wait=False, cancel_futures=True)
        for index, units in left:
            self._deaths[index] = self._deaths.get(index, 0) + 1
            if self._deaths[index] >= _PATIENCE:
                last = units[-1].row
                raise Unfinished(f"a worker died {_PATIENCE} times with rows {units[0].row} to {last} in the works")
        self._pool = self._new()
        for index, units in left:
            self._at_work[self._pool.submit(_work, index, units)] = index, units

    def dismiss(self) -> None:
        """Stop at once; chunks in the works are lost."""
        processes = list((getattr(self._pool, "_processes", None) or {}).values())
        manager = getattr(self._pool, "_executor_manager_thread", None)
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        for process in processes:
            process.join()
        if manager is not None:
            # It closes the pipe that the library writes to at the process's end: one must come after the other.
            manager.join(_GOODBYE)

    def close(self) -> None:
        """Let the workers go."""
        self._pool.shutdown()


_assessor: Assessor | None = None
_parts = Path()
_counter: Any = None


def _begin(parts: str, form: str, keep: pa.Schema, rates: Ratebook | None, counter: Any) -> None:  # noqa: ANN401
    """Make ready a worker: it leaves interruptions to the parent, and ends when the parent ends."""
    global _assessor, _parts, _counter
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()
    collect_seldom()
    _assessor, _parts, _counter = Assessor(form, keep, rates), Path(parts), counter


def _work(index: int, units: list[Unit]) -> None:
    """Assess a chunk and write it down under its number, whole or not at all."""
    assert _assessor is not None  # noqa: S101

    def count() -> None:
        with _counter.get_lock():
            _counter.value += 1

    batch = _assessor.assess(units, count)
    path = _part(_parts, index)
    temporary = path.with_suffix(f".{os.getpid()}")
    with temporary.open("wb") as file:
        pyarrow.parquet.write_table(pa.Table.from_batches([batch]), file, compression="zstd")
        file.flush()
        os.fsync(file.fileno())
    temporary.replace(path)


# --- joining --------------------------------------------------------------------------------------------------


def _join(parts: Path, job: Job, source: Source, sets: list[int]) -> int:
    """Put the chunks together in order; gives the number of refused sets."""
    refused = 0
    schema = assessed(source.keep)

    def batches(*, good: bool) -> Iterator[pa.RecordBatch]:
        nonlocal refused
        for index, count in enumerate(sets):
            table = pyarrow.parquet.read_table(_part(parts, index), schema=schema)
            if table.num_rows != count:
                raise ValueError(f"{_part(parts, index)} holds {table.num_rows} sets in place of {count}")
            fine = pc.is_null(table["refused"])
            table = table.filter(fine if good else pc.invert(fine))
            if not good:
                refused += table.num_rows
                table = table.select(["row", "reference", "refused"]).rename_columns(REJECTS.names)
            yield from table.combine_chunks().to_batches()

    write_batches(job.rejects, REJECTS, batches(good=False))
    if not refused:
        job.rejects.unlink()
    write_batches(job.target, schema, batches(good=True))
    return refused
