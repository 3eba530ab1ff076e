"""The report counts right, names what is to be gone back to, and stands by itself."""

import csv
import datetime as dt
import math
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet
import pytest
from scipy import stats

from feedproof.advice.texts import caution_texts
from feedproof.fleet.report import Report, ReportOptions, report, write_report
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from feedproof.fleet.summary import HURTS, share
from support.browser import chromium

SCRIPT = "<script>alert(1)</script>"
_OWN: dict[str, pa.DataType] = {
    "region": pa.string(),
    "part": pa.string(),
    "outlet": pa.string(),
    "visited": pa.date32(),
}
OWN = pa.schema(_OWN)
ASKED = ReportOptions(by=("region",), part="part", outlet="outlet", time="visited", title="Campground <2025>")


def row(**cells: Any) -> dict[str, Any]:
    return (
        dict.fromkeys(f"log_evidence_{fault}" for fault in FAULT_ORDER)
        | {"log_evidence_none_found": -10.0, "log_evidence_open_neutral": -10.0}
        | {
            "readings": 3,
            "layout": "some",
            "finding": "none_found",
            "finding_place": "none",
            "determination": "probable",
            "disposition": "take_more_readings",
            "supply_fault_probability": 0.1,
            "open_neutral_would_show": True,
            "supply_system": "split_phase_120_240",
            "model_version": "1.0.0",
        }
        | cells
    )


NEUTRAL: dict[str, Any] = {
    "finding": "open_neutral",
    "finding_place": "branch_neutral",
    "determination": "established",
    "disposition": "stop_and_refer",
    "supply_fault_probability": 0.98,
}


def normal_scores(count: int, spread: float) -> list[float]:
    return [spread * float(stats.norm.ppf((i + 0.5) / count)) for i in range(count)]


def rows() -> list[dict[str, Any]]:
    found = [row(region="lake", open_neutral_would_show=n % 4 == 0) for n in range(40)]
    found += [row(region=SCRIPT, part="control board", **NEUTRAL) for _ in range(6)]
    found += [row(region=SCRIPT, part="control board", supply_fault_probability=0.2) for _ in range(4)]
    found += [row(region=SCRIPT, part="$element$", open_neutral_would_show=False) for _ in range(5)]
    # What leads without being probable is undetermined; a set without readings has no finding; one was refused.
    found += [
        row(region="lake", **NEUTRAL | {"determination": "undetermined", "disposition": "take_more_readings"})
    ] * 3
    found += [row(region="lake", readings=0, determination="undetermined", layout=None)] * 2
    found.append({"region": "lake", "refused": "/readings: not there"})
    # The same visit twice, and another visit under the same reference.
    found += [row(region="lake", reference="visit 7", finding_log_evidence=-3.0)] * 2
    found.append(row(region="lake", reference="visit 7", finding_log_evidence=-4.0))
    # Meter 3 reads 4 % high; once each meter is misread by far.
    for meter in range(6):
        met = {"region": "lake", "reference_meter": f"meter {meter}", "reference_tolerance": 0.01}
        for score in normal_scores(30, 0.01):
            off = 0.04 if meter == 3 else 0.0
            volts = 242 * math.exp(score + off)
            found.append(row(**met, reference_voltage=volts))
        found.append(row(**met, reference_voltage=24.2))
    # One neutral doubles every year, others do not; a set that says nothing of it does not count.
    for outlet in range(12):
        for visit in range(5):
            day = dt.date(2020, 1, 1) + dt.timedelta(days=round(365.25 * visit))
            ohms = 0.3 * (2.0**visit if outlet == 5 else 1.0 + 0.05 * ((visit + outlet) % 3))
            at: dict[str, Any] = {"region": "lake", "outlet": f"outlet {outlet}", "visited": day}
            ends = {"resistance_n": ohms, "resistance_n_low": ohms / 1.3, "resistance_n_high": ohms * 1.3}
            found.append(row(**at, **ends, resistance_n_informed=True))
            found.append(row(**at, resistance_n=9.0, resistance_n_low=9.0, resistance_n_high=9.0))
    return [{"row": number} | cells for number, cells in enumerate(found, start=1)]


@pytest.fixture(scope="module")
def assessed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("fleet") / "out.parquet"
    table = pa.Table.from_pylist(rows(), schema=pa.schema([*OWN, *ASSESSED]))
    pyarrow.parquet.write_table(table, path)
    return path


@pytest.fixture(scope="module")
def made(assessed: Path) -> Report:
    return report(assessed, ASKED, refused=4)


def lines(made: Report, name: str) -> list[dict[str, Any]]:
    table = made[name]
    return [dict(zip(table.columns, cells, strict=True)) for cells in table.rows]


def test_what_is_not_counted_is_stated(made: Report) -> None:
    counted = {line["sets"]: line["number"] for line in lines(made, "sets")}
    assert counted == {
        "assessed": len(rows()) - 1 - 1 - 2,
        "without any reading": 2,
        "the same visit again, counted once": 1,
        "refused": 5,
    }


