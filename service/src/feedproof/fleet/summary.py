"""What a fleet's assessments say, as tables: counted in SQL, so that only the groups are held.

A part's orders: which share has a supply fault behind it is asked of the evidence alone, by the same likelihood as the
base rates (`feedproof.fleet.rates`), so that readings that could show nothing leave it open. An outlet's neutral is
judged by a straight line through the logarithm of its estimated resistance over the visits whose readings could tell
it, each weighed by its own interval.
"""

import math
from typing import Any

import duckdb
import msgspec
import numpy as np
from msgspec import Struct
from scipy import stats

from feedproof.advice.wording import rounded
from feedproof.fleet.meters import Cells, judged
from feedproof.fleet.mixture import estimate, mixture, profile_interval
from feedproof.fleet.rates import NONE, PUBLISHED, read_fleet
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import Cell, Table, assessments, quoted, table_of

NINETY = float(stats.norm.ppf(0.95))
"""Half-width of the central 90 % of a normal law, in standard deviations [1]."""
HURTS = ("neutral_as_live", "frame_as_live", "service_neutral", "heat_at_joint_urgent")
"""Cautions of a visit that a person or a house may be hurt by as it stands."""
_OPEN_NEUTRAL = FAULT_ORDER.index("open_neutral")
#: Least standard deviation of an estimate's logarithm: contacts change from plug to plug [1].
_LEAST_SPREAD = 0.1
_FALSE_DISCOVERIES = 0.05
#: Significant digits of a share, a factor or an offset.
_DIGITS = 4
#: Larger factors than this are not told apart [1].
_MOST = 1000.0


class ReportOptions(Struct, frozen=True, kw_only=True):
    """What a report goes by, where the data have it."""

    by: tuple[str, ...] = ()
    """Columns that make the groups."""
    part: str | None = None
    """Column with the part that was replaced or ordered."""
    outlet: str | None = None
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
        columns["the_time"] = f"epoch(CAST({quoted(asked.time)} AS TIMESTAMP))"
    named = ", ".join(f"{sql} AS {name}" for name, sql in ({"the_group": group} | columns).items())
    base.execute(
        f"CREATE VIEW visits AS SELECT {named}, CASE WHEN readings = 0 THEN 'no_readings'"
        " WHEN determination = 'undetermined' THEN 'undetermined' ELSE finding_place END AS outcome, * FROM counted"
    )
    try:
        worse = _outlets(base)
        made = (
            _sets(base, refused),
            _go_back(base, worse),
            _findings(base, asked),
            _shares(base, "dispositions", "What the jobs called for", "", "disposition"),
            _technique(base),
            _parts(base, asked.part),
            _meters(base),
            worse,
        )
    except duckdb.ConversionException as error:
        raise ValueError(f"{asked.time}: not a date or time in the form of ISO 8601 ({error})") from None
    return tuple(table for table in made if table.rows)


def share(hits: int, of: int) -> dict[str, float]:
    """A share and the ends of its 90 % interval, by Wilson's score [1]."""
    ends = stats.binomtest(hits, of).proportion_ci(0.9, method="wilson")
    return {name: rounded(x, _DIGITS) for name, x in (("share", hits / of), ("low", ends.low), ("high", ends.high))}


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
        fleet, keys = read_fleet(base, [part])
        whose = np.array([key[0] for key in keys], dtype=object)
        for row in table.rows:
            sets = mixture(fleet.of(np.flatnonzero(whose == row[0])).evidence)
            best = estimate(sets, PUBLISHED)
            sound = profile_interval(sets, best, NONE)
            neutral = profile_interval(sets, best, _OPEN_NEUTRAL)
            found.append((*row, *(rounded(x, _DIGITS) for x in (1.0 - sound[1], 1.0 - sound[0], *neutral))))
    behind = ("fault_low", "fault_high", "open_neutral_low", "open_neutral_high")
    return msgspec.structs.replace(table, columns=(*table.columns, *behind), rows=found)


def _meters(base: duckdb.DuckDBPyConnection) -> Table:
    # Without outlets every set is one; how far meters lie apart then holds what their sets have in common.
    cells: dict[str, Any] = base.sql(
        "SELECT reference_meter AS meter, coalesce(the_outlet, 'set ' || row) AS outlet,"
        " the_group || ' ' || supply_system AS region, median(ln(reference_voltage)) AS value,"
        " median(reference_tolerance) AS tolerance, count(*) AS sets FROM visits"
        " WHERE reference_voltage > 0 AND reference_tolerance IS NOT NULL AND finding = 'none_found'"
        " GROUP BY 1, 2, 3 ORDER BY ALL"
    ).fetchnumpy()
    sets = cells.pop("sets")
    rows: list[tuple[Cell, ...]] = []
    for off in sorted(judged(Cells(**cells)), key=lambda off: (not off.named, -abs(off.off), off.meter)):
        half = float(stats.t.ppf(0.95, off.freedom)) * off.deviation
        ends = [rounded(100.0 * end, _DIGITS) for end in (off.off, off.off - half, off.off + half, off.tolerance)]
        number = int(sets[cells["meter"] == off.meter].sum())
        rows.append((off.meter, number, off.outlets, off.shared, *ends, "yes" if off.named else "no"))
    return Table(
        name="meters",
        title="Meters that read off by more than their own limit of error",
        note="Leg-to-leg readings where nothing was found, against the middle of all meters, in percent: at outlets"
        " that another meter has read too (shared), and against the other outlets of the group. Off: by more than the"
        " meter's limit of error, beyond chance, with at most one in twenty of those named wrongly. Have such a meter"
        " checked; one without shared outlets may stand where the supply itself differs.",
        columns=("meter", "sets", "outlets", "shared", "percent", "low", "high", "limit", "off"),
        rows=rows,
    )


