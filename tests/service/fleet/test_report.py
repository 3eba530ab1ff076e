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
from feedproof.fleet.outlets import HURTS
from feedproof.fleet.plots import figure_of
from feedproof.fleet.report import Report, ReportOptions, report, write_report
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from feedproof.fleet.summary import share
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
    """Against scipy's curve fit."""
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
    # Not absolute: the error is that of the scatter about the line, where that is more than the deviations say.
    fits = [
        curve_fit(lambda t, a, b: a + b * t, x, np.log(y), sigma=deviation, absolute_sigma=a) for a in (True, False)
    ]
    best, spread = max(fits, key=lambda fit: float(fit[1][1, 1]))
    (line,) = lines(report(table, ReportOptions(outlet="outlet", time="visited")), "outlets")
    # Four visits leave a freedom of two, and the scatter of all outlets counts for four more.
    z = float(stats.t.ppf(0.95, 6))
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
        row(reference="mended", outlet="dock 1", visited=dt.date(2025, 2, 1), log_evidence_open_neutral=-30.0),
        row(reference="likely", **NEUTRAL | {"determination": "undetermined", "disposition": "take_more_readings"}),
    ]
    numbered = [{"row": n} | cells for n, cells in enumerate(found)]
    table = pa.Table.from_pylist(numbered, schema=pa.schema([*OWN, *ASSESSED]))
    back = lines(report(table, ReportOptions(part="part", outlet="outlet", time="visited")), "go_back")
    assert [line["reference"] for line in back] == ["live", "established", "probable", "blind part", "likely"]
    assert back[0]["why"] == "a person or the house may be hurt"
    assert {caution.code for caution in caution_texts() if caution.severity == "danger"} >= set(HURTS)


def listed(asked: ReportOptions, *found: dict[str, Any]) -> list[tuple[str, str]]:
    numbered = [{"row": n} | cells for n, cells in enumerate(found)]
    table = pa.Table.from_pylist(numbered, schema=pa.schema([*OWN, *ASSESSED]))
    made = report(table, asked)
    return [(line["reference"], line["group"]) for line in lines(made, "go_back")] if "go_back" in repr(made) else []


@pytest.mark.parametrize("outlet", ["", "  ", None])
def test_visits_without_an_outlet_are_all_listed(outlet: str | None) -> None:
    """Four outlets that nobody named are four, and what the last visit found says nothing of the others."""
    bad = [row(reference=f"bad {n}", outlet=outlet, visited=dt.date(2025, 1, n + 1), **NEUTRAL) for n in range(3)]
    fine = row(reference="fine", outlet=outlet, visited=dt.date(2025, 2, 1), log_evidence_open_neutral=-30.0)
    found = listed(ReportOptions(outlet="outlet", time="visited"), *bad, fine)
    assert [name for name, _ in found] == ["bad 0", "bad 1", "bad 2"]


def test_one_name_in_two_groups_is_two_outlets() -> None:
    bad = row(reference="bad", region="hill", outlet="12", visited=dt.date(2025, 1, 1), **NEUTRAL)
    fine = row(region="lake", outlet="12", visited=dt.date(2025, 2, 1), log_evidence_open_neutral=-30.0)
    assert listed(ReportOptions(by=("region",), outlet="outlet", time="visited"), bad, fine) == [("bad", "hill")]
    assert listed(ReportOptions(outlet="outlet", time="visited"), bad, fine) == []


@pytest.mark.parametrize(
    "later",
    [
        # As an unplugged outlet read with a high-impedance meter: readings that an open neutral gives, too.
        row(open_neutral_would_show=False),
        row(log_evidence_open_neutral=-30.0, determination="undetermined"),
        # A breaker that is off: a sound supply and an open neutral are refused alike, the one more than the other.
        row(finding="breaker_open", finding_place="no_supply_here", log_evidence_none_found=-90.0,
            log_evidence_open_neutral=-99.0),
        row(log_evidence_open_neutral=-30.0, visited=dt.date(2025, 1, 1)),
        row(log_evidence_open_neutral=None),
        row(log_evidence_open_neutral=-30.0, readings=0),
    ],
)  # fmt: skip
def test_a_visit_that_could_not_have_shown_the_fault_clears_nothing(later: dict[str, Any]) -> None:
    bad = row(reference="bad", outlet="dock 1", visited=dt.date(2025, 1, 1), **NEUTRAL)
    later = {"visited": dt.date(2025, 2, 1)} | later | {"outlet": "dock 1", "reference": "later"}
    assert listed(ReportOptions(outlet="outlet", time="visited"), bad, later) == [("bad", "all")]


def test_columns_named_as_those_of_a_query_change_nothing() -> None:
    """Their names may be anything: `rank` and `first` are words of our queries, `the_group` is one of their columns."""
    found = [{"row": n, "reference": "bad"} | row(**NEUTRAL) for n in range(2)]
    table = pa.Table.from_pylist(found, schema=ASSESSED)
    plain = report(table)
    own = ("rank", "urgency", "first", "off", "weight", "places", "the_group", "outcome", "every", "hurt", "the_place")
    for name in own:
        table = table.append_column(name, pa.array([4, None], pa.int64()))
    assert report(table)._repr_html_() == plain._repr_html_()
    assert lines(report(table, ReportOptions(by=("rank",))), "findings")[0]["group"] == "4"
    with pytest.raises(ValueError, match="upper and lower case"):
        report(table.append_column("Finding", pa.array(["x", "y"])))


