"""Whole files over several processes: nothing lost, nothing twice, whatever is killed in the middle."""

import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
import warnings
from contextlib import redirect_stderr
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
import pytest

from feedproof.cli import main
from feedproof.faults.priors import MODEL_VERSION
from feedproof.fleet.batches import assess_batches
from support.fleets import long_rows, long_table, nested_row, nested_table, simulated

#: Five parts of 64: enough for two processes that are stopped when one or two are done.
COUNT = 320
BAD = 7


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("fleet") / "fleet.ndjson"
    rows = [nested_row(f"visit {n}", readings) for n, (_, readings) in enumerate(simulated(COUNT, seed=11))]
    rows[BAD - 1]["readings"][0]["value"] = -5.0
    path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def wanted(fleet: Path) -> list[dict[str, object]]:
    table = nested_table(json.loads(line) for line in fleet.read_text(encoding="utf-8").splitlines())
    return [row for batch in assess_batches(table.to_batches()) for row in batch.to_pylist() if row["refused"] is None]


def command(*arguments: object, workers: int = 2) -> list[str]:
    given = [str(argument) for argument in arguments]
    return [sys.executable, "-m", "feedproof", "fleet", *given, "--workers", str(workers)]


def finished(*arguments: object, workers: int = 2) -> subprocess.CompletedProcess[str]:
    """Run the command to its end; one with a single worker from this process, which has loaded everything already."""
    given = command(*arguments, workers=workers)
    if workers > 1:
        return subprocess.run(given, capture_output=True, text=True, timeout=600, check=False)
    with redirect_stderr(StringIO()) as told, warnings.catch_warnings():
        return subprocess.CompletedProcess(given, main(given[3:]), stderr=told.getvalue())


def started(*arguments: object, parts: int, folder: Path, deaf: bool = False) -> subprocess.Popen[str]:
    """Start a run and give it when so many parts are done.

    It hears interruptions, or is deaf to them as what a shell puts in the background is, however these tests were
    started themselves.
    """
    before = signal.signal(signal.SIGINT, signal.SIG_IGN if deaf else signal.default_int_handler)
    try:
        process = subprocess.Popen(command(*arguments), stderr=subprocess.PIPE, text=True)
    finally:
        signal.signal(signal.SIGINT, before)
    deadline = time.monotonic() + 300
    while len(list(folder.glob("part-*.arrow"))) < parts:
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.01)
    return process


