"""What a fleet's assessments say, as tables: counted batch by batch, so that only the groups are held.

A meter is judged by the leg-to-leg voltage that it read where nothing was found: its mean against that of the
fleet on the same supply system. That is a sign to have the meter checked and no proof, since a meter that stays in one
region reads that region's voltage.

An outlet's neutral is judged by a straight line through the logarithm of its estimated resistance over the visits whose
readings could tell it, each weighed by its own interval.
"""

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
from msgspec import Struct

from feedproof.fleet.ratebook import as_text
from feedproof.fleet.statistics import NINETY, Trend, discoveries, one_sided_p, quantile_of_bins, wilson_interval
from feedproof.fleet.tables import read_columns

Cell = str | float | int | None

#: Fewer sets than this say nothing of a meter [1].
_FEW_SETS = 5
#: Estimates are not taken for closer than this: contacts change from plug to plug [1].
_LEAST_SPREAD = 0.1
_DAYS_OF_YEAR = 365.25
#: Width of the bins that a meter's readings are counted in, as a logarithm [1].
_BIN = 0.0005


class Asked(Struct, frozen=True, kw_only=True):
    """What a report goes by, where the data have it."""

    by: tuple[str, ...] = ()
    """Columns that make the groups."""
    part: str | None = None
    """Column with the part that was replaced or ordered."""
    outlet: str | None = None
    time: str | None = None
    title: str = "Fleet report"


class Table(Struct, frozen=True, kw_only=True):
    """A table of the report."""

    name: str
    title: str
    note: str
    """What it says, and what it does not."""
    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]]


class Summary(Struct, frozen=True, kw_only=True):
    """All tables of a report."""

    sets: int
    models: tuple[str, ...]
    tables: tuple[Table, ...]

    def table(self, name: str) -> Table | None:
        """A table by its name; None where the data do not have what it needs."""
        return next((table for table in self.tables if table.name == name), None)


class _Counts:
    def __init__(self) -> None:
        self.sets = 0
        self.models: set[str] = set()
        self.findings: Counter[tuple[str, str]] = Counter()
        self.group: Counter[str] = Counter()
        self.disposition: Counter[tuple[str, str]] = Counter()
        self.blind: Counter[str] = Counter()
        self.parts: Counter[str] = Counter()
        self.behind: defaultdict[str, float] = defaultdict(float)
        self.plain: Counter[str] = Counter()
        self.meters: defaultdict[tuple[str, str], Counter[int]] = defaultdict(Counter)
        self.outlets: dict[str, tuple[Trend, list[float]]] = {}


_COLUMNS = [
    "finding",
    "determination",
    "disposition",
    "supply_fault_probability",
    "open_neutral_would_show",
    "supply_system",
    "reference_voltage",
    "reference_meter",
    "resistance_n",
    "resistance_n_low",
    "resistance_n_high",
    "resistance_n_informed",
    "model_version",
]


def summarize(path: Path, asked: Asked) -> Summary:
    """Count a file of assessments.

    Parameters
    ----------
    path : Path
        What `feedproof fleet` wrote.
    asked : Asked
        What to go by.

    Returns
    -------
    Summary
        Its tables; those that the data have nothing for are left out.

    Raises
    ------
    ValueError
        If a column is missing, or a time is none.
    """
    counts = _Counts()
    own = [name for name in (*asked.by, asked.part, asked.outlet, asked.time) if name is not None]
    for batch in read_columns(path, [*_COLUMNS, *own]):
        for row in batch.to_pylist():
            if row["finding"] is not None:
                _count(counts, row, asked)
    made = (
        _findings(counts, asked),
        _dispositions(counts),
        _technique(counts),
        _parts(counts),
        _meters(counts),
        _outlets(counts),
    )
    return Summary(
        sets=counts.sets,
        models=tuple(sorted(counts.models)),
        tables=tuple(table for table in made if table.rows),
    )