def test_findings_and_dispositions_are_counted_by_group(made: Report) -> None:
    counted = {(line["group"], line["outcome"]): line["sets"] for line in lines(made, "findings")}
    assert counted[SCRIPT, "branch_neutral"] == 6
    assert counted[SCRIPT, "none"] == 9
    assert counted["lake", "undetermined"] == 3
    assert counted["lake", "no_readings"] == 2
    assert ("lake", "branch_neutral") not in counted
    assert sum(counted.values()) == len(rows()) - 2
    called = {(line["group"], line["disposition"]): line["share"] for line in lines(made, "dispositions")}
    assert called[SCRIPT, "stop_and_refer"] == 0.4


def test_technique_says_how_many_sets_were_blind_to_an_open_neutral(made: Report) -> None:
    blind = {line["group"]: line["blind"] for line in lines(made, "technique")}
    assert blind == {"lake": 30, SCRIPT: 5}


def test_parts_tell_blind_orders_from_established_faults(made: Report) -> None:
    first, second = lines(made, "parts")
    assert (first["part"], first["orders"], first["established"], first["blind"]) == ("control board", 10, 6, 0)
    assert (second["part"], second["established"], second["blind"], second["share"]) == ("$element$", 0, 5, 1.0)
    assert (second["fault_low"], second["fault_high"]) == (0.0, 1.0)


def test_the_meter_that_is_off_is_named_and_no_other(made: Report) -> None:
    meters = lines(made, "meters")
    assert [line["meter"] for line in meters if line["off"] == "yes"] == ["meter 3"]
    assert meters[0]["percent"] == pytest.approx(4.0, abs=0.4)
    assert meters[0]["low"] < 4.0 < meters[0]["high"]
    assert meters[0]["limit"] == 1.0


def test_the_outlet_whose_neutral_worsens_is_named_and_no_other(made: Report) -> None:
    outlets = lines(made, "outlets")
    assert [line["outlet"] for line in outlets if line["worsens"] == "yes"] == ["outlet 5"]
    worst = outlets[0]
    assert worst["times"] == pytest.approx(16.0, rel=0.01)
    assert (worst["first"], worst["first_ohm"], worst["last_ohm"]) == ("2020-01-01", 0.3, pytest.approx(4.8))
    assert worst["visits"] == 5


def visits(*ohms: float, days: int) -> pa.Table:
    found = [
        row(
            row=n, outlet="dock 2", visited=dt.date(2025, 3, 1) + dt.timedelta(days=days * n),
            resistance_n=r, resistance_n_low=r / 1.05, resistance_n_high=r * 1.05, resistance_n_informed=True,
        )
        for n, r in enumerate(ohms)
    ]  # fmt: skip
    return pa.Table.from_pylist(found, schema=pa.schema([*OWN, *ASSESSED]))


def test_a_rise_within_days_is_not_carried_on_to_a_year() -> None:
    """Twice as much after a fortnight is twice as much: no factor of millions a year."""
    (line,) = lines(report(visits(0.3, 0.6, days=14), ReportOptions(outlet="outlet", time="visited")), "outlets")
    assert line["times"] == pytest.approx(2.0, rel=0.01)
    (line,) = lines(report(visits(0.3, 3e6, days=1), ReportOptions(outlet="outlet", time="visited")), "outlets")
    assert line["times"] == 1000.0


def test_a_trend_is_the_weighted_line() -> None:
    """Against scipy's curve fit with known deviations."""
    from scipy.optimize import curve_fit  # noqa: PLC0415

    points = [(0.0, 0.3, 1.3), (1.0, 0.5, 1.6), (2.5, 0.7, 1.9), (4.0, 1.9, 1.4)]
    table = pa.Table.from_pylist(
        [
            row(
                row=n, outlet="dock", visited=dt.date(2025, 1, 1) + dt.timedelta(days=round(10 * x)),
                resistance_n=y, resistance_n_low=y / f, resistance_n_high=y * f, resistance_n_informed=True,
            )
            for n, (x, y, f) in enumerate(points)
        ],
        schema=pa.schema([*OWN, *ASSESSED]),
    )  # fmt: skip
    x, y, f = (np.array(column) for column in zip(*points, strict=True))
    deviation = np.log(f) / stats.norm.ppf(0.95)
    best, spread = curve_fit(lambda t, a, b: a + b * t, x, np.log(y), sigma=deviation, absolute_sigma=True)
    (line,) = lines(report(table, ReportOptions(outlet="outlet", time="visited")), "outlets")
    z = float(stats.norm.ppf(0.95))
    ends = [4.0 * (best[1] + sign * z * math.sqrt(spread[1, 1])) for sign in (0.0, -1.0, 1.0)]
    assert [line["times"], line["low"], line["high"]] == pytest.approx(np.exp(ends), rel=1e-3)


