"""From nothing to the first answer, with the compiled functions already on disk."""

import subprocess
import time
from collections.abc import Callable
from statistics import median

from benchmarks.parts.processes import EXAMPLE, ask, compile_once, environment, free_port, running, wait_until_ready
from benchmarks.parts.rows import Budget, Row


def _ran(python: str, *command: str) -> float:
    """Time of a program from start to end [s]."""
    began = time.perf_counter()
    subprocess.run([python, *command], env=environment(), check=True, stdout=subprocess.DEVNULL, timeout=240)
    return time.perf_counter() - began


def _served(python: str) -> tuple[float, float]:
    """Time until ready, and until the first answer is there [s]."""
    port = free_port()
    began = time.perf_counter()
    with running([python, "-m", "feedproof", "serve", "--port", str(port)]) as process:
        wait_until_ready(port, process)
        ready = time.perf_counter() - began
        ask(port)
        return ready, time.perf_counter() - began


def _middle(function: Callable[[], float], times: int) -> float:
    return median(function() for _ in range(times))


def measure(budget: Budget) -> list[Row]:
    """Give the middle of some starts of each program."""
    assess = ("-m", "feedproof", "assess", str(EXAMPLE))
    compile_once(budget.python)
    served = [_served(budget.python) for _ in range(budget.starts)]
    bare = _middle(lambda: _ran(budget.python, "-c", "pass"), budget.starts)
    compiler = _middle(lambda: _ran(budget.python, "-c", "import numba, numpy"), budget.starts)
    command = _middle(lambda: _ran(budget.python, *assess), budget.starts)
    ready, answered = (median(times) for times in zip(*served, strict=True))
    to = "importing numpy and numba"
    return [
        Row("an interpreter that does nothing", bare, "s", bare / compiler, to),
        Row("importing numpy and numba", compiler, "s", 1.0, to),
        Row("feedproof assess: start to answer", command, "s", command / compiler, to),
        Row("feedproof serve: start to ready", ready, "s", ready / compiler, to),
        Row("feedproof serve: start to first answer", answered, "s", answered / compiler, to),
    ]
