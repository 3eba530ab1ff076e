"""What a fleet's assessments say, as tables: counted in SQL, so that only the groups are held.

A part's orders: which share has a supply fault behind it is asked of the evidence alone, by the same likelihood as the
base rates (`feedproof.fleet.rates`), so that readings that could show nothing leave it open. An outlet's neutral is
judged by a straight line through the logarithm of its estimated resistance over the visits whose readings could tell
it, each weighed by its own interval.
"""

import datetime as dt
import math
from collections.abc import Sequence

import duckdb
import numpy as np
from msgspec import Struct
from scipy import stats

from feedproof.fleet.meters import Cells, judged
from feedproof.fleet.mixture import estimate, mixture, profile_interval
from feedproof.fleet.rates import NONE, PUBLISHED, read_fleet
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import Cell, Table, assessments, quoted

NINETY = float(stats.norm.ppf(0.95))
"""Half-width of the central 90 % of a normal law, in standard deviations [1]."""
HURTS = ("neutral_as_live", "frame_as_live", "service_neutral", "heat_at_joint_urgent")
"""Cautions of a visit that a person or a house may be hurt by as it stands."""
_OPEN_NEUTRAL = FAULT_ORDER.index("open_neutral")
#: Least standard deviation of an estimate's logarithm: contacts change from plug to plug [1].
_LEAST_SPREAD = 0.1
_FALSE_DISCOVERIES = 0.05
#: Larger factors than this are not told apart [1].
_MOST = 1000.0


class Asked(Struct, frozen=True, kw_only=True):
    """What a report goes by, where the data have it."""

    by: tuple[str, ...] = ()
    """Columns that make the groups."""
    part: str | None = None
    """Column with the part that was replaced or ordered."""
    outlet: str | None = None
    time: str | None = None
    title: str = "Fleet report"


def summarize(source: object, asked: Asked, refused: int | None = None) -> tuple[Table, ...]:
    """Count assessments.

    Parameters
    ----------
    source : Path, str, or Arrow data
        What `feedproof fleet` wrote, or `assess_batches` gave.
    asked : Asked
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
    own = [name for name in (*asked.by, asked.part, asked.outlet, asked.time) if name is not None]
    base = assessments(source, own)
    group = " || ' / ' || ".join(f"coalesce(CAST({quoted(name)} AS VARCHAR), '(none)')" for name in asked.by) or "'all'"
    columns = {"the_group": group, "the_part": "NULL", "the_outlet": "NULL", "the_time": "NULL"}
    for name in ("part", "outlet"):
        if getattr(asked, name):
            columns[f"the_{name}"] = f"CAST({quoted(getattr(asked, name))} AS VARCHAR)"
    if asked.time:
        columns["the_time"] = f"epoch(CAST({quoted(asked.time)} AS TIMESTAMP))"
    named = ", ".join(f"{sql} AS {name}" for name, sql in columns.items())
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


def share(hits: int, of: int) -> tuple[float, float, float]:
    """A share and the ends of its 90 % interval, by Wilson's score [1]."""
    ends = stats.binomtest(hits, of).proportion_ci(0.9, method="wilson")
    return _digits(hits / of), _digits(ends.low), _digits(ends.high)


def _digits(value: float) -> float:
    return float(f"{value:.4g}")


def _sets(base: duckdb.DuckDBPyConnection, refused: int | None) -> Table:
    (told,) = base.sql(
        "SELECT with_readings, without, here - with_readings - without, refused FROM"
        " (SELECT count(*) FILTER (readings > 0) AS with_readings, count(*) FILTER (readings = 0) AS without"
        " FROM counted), (SELECT count(*) FILTER (refused IS NULL) AS here, count(refused) AS refused FROM assessed)"
    ).fetchall()
    with_readings, without, twice, here = told
    (models,) = base.sql(
        "SELECT string_agg(DISTINCT model_version, ', ' ORDER BY model_version) FROM counted"
    ).fetchall()
    return Table(
        name="sets",
        title="What was counted",
        note=f"Model {models[0]}. Shares below are of the sets that were assessed."
        + (
            ""
            if refused is not None
            else " How many were refused is not known here: a run writes them to a file of their own."
        ),
        columns=("sets", "number"),
        rows=[
            ("assessed", with_readings),
            ("without any reading", without),
            ("the same visit again, counted once", twice),
            ("refused", None if refused is None and not here else here + (refused or 0)),
        ]
        if with_readings + without
        else [],
    )