def _count(counts: _Counts, row: dict[str, Any], asked: Asked) -> None:
    group = " / ".join(as_text(row[name]) or "(none)" for name in asked.by) or "all"
    counts.sets += 1
    counts.models.add(row["model_version"] or "")
    counts.group[group] += 1
    counts.findings[group, row["finding"]] += 1
    counts.disposition[group, row["disposition"]] += 1
    counts.blind[group] += not row["open_neutral_would_show"]
    part = as_text(row[asked.part]) if asked.part else None
    if part:
        counts.parts[part] += 1
        counts.behind[part] += row["supply_fault_probability"]
        counts.plain[part] += row["finding"] != "none_found" and row["determination"] != "undetermined"
    if row["reference_meter"] is not None and row["finding"] == "none_found" and row["reference_voltage"] > 0.0:
        counts.meters[row["supply_system"], row["reference_meter"]][
            round(math.log(row["reference_voltage"]) / _BIN)
        ] += 1
    outlet = as_text(row[asked.outlet]) if asked.outlet else None
    if outlet and asked.time and row[asked.time] is not None and row["resistance_n_informed"]:
        low, middle, high = (math.log(row[f"resistance_n{end}"]) for end in ("_low", "", "_high"))
        trend, ends = counts.outlets.setdefault(outlet, (Trend(), [math.inf, 0.0, -math.inf, 0.0]))
        day = _day(row[asked.time])
        trend.add(day / _DAYS_OF_YEAR, middle, max((high - low) / (2.0 * NINETY), _LEAST_SPREAD))
        if day < ends[0]:
            ends[:2] = [day, math.exp(middle)]
        if day > ends[2]:
            ends[2:] = [day, math.exp(middle)]


def _day(value: object) -> float:
    """Days since a fixed day [d]."""
    if isinstance(value, dt.datetime):
        return value.replace(tzinfo=value.tzinfo or dt.UTC).timestamp() / 86400.0
    if isinstance(value, dt.date):
        return float(value.toordinal() - dt.date(1970, 1, 1).toordinal())
    if isinstance(value, str):
        try:
            return _day(dt.datetime.fromisoformat(value))
        except ValueError:
            pass
    raise ValueError(f"{value!r} is no date or time in the form of ISO 8601")


def _share(hits: float, of: int) -> tuple[Cell, ...]:
    low, high = wilson_interval(hits, of)
    return _digits(hits / of), _digits(low), _digits(high)


def _digits(value: float) -> float:
    return float(f"{value:.4g}")


def _findings(counts: _Counts, asked: Asked) -> Table:
    rows = [
        (group, finding, number, *_share(number, counts.group[group]))
        for (group, finding), number in sorted(
            counts.findings.items(), key=lambda item: (item[0][0], -item[1], item[0])
        )
    ]
    return Table(
        name="findings",
        title=f"Findings by {' / '.join(asked.by)}" if asked.by else "Findings",
        note="The most probable state of the supply in each set. None found is a statement about the readings taken,"
        " never that a supply is free of danger.",
        columns=("group", "finding", "sets", "share", "low", "high"),
        rows=rows,
    )


def _dispositions(counts: _Counts) -> Table:
    rows = [
        (group, code, number, *_share(number, counts.group[group]))
        for (group, code), number in sorted(counts.disposition.items(), key=lambda item: (item[0][0], -item[1]))
    ]
    return Table(
        name="dispositions",
        title="What the jobs called for",
        note="",
        columns=("group", "disposition", "sets", "share", "low", "high"),
        rows=rows,
    )


def _technique(counts: _Counts) -> Table:
    rows = [
        (group, number, counts.blind[group], *_share(counts.blind[group], number))
        for group, number in sorted(counts.group.items())
    ]
    return Table(
        name="technique",
        title="Sets that could not have shown an open neutral",
        note="With a high-impedance meter on an unplugged outlet, strays alone can give an open neutral a plausible"
        " reading. A low-impedance meter or a load shows it.",
        columns=("group", "sets", "blind", "share", "low", "high"),
        rows=rows,
    )


def _parts(counts: _Counts) -> Table:
    rows = [
        (part, number, _digits(counts.behind[part]), *_share(counts.behind[part], number), counts.plain[part])
        for part, number in sorted(counts.parts.items(), key=lambda item: (-counts.behind[item[0]], item[0]))
    ]
    return Table(
        name="parts",
        title="Parts ordered, with a supply fault behind them",
        note="Expected adds up each set's probability of a supply fault; named counts the sets where one is"
        " probable or established. A supply fault beside a part does not show that the part was sound.",
        columns=("part", "orders", "expected", "share", "low", "high", "named"),
        rows=rows,
    )


