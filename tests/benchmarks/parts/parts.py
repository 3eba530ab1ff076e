"""The parts of the benchmark by name; each is imported only when it is asked for."""

import importlib
import importlib.util
from collections.abc import Callable

from benchmarks.parts.rows import Budget, Row, missing, table

__all__ = ["PARTS", "Budget", "Row", "measured", "missing", "table"]

PARTS = {
    "engine": "processor time of one assessment",
    "stages": "where that time goes",
    "service": "the service under load, beside an endpoint that does nothing",
    "start": "from nothing to the first answer",
    "tools": "the same work by general-purpose tools",
    "fleet": "many sets at once",
}


def measured(name: str, budget: Budget) -> list[Row]:
    """Measure one part: `measure(budget)` of the module of its name beside this one."""
    module = f"benchmarks.parts.{name}"
    if importlib.util.find_spec(module) is None:
        return [missing(PARTS[name], "there is no such path in this version")]
    measure: Callable[[Budget], list[Row]] = importlib.import_module(module).measure
    return measure(budget)
