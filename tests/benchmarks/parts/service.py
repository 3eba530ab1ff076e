"""The service under load, beside endpoints on the same server that do nothing, with the same bodies."""

import subprocess

import msgspec

from benchmarks.parts.client import Load, load, request
from benchmarks.parts.processes import (
    compile_once,
    processor_seconds,
    resident_megabytes,
    running,
    service_beside_nothing,
)
from benchmarks.parts.rows import Budget, Row, missing, share
from benchmarks.parts.visits import body, visits
from feedproof.assess import assess
from feedproof.parsing import read_request

BARE, NOTHING, EMPTY, WHOLE = "bare no-op", "no-op", "service, inference left out", "service"
"""Nothing but the server; the same and the web framework; all but the inference; all."""


class _Target:
    """One endpoint under load: what it gave, and what processor time that took."""

    def __init__(self, pid: int, port: int, path: str, bodies: list[bytes], budget: Budget, most: int) -> None:
        self._pid, self._port, self._budget, self._most = pid, port, budget, most
        self.requests = [request(path, raw) for raw in bodies]

    def under(self, connections: int) -> tuple[Load, float | None]:
        """Give the load, and the server's processor time for each answer [s]."""
        before = processor_seconds(self._pid)
        found = load(self._port, self.requests, connections, self._most, self._budget.load_seconds)
        after = processor_seconds(self._pid)
        count = sum(found.statuses.values())
        if before is None or after is None or not count:
            return found, None
        return found, (after - before) / count


def measure(budget: Budget) -> list[Row]:
    """Give throughput, latency, processor time and memory at each number of connections."""
    compile_once(budget.python)
    bodies = [body(readings) for readings in visits("mixed", 10, min(budget.sets, 20))]
    answer = msgspec.json.encode(assess(*read_request(bodies[0])))
    loads: dict[str, dict[int, tuple[Load, float | None]]] = {BARE: {}, NOTHING: {}, EMPTY: {}, WHOLE: {}}
    with service_beside_nothing(budget.python, bodies[0], answer) as (port, process):
        rested = resident_megabytes(process.pid)
        bare = _Target(process.pid, port, "/bare", bodies, budget, 4 * budget.requests)
        nothing = _Target(process.pid, port, "/framework", bodies, budget, 4 * budget.requests)
        whole = _Target(process.pid, port, "/v1/assessments", bodies, budget, budget.requests)
        for target in (bare, nothing, whole):
            load(port, target.requests, 2, 20, 3.0)  # threads and programs that it will need
        for connections in budget.connections:
            loads[BARE][connections] = bare.under(connections)
            loads[NOTHING][connections] = nothing.under(connections)
            loads[WHOLE][connections] = whole.under(connections)
        loaded = resident_megabytes(process.pid)
    with service_beside_nothing(budget.python, bodies[0], answer, empty_engine=True) as (port, process):
        empty = _Target(process.pid, port, "/v1/assessments", bodies, budget, 2 * budget.requests)
        for connections in budget.connections:
            loads[EMPTY][connections] = empty.under(connections)
    rows = [
        Row("body of a request", float(len(bodies[0])), "byte"),
        Row("body of an answer", float(len(answer)), "byte"),
    ]
    for connections in budget.connections:
        rows += _at(connections, {name: found[connections] for name, found in loads.items()})
    return rows + _memory(budget.python, rested, loaded)


def _at(connections: int, loads: dict[str, tuple[Load, float | None]]) -> list[Row]:
    """Figures at one number of connections."""
    rows = []
    nothing, nothing_cost = loads[NOTHING]
    for name, (found, cost) in loads.items():
        what = f"{connections} connections, {name}"
        refused = {status: count for status, count in found.statuses.items() if status != 200}
        note = f"{len(found.latencies)} answers" + (f", refused {refused}" if refused else "")
        if not found.latencies:
            rows.append(missing(what, note))
            continue
        middle, slow = share(found.latencies, 0.5), share(found.latencies, 0.99)
        rows.append(
            Row(
                f"{what}: throughput",
                found.per_second,
                "1/s",
                _over(found.per_second, nothing.per_second),
                NOTHING,
                note,
            )
        )
        rows.append(
            Row(f"{what}: latency p50", 1e3 * middle, "ms", _over(middle, share(nothing.latencies, 0.5)), NOTHING)
        )
        rows.append(Row(f"{what}: latency p99", 1e3 * slow, "ms", slow / middle, "its p50"))
        if cost is not None and nothing_cost:
            rows.append(Row(f"{what}: processor time", 1e3 * cost, "ms", cost / nothing_cost, NOTHING))
    return rows


def _over(value: float, to: float) -> float | None:
    return value / to if to else None


def _memory(python: str, rested: float | None, loaded: float | None) -> list[Row]:
    """Memory of a worker, beside an interpreter with the compiler that any such program would load."""
    code = "import time, numba, numpy; time.sleep(60)"
    with running([python, "-c", code]) as process:
        bare = _settled(process)
    if rested is None or loaded is None or bare is None:
        return [missing("memory of a worker", "this system does not tell")]
    return [
        Row("memory of a worker, ready", rested, "MB", rested / bare, "an interpreter with numpy and numba"),
        Row("memory of a worker, after the load", loaded, "MB", loaded / bare, "an interpreter with numpy and numba"),
    ]


def _settled(process: subprocess.Popen[bytes]) -> float | None:
    """Memory of a process once its imports are done [MB]."""
    before = -1.0
    for _ in range(40):
        try:
            process.wait(timeout=0.25)
        except subprocess.TimeoutExpired:
            now = resident_megabytes(process.pid)
            if now is None:
                return None
            if now > 50.0 and now == before:
                return now
            before = now
    return before if before > 0.0 else None