def _outlets(base: duckdb.DuckDBPyConnection) -> Table:
    # The rise of the logarithm from the first visit to the last by weighted least squares, and its standard deviation.
    lines = base.execute(
        """
        WITH seen AS (
            SELECT *, ln(resistance_n) AS ohms, min(the_time) OVER outlet AS first, max(the_time) OVER outlet AS last,
                greatest(ln(resistance_n_high / resistance_n_low) / (2 * $ninety), $least) ** -2 AS weight
            FROM visits WHERE the_time IS NOT NULL AND the_outlet <> '' AND resistance_n_informed
            WINDOW outlet AS (PARTITION BY the_outlet)
        ), placed AS (
            SELECT *, (the_time - first) / (last - first) AS since FROM seen WHERE last > first
        ), centred AS (
            SELECT *, since - sum(weight * since) OVER outlet / sum(weight) OVER outlet AS off FROM placed
            WINDOW outlet AS (PARTITION BY the_outlet)
        )
        SELECT the_outlet, count(*), strftime(make_timestamp(CAST(1e6 * min(first) AS BIGINT)), '%Y-%m-%d'),
            strftime(make_timestamp(CAST(1e6 * min(last) AS BIGINT)), '%Y-%m-%d'),
            first(resistance_n ORDER BY the_time, row), last(resistance_n ORDER BY the_time, row),
            sum(weight * off * ohms) / sum(weight * off ** 2), sum(weight * off ** 2) ** -0.5
        FROM centred GROUP BY the_outlet ORDER BY the_outlet
        """,
        {"ninety": NINETY, "least": _LEAST_SPREAD},
    ).fetchall()
    rise, error = np.array([line[-2:] for line in lines]).reshape(-1, 2).T
    believed = stats.false_discovery_control(stats.norm.sf(rise / error)) <= _FALSE_DISCOVERIES
    ends = np.exp(np.clip([rise, rise - NINETY * error, rise + NINETY * error], -math.log(_MOST), math.log(_MOST))).T
    rows: list[tuple[Cell, ...]] = [
        (*line[:4], *(rounded(x, _DIGITS) for x in (*line[4:6], *times)), "yes" if sure else "no")
        for line, times, sure in zip(lines, ends, believed, strict=True)
        if sure or times[1] > 1.0
    ]
    rows.sort(key=lambda row: (row[-1] != "yes", -float(row[7] or 0.0), str(row[0])))
    return Table(
        name="outlets",
        title="Outlets whose neutral worsens",
        note="Estimated series resistance of the neutral over the visits whose readings could tell it; times is how"
        " much it has grown from the first visit to the last, by the line through all, and is not carried on beyond"
        f" them ({_MOST:g} stands for more). Worsens: beyond chance, at most one in twenty of those named wrongly.",
        columns=("outlet", "visits", "first", "last", "first_ohm", "last_ohm", "times", "low", "high", "worsens"),
        rows=rows,
    )


def _go_back(base: duckdb.DuckDBPyConnection, worse: Table) -> Table:
    return table_of(
        base,
        """
        WITH latest AS (
            SELECT * FROM visits WHERE readings > 0 QUALIFY the_outlet IS NULL OR the_time IS NULL
            OR row_number() OVER (PARTITION BY the_outlet ORDER BY the_time DESC, row DESC) = 1
        ), judged AS (
            SELECT *, CASE
                WHEN disposition = 'stop_and_refer' AND list_has_any(string_split(caution_codes, ' '), $hurts) THEN 1
                WHEN disposition = 'stop_and_refer' AND determination = 'established' THEN 2
                WHEN disposition = 'stop_and_refer' THEN 3
                WHEN list_contains($rising, the_outlet) THEN 4
                WHEN the_part <> '' AND NOT open_neutral_would_show THEN 5
                WHEN disposition = 'take_more_readings' AND supply_fault_probability >= 0.5 THEN 6
            END AS rank FROM latest
        )
        SELECT rank, $why[rank] AS why, reference, the_group AS "group", the_outlet AS outlet,
            CAST(make_timestamp(CAST(1e6 * the_time AS BIGINT)) AS VARCHAR) AS time, outcome,
            finding_conductor AS conductor, supply_fault_probability AS supply_fault, refer_to
        FROM judged WHERE rank IS NOT NULL ORDER BY rank, supply_fault DESC, reference, row
        """,
        {"hurts": list(HURTS), "why": list(_WHY), "rising": [row[0] for row in worse.rows if row[-1] == "yes"]},
        name="go_back",
        title="Where to go back to, the dangerous first",
        note="Of an outlet the last visit counts, where outlet and time are given. That an outlet is not in the list"
        " does not make it safe: its readings may not have been able to show what it has.",
    )


_WHY = (
    "a person or the house may be hurt",
    "a supply fault is established",
    "a supply fault is probable",
    "the neutral worsens",
    "a part was ordered on readings that could not have shown an open neutral",
    "a supply fault is more likely than not",
)
