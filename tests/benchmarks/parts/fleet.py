"""Many sets at once: the fleet's path beside calling `assess` in a loop, and a run over whole files."""

import os
import resource
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet

from benchmarks.parts.history import history
from benchmarks.parts.rows import Budget, Row
from feedproof.assess import assess
from feedproof.fleet.batches import assess_batches
from feedproof.fleet.job import Job
from feedproof.fleet.run import Summary, run
from feedproof.inference import likeness
from feedproof.readings import ReadingSet
from support.fleets import nested_row, nested_table

CORES = 2


def _table(sets: Sequence[ReadingSet], *, bad: int = 0) -> pa.Table:
    rows = [nested_row(f"INVENTED {n}", readings) for n, readings in enumerate(sets)]
    for row in rows[len(rows) - bad :]:
        row["readings"][0]["value"] = -5.0
    return nested_table(rows)


def _rate(batches: Sequence[pa.RecordBatch], count: int) -> float:
    """Sets per second of processor time."""
    began = time.process_time()
    for _ in assess_batches(batches):
        pass
    return count / (time.process_time() - began)


def _memory(pid: int) -> float:
    """Memory of a process and all under it, shared pages counted once among them [MB]."""
    total = 0.0
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((entry / "stat").read_text(encoding="ascii").rpartition(")")[2].split()[1])
            if int(entry.name) == pid:
                lines = (entry / "smaps_rollup").read_text(encoding="ascii").splitlines()
                total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024.0
            elif parent == pid:
                total += _memory(int(entry.name))
        except (OSError, IndexError):
            continue
    return total


def _watched(job: Job) -> tuple[Summary, float]:
    """Run a job; give how it went and the most memory that was held meanwhile [MB]."""
    highest, over = 0.0, threading.Event()

    def watch() -> None:
        nonlocal highest
        while not over.wait(1.0):
            highest = max(highest, _memory(os.getpid()))

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        return run(job), highest
    finally:
        over.set()
        watcher.join()


def _spent() -> float:
    """Processor time of this process and of all that it has started and seen end [s]."""
    return sum(sum(resource.getrusage(who)[:2]) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def _run(source: Path, store: Path, rejects: int) -> tuple[Summary, float, float]:
    """Run over a file; give how it went, memory at most [MB], and processor time [s]."""
    target = source.with_name("out.parquet")
    job = Job(
        source=str(source),
        target=str(target),
        rejects=f"{target}.csv",
        workers=CORES,
        store=str(store),
        overwrite=True,
        most_rejects=rejects,
    )
    began = _spent()
    done, memory = _watched(job)
    return done, memory, _spent() - began


def _files(budget: Budget, loop: float) -> list[Row]:
    """Whole files of the history, of growing size, one set in fifty refused; and the largest again with its store."""
    rows: list[Row] = []
    for count in budget.fleet_files:
        with tempfile.TemporaryDirectory() as folder:
            place, bad = Path(folder), count // 50
            # Refused ones come on top: the history is the same whatever is refused.
            pyarrow.parquet.write_table(_table([*history(count), *history(bad)], bad=bad), place / "in.parquet")
            what, store = f"history of {count:,}, {CORES} processes", place / "answers.sqlite"
            done, memory, spent = _run(place / "in.parquet", store, bad)
            rate, read = count / spent, f"{done.computed:,} computed, {done.refused:,} refused, {done.seconds:.0f} s"
            rows += [
                Row(f"{what}: rate", rate, "sets/s", rate / loop, "the loop", f"per core; {read}"),
                Row(f"{what}: by the clock", count / done.seconds, "sets/s"),
                Row(
                    f"{what}: memory at most", memory, "MB", note="the processes, and this one with all that it loaded"
                ),
                Row(f"{what}: store", store.stat().st_size / 1e6, "MB"),
            ]
            if count == max(budget.fleet_files):
                again = pyarrow.parquet.read_table(place / "in.parquet")
                for times in (1, 10):
                    pyarrow.parquet.write_table(pa.concat_tables([again] * times), place / "in.parquet")
                    done, memory, spent = _run(place / "in.parquet", store, times * bad)
                    sets = times * count
                    what = f"{sets:,} sets with answers in the store"
                    note = f"per core; {done.computed} computed, {done.seconds:.0f} s, {memory:.0f} MB at most"
                    rows.append(Row(what, sets / spent, "sets/s", sets / spent / loop, "the loop", note))
    return rows


def measure(budget: Budget) -> list[Row]:
    """Give the rates of both ways in one process, and of whole files."""
    sets = list(history(budget.fleet_sets))
    for readings in sets[:40]:
        assess(readings)
    _rate(_table(sets[:8]).to_batches(), 8)
    began = time.process_time()
    for readings in sets:
        assess(readings)
    loop = len(sets) / (time.process_time() - began)
    unlike = list({likeness(readings): readings for readings in sets}.values())
    fleet, apart = _rate(_table(sets).to_batches(), len(sets)), _rate(_table(unlike).to_batches(), len(unlike))
    return [
        Row("`assess` in a loop over the history", loop, "sets/s", note=f"per core, {len(sets)} sets"),
        Row("`assess_batches`", fleet, "sets/s", fleet / loop, "the loop", f"{len(unlike)} of them read differently"),
        Row("`assess_batches`, no two sets read the same", apart, "sets/s", apart / loop, "the loop"),
        *_files(budget, loop),
    ]
