"""Several processes of the service: the memory that each has to itself, and how soon a lost one is replaced."""

import contextlib
import os
import signal
import time
from pathlib import Path

from benchmarks.parts.processes import ask, compile_once, free_port, running, wait_until_ready
from benchmarks.parts.rows import Budget, Row, missing

PROCESSES = 2
_ASKED = 60


def children(pid: int) -> list[int]:
    """Processes that came out of another, and out of those."""
    found: list[int] = []
    for listed in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in map(int, listed.read_text(encoding="ascii").split()):
            found += [child, *children(child)]
    return found


def memory(pid: int) -> dict[str, float]:
    """Resident memory, and what of it the process shares with none [MB]."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines()[1:]
    sizes = {line.split(":")[0]: int(line.split()[1]) / 1024.0 for line in lines}
    return {"resident": sizes["Rss"], "own": sizes["Private_Clean"] + sizes["Private_Dirty"]}


def serving(port: int, pid: int) -> list[int]:
    """Those processes that have the socket that is listened on, without the one that looks after them."""
    address = f"0100007F:{port:04X}"
    lines = Path(f"/proc/{pid}/net/tcp").read_text(encoding="ascii").splitlines()
    inode = next(line.split()[9] for line in lines if f" {address} " in line and line.split()[3] == "0A")
    return [child for child in children(pid) if f"socket:[{inode}]" in _opened(child)]


def _opened(pid: int) -> set[str]:
    """What a process has open; not what it closes meanwhile, and nothing of one that has just ended."""
    found = set()
    with contextlib.suppress(OSError):
        for file in Path(f"/proc/{pid}/fd").iterdir():
            with contextlib.suppress(OSError):
                found.add(str(file.readlink()))
    return found


def _replaced(port: int, pid: int) -> float:
    """Time from the end of a process until another has the socket [s]."""
    before = set(serving(port, pid))
    os.kill(min(before), signal.SIGKILL)
    began = time.perf_counter()
    while len(set(serving(port, pid)) - before) < 1:
        time.sleep(0.005)
        if time.perf_counter() - began > 60.0:
            raise TimeoutError("no other process came")
    return time.perf_counter() - began


def measure(budget: Budget) -> list[Row]:
    """Give the memory of two processes after some requests, and the time that replacing one takes."""
    if not Path("/proc/self/smaps_rollup").exists():
        return [missing("memory of each process", "this system does not tell")]
    port = free_port()
    compile_once(budget.python)
    command = ["-m", "feedproof", "serve", "--port", str(port)]
    with running([budget.python, *command], FEEDPROOF_PROCESSES=str(PROCESSES)) as process:
        wait_until_ready(port, process)
        for _ in range(_ASKED):
            ask(port)
        found = [memory(pid) for pid in serving(port, process.pid)]
        whole = sum(memory(pid)["own"] for pid in [process.pid, *children(process.pid)])
        replaced = _replaced(port, process.pid)
    resident, own = (max(each[name] for each in found) for name in ("resident", "own"))
    return [
        Row("memory of a process, resident", resident, "MB", note=f"the larger of {len(found)}"),
        Row("memory of a process that it shares with none", own, "MB", own / resident, "its resident memory"),
        Row(f"the same of all that {PROCESSES} processes need", whole, "MB"),
        Row("a process is killed until another listens", replaced, "s"),
    ]