def test_where_to_go_back_to_begins_with_the_dangerous() -> None:
    codes = "licensed_work neutral_as_live"
    stopped = NEUTRAL | {"determination": "probable"}
    found = [
        row(reference="blind part", part="board", open_neutral_would_show=False),
        row(reference="probable", **stopped),
        row(reference="established", **NEUTRAL),
        row(reference="live", **stopped, caution_codes=codes),
        row(reference="sound"),
        row(reference="mended before", outlet="dock 1", visited=dt.date(2025, 1, 1), **NEUTRAL),
        row(reference="mended", outlet="dock 1", visited=dt.date(2025, 2, 1)),
        row(reference="likely", **NEUTRAL | {"determination": "undetermined", "disposition": "take_more_readings"}),
    ]
    numbered = [{"row": n} | cells for n, cells in enumerate(found)]
    table = pa.Table.from_pylist(numbered, schema=pa.schema([*OWN, *ASSESSED]))
    back = lines(report(table, ReportOptions(part="part", outlet="outlet", time="visited")), "go_back")
    assert [line["reference"] for line in back] == ["live", "established", "probable", "blind part", "likely"]
    assert back[0]["why"] == "a person or the house may be hurt"
    assert {caution.code for caution in caution_texts() if caution.severity == "danger"} >= set(HURTS)


def test_an_outlet_that_worsens_is_to_be_gone_back_to() -> None:
    back = lines(report(visits(0.1, 0.4, 1.6, days=200), ReportOptions(outlet="outlet", time="visited")), "go_back")
    assert [(line["outlet"], line["why"]) for line in back] == [("dock 2", "the neutral worsens")]


def test_the_folder_holds_the_page_and_a_csv_of_each_table(made: Report, tmp_path: Path) -> None:
    write_report(made, tmp_path / "report")
    names = {"report.html", *(f"{table.name}.csv" for table in made.tables)}
    assert {file.name for file in (tmp_path / "report").iterdir()} == names
    with (tmp_path / "report" / "technique.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.reader(file))
    assert table[0] == ["group", "sets", "blind", "share", "low", "high"]
    assert next(line[:3] for line in table if line[0] == SCRIPT) == [SCRIPT, "15", "5"]
    with pytest.raises(ValueError, match="already there"):
        write_report(made, tmp_path / "report")
    write_report(made, tmp_path / "report", overwrite=True)


def test_a_file_without_what_is_asked_gives_fewer_tables(assessed: Path) -> None:
    plain = report(assessed)
    names = {table.name for table in plain.tables}
    assert names == {"sets", "go_back", "findings", "dispositions", "technique", "meters"}
    assert lines(plain, "technique")[0]["group"] == "all"
    with pytest.raises(ValueError, match="no column year"):
        report(assessed, ReportOptions(by=("year",)))
    with pytest.raises(ValueError, match="ISO 8601"):
        report(assessed, ReportOptions(outlet="outlet", time="region"))


def test_a_notebook_shows_it_and_takes_its_tables_on(made: Report) -> None:
    assert made._repr_html_().count("<svg") == 5
    assert "finds no outlet safe" in repr(made)
    assert SCRIPT not in made._repr_html_()
    assert made["technique"].to_arrow().column("blind").to_pylist() == [
        line["blind"] for line in lines(made, "technique")
    ]
    with pytest.raises(KeyError):
        made["nothing"]


def test_the_page_is_the_same_each_time_and_asks_for_nothing(made: Report) -> None:
    page = made.page()
    assert page == made.page()
    for address in ("src=", "@import", "url(http", "<script", "<link"):
        assert address not in page
    assert "never that a supply is free of danger" in page


def test_a_browser_shows_pictures_and_tables_and_runs_nothing(made: Report, tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    page.write_text(made.page(), encoding="utf-8")
    shown = chromium(tmp_path, "--dump-dom", page.as_uri())
    assert shown.count('role="img"') == 5
    assert shown.count("<table") == 8
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in shown
    assert "<title>Campground &lt;2025&gt;</title>" in shown
    picture = tmp_path / "page.png"
    chromium(tmp_path, "--window-size=1000,3000", f"--screenshot={picture}", page.as_uri())
    assert picture.stat().st_size > 50_000


def test_a_share_has_wilsons_interval() -> None:
    """Seven of forty at 90 %, by the formula of E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212, worked here."""
    z, n, p = 1.6448536, 40.0, 7.0 / 40.0
    middle = (p + z**2 / (2 * n)) / (1 + z**2 / n)
    half = z * math.sqrt(p * (1 - p) / n + z**2 / (4 * n**2)) / (1 + z**2 / n)
    ends = {"share": p, "low": middle - half, "high": middle + half}
    assert share(7, 40) == pytest.approx(ends, abs=1e-4)