def children(pid: int) -> list[int]:
    """Processes that a process has started, by the system's own list."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            text = entry.read_text(encoding="utf-8")
        except OSError:
            continue
        if int(text.rpartition(")")[2].split()[1]) == pid:
            found.append(int(entry.parent.name))
    return found


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def held(path: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = pyarrow.parquet.read_table(path).to_pylist()
    return found


def test_two_processes_give_what_one_call_gives(tmp_path: Path, fleet: Path, wanted: list[dict[str, object]]) -> None:
    out = tmp_path / "out.parquet"
    done = finished(fleet, out)
    assert done.returncode == 1, done.stderr
    assert held(out) == wanted
    rejects = pyarrow.csv.read_csv(tmp_path / "out.parquet.rejects.csv").to_pylist()
    assert [(row["row"], row["reference"]) for row in rejects] == [(BAD, f"visit {BAD - 1}")]
    assert "/readings/0/value" in rejects[0]["reason"]
    assert f"{COUNT} sets" in done.stderr
    assert {file.name for file in tmp_path.iterdir()} == {"out.parquet", "out.parquet.rejects.csv"}
    again = finished(fleet, out)
    assert again.returncode == 2
    assert "already there" in again.stderr


def test_the_same_bytes_come_out_whatever_the_number_of_processes(tmp_path: Path, fleet: Path) -> None:
    some = tmp_path / "some.ndjson"
    some.write_text("".join(fleet.read_text(encoding="utf-8").splitlines(keepends=True)[:130]), encoding="utf-8")
    for workers in (1, 3):
        done = finished(some, tmp_path / f"{workers}.parquet", workers=workers)
        assert done.returncode == 1, done.stderr
    assert (tmp_path / "1.parquet").read_bytes() == (tmp_path / "3.parquet").read_bytes()


@pytest.fixture
def few(fleet: Path, tmp_path: Path) -> Path:
    """Twelve visits in two regions, the seventh with an impossible value."""
    path = tmp_path / "few.ndjson"
    lines = [json.loads(line) for line in fleet.read_text(encoding="utf-8").splitlines()[:12]]
    regions = [line | {"region": "lake" if n % 2 else "hill"} for n, line in enumerate(lines)]
    path.write_text("".join(json.dumps(line) + "\n" for line in regions), encoding="utf-8")
    return path


def references(path: Path) -> list[str]:
    return [str(row["reference"]) for row in held(path)]


def test_a_part_of_the_sets_is_chosen_by_condition_or_by_chance(tmp_path: Path, few: Path) -> None:
    out = tmp_path / "lake.parquet"
    done = finished(few, out, "--keep", "region", "--where", "region = 'lake' AND row > 4", workers=1)
    assert done.returncode == 0, done.stderr
    assert references(out) == [f"visit {n}" for n in (5, 7, 9, 11)]
    bad = finished(few, tmp_path / "bad.parquet", "--where", "county = 'lake'", workers=1)
    assert bad.returncode == 2
    assert "--where" in bad.stderr
    chosen = []
    for name in ("some", "again"):
        sample = tmp_path / f"{name}.parquet"
        assert finished(few, sample, "--ignore", "region", "--sample", "0.5", workers=1).returncode in {0, 1}
        chosen.append(references(sample))
    assert chosen[0] == chosen[1]
    assert 0 < len(chosen[0]) < 11


def test_new_sets_are_added_and_those_that_are_there_stay(tmp_path: Path, few: Path) -> None:
    first = tmp_path / "first.ndjson"
    lines = few.read_text(encoding="utf-8").splitlines(keepends=True)
    first.write_text("".join(lines[:4]), encoding="utf-8")
    out = tmp_path / "out.parquet"
    assert finished(first, out, "--keep", "region", workers=1).returncode == 0
    before = held(out)
    again = finished(few, out, "--keep", "region", workers=1)
    assert again.returncode == 2
    assert "already there" in again.stderr
    added = finished(few, out, "--keep", "region", "--append", workers=1)
    assert added.returncode == 1, added.stderr
    assert held(out)[:4] == before
    assert references(out) == [f"visit {n}" for n in range(12) if n != BAD - 1]
    fresh = tmp_path / "more.csv"
    other = finished(few, out, "--ignore", "region", "--append", "--rejects", fresh, workers=1)
    assert other.returncode == 2
    assert "other columns" in other.stderr
    (tmp_path / "out.parquet.rejects.csv").unlink()
    assert finished(few, out, "--keep", "region", "--overwrite", workers=1).returncode == 1
    assert len(held(out)) == 11


@pytest.mark.parametrize("ending", ["csv", "ndjson"])
def test_what_is_added_to_stays_as_it_is_to_the_byte(tmp_path: Path, few: Path, ending: str) -> None:
    """Also where its words look like nulls and numbers; and what was refused is added to what was refused before."""
    lines = [json.loads(line) for line in few.read_text(encoding="utf-8").splitlines()]
    words = ["NULL", "n/a", "01", "1e5"]
    first, out = tmp_path / "first.ndjson", tmp_path / f"out.{ending}"
    named = [line | {"reference": word, "region": word} for word, line in zip(words, lines, strict=False)]
    named.append({"reference": "bad", "readings": [], "region": "NA", "gremlin": 1})
    first.write_text("".join(json.dumps(line) + "\n" for line in named), encoding="utf-8")
    assert finished(first, out, "--keep", "region", workers=1).returncode == 1
    before = out.read_bytes()
    for _ in range(2):
        added = finished(few, out, "--keep", "region", "--append", workers=1)
        assert added.returncode == 1, added.stderr
        assert finished(first, out, "--keep", "region", "--append", workers=1).returncode == 1
    assert out.read_bytes().startswith(before)
    from feedproof.fleet.tables import assessments  # noqa: PLC0415

    found = assessments(out, ["region"]).sql("SELECT reference, region FROM assessed").fetchall()
    assert found[:4] == [(word, word) for word in words]
    assert len(found) == 4 + 11
    rejects = pyarrow.csv.read_csv(tmp_path / f"out.{ending}.rejects.csv").to_pylist()
    assert sorted(row["reference"] for row in rejects) == ["bad", f"visit {BAD - 1}"]


def test_no_set_chosen_is_an_answer(tmp_path: Path, few: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a whole file, and of a block of it: rows are put down in blocks."""
    monkeypatch.setattr("feedproof.fleet.run._AT_ONCE", 4)
    out = tmp_path / "out.csv"
    none = finished(few, out, "--keep", "region", "--where", "row > 99", workers=1)
    assert (none.returncode, out.read_text(encoding="utf-8").count("\n")) == (0, 1), none.stderr
    first = finished(few, tmp_path / "some.parquet", "--keep", "region", "--where", "row > 9", workers=1)
    assert first.returncode == 0, first.stderr
    assert references(tmp_path / "some.parquet") == ["visit 9", "visit 10", "visit 11"]
    assert "0 sets" in finished(few, tmp_path / "none.parquet", "--keep", "region", "--sample", "1e-9").stderr
    assert held(tmp_path / "none.parquet") == []
    empty, where = tmp_path / "empty.ndjson", ("--keep", "region", "--where")
    assert finished(few, empty, *where, "false", workers=1).returncode == 0
    assert finished(few, empty, *where, "row > 9", "--append", workers=1).returncode == 0
    assert len(empty.read_text(encoding="utf-8").splitlines()) == 3


