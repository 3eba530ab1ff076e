"""What a fleet's assessments say, as tables: counted in SQL, so that only the groups are held.

A part's orders: which share has a supply fault behind it is asked of the evidence alone, by the same likelihood as the
base rates (`feedproof.fleet.rates`), so that readings that could show nothing leave it open.
"""

import math
from typing import Any

import duckdb
import msgspec
import numpy as np
from msgspec import Struct
from scipy import stats

from feedproof.fleet.evidence import NONE, PUBLISHED, read_fleet
from feedproof.fleet.meters import Cells, judged
from feedproof.fleet.outlets import go_back, worsening
from feedproof.fleet.rates import intervals
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from feedproof.fleet.tables import Cell, Table, assessments, digits, quoted, table_of

_OPEN_NEUTRAL = FAULT_ORDER.index("open_neutral")


_OUTCOME = (
    "CASE WHEN readings = 0 THEN 'no_readings' WHEN determination = 'undetermined' THEN 'undetermined'"
    " ELSE finding_place END"
)


class ReportOptions(Struct, frozen=True, kw_only=True):
    """What a report goes by, where the data have it."""

    by: tuple[str, ...] = ()
    """Columns that make the groups."""
    part: str | None = None
    """Column with the part that was replaced or ordered."""
    outlet: str | None = None
    """Column with the outlet that was visited; the same name in two groups is two outlets."""
    time: str | None = None
    title: str = "Fleet report"


def summarize(source: object, asked: ReportOptions, refused: int | None = None) -> tuple[Table, ...]:
    """Count assessments.

    Parameters
    ----------
    source : Path, str, or Arrow data
        What `feedproof fleet` wrote, or `assess_batches` gave.
    asked : ReportOptions
        What to go by.
    refused : int, optional
        How many sets were refused, beside those among the assessments.

    Returns
    -------
    tuple of Table
        Those that the data have something for.

    Raises
    ------
    ValueError
        If a column is missing, or a time is none.
    """
    given = {"the_part": asked.part, "the_outlet": asked.outlet, "the_time": asked.time}
    base = assessments(source, [*asked.by, *filter(None, given.values())])
    base.create_function("wilson", share, ["BIGINT", "BIGINT"], "STRUCT(share DOUBLE, low DOUBLE, high DOUBLE)")
    group = " || ' / ' || ".join(f"coalesce(CAST({quoted(name)} AS VARCHAR), '(none)')" for name in asked.by) or "'all'"
    columns = {name: f"CAST({quoted(own)} AS VARCHAR)" if own else "NULL" for name, own in given.items()}
    if asked.time:
        columns["the_time"] = f"epoch(CAST({quoted(asked.time)} AS TIMESTAMPTZ))"
    columns = {"the_group": group, "outcome": _OUTCOME} | columns
    outlet = columns["the_outlet"]
    columns["the_place"] = f"CASE WHEN trim({outlet}) <> '' THEN {group} || chr(31) || {outlet} END"
    named = ", ".join(f"{sql} AS {name}" for name, sql in columns.items())
    base.execute(f"CREATE VIEW visits AS SELECT {named}, {', '.join(ASSESSED.names)} FROM counted")
    try:
        worse, meters = worsening(base), _meters(base)
        made = (
            _sets(base, refused),
            go_back(base, worse, meters),
            _findings(base, asked),
            _shares(base, "dispositions", "What the jobs called for", "", "disposition"),
            _technique(base),
            _parts(base, asked.part),
            meters,
            worse,
        )
    except duckdb.ConversionException as error:
        raise ValueError(f"{asked.time}: not a date or time in the form of ISO 8601 ({error})") from None
    return tuple(table for table in made if table.rows)


def share(hits: int, of: int) -> dict[str, float]:
    """A share and the ends of its 90 % interval, by Wilson's score [1]."""
    ends = stats.binomtest(hits, of).proportion_ci(0.9, method="wilson")
    return {"share": digits(hits / of), "low": digits(ends.low), "high": digits(ends.high)}


def _sets(base: duckdb.DuckDBPyConnection, refused: int | None) -> Table:
    models = base.sql("SELECT string_agg(DISTINCT model_version, ', ' ORDER BY model_version) FROM counted").fetchall()
    unknown = " How many were refused is not known here: a run writes them to a file of their own."
    return table_of(
        base,
        """
        WITH numbers AS (
            SELECT count(*) FILTER (readings > 0) AS read, count(*) FILTER (readings = 0) AS empty,
                (SELECT count(*) FROM assessed WHERE refused IS NULL) - count(*) AS twice,
                (SELECT nullif(count(refused), 0) FROM assessed) AS here FROM counted
        )
        SELECT unnest(['assessed', 'without any reading', 'the same visit again, counted once', 'refused']) AS sets,
            unnest([read, empty, twice, coalesce(here + $refused, here, $refused)]) AS number
        FROM numbers WHERE read + empty > 0
        """,
        {"refused": refused},
        name="sets",
        title="What was counted",
        note=f"Model {models[0][0]}. Shares below are of the sets that were assessed."
        + (unknown if refused is None else ""),
    )


