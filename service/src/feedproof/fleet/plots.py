"""Pictures of a report's tables, as SVG text that stands in a page."""

import io
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from feedproof.advice.inert import visible
from feedproof.fleet.tables import Cell, Table
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
#: Fills of the findings, most frequent first.
_FILLS = (
    (LIGHT.finding, ""),
    (LIGHT.second_leg, ""),
    (LIGHT.first_leg, ""),
    (LIGHT.danger, "//"),
    (LIGHT.second_leg, "xx"),
    (LIGHT.first_leg, ".."),
)
#: Outcomes that have a fill of their own, and what is left over.
_OWN = {
    "none": (LIGHT.sound, ""),
    "undetermined": (LIGHT.rule, "\\\\"),
    "no_readings": (LIGHT.faint, "//"),
    "others": (LIGHT.faint, ""),
}
#: Of the other pictures: the columns of value (or none), low and high, the axis, whether it is of factors, the line
#: to look from.
_INTERVALS: dict[str, tuple[str | None, str, str, str, bool, float]] = {
    "technique": ("share", "low", "high", "share, with its 90 % interval", False, 0.0),
    "parts": (None, "fault_low", "fault_high", "shares of orders that can have a supply fault behind them", False, 0.0),
    "meters": ("percent", "low", "high", "off by [%], with the 90 % interval; a diamond is beyond chance", False, 0.0),
    "outlets": ("times", "low", "high", "neutral's resistance, last to first visit; diamond: beyond chance", True, 1.0),
}


def picture(table: Table) -> str | None:
    """SVG of a table.

    Parameters
    ----------
    table : Table
        One of a report.

    Returns
    -------
    str or None
        The same text for the same table; None where it has no picture.
    """
    if table.name != "findings" and table.name not in _INTERVALS:
        return None
    with mpl.rc_context(_SETTINGS):
        figure = figure_of(table)
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    svg = text.getvalue()
    return svg[svg.index("<svg") :]


def figure_of(table: Table) -> Figure:
    """The picture of a table as a matplotlib figure, to be changed or saved."""
    stacked = table.name == "findings"
    every = [_label(table, row) for row in table.rows]
    every = list(dict.fromkeys(every)) if stacked else every
    names = every[:_MOST]
    figure = Figure(figsize=(8.0, 1.2 + 0.32 * max(len(names), 2)), layout="constrained")
    axes = figure.add_subplot()
    axes.set_yticks(range(len(names)), [_short(name) for name in names])
    axes.invert_yaxis()
    axes.tick_params(axis="y", length=0)
    if stacked:
        _stacked(axes, table, names)
    else:
        _intervals(axes, table)
    if len(every) > _MOST:
        axes.set_xlabel(f"{axes.get_xlabel()}; the first {_MOST} of {len(every)}")
    return figure


def _label(table: Table, row: Sequence[Cell]) -> str:
    """What a row is of; an outlet is named with its group."""
    named = table.name == "outlets" and row[0] != "all"
    return f"{row[0]} / {row[1]}" if named else str(row[1 if table.name == "outlets" else 0])


def _short(text: str) -> str:
    name = visible(text)
    return name if len(name) <= _LABEL else name[: _LABEL - 1] + "…"


def _stacked(axes: Any, table: Table, groups: list[str]) -> None:  # noqa: ANN401
    total: dict[str, float] = {}
    for row in table.rows:
        total[str(row[1])] = total.get(str(row[1]), 0.0) + float(row[2] or 0)
    fills = dict(zip([f for f in sorted(total, key=lambda f: -total[f]) if f not in _OWN], _FILLS, strict=False))
    share = {(str(row[0]), str(row[1])): float(row[3] or 0.0) for row in table.rows}
    left = [0.0] * len(groups)
    for outcome in ("none", *fills, "others", "undetermined", "no_readings"):
        if outcome == "others":
            shown = {*fills, *_OWN}
            width = [sum(s for (g, o), s in share.items() if g == group and o not in shown) for group in groups]
        else:
            width = [share.get((group, outcome), 0.0) for group in groups]
        if max(width) < 5e-4:  # noqa: PLR2004
            continue
        color, hatch = fills.get(outcome) or _OWN[outcome]
        label = outcome.replace("_", " ")
        axes.barh(
            range(len(groups)), width, left=left, color=color, hatch=hatch, label=label,
            edgecolor=LIGHT.paper, linewidth=0.6,
        )  # fmt: skip
        left = [a + b for a, b in zip(left, width, strict=True)]
    axes.set_xlim(0.0, 1.0)
    axes.xaxis.set_major_formatter(lambda value, _: f"{100.0 * value:g} %")
    axes.set_xlabel("share of sets")
    axes.legend(ncols=3, loc="lower left", bbox_to_anchor=(0.0, 1.0), frameon=False, fontsize=9)


def _intervals(axes: Any, table: Table) -> None:  # noqa: ANN401
    middle, low, high, label, factors, origin = _INTERVALS[table.name]
    at = {name: number for number, name in enumerate(table.columns)}
    for place, row in enumerate(table.rows[:_MOST]):
        sure = row[-1] == "yes"
        color = LIGHT.finding if sure else LIGHT.rule
        axes.hlines(place, float(row[at[low]] or 0.0), float(row[at[high]] or 0.0), color=color, linewidth=2)
        if middle is not None:
            axes.plot(float(row[at[middle]] or 0.0), place, marker="D" if sure else "o", color=color, markersize=6)
    if factors:
        axes.set_xscale("log")
    axes.axvline(origin, color=LIGHT.muted, linewidth=1)
    axes.set_xlabel(label)