def test_neutrals_whose_contacts_scatter_do_not_worsen() -> None:
    """Forty fleets of 25 outlets, four visits each, with contacts that scatter by 30 %, and two that really worsen.

    A tenth for the intervals of single visits, as loaded readings give; of those named one in twenty may be wrong.
    """
    rng = np.random.default_rng(3)
    wrong, found = [], 0
    for _ in range(40):
        each = []
        for outlet in range(25):
            for visit in range(4):
                ohms = 0.8 * math.exp(rng.normal(0.0, 0.3) + (visit if outlet < 2 else 0.0))
                each.append(row(
                    outlet=str(outlet), visited=dt.date(2020 + visit, 1, 1), resistance_n_informed=True,
                    resistance_n=ohms, resistance_n_low=ohms / 1.17, resistance_n_high=ohms * 1.17,
                ))  # fmt: skip
        numbered = [{"row": n} | cells for n, cells in enumerate(each)]
        table = pa.Table.from_pylist(numbered, schema=pa.schema([*OWN, *ASSESSED]))
        made = lines(report(table, ReportOptions(outlet="outlet", time="visited")), "outlets")
        named = {line["outlet"] for line in made if line["worsens"] == "yes"}
        wrong.append(len(named - {"0", "1"}) / max(len(named), 1))
        found += len(named & {"0", "1"})
    assert float(np.mean(wrong)) <= 0.05
    assert found >= 0.7 * 2 * 40


@pytest.mark.parametrize("bias", [0.02, 0.10])
def test_a_meter_so_far_off_that_it_finds_faults_everywhere_is_named(bias: float) -> None:
    """All its sets are of a voltage too high, and their outlets are to be gone back to, marked as read with it."""
    rng = np.random.default_rng(5)
    found = []
    for n in range(200):
        off = bias if n % 10 == 3 else 0.0
        high = {"finding": "voltage_high", "determination": "established", "disposition": "stop_and_refer"}
        found.append({"row": n} | row(
            outlet=f"o{n // 2 % 40}", reference=f"v{n}", reference_meter=f"m{n % 10}", reference_tolerance=0.012,
            reference_voltage=round(float(rng.normal(242.0, 1.5)) * (1.0 + off)), **(high if off > 0.05 else {}),
        ))  # fmt: skip
    # One house where the voltage itself is far too low.
    found.append(found[0] | {"row": 200, "outlet": "o1", "reference_voltage": 190.0, "finding": "voltage_low"})
    made = report(pa.Table.from_pylist(found, schema=pa.schema([*OWN, *ASSESSED])), ReportOptions(outlet="outlet"))
    meters = lines(made, "meters")
    assert [line["meter"] for line in meters if line["off"] == "yes"] == (["m3"] if bias > 0.05 else [])
    worst = next(line for line in meters if line["meter"] == "m3")
    assert worst["percent"] == pytest.approx(100.0 * bias, abs=0.5)
    if bias > 0.05:
        assert {line["meter_off"] for line in lines(made, "go_back")} == {"yes"}


def test_sets_without_an_outlet_share_none() -> None:
    """Two files of two regions with 12 V between them, rows numbered from 1 in each: sound meters stay unnamed."""
    rng = np.random.default_rng(7)
    found = [
        row(row=n, region=region, reference_voltage=round(float(rng.normal(volts, 1.5))), reference_tolerance=0.01,
            reference_meter=f"{region} {n % 6}")
        for region, volts in (("lake", 236.0), ("hill", 248.0))
        for n in range(90)
    ]  # fmt: skip
    table = pa.Table.from_pylist(found, schema=pa.schema([*OWN, *ASSESSED]))
    for asked in (ReportOptions(by=("region",)), ReportOptions(by=("region",), outlet="outlet")):
        meters = lines(report(table, asked), "meters")
        assert {line["shared"] for line in meters} == {0}
        assert not [line["meter"] for line in meters if line["off"] == "yes"]
    # The same numbers in two regions are two outlets.
    numbered = table.set_column(2, "outlet", pa.array([str(n % 90) for n in range(180)]))
    meters = lines(report(numbered, ReportOptions(by=("region",), outlet="outlet")), "meters")
    assert {line["shared"] for line in meters} == {0}


def test_times_with_a_zone_are_those_of_utc(monkeypatch: pytest.MonkeyPatch) -> None:
    """22:30 in Chicago in January is 04:30 UTC of the next day (the zone's standard offset is six hours)."""
    monkeypatch.setenv("TZ", "America/Chicago")
    day = dt.datetime(2025, 1, 6, 22, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
    for visited in (pa.array([day], pa.timestamp("us", "America/Chicago")), pa.array(["2025-01-06T22:30:00-06:00"])):
        table = pa.Table.from_pylist([row(row=1, outlet="a", **NEUTRAL)], schema=pa.schema([*OWN, *ASSESSED]))
        made = report(table.set_column(3, "visited", visited), ReportOptions(outlet="outlet", time="visited"))
        assert lines(made, "go_back")[0]["time"] == "2025-01-07 04:30:00"


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


def test_a_picture_says_what_it_leaves_out() -> None:
    found = [{"row": n, "region": f"region {n:02d}"} | row(part=f"part {n:02d}") for n in range(26)]
    table = pa.Table.from_pylist(found, schema=pa.schema([*OWN, *ASSESSED]))
    many, few = (report(table.slice(n), ReportOptions(by=("region",), part="part")) for n in (0, 1))
    for name in ("findings", "technique", "parts"):
        assert "the first 25 of 26" in figure_of(many[name]).axes[0].get_xlabel()
        assert "the first" not in figure_of(few[name]).axes[0].get_xlabel()


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
