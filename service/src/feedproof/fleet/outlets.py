"""Outlets over their visits: whose neutral worsens, and where to go back to.

A neutral is judged by a straight line through the logarithm of its estimated resistance over the visits whose readings
could tell it, each weighed by its own interval. How sure the line's rise is hangs on how far contacts scatter from
visit to visit, which no interval of one visit knows. So a rise is held against the scatter about the outlet's own
line, which two or three visits hardly tell, and against that of all outlets: about their lines, and of their rises
about the middle one, by a measure that those few that do worsen hardly move. The scatter of all counts for as much as
four further visits would, and a rise is judged by Student's law with the freedom of both together [1]_.

An outlet leaves the list of those to go back to only by a later visit that found nothing there with readings that
speak against the earlier fault by twenty to one.

References
----------
.. [1] G. K. Smyth, "Linear models and empirical Bayes methods for assessing differential expression in microarray
   experiments", Stat. Appl. Genet. Mol. Biol. 3 (2004) 3: variances drawn to a common one, and the law that follows.
   How much that one counts for is our choice.
"""

import math

import duckdb
import numpy as np
from scipy import stats

from feedproof.fleet.evidence import CONCLUSIVE, EVIDENCES
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import Cell, Table, digits, table_of

NINETY = float(stats.norm.ppf(0.95))
"""Half-width of the central 90 % of a normal law, in standard deviations [1]."""
HURTS = ("neutral_as_live", "frame_as_live", "service_neutral", "heat_at_joint_urgent")
"""Cautions of a visit that a person or a house may be hurt by as it stands."""
#: Least standard deviation of an estimate's logarithm: contacts change from plug to plug [1].
_LEAST_SPREAD = 0.1
_FALSE_DISCOVERIES = 0.05
#: How many further visits the scatter of all outlets counts for [1].
_OF_ALL = 4.0
#: Larger factors than this are not told apart [1].
_MOST = 1000.0

#: By weighted least squares: the rise of the logarithm, its standard deviation, and the squares that are left.
_LINES = """
WITH seen AS (
    SELECT *, ln(resistance_n) AS ohms, min(the_time) OVER outlet AS first, max(the_time) OVER outlet AS last,
        greatest(ln(resistance_n_high / resistance_n_low) / (2 * $ninety), $least) ** -2 AS weight
    FROM visits WHERE the_time IS NOT NULL AND the_place IS NOT NULL AND resistance_n_informed
    WINDOW outlet AS (PARTITION BY the_place)
), placed AS (
    SELECT *, (the_time - first) / (last - first) AS since FROM seen WHERE last > first
), centred AS (
    SELECT *, since - sum(weight * since) OVER outlet / sum(weight) OVER outlet AS off,
        ohms - sum(weight * ohms) OVER outlet / sum(weight) OVER outlet AS apart FROM placed
    WINDOW outlet AS (PARTITION BY the_place)
)
SELECT the_group, the_outlet, count(*),
    strftime(make_timestamp(CAST(1e6 * min(first) AS BIGINT)), '%Y-%m-%d'),
    strftime(make_timestamp(CAST(1e6 * min(last) AS BIGINT)), '%Y-%m-%d'),
    first(resistance_n ORDER BY the_time, row), last(resistance_n ORDER BY the_time, row),
    sum(weight * off * apart) / sum(weight * off ** 2), sum(weight * off ** 2) ** -0.5,
    sum(weight * apart ** 2) - sum(weight * off * apart) ** 2 / sum(weight * off ** 2)
FROM centred GROUP BY the_place, the_group, the_outlet ORDER BY the_group, the_outlet
"""


