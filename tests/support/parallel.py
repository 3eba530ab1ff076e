"""Two processes for the long proofs, and the place for their figures."""

import json
import multiprocessing
import os
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

A = TypeVar("A")
B = TypeVar("B")

#: Made by the run, never committed.
FIGURES = Path(__file__).resolve().parents[2] / "build" / "proofs"


def spread_out(work: Callable[[A], B], items: Iterable[A], processes: int = 2) -> list[B]:
    """Do the same with each item, on two processes, results in the order of the items.

    Parameters
    ----------
    work : callable
        Of a module that a new process can import.
    items : iterable
        What it is called with.
    processes : int
        How many; no more than the machine has.
    """
    count = min(processes, os.cpu_count() or 1)
    # A fresh process for each: forking one that has threads (the linear algebra's) is not safe.
    with ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("spawn")) as pool:
        return list(pool.map(work, items))


def write_figures(name: str, figures: Any) -> None:
    """Leave the figures of a proof as JSON for whoever writes them up."""
    FIGURES.mkdir(parents=True, exist_ok=True)
    text = json.dumps(figures, indent=1, sort_keys=True, ensure_ascii=False)
    (FIGURES / f"{name}.json").write_text(text + "\n", encoding="utf-8")
