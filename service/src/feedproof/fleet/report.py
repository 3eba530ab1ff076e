"""A fleet's report: in a notebook, as one page that needs nothing beside it, and each table as CSV."""

import csv
import io
from html import escape
from importlib.resources import files
from pathlib import Path

from msgspec import Struct

from feedproof.advice.inert import visible
from feedproof.fleet.plots import picture
from feedproof.fleet.summary import ReportOptions, summarize
from feedproof.fleet.tables import Cell, Table
from feedproof.note.palette import LIGHT
from feedproof.note.svg import color_properties

__all__ = ["Report", "ReportOptions", "report", "write_report"]

_SHOWN = 100
_STYLE = f":root{{{color_properties(LIGHT)}color-scheme:light}}\n" + (
    files("feedproof.fleet").joinpath("report.css").read_text(encoding="utf-8")
)
_CAUTION = (
    "This page counts what readings say. It finds no outlet safe: an outlet without a finding may have a fault that its"
    " readings could not have shown. Work on a supply belongs to licensed people under the local code."
)


class Report(Struct, frozen=True):
    """Tables of a fleet; a notebook shows them with their pictures."""

    tables: tuple[Table, ...]
    title: str = "Fleet report"

    def __repr__(self) -> str:
        lines = [f"{self.title}: {_CAUTION}"]
        for table in self.tables:
            lines += ["", f"{table.name}: {table.title} ({len(table.rows)} rows)", "  ".join(table.columns)]
            lines += ["  ".join(map(_text, row)) for row in table.rows[:5]]
        return "\n".join(map(visible, lines))

    def _repr_html_(self) -> str:
        sections = "".join(_section(table) for table in self.tables)
        return f"<h1>{escape(visible(self.title))}</h1><aside><p>{_CAUTION}</p></aside>{sections}"

    def __getitem__(self, name: str) -> Table:
        """A table by its name; KeyError where the data do not have what it needs."""
        for table in self.tables:
            if table.name == name:
                return table
        raise KeyError(name)

    def page(self) -> str:
        """HTML without a script, and without a request to anywhere; the same for the same tables."""
        return (
            '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>{escape(visible(self.title))}</title><style>{_STYLE}</style></head>"
            f"<body><main>{self._repr_html_()}</main></body></html>\n"
        )


def report(source: object, asked: ReportOptions | None = None, refused: int | None = None) -> Report:
    """Tables of assessments: see `feedproof.fleet.summary.summarize`.

    Parameters
    ----------
    source : Path, str, or Arrow data
        What `feedproof fleet` wrote, or `assess_batches` gave, or a data frame of it.
    asked : ReportOptions, optional
        What to go by.
    refused : int, optional
        How many sets were refused, beside those among the assessments.

    Returns
    -------
    Report
        A notebook shows it as it is.

    Raises
    ------
    ValueError
        If there are no assessments, or a column is lacking.
    """
    asked = ReportOptions() if asked is None else asked
    tables = summarize(source, asked, refused)
    if not tables:
        raise ValueError("no assessments in it")
    return Report(tables, asked.title)


def write_report(made: Report, folder: Path, *, overwrite: bool = False) -> None:
    """Write `report.html`, and a CSV for each table.

    Parameters
    ----------
    made : Report
        What to write.
    folder : Path
        Where to; made where it is missing.
    overwrite : bool
        Replace what an earlier report left there.

    Raises
    ------
    ValueError
        If one of the files is there already, and is not to be overwritten.
    """
    written = {"report.html": made.page()}
    for table in made.tables:
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows([table.columns, *table.rows])
        written[f"{table.name}.csv"] = text.getvalue()
    there = sorted(name for name in written if (folder / name).exists())
    if there and not overwrite:
        raise ValueError(f"{folder}: {', '.join(there)} already there; --overwrite replaces it")
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in written.items():
        (folder / name).write_text(content, encoding="utf-8")


def _text(cell: Cell) -> str:
    return visible("" if cell is None else str(cell))


def _section(table: Table) -> str:
    heads = "".join(f'<th scope="col">{escape(name.replace("_", " "))}</th>' for name in table.columns)
    rows = "".join(
        "<tr>"
        + "".join(f"<td{'' if isinstance(cell, str) else ' class=n'}>{escape(_text(cell))}</td>" for cell in row)
        + "</tr>"
        for row in table.rows[:_SHOWN]
    )
    more = len(table.rows) - _SHOWN
    left = f'<p class="note">{more} more rows in {table.name}.csv.</p>' if more > 0 else ""
    note = f'<p class="note">{escape(table.note)}</p>' if table.note else ""
    figure, drawn = "", picture(table)
    if drawn is not None:
        label = escape(f"{table.title}; the table below holds the figures")
        named = drawn.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)
        figure = f"<figure>{named}</figure>"
    return (
        f"<section><h2>{escape(visible(table.title))}</h2>{note}{figure}"
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(visible(table.title))}"><table>'
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{left}</section>"
    )
