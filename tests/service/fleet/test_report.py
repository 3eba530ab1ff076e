"""The report counts right, and stands by itself."""

import csv
import datetime as dt
import math
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet
import pytest
from scipy import stats

from feedproof.fleet.report import Asked, render_report, write_report
from feedproof.fleet.schema import ASSESSED
from feedproof.fleet.statistics import NINETY, Trend, discoveries, one_sided_p, wilson_interval
from feedproof.fleet.summary import Summary, summarize
from support.browser import chromium

SCRIPT = "<script>alert(1)</script>"
_OWN: dict[str, pa.DataType] = {
    "region": pa.string(),
    "part": pa.string(),
    "outlet": pa.string(),
    "visited": pa.date32(),
}
OWN = pa.schema(_OWN)


def row(**cells: Any) -> dict[str, Any]:
    return {
        "finding": "none_found",
        "determination": "probable",
        "disposition": "take_more_readings",
        "supply_fault_probability": 0.1,
        "open_neutral_would_show": True,
        "supply_system": "split_phase_120_240",
        "model_version": "1.0.0",
    } | cells


def normal_scores(count: int, spread: float) -> list[float]:
    return [spread * float(stats.norm.ppf((i + 0.5) / count)) for i in range(count)]


def rows() -> list[dict[str, Any]]:
    found = [row(region="lake", open_neutral_would_show=n % 4 == 0) for n in range(40)]
    fault: dict[str, Any] = {"finding": "open_neutral", "determination": "established", "disposition": "stop_and_refer"}
    found += [row(region=SCRIPT, part="control board", supply_fault_probability=0.9) | fault for _ in range(6)]
    found += [row(region=SCRIPT, part="control board", supply_fault_probability=0.2) for _ in range(4)]
    found += [row(region=SCRIPT, part="$element$", supply_fault_probability=0.1) for _ in range(5)]
    # Meter 3 reads 2 % high; once each meter is misread by far.
    for meter in range(6):
        for score in normal_scores(30, 0.01):
            off = 0.02 if meter == 3 else 0.0
            found.append(
                row(region="lake", reference_meter=f"meter {meter}", reference_voltage=242 * math.exp(score + off))
            )
        found.append(row(region="lake", reference_meter=f"meter {meter}", reference_voltage=24.2))
    # One neutral doubles every year, others do not; a set that says nothing of it does not count.
    for outlet in range(12):
        for visit in range(5):
            day = dt.date(2020, 1, 1) + dt.timedelta(days=round(365.25 * visit))
            ohms = 0.3 * (2.0**visit if outlet == 5 else 1.0 + 0.05 * ((visit + outlet) % 3))
            at: dict[str, Any] = {"region": "lake", "outlet": f"outlet {outlet}", "visited": day}
            ends = {"resistance_n": ohms, "resistance_n_low": ohms / 1.3, "resistance_n_high": ohms * 1.3}
            found.append(row(**at, **ends, resistance_n_informed=True))
            found.append(row(**at, resistance_n=9.0, resistance_n_low=9.0, resistance_n_high=9.0))
    return found


ASKED = Asked(by=("region",), part="part", outlet="outlet", time="visited", title="Campground <2025>")


@pytest.fixture(scope="module")
def assessed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("fleet") / "out.parquet"
    table = pa.Table.from_pylist(rows(), schema=pa.schema([*OWN, *ASSESSED]))
    pyarrow.parquet.write_table(table, path)
    return path


@pytest.fixture(scope="module")
def summary(assessed: Path) -> Summary:
    return summarize(assessed, ASKED)


def lines(summary: Summary, name: str) -> list[dict[str, Any]]:
    table = summary.table(name)
    assert table is not None
    return [dict(zip(table.columns, cells, strict=True)) for cells in table.rows]


def test_findings_and_dispositions_are_counted_by_group(summary: Summary) -> None:
    counted = {(line["group"], line["finding"]): line["sets"] for line in lines(summary, "findings")}
    assert counted[SCRIPT, "open_neutral"] == 6
    assert counted[SCRIPT, "none_found"] == 9
    assert sum(counted.values()) == summary.sets == len(rows())
    called = {(line["group"], line["disposition"]): line["share"] for line in lines(summary, "dispositions")}
    assert called[SCRIPT, "stop_and_refer"] == 0.4


def test_technique_says_how_many_sets_were_blind_to_an_open_neutral(summary: Summary) -> None:
    blind = {line["group"]: line["blind"] for line in lines(summary, "technique")}
    assert blind == {"lake": 30, SCRIPT: 0}


