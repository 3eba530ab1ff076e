"""A fleet's report: one page that needs nothing beside it, and each table as CSV."""

import csv
import io
from html import escape
from pathlib import Path

from feedproof.advice.inert import visible
from feedproof.fleet.plots import pictures
from feedproof.fleet.summary import Asked, Summary, Table, rows_as_text, summarize
from feedproof.note.palette import LIGHT

__all__ = ["Asked", "render_report", "write_report"]

_SHOWN = 100
_STYLE = f"""
:root {{ color-scheme: light; }}
body {{ font: 16px/1.5 system-ui, sans-serif; color: {LIGHT.ink}; background: {LIGHT.paper};
       max-width: 60rem; margin: 0 auto; padding: 1rem; }}
h1 {{ font-size: 1.6rem; }} h2 {{ font-size: 1.2rem; margin-top: 2.5rem; }}
p.note {{ color: {LIGHT.muted}; }}
figure {{ margin: 0; }} figure svg {{ width: 100%; height: auto; }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; font-size: 0.9rem; font-variant-numeric: tabular-nums; }}
th, td {{ text-align: left; padding: 0.2rem 0.7rem; border-bottom: 1px solid {LIGHT.faint}; }}
td.n {{ text-align: right; }}
aside {{ border-left: 4px solid {LIGHT.danger}; padding: 0.1rem 1rem; background: {LIGHT.panel}; }}
@media print {{ .wide {{ overflow: visible; }} h2 {{ break-after: avoid; }} figure {{ break-inside: avoid; }} }}
"""
_CAUTION = (
    "This page counts what readings say. It finds no outlet safe: an outlet without a finding may have a fault that its"
    " readings could not have shown. Work on a supply belongs to licensed people under the local code."
)


def write_report(assessed: Path, folder: Path, asked: Asked) -> Summary:
    """Write `report.html`, and a CSV for each table.

    Parameters
    ----------
    assessed : Path
        What `feedproof fleet` wrote.
    folder : Path
        Where to write; made where it is missing.
    asked : Asked
        What to go by.

    Returns
    -------
    Summary
        What the report holds.

    Raises
    ------
    ValueError
        If the file has no assessments, or lacks a column.
    """
    summary = summarize(assessed, asked)
    if not summary.sets:
        raise ValueError(f"{assessed}: no assessments in it")
    folder.mkdir(parents=True, exist_ok=True)
    for table in summary.tables:
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows(rows_as_text(table.rows))
        (folder / f"{table.name}.csv").write_text(text.getvalue(), encoding="utf-8")
    (folder / "report.html").write_text(render_report(summary, asked.title), encoding="utf-8")
    return summary


def render_report(summary: Summary, title: str) -> str:
    """The page.

    Parameters
    ----------
    summary : Summary
        Tables.
    title : str
        Of the page.

    Returns
    -------
    str
        HTML without a script, and without a request to anywhere; the same for the same tables.
    """
    drawn = pictures(summary)
    sections = "".join(_section(table, drawn.get(table.name)) for table in summary.tables)
    models = ", ".join(summary.models)
    head = escape(visible(title))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{head}</title><style>{_STYLE}</style></head><body><main><h1>{head}</h1>"
        f"<p>{summary.sets} reading sets assessed, model {escape(models)}.</p><aside><p>{_CAUTION}</p></aside>"
        f"{sections}</main></body></html>\n"
    )


def _section(table: Table, picture: str | None) -> str:
    text = rows_as_text(table.rows[:_SHOWN])
    heads = "".join(f'<th scope="col">{escape(name.replace("_", " "))}</th>' for name in table.columns)
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td{'' if isinstance(raw, str) else ' class=n'}>{escape(visible(cell))}</td>"
            for cell, raw in zip(cells, row, strict=True)
        )
        + "</tr>"
        for cells, row in zip(text, table.rows, strict=False)
    )
    more = len(table.rows) - len(text)
    left = f'<p class="note">{more} more rows in {table.name}.csv.</p>' if more > 0 else ""
    figure = ""
    if picture is not None:
        label = escape(f"{table.title}; the table below holds the figures")
        named = picture.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)
        figure = f"<figure>{named}</figure>"
    note = f'<p class="note">{escape(table.note)}</p>' if table.note else ""
    return (
        f"<section><h2>{escape(visible(table.title))}</h2>{note}{figure}"
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(visible(table.title))}"><table>'
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{left}</section>"
    )