def worsening(base: duckdb.DuckDBPyConnection) -> Table:
    """Outlets whose neutral's resistance rises from the first visit to the last."""
    lines = base.execute(_LINES, {"ninety": NINETY, "least": _LEAST_SPREAD}).fetchall()
    visits = np.array([line[2] for line in lines])
    rise, error, left = np.array([line[-3:] for line in lines]).reshape(-1, 3).T
    free = visits - 2
    common = stats.median_abs_deviation(rise / error, scale="normal") ** 2 if lines else 1.0
    common = max(1.0, common, left.sum() / max(free.sum(), 1))
    error = error * np.sqrt(np.maximum(1.0, (_OF_ALL * common + left) / (_OF_ALL + free)))
    believed = stats.false_discovery_control(stats.t.sf(rise / error, _OF_ALL + free)) <= _FALSE_DISCOVERIES
    half = stats.t.ppf(0.95, _OF_ALL + free) * error
    ends = np.exp(np.clip([rise, rise - half, rise + half], -math.log(_MOST), math.log(_MOST))).T
    rows: list[tuple[Cell, ...]] = [
        (*line[:5], *map(digits, (*line[5:7], *times)), "yes" if sure else "no")
        for line, times, sure in zip(lines, ends, believed, strict=True)
        if sure or times[1] > 1.0
    ]
    rows.sort(key=lambda row: (row[-1] != "yes", -float(row[8] or 0.0), str(row[:2])))
    columns = ("group", "outlet", "visits", "first", "last", "first_ohm", "last_ohm", "times", "low", "high", "worsens")
    return Table(
        name="outlets",
        title="Outlets whose neutral worsens",
        note="Estimated series resistance of the neutral over the visits whose readings could tell it; times is how"
        " much it has grown from the first visit to the last, by the line through all, and is not carried on beyond"
        f" them ({_MOST:g} stands for more). Worsens: beyond chance and how contacts scatter from visit to visit, at"
        " most one in twenty of those named wrongly. Of two visits alone only the other outlets tell the scatter.",
        columns=columns,
        rows=rows,
    )


def go_back(base: duckdb.DuckDBPyConnection, worse: Table, meters: Table) -> Table:
    """Visits that call for another, the dangerous first."""
    return table_of(
        base,
        f"""
        WITH judged AS (
            SELECT *, CASE
                WHEN disposition = 'stop_and_refer' AND list_has_any(string_split(caution_codes, ' '), $hurts) THEN 1
                WHEN disposition = 'stop_and_refer' AND determination = 'established' THEN 2
                WHEN disposition = 'stop_and_refer' THEN 3
                WHEN list_contains($rising, the_place) THEN 4
                WHEN the_part <> '' AND NOT open_neutral_would_show THEN 5
                WHEN disposition = 'take_more_readings' AND supply_fault_probability >= 0.5 THEN 6
            END AS urgency, CASE WHEN finding = 'none_found' THEN 'open_neutral' ELSE finding END AS feared,
            finding = 'none_found' AND determination <> 'undetermined' AS sound, [{EVIDENCES}] AS evidences
            FROM visits WHERE readings > 0
        ), open AS (
            SELECT * FROM judged AS bad WHERE urgency IS NOT NULL AND (urgency = 4 OR NOT EXISTS (
                SELECT 1 FROM judged AS later WHERE later.the_place = bad.the_place AND later.the_time > bad.the_time
                AND later.sound AND later.log_evidence_none_found
                    - later.evidences[list_position($faults, bad.feared)] >= $conclusive
            )) QUALIFY the_place IS NULL OR the_time IS NULL
            OR row_number() OVER (PARTITION BY the_place ORDER BY urgency, the_time DESC, row DESC) = 1
        )
        SELECT urgency AS rank, $why[urgency] AS why, reference, the_group AS "group", the_outlet AS outlet,
            CAST(make_timestamp(CAST(1e6 * the_time AS BIGINT)) AS VARCHAR) AS time, outcome,
            finding_conductor AS conductor, supply_fault_probability AS supply_fault, refer_to,
            CASE WHEN list_contains($off, reference_meter) THEN 'yes' ELSE 'no' END AS meter_off
        FROM open ORDER BY urgency, meter_off, supply_fault DESC, reference, row
        """,  # noqa: S608
        {
            "hurts": list(HURTS),
            "why": list(_WHY),
            "rising": [f"{row[0]}\x1f{row[1]}" for row in worse.rows if row[-1] == "yes"],
            "off": [row[0] for row in meters.rows if row[-1] == "yes"],
            "faults": list(FAULT_ORDER),
            "conclusive": CONCLUSIVE,
        },
        name="go_back",
        title="Where to go back to, the dangerous first",
        note="Of an outlet the worst visit, where outlet and time are given; only a visit on a later date or time that"
        " found nothing, with readings that speak twenty to one against what was found before, takes it off the list."
        " Meter off: read with a meter that reads off, see there; read again with another. That an outlet is not in the"
        " list does not make it safe: its readings may not have been able to show what it has. Times with a zone are in"
        " UTC.",
    )


_WHY = (
    "a person or the house may be hurt",
    "a supply fault is established",
    "a supply fault is probable",
    "the neutral worsens",
    "a part was ordered on readings that could not have shown an open neutral",
    "a supply fault is more likely than not",
)