def test_nothing_that_is_read_is_written_over(tmp_path: Path, few: Path) -> None:
    table = nested_table(json.loads(line) for line in few.read_text(encoding="utf-8").splitlines())
    folder = tmp_path / "visits"
    folder.mkdir()
    path = folder / "visits.parquet"
    pyarrow.parquet.write_table(table.append_column("tags", pa.array([["a"]] * 12)), path)
    before, out, spelled = path.read_bytes(), tmp_path / "out.parquet", folder / ".." / "visits" / "visits.parquet"
    for arguments, said in (
        ([path, spelled], "must be three"),
        ([path, out, "--rejects", spelled], "must be three"),
        ([path, tmp_path / "out.csv", "--rejects", tmp_path / "out.csv"], "must be three"),
        ([folder, folder / "out.parquet"], "within IN"),
        ([path, folder], "is a folder"),
        ([path, tmp_path / "out.csv", "--keep", "tags"], "cannot be written"),
    ):
        left = () if "tags" in arguments else ("--ignore", "tags")
        done = finished(*arguments, *left, "--overwrite", workers=1)
        assert done.returncode == 2, arguments
        assert said in done.stderr
        assert path.read_bytes() == before
    assert not list(tmp_path.glob("out*"))


def test_columns_to_keep_may_have_any_name_but_one_of_ours(tmp_path: Path, few: Path) -> None:
    lines = [json.loads(line) | {"places": 7, "Finding": "x"} for line in few.read_text(encoding="utf-8").splitlines()]
    few.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    out, ignored = tmp_path / "out.parquet", ("--ignore", "region")
    clash = finished(few, out, *ignored, "--keep", "Finding", workers=1)
    assert clash.returncode == 2
    assert "upper and lower case" in clash.stderr
    misspelled = finished(few, out, *ignored, "--keep", "place", workers=1)
    assert (misspelled.returncode, "no column place" in misspelled.stderr) == (2, True)
    done = finished(few, out, *ignored, "--ignore", "Finding", "--keep", "places", "--where", "places = 7", workers=1)
    assert done.returncode == 1, done.stderr
    assert {row["places"] for row in held(out)} == {"7"}


