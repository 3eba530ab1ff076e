"""What a part of the benchmark gives, and how much it may take."""

import math
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Budget:
    """How much a part may do."""

    python: str = sys.executable
    """Interpreter that the measured programs run in."""
    seconds: float = 0.8
    """Processor time for each figure of the engine [s]."""
    sets: int = 30
    """Most reading sets for each figure of the engine."""
    counts: tuple[int, ...] = (3, 10, 30, 100)
    """Numbers of readings."""
    layouts: int = 5
    """How many of the layouts."""
    requests: int = 1500
    """Most requests for each figure of the service."""
    load_seconds: float = 5.0
    """Longest time for each figure of the service [s]."""
    connections: tuple[int, ...] = (1, 8, 64)
    starts: int = 3
    """How often each program is started."""
    live_points: int = 250
    """Of the nested sampler."""
    fleet_sets: int = 200
    """Reading sets for the rates of fleets in one process."""
    fleet_files: tuple[int, ...] = (100, 1000)
    """Reading sets in each file of a fleet."""

    @classmethod
    def quick(cls) -> "Budget":
        """Give a budget that only shows that everything runs."""
        return cls(
            seconds=0.05,
            sets=2,
            counts=(3, 10),
            layouts=2,
            requests=12,
            load_seconds=2.0,
            connections=(1, 4),
            starts=1,
            live_points=30,
            fleet_sets=20,
            fleet_files=(50,),
        )


@dataclass(frozen=True)
class Row:
    """One figure."""

    what: str
    value: float
    """Not a number where it could not be measured; `note` says why."""
    unit: str
    ratio: float | None = None
    to: str = ""
    """What the ratio is to."""
    note: str = ""

    def plain(self) -> dict[str, object]:
        """Give the row as JSON takes it."""
        found = asdict(self)
        for name in ("value", "ratio"):
            if isinstance(found[name], float) and not math.isfinite(found[name]):
                found[name] = None
        return found


def share(values: Sequence[float], part: float) -> float:
    """Quantile without interpolation: the smallest value that at least this part of the values does not exceed."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(part * len(ordered)) - 1)]


def missing(what: str, why: str) -> Row:
    """Give a row for what cannot be measured here."""
    return Row(what, math.nan, "", note=why)


def table(rows: Sequence[Row]) -> str:
    """Write rows as a table for people."""

    def number(value: float) -> str:
        if not math.isfinite(value):
            return "-"
        return f"{value:,.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"

    lines = []
    for row in rows:
        ratio = "" if row.ratio is None else f"{number(row.ratio)} x {row.to}"
        lines.append((row.what, number(row.value), row.unit, ratio, row.note))
    widths = [max((len(line[k]) for line in lines), default=0) for k in range(5)]
    return "\n".join(
        f"{a:<{widths[0]}}  {b:>{widths[1]}} {c:<{widths[2]}}  {d:<{widths[3]}}  {e}".rstrip()
        for a, b, c, d, e in lines
    )