def _meters(counts: _Counts) -> Table:
    fleet: defaultdict[str, Counter[int]] = defaultdict(Counter)
    for (system, _), own in counts.meters.items():
        fleet[system] += own
    drafts = []
    for (system, meter), own in counts.meters.items():
        others = fleet[system] - own
        n = own.total()
        if n < _FEW_SETS or others.total() < _FEW_SETS:
            continue
        middle = quantile_of_bins(others, 0.5)
        reach = 3.0 * (quantile_of_bins(others, 0.75) - quantile_of_bins(others, 0.25)) + 1.0
        mean, square = _held_in(own, middle - reach, middle + reach)
        usual, squares = _held_in(others, middle - reach, middle + reach)
        off = (mean - usual) * _BIN
        error = math.sqrt(square / n + squares / others.total()) * _BIN
        drafts.append((meter, system, n, off, error, 2.0 * one_sided_p(abs(off) / error)))
    believed = discoveries([draft[-1] for draft in drafts])
    rows: list[tuple[Cell, ...]] = [
        (
            meter,
            system,
            n,
            _digits(100.0 * off),
            _digits(100.0 * (off - NINETY * error)),
            _digits(100.0 * (off + NINETY * error)),
            "yes" if sure else "no",
        )
        for (meter, system, n, off, error, _), sure in zip(drafts, believed, strict=True)
    ]
    rows.sort(key=lambda row: (row[-1] != "yes", -abs(float(row[3] or 0.0)), str(row[0])))
    return Table(
        name="meters",
        title="Meters that read off against their fleet",
        note="Mean leg-to-leg reading where nothing was found, against all other meters on that supply system, in"
        " percent. Off: beyond chance, with at most one in twenty of those named wrongly. Have such a meter checked;"
        " where it is used, the supply itself may differ.",
        columns=("meter", "supply_system", "sets", "percent", "low", "high", "off"),
        rows=rows,
    )


def _held_in(bins: Counter[int], low: float, high: float) -> tuple[float, float]:
    """Mean and variance of values, those further out taken as at the ends: one misread must not decide."""
    number = bins.total()
    held = [(min(max(place, low), high), count) for place, count in bins.items()]
    mean = sum(place * count for place, count in held) / number
    # A bin, or a meter's step, is the least that values differ by.
    return mean, max(sum(count * (place - mean) ** 2 for place, count in held) / number, 1.0)


def _outlets(counts: _Counts) -> Table:
    drafts = []
    for outlet, (trend, ends) in counts.outlets.items():
        slope = trend.slope()
        if slope is not None:
            drafts.append((outlet, trend.count, *slope, ends, one_sided_p(slope[0] / slope[1])))
    believed = discoveries([draft[-1] for draft in drafts])
    rows: list[tuple[Cell, ...]] = [
        (
            outlet,
            visits,
            _date(ends[0]),
            _date(ends[2]),
            _digits(ends[1]),
            _digits(ends[3]),
            _digits(math.exp(_bounded(slope))),
            _digits(math.exp(_bounded(slope - NINETY * error))),
            _digits(math.exp(_bounded(slope + NINETY * error))),
            "yes" if sure else "no",
        )
        for (outlet, visits, slope, error, ends, _), sure in zip(drafts, believed, strict=True)
        if sure or slope > NINETY * error
    ]
    rows.sort(key=lambda row: (row[-1] != "yes", -float(row[7] or 0.0), str(row[0])))
    return Table(
        name="outlets",
        title="Outlets whose neutral worsens",
        note="Estimated series resistance of the neutral over the visits whose readings could tell it; the factor a"
        " year is how much it grows. Worsens: beyond chance, with at most one in twenty of those named wrongly.",
        columns=(
            "outlet", "visits", "first", "last", "first_ohm", "last_ohm", "factor_a_year", "low", "high", "worsens",
        ),
        rows=rows,
    )  # fmt: skip


def _bounded(exponent: float) -> float:
    return min(max(exponent, -60.0), 60.0)


def _date(day: float) -> str:
    return (dt.date(1970, 1, 1) + dt.timedelta(days=math.floor(day))).isoformat()


def rows_as_text(rows: Sequence[tuple[Cell, ...]]) -> list[list[str]]:
    """Cells as they are written."""
    return [
        ["" if cell is None else cell if isinstance(cell, str) else msgspec.json.encode(cell).decode() for cell in row]
        for row in rows
    ]