def test_groups_that_base_rates_do_not_know_are_told(tmp_path: Path, few: Path) -> None:
    rates = {"none_found": 0.9, "open_neutral": 0.1}
    groups = [{"group": group, "sets": 3, "base_rates": rates} for group in ({}, {"region": "lake"})]
    book = {"groups": groups, "by": ["region"], "model_version": MODEL_VERSION}
    (tmp_path / "rates.json").write_text(json.dumps(book), encoding="utf-8")
    done = finished(few, tmp_path / "out.parquet", "--base-rates", tmp_path / "rates.json", workers=2)
    assert done.returncode == 1, done.stderr
    assert "1 groups of region have no base rates of their own" in done.stderr
    assert "hill" in done.stderr


def test_nothing_is_overwritten_unasked(tmp_path: Path, few: Path) -> None:
    (tmp_path / "mine.csv").write_text("precious", encoding="utf-8")
    done = finished(few, tmp_path / "out.parquet", "--ignore", "region", "--rejects", tmp_path / "mine.csv")
    assert done.returncode == 2
    assert "mine.csv is already there" in done.stderr
    assert (tmp_path / "mine.csv").read_text(encoding="utf-8") == "precious"
    good = ("--ignore", "region", "--where", "row < 3", "--rejects", tmp_path / "mine.csv", "--overwrite")
    assert finished(few, tmp_path / "out.parquet", *good, workers=1).returncode == 0
    assert pyarrow.csv.read_csv(tmp_path / "mine.csv").num_rows == 0


def test_a_run_with_too_many_refused_sets_stops_and_says_why(tmp_path: Path, few: Path) -> None:
    out = tmp_path / "out.parquet"
    stopped = finished(few, out, "--ignore", "region", "--max-rejects", "0", workers=1)
    assert stopped.returncode == 3
    assert f"row {BAD}" in stopped.stderr
    assert "/readings/0/value" in stopped.stderr
    assert not out.exists()
    assert finished(few, out, "--ignore", "region", "--max-rejects", "1", workers=1).returncode == 1
    assert len(held(out)) == 11


def test_a_reference_whose_rows_stand_apart_is_refused_as_a_whole(tmp_path: Path) -> None:
    """Of a long table sorted by something else no set is cut to pieces and assessed."""
    rows = [
        row for _, readings in simulated(3, seed=12) for row in long_rows(f"visit {len(readings.readings)}", readings)
    ]
    rows = [row | {"reference": f"visit {n // 3}"} for n, row in enumerate(rows)]
    shuffled = [*rows[:3], rows[3], *rows[6:], *rows[4:6]]
    path, out = tmp_path / "long.csv", tmp_path / "out.parquet"
    pyarrow.csv.write_csv(long_table(shuffled), path)
    done = finished(path, out, workers=1)
    assert done.returncode == 1, done.stderr
    assert references(out) == ["visit 0", "visit 2"]
    (refused,) = pyarrow.csv.read_csv(tmp_path / "out.parquet.rejects.csv").to_pylist()
    assert (refused["row"], refused["reference"]) == (4, "visit 1")
    assert "sort the file by reference and reading" in refused["reason"]
    assert "2 places" in refused["reason"]


