"""Pictures of a report's tables, as SVG text that stands in a page."""

import io
import math
from collections.abc import Callable
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from feedproof.advice.inert import visible
from feedproof.fleet.summary import Summary, Table
from feedproof.note.palette import LIGHT

_MOST = 25
_LABEL = 28
_SETTINGS: dict[Any, Any] = {
    "text.parse_math": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "feedproof",
    "font.family": "sans-serif",
    "font.size": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": LIGHT.rule,
    "axes.labelcolor": LIGHT.ink,
    "xtick.color": LIGHT.muted,
    "ytick.color": LIGHT.ink,
    "text.color": LIGHT.ink,
    "hatch.color": LIGHT.paper,
}
#: Fills of the findings, most frequent first; `none_found` and what is left over have their own.
_FILLS = (
    (LIGHT.finding, ""),
    (LIGHT.second_leg, ""),
    (LIGHT.first_leg, ""),
    (LIGHT.danger, "//"),
    (LIGHT.second_leg, "xx"),
    (LIGHT.first_leg, ".."),
)


def pictures(summary: Summary) -> dict[str, str]:
    """SVG of each table that has a picture, by the table's name.

    Parameters
    ----------
    summary : Summary
        Tables.

    Returns
    -------
    dict of str to str
        The same text for the same tables.
    """
    draw: dict[str, Callable[[Any, Table], None]] = {
        "findings": _findings,
        "technique": _shares,
        "parts": _shares,
        "meters": _meters,
        "outlets": _outlets,
    }
    found = {}
    for name, drawn in draw.items():
        table = summary.table(name)
        if table is not None:
            found[name] = _svg(table, drawn)
    return found


def _svg(table: Table, drawn: Callable[[Any, Table], None]) -> str:
    lines = min(len({row[0] for row in table.rows}), _MOST)
    with mpl.rc_context(_SETTINGS):
        figure = Figure(figsize=(8.0, 1.2 + 0.32 * max(lines, 2)), layout="constrained")
        drawn(figure.add_subplot(), table)
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    svg = text.getvalue()
    return svg[svg.index("<svg") :]


def _short(text: object) -> str:
    name = visible(str(text))
    return name if len(name) <= _LABEL else name[: _LABEL - 1] + "…"


def _lines(axes: Any, names: list[object]) -> range:  # noqa: ANN401
    places = range(len(names))
    axes.set_yticks(places, [_short(name) for name in names])
    axes.invert_yaxis()
    axes.tick_params(axis="y", length=0)
    return places


def _findings(axes: Any, table: Table) -> None:  # noqa: ANN401
    groups = list(dict.fromkeys(row[0] for row in table.rows))[:_MOST]
    total: dict[object, float] = {}
    for row in table.rows:
        total[row[1]] = total.get(row[1], 0.0) + float(row[2] or 0)
    named = [f for f in sorted(total, key=lambda f: -total[f]) if f != "none_found"][: len(_FILLS)]
    share: dict[tuple[object, object], float] = {(row[0], row[1]): float(row[3] or 0.0) for row in table.rows}
    places = _lines(axes, list(groups))
    left = [0.0] * len(groups)
    fills = dict(zip(named, _FILLS, strict=False)) | {"none_found": (LIGHT.sound, "")}
    for finding in ["none_found", *named, None]:
        if finding is None:
            width = [max(1.0 - done, 0.0) for done in left]
        else:
            width = [share.get((group, finding), 0.0) for group in groups]
        if max(width) < 5e-4:  # noqa: PLR2004
            continue
        color, hatch = fills.get(finding, (LIGHT.faint, "")) if finding else (LIGHT.faint, "")
        label = str(finding or "others").replace("_", " ")
        axes.barh(places, width, left=left, color=color, hatch=hatch, label=label, edgecolor=LIGHT.paper, linewidth=0.6)
        left = [a + b for a, b in zip(left, width, strict=True)]
    axes.set_xlim(0.0, 1.0)
    axes.xaxis.set_major_formatter(_percent)
    axes.set_xlabel("share of sets")
    axes.legend(ncols=3, loc="lower left", bbox_to_anchor=(0.0, 1.0), frameon=False, fontsize=9)


def _percent(value: float, _position: int) -> str:
    return f"{100.0 * value:g} %"


def _shares(axes: Any, table: Table) -> None:  # noqa: ANN401
    rows = table.rows[:_MOST]
    at = table.columns.index("share")
    places = _lines(axes, [row[0] for row in rows])
    share, low, high = ([float(row[at + i] or 0.0) for row in rows] for i in range(3))
    axes.barh(places, share, color=LIGHT.sound, height=0.6)
    axes.hlines(places, low, high, color=LIGHT.ink, linewidth=2)
    axes.set_xlim(0.0, min(1.0, 1.15 * max([*high, 0.01])))
    axes.xaxis.set_major_formatter(_percent)
    axes.set_xlabel("share, with its 90 % interval")


def _intervals(axes: Any, rows: list[Any], first: int, marked: int) -> None:  # noqa: ANN401
    places = _lines(axes, [row[0] for row in rows])
    for place, row in zip(places, rows, strict=True):
        sure = row[marked] == "yes"
        color = LIGHT.finding if sure else LIGHT.rule
        axes.hlines(place, float(row[first + 1]), float(row[first + 2]), color=color, linewidth=2)
        axes.plot(float(row[first]), place, marker="D" if sure else "o", color=color, markersize=6)


def _meters(axes: Any, table: Table) -> None:  # noqa: ANN401
    _intervals(axes, table.rows[:_MOST], 3, 6)
    axes.axvline(0.0, color=LIGHT.muted, linewidth=1)
    axes.set_xlabel("off by [%], with the 90 % interval; a diamond is beyond chance")


def _outlets(axes: Any, table: Table) -> None:  # noqa: ANN401
    _intervals(axes, table.rows[:_MOST], 6, 9)
    axes.set_xscale("log")
    axes.axvline(1.0, color=LIGHT.muted, linewidth=1)
    low, high = axes.get_xlim()
    axes.set_xlim(max(low, 1e-3), min(high, 1e9) if math.isfinite(high) else 1e9)
    axes.set_xlabel(
        "neutral's resistance grows by this factor a year, with the 90 % interval; a diamond is beyond chance"
    )