def test_parts_with_a_supply_fault_behind_them(summary: Summary) -> None:
    first, second = lines(summary, "parts")
    assert (first["part"], first["orders"], first["named"]) == ("control board", 10, 6)
    assert first["expected"] == pytest.approx(6 * 0.9 + 4 * 0.2)
    assert (second["part"], second["named"]) == ("$element$", 0)


def test_the_meter_that_is_off_is_named_and_no_other(summary: Summary) -> None:
    meters = lines(summary, "meters")
    assert [line["meter"] for line in meters if line["off"] == "yes"] == ["meter 3"]
    assert meters[0]["percent"] == pytest.approx(2.0, abs=0.4)
    assert meters[0]["low"] < 2.0 < meters[0]["high"]


def test_the_outlet_whose_neutral_worsens_is_named_and_no_other(summary: Summary) -> None:
    outlets = lines(summary, "outlets")
    assert [line["outlet"] for line in outlets if line["worsens"] == "yes"] == ["outlet 5"]
    worst = outlets[0]
    assert worst["factor_a_year"] == pytest.approx(2.0, rel=0.01)
    assert (worst["first"], worst["first_ohm"], worst["last_ohm"]) == ("2020-01-01", 0.3, pytest.approx(4.8))
    assert worst["visits"] == 5


def test_the_folder_holds_the_page_and_a_csv_of_each_table(assessed: Path, tmp_path: Path) -> None:
    made = write_report(assessed, tmp_path / "report", ASKED)
    assert {file.name for file in (tmp_path / "report").iterdir()} == {
        "report.html",
        *(f"{table.name}.csv" for table in made.tables),
    }
    with (tmp_path / "report" / "technique.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.reader(file))
    assert table[0] == ["group", "sets", "blind", "share", "low", "high"]
    assert next(line[:3] for line in table if line[0] == SCRIPT) == [SCRIPT, "15", "0"]
    with pytest.raises(ValueError, match="no column year"):
        write_report(assessed, tmp_path / "other", Asked(by=("year",)))


def test_a_file_without_what_is_asked_gives_fewer_tables(assessed: Path) -> None:
    plain = summarize(assessed, Asked())
    assert {table.name for table in plain.tables} == {"findings", "dispositions", "technique", "meters"}
    assert lines(plain, "technique")[0]["group"] == "all"


def test_the_page_is_the_same_each_time_and_asks_for_nothing(summary: Summary) -> None:
    page = render_report(summary, "Campground <2025>")
    assert page == render_report(summary, "Campground <2025>")
    for address in ("src=", "@import", "url(http", "<script", "<link"):
        assert address not in page
    assert "never that a supply is free of danger" in page


def test_a_browser_shows_pictures_and_tables_and_runs_nothing(summary: Summary, tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    page.write_text(render_report(summary, "Campground <2025>"), encoding="utf-8")
    shown = chromium(tmp_path, "--dump-dom", page.as_uri())
    assert shown.count('role="img"') == 5
    assert shown.count("<table") == 6
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in shown
    assert "<title>Campground &lt;2025&gt;</title>" in shown
    picture = tmp_path / "page.png"
    chromium(tmp_path, "--window-size=1000,3000", f"--screenshot={picture}", page.as_uri())
    assert picture.stat().st_size > 50_000


def test_a_share_has_wilsons_interval() -> None:
    """Against scipy's own (method `wilson` of its binomial test)."""
    theirs = stats.binomtest(7, 40).proportion_ci(0.9, method="wilson")
    assert wilson_interval(7, 40) == pytest.approx((theirs.low, theirs.high))
    assert wilson_interval(0, 0) == (0.0, 1.0)


def test_a_trend_is_the_weighted_line() -> None:
    """Against scipy's curve fit with known deviations."""
    from scipy.optimize import curve_fit  # noqa: PLC0415

    points = [(0.0, 1.0, 0.2), (1.0, 1.4, 0.1), (2.5, 1.5, 0.4), (4.0, 2.9, 0.3)]
    trend = Trend()
    for point in points:
        trend.add(*point)
    x, y, deviation = zip(*points, strict=True)
    best, spread = curve_fit(lambda t, a, b: a + b * t, x, y, sigma=deviation, absolute_sigma=True)
    slope = trend.slope()
    assert slope == pytest.approx((best[1], math.sqrt(spread[1, 1])), rel=1e-6)
    assert Trend().slope() is None


def test_discoveries_are_those_of_benjamini_and_hochberg() -> None:
    """Against scipy's adjusted chances."""
    chances = [0.001, 0.008, 0.039, 0.041, 0.042, 0.06, 0.074, 0.205, 0.212, 0.216]
    adjusted = stats.false_discovery_control(chances)
    assert discoveries(chances) == [bool(p <= 0.05) for p in adjusted]
    assert discoveries([]) == []
    assert one_sided_p(NINETY) == pytest.approx(0.05)