@pytest.mark.parametrize("cells", [{"meter": ["dmm"]}, {"kind": ["voltage"]}, {"reference": ["b"]}, {"value": [1e3]}])
def test_a_line_with_a_strange_cell_is_refused_and_the_rest_goes_on(tmp_path: Path, cells: dict[str, object]) -> None:
    own = {
        "reading": 0,
        "kind": "voltage",
        "conductor": "L1",
        "other_conductor": "L2",
        "value": 240,
        "meter": "dmm",
    } | {"meter_kind": "voltmeter"}
    rows: list[dict[str, object]] = [own | {"reference": name, "load_state": "idle"} for name in "abc"]
    rows[1] |= cells
    path, out = tmp_path / "m.ndjson", tmp_path / "out.parquet"
    path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    done = finished(path, out, workers=1)
    assert done.returncode == 1, done.stderr
    assert references(out) == ["a", "c"]
    (refused,) = pyarrow.csv.read_csv(tmp_path / "out.parquet.rejects.csv").to_pylist()
    assert refused["row"] == 2
    assert refused["reason"].startswith((*cells, "/readings/0"))


def test_all_columns_of_ones_own_are_kept_with_their_types(tmp_path: Path) -> None:
    sets = [nested_row(f"visit {n}", readings) for n, (_, readings) in enumerate(simulated(3, seed=13))]
    day = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
    own: dict[str, pa.Array[Any]] = {
        "year": pa.array([2024, None, 2026], pa.int16()),
        "visited": pa.array([day, None, day], pa.timestamp("us", "UTC")),
        "cost": pa.array([Decimal("12.50"), None, Decimal("0.25")], pa.decimal128(8, 2)),
        "region": pa.array(["lake", None, "hill"]).dictionary_encode(),
    }
    # As data frames have them: text as views or large, times with nanoseconds, categories of unsigned numbers.
    made: dict[str, pa.Array[Any]] = {
        "outlet": pa.array(["1", None, "2"], pa.string_view()),
        "part": pa.array(["a", None, "b"], pa.large_string()),
        "noted": pa.array([1735774200123456789, None, 0], pa.timestamp("ns", "UTC")),
        "kind": pa.array(["a", None, "b"]).dictionary_encode().cast(pa.dictionary(pa.uint32(), pa.large_string())),
    }
    table = nested_table(sets)
    for name, column in (own | made).items():
        table = table.append_column(name, column)
    path, out = tmp_path / "fleet.parquet", tmp_path / "out.parquet"
    pyarrow.parquet.write_table(table, path)
    done = finished(path, out, "--keep", "*", "--where", "year IS NULL OR cost > 1", workers=1)
    assert done.returncode == 0, done.stderr
    found = pyarrow.parquet.read_table(out)
    assert found.column_names[: len(own)] == list(own)
    for name, column in own.items():
        assert found[name].to_pylist() == column.to_pylist()[:2]
        assert found.schema.field(name).type == column.type
    assert [found.schema.field(name).type for name in ("outlet", "part", "kind")] == [pa.string()] * 3
    assert [found[name].to_pylist() for name in ("outlet", "part", "kind")] == [["1", None], ["a", None], ["a", None]]
    assert found["noted"][0].as_py() == dt.datetime(2025, 1, 1, 23, 30, 0, 123456, tzinfo=dt.UTC)
    page = tmp_path / "page"
    changes = [sys.executable, "-m", "feedproof", "fleet-changes", str(out), str(out), str(page)]
    assert subprocess.run(changes, check=False, timeout=120).returncode == 0
    assert {file.name for file in page.iterdir()} == {"report.html", "changes.csv", "changed.csv"}


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_a_run_killed_in_the_middle_goes_on_without_loss_or_repeats(
    tmp_path: Path, fleet: Path, wanted: list[dict[str, object]]
) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=2, folder=parts)
    workers = children(process.pid)
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()
    assert len(workers) >= 2
    deadline = time.monotonic() + 60
    while any(map(alive, workers)):
        assert time.monotonic() < deadline, "workers outlive their parent"
        time.sleep(0.05)
    kept = {file: file.stat().st_mtime_ns for file in parts.glob("part-*.arrow")}
    assert 2 <= len(kept) < COUNT // 64
    assert not out.exists()
    done = finished(fleet, out)
    assert done.returncode == 1, done.stderr
    assert "by an earlier run" in done.stderr
    assert held(out) == wanted
    assert not parts.exists()


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
@pytest.mark.slow
def test_a_worker_killed_in_the_middle_is_replaced(
    tmp_path: Path, fleet: Path, wanted: list[dict[str, object]]
) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=2, folder=parts)
    for pid in children(process.pid):
        if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes():
            os.kill(pid, signal.SIGKILL)
            break
    else:
        pytest.fail("no worker was found")
    _, told = process.communicate(timeout=300)
    assert process.returncode == 1, told
    assert held(out) == wanted