def _shares(base: duckdb.DuckDBPyConnection, name: str, title: str, note: str, what: str, where: str = "true") -> Table:
    rows = base.sql(
        f"SELECT the_group, {what}, count(*), CAST(sum(count(*)) OVER (PARTITION BY the_group) AS BIGINT) FROM visits"
        f" WHERE {where} GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2"
    ).fetchall()
    return Table(
        name=name,
        title=title,
        note=note,
        columns=("group", what, "sets", "share", "low", "high"),
        rows=[(group, code, n, *share(n, of)) for group, code, n, of in rows],
    )


def _findings(base: duckdb.DuckDBPyConnection, asked: Asked) -> Table:
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
    rows = base.sql(
        "SELECT the_group, count(*), count(*) FILTER (NOT open_neutral_would_show) FROM visits WHERE readings > 0"
        " GROUP BY ALL ORDER BY ALL"
    ).fetchall()
    return Table(
        name="technique",
        title="Sets that could not have shown an open neutral",
        note="With a high-impedance meter on an unplugged outlet, strays alone can give an open neutral a plausible"
        " reading. A low-impedance meter or a load shows it.",
        columns=("group", "sets", "blind", "share", "low", "high"),
        rows=[(group, n, blind, *share(blind, n)) for group, n, blind in rows],
    )


def _parts(base: duckdb.DuckDBPyConnection, part: str | None) -> Table:
    rows = base.sql(
        "SELECT the_part, count(*), count(*) FILTER (NOT open_neutral_would_show),"
        " count(*) FILTER (determination = 'established' AND finding <> 'none_found') FROM visits"
        " WHERE the_part <> '' AND readings > 0 GROUP BY ALL ORDER BY 4 DESC, 1"
    ).fetchall()
    found: list[tuple[Cell, ...]] = []
    if part and rows:
        fleet, keys = read_fleet(base, [part])
        whose = np.array([key[0] for key in keys], dtype=object)
        for name, orders, blind, established in rows:
            sets = mixture(fleet.of(np.flatnonzero(whose == name)).evidence)
            best = estimate(sets, PUBLISHED)
            sound = profile_interval(sets, best, NONE)
            neutral = profile_interval(sets, best, _OPEN_NEUTRAL)
            ends = [_digits(end) for end in (1.0 - sound[1], 1.0 - sound[0], *neutral)]
            found.append((name, orders, established, blind, *share(blind, orders), *ends))
    return Table(
        name="parts",
        title="Parts ordered, and the supply behind them",
        note="Established: orders with an established supply fault. Blind: orders on readings that could not have shown"
        " an open neutral, with their share; what these say of the supply is nothing. The last four: which shares of"
        " the orders can have any supply fault, and an open neutral, behind them, by what the readings could show; from"
        " 0 to 1 where they could show nothing. A supply fault beside a part does not show that the part was sound.",
        columns=(
            "part", "orders", "established", "blind", "share", "low", "high",
            "fault_low", "fault_high", "open_neutral_low", "open_neutral_high",
        ),
        rows=found,
    )  # fmt: skip