def _shares(base: duckdb.DuckDBPyConnection, name: str, title: str, note: str, what: str) -> Table:
    return table_of(
        base,
        f"""
        WITH counts AS (
            SELECT the_group AS "group", {what}, count(*) AS sets, CAST(sum(count(*)) OVER (PARTITION BY the_group) AS
            BIGINT) AS every FROM visits GROUP BY 1, 2
        ) SELECT * EXCLUDE every, unnest(wilson(sets, every)) FROM counts ORDER BY 1, 3 DESC, 2
        """,
        name=name,
        title=title,
        note=note,
    )


def _findings(base: duckdb.DuckDBPyConnection, asked: ReportOptions) -> Table:
    return _shares(
        base,
        "findings",
        f"Findings by {' / '.join(asked.by)}" if asked.by else "Findings",
        "What was found with at least a probability of 0.75; below that the set is undetermined, whatever leads there,"
        " and a set without readings has no finding. None found is a statement about the readings taken, never that a"
        " supply is free of danger.",
        "outcome",
    )


def _technique(base: duckdb.DuckDBPyConnection) -> Table:
    return table_of(
        base,
        """
        WITH counts AS (
            SELECT the_group AS "group", count(*) AS sets, count(*) FILTER (NOT open_neutral_would_show) AS blind
            FROM visits WHERE readings > 0 GROUP BY ALL
        ) SELECT *, unnest(wilson(blind, sets)) FROM counts ORDER BY ALL
        """,
        name="technique",
        title="Sets that could not have shown an open neutral",
        note="With a high-impedance meter on an unplugged outlet, strays alone can give an open neutral a plausible"
        " reading. A low-impedance meter or a load shows it.",
    )


def _parts(base: duckdb.DuckDBPyConnection, part: str | None) -> Table:
    table = table_of(
        base,
        """
        WITH orders AS (
            SELECT the_part AS part, count(*) AS orders,
                count(*) FILTER (determination = 'established' AND finding <> 'none_found') AS established,
                count(*) FILTER (NOT open_neutral_would_show) AS blind
            FROM visits WHERE the_part <> '' AND readings > 0 GROUP BY ALL
        ) SELECT *, unnest(wilson(blind, orders)) FROM orders ORDER BY established DESC, part
        """,
        name="parts",
        title="Parts ordered, and the supply behind them",
        note="Established: orders with an established supply fault. Blind: orders on readings that could not have shown"
        " an open neutral, with their share; what these say of the supply is nothing. The last four: which shares of"
        " the orders can have any supply fault, and an open neutral, behind them, by what the readings could show; from"
        " 0 to 1 where they could show nothing. A supply fault beside a part does not show that the part was sound.",
    )
    found: list[tuple[Cell, ...]] = []
    if part and table.rows:
        fleet, keys = read_fleet(base, ["the_part"], "visits")
        whose = np.array([key[0] for key in keys], dtype=object)
        for row in table.rows:
            sets = fleet.of(np.flatnonzero(whose == row[0]))
            sound, neutral = intervals(sets, PUBLISHED, (NONE, _OPEN_NEUTRAL))
            found.append((*row, *map(digits, (1.0 - sound[1], 1.0 - sound[0], *neutral))))
    behind = ("fault_low", "fault_high", "open_neutral_low", "open_neutral_high")
    return msgspec.structs.replace(table, columns=(*table.columns, *behind), rows=found)


def _meters(base: duckdb.DuckDBPyConnection) -> Table:
    # Without an outlet every set is one; how far meters lie apart then holds what their sets have in common. Whatever
    # was found counts: a meter that is far off finds a fault of the supply wherever it goes.
    cells: dict[str, Any] = base.sql(
        "WITH seen AS (SELECT *, the_group || ' ' || supply_system AS region,"
        " coalesce(the_place, 'set ' || row_number() OVER (ORDER BY row)) AS outlet FROM visits WHERE"
        " reference_voltage > 0 AND reference_tolerance IS NOT NULL AND reference_meter IS NOT NULL)"
        " SELECT reference_meter AS meter, outlet, region, median(ln(reference_voltage)) AS value,"
        " median(reference_tolerance) AS tolerance, count(*) AS sets FROM seen GROUP BY 1, 2, 3 ORDER BY ALL"
    ).fetchnumpy()
    sets = cells.pop("sets")
    rows: list[tuple[Cell, ...]] = []
    for off in sorted(judged(Cells(**cells)), key=lambda off: (not off.named, -abs(off.off), off.meter)):
        half = float(stats.t.ppf(0.95, off.freedom)) * off.deviation
        ends = [digits(100.0 * math.expm1(end)) for end in (off.off, off.off - half, off.off + half)]
        number = int(sets[cells["meter"] == off.meter].sum())
        limit = digits(100.0 * off.tolerance)
        rows.append((off.meter, number, off.outlets, off.shared, *ends, limit, "yes" if off.named else "no"))
    return Table(
        name="meters",
        title="Meters that read off by more than their own limit of error",
        note="Leg-to-leg readings without a load, whatever was found, against the middle of all meters, in percent: at"
        " outlets that another meter has read too (shared), and against the other outlets of the group. Off: by more"
        " than the meter's limit of error, beyond chance, with at most one in twenty of those named wrongly. Have such"
        " a meter checked, and what it found read again with another; one without shared outlets may stand where the"
        " supply itself differs.",
        columns=("meter", "sets", "outlets", "shared", "percent", "low", "high", "limit", "off"),
        rows=rows,
    )