@pytest.mark.parametrize("sent", [(signal.SIGINT,), (signal.SIGINT,) * 4])
def test_an_interruption_says_how_to_go_on(tmp_path: Path, fleet: Path, sent: tuple[signal.Signals, ...]) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=1, folder=parts)
    for number in sent:
        process.send_signal(number)
        time.sleep(0.02)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 3
    assert "the same command goes on" in told
    assert "Traceback" not in told
    assert parts.exists()


def test_a_run_in_the_background_is_deaf_to_interruptions_and_not_to_the_order_to_stop(
    tmp_path: Path, fleet: Path
) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=1, folder=parts, deaf=True)
    process.send_signal(signal.SIGINT)
    with pytest.raises(subprocess.TimeoutExpired):
        process.wait(0.3)
    process.send_signal(signal.SIGTERM)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 3
    assert "the same command goes on" in told
    assert "Traceback" not in told


@pytest.mark.skipif(sys.platform == "win32", reason="locks of POSIX")
@pytest.mark.slow
def test_parts_of_another_job_and_a_second_run_are_refused(tmp_path: Path, fleet: Path) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=1, folder=parts)
    # Held where it is, or it might be done before the second has begun.
    process.send_signal(signal.SIGSTOP)
    second = finished(fleet, out)
    process.send_signal(signal.SIGCONT)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=60)
    assert second.returncode == 2
    assert "another run is at work" in second.stderr
    other = tmp_path / "other.ndjson"
    other.write_bytes(fleet.read_bytes() + fleet.read_bytes())
    refused = finished(other, out)
    assert refused.returncode == 2
    assert "from another run (input differs)" in refused.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["missing.parquet", "out.parquet"], "No such file"),
        (["fleet.ndjson", "out.xlsx"], "ends in none"),
        (["fleet.ndjson", "out.csv", "--base-rates", "rates.json"], "no such fault"),
        (["fleet.ndjson", "out.csv", "--workers", "0"], "at least 1"),
    ],
)
def test_what_cannot_be_used_is_said_before_anything_is_done(
    tmp_path: Path, fleet: Path, arguments: list[str], said: str
) -> None:
    (tmp_path / "rates.json").write_text('{"gremlins": 1}', encoding="utf-8")
    (tmp_path / "fleet.ndjson").write_bytes(fleet.read_bytes())
    done = subprocess.run(
        [sys.executable, "-m", "feedproof", "fleet", *arguments],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.slow
def test_csv_and_ndjson_come_out_with_the_same_answers(
    tmp_path: Path, fleet: Path, wanted: list[dict[str, object]]
) -> None:
    few = tmp_path / "few.ndjson"
    few.write_text("".join(fleet.read_text(encoding="utf-8").splitlines(keepends=True)[:5]), encoding="utf-8")
    for ending in ("csv", "ndjson"):
        out = tmp_path / f"out.{ending}"
        done = finished(few, out, workers=1)
        assert done.returncode == 0, done.stderr
        if ending == "ndjson":
            assert [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()] == wanted[:5]
        else:
            table = pyarrow.csv.read_csv(out)
            assert table["reference"].to_pylist() == [row["reference"] for row in wanted[:5]]
            assert table["finding_probability"].to_pylist() == [row["finding_probability"] for row in wanted[:5]]
            assert isinstance(table.schema.field("finding_probability").type, type(pa.float64()))