def _meters(base: duckdb.DuckDBPyConnection) -> Table:
    # Without outlets every set is one; how far meters lie apart then holds what their sets have in common.
    cells = base.sql(
        "SELECT reference_meter, coalesce(the_outlet, 'set ' || row), the_group || ' ' || supply_system,"
        " median(ln(reference_voltage)), median(reference_tolerance), count(*) FROM visits"
        " WHERE reference_voltage > 0 AND reference_tolerance IS NOT NULL AND finding = 'none_found'"
        " GROUP BY 1, 2, 3 ORDER BY ALL"
    ).fetchall()
    number: dict[str, int] = {}
    for meter, *_, count in cells:
        number[meter] = number.get(meter, 0) + count
    meters, outlets, regions, values, tolerances, _ = zip(*cells, strict=True) if cells else ((),) * 6
    found = judged(
        Cells(meter=meters, outlet=outlets, region=regions, value=np.array(values), tolerance=np.array(tolerances))
    )
    rows: list[tuple[Cell, ...]] = []
    for off in sorted(found, key=lambda off: (not off.named, -abs(off.off), off.meter)):
        half = float(stats.t.ppf(0.95, off.freedom)) * off.deviation
        ends = [_digits(100.0 * end) for end in (off.off, off.off - half, off.off + half, off.tolerance)]
        rows.append((off.meter, number[off.meter], off.outlets, off.shared, *ends, "yes" if off.named else "no"))
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
    drafts = []
    told = base.sql(
        "SELECT the_outlet, list([the_time, ln(resistance_n), ln(resistance_n_high / resistance_n_low)] ORDER BY"
        " the_time, row) FROM visits WHERE the_time IS NOT NULL AND the_outlet <> '' AND resistance_n_informed"
        " GROUP BY ALL HAVING count(DISTINCT the_time) > 1 ORDER BY ALL"
    ).fetchall()
    for outlet, visits in told:
        time, ohms, width = np.array(visits).T
        weight = np.maximum(width / (2.0 * NINETY), _LEAST_SPREAD) ** -2
        since = (time - np.average(time, weights=weight)) / (time[-1] - time[0])
        square = float(weight @ since**2)
        drafts.append((outlet, time, np.exp(ohms), float((weight * since) @ ohms) / square, square**-0.5))
    chances = [float(stats.norm.sf(rise / error)) for *_, rise, error in drafts]
    believed = stats.false_discovery_control(np.array(chances)) <= _FALSE_DISCOVERIES if chances else np.zeros(0)
    rows: list[tuple[Cell, ...]] = [
        (
            outlet,
            len(time),
            *(dt.datetime.fromtimestamp(at, dt.UTC).date().isoformat() for at in (time[0], time[-1])),
            *(_digits(value) for value in (ohms[0], ohms[-1])),
            *(_factor(rise + sign * NINETY * error) for sign in (0.0, -1.0, 1.0)),
            "yes" if sure else "no",
        )
        for (outlet, time, ohms, rise, error), sure in zip(drafts, believed, strict=True)
        if sure or rise > NINETY * error
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


def _factor(exponent: float) -> float:
    return _digits(math.exp(min(max(exponent, -math.log(_MOST)), math.log(_MOST))))


def _go_back(base: duckdb.DuckDBPyConnection, worse: Table) -> Table:
    rising = [row[0] for row in worse.rows if row[-1] == "yes"]
    rows = base.execute(
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
        SELECT rank, reference, the_group, the_outlet, CAST(make_timestamp(CAST(1e6 * the_time AS BIGINT)) AS VARCHAR),
            outcome, finding_conductor, supply_fault_probability, refer_to FROM judged WHERE rank IS NOT NULL
        ORDER BY rank, supply_fault_probability DESC, reference, row
        """,
        {"hurts": list(HURTS), "rising": rising},
    ).fetchall()
    return Table(
        name="go_back",
        title="Where to go back to, the dangerous first",
        note="Of an outlet the last visit counts, where outlet and time are given. That an outlet is not in the list"
        " does not make it safe: its readings may not have been able to show what it has.",
        columns=(
            "rank",
            "why",
            "reference",
            "group",
            "outlet",
            "time",
            "outcome",
            "conductor",
            "supply_fault",
            "refer_to",
        ),
        rows=[(rank, _WHY[rank], *rest) for rank, *rest in rows],
    )


_WHY = {
    1: "a person or the house may be hurt",
    2: "a supply fault is established",
    3: "a supply fault is probable",
    4: "the neutral worsens",
    5: "a part was ordered on readings that could not have shown an open neutral",
    6: "a supply fault is more likely than not",
}


def rows_as_text(rows: Sequence[tuple[Cell, ...]]) -> list[list[str]]:
    """Cells as they are written."""
    return [["" if cell is None else str(cell) for cell in row] for row in rows]
