"""Many sets at once: the fleet's path beside calling `assess` in a loop, and a run over whole files."""

import os
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet

from benchmarks.parts.rows import Budget, Row
from feedproof.assess import assess
from feedproof.fleet.batches import assess_batches
from feedproof.fleet.run import Job, Summary, run
from feedproof.readings import ReadingSet
from support.fleets import nested_row, nested_table, simulated

ONE = 1_000_000
CORES = 2


def _table(sets: Sequence[ReadingSet], *, bad: int = 0) -> pa.Table:
    rows = [nested_row(f"INVENTED {n}", readings) for n, readings in enumerate(sets)]
    for row in rows[:bad]:
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


def _files(budget: Budget) -> list[Row]:
    """Whole files of growing size, one set in fifty refused."""
    rows, rate = [], 0.0
    for count in budget.fleet_files:
        table = _table([readings for _, readings in simulated(count, seed=count)], bad=count // 50)
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            pyarrow.parquet.write_table(table, place / "in.parquet", row_group_size=1024)
            source, target, rejects = (place / name for name in ("in.parquet", "out.parquet", "rejects.csv"))
            done, memory = _watched(Job(source=str(source), target=str(target), rejects=str(rejects), workers=CORES))
        rate = done.sets / done.seconds
        what = f"{done.sets:,} sets in a file, {CORES} processes"
        rows += [
            Row(f"{what}: rate", rate, "sets/s", note=f"{done.seconds:.0f} s, {done.refused} refused"),
            Row(f"{what}: memory at most", memory, "MB", note="the processes, and this one with all that it loaded"),
        ]
    rows.append(Row(f"{ONE:,} sets, {CORES} processes, at that rate", ONE / rate / 3600.0, "h", note="extrapolated"))
    return rows


def measure(budget: Budget) -> list[Row]:
    """Give the rates of both ways in one process, and of whole files."""
    sets = [readings for _, readings in simulated(budget.fleet_sets, seed=7)]
    batches = _table(sets).to_batches()
    for readings in sets[:8]:
        assess(readings)
    _rate(_table(sets[:8]).to_batches(), 8)
    began = time.process_time()
    for readings in sets:
        assess(readings)
    loop = len(sets) / (time.process_time() - began)
    distinct = {str(readings) for readings in sets}
    unlike = _table([next(one for one in sets if str(one) == text) for text in distinct]).to_batches()
    fleet, apart = _rate(batches, len(sets)), _rate(unlike, len(distinct))
    return [
        Row("`assess` in a loop", loop, "sets/s", note=f"per core, {len(sets)} sets of three readings"),
        Row("`assess_batches`", fleet, "sets/s", fleet / loop, "the loop", f"{len(distinct)} of them read differently"),
        Row("`assess_batches`, no two sets read the same", apart, "sets/s", apart / loop, "the loop"),
        Row(f"{ONE:,} such sets on {CORES} cores", ONE / apart / CORES / 3600.0, "h", note="extrapolated"),
        *_files(budget),
    ]
