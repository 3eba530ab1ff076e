"""Whole files over several processes: nothing lost, nothing twice, whatever is killed in the middle."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
import pytest

from feedproof.fleet.batches import assess_batches
from feedproof.fleet.files import Source
from feedproof.fleet.run import Job, _manifest
from support.fleets import nested_row, nested_table, simulated

COUNT = 640
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


def finished(*arguments: object, **options: int) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command(*arguments, **options), capture_output=True, text=True, timeout=600, check=False)


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
    while len(list(folder.glob("part-*.parquet"))) < parts:
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


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_a_run_killed_in_the_middle_goes_on_without_loss_or_repeats(
    tmp_path: Path, fleet: Path, wanted: list[dict[str, object]]
) -> None:
    out, parts = tmp_path / "out.parquet", tmp_path / "out.parquet.parts"
    process = started(fleet, out, parts=4, folder=parts)
    workers = children(process.pid)
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()
    assert len(workers) >= 2
    deadline = time.monotonic() + 60
    while any(map(alive, workers)):
        assert time.monotonic() < deadline, "workers outlive their parent"
        time.sleep(0.05)
    kept = {file: file.stat().st_mtime_ns for file in parts.glob("part-*.parquet")}
    assert 4 <= len(kept) < COUNT // 16
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


@pytest.mark.parametrize("sent", [(signal.SIGINT,), (signal.SIGTERM,), (signal.SIGINT,) * 4])
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


def test_a_run_begun_under_other_columns_is_refused(tmp_path: Path, fleet: Path) -> None:
    out = tmp_path / "out.parquet"
    parts = tmp_path / "out.parquet.parts"
    parts.mkdir()
    job = Job(source=fleet, target=out, rejects=tmp_path / "rejects.ndjson")
    assert _manifest(parts, job, Source(fleet)) == _manifest(parts, job, Source(fleet))
    begun = json.loads((parts / "job.json").read_text(encoding="utf-8"))
    begun["columns"].remove("finding_place")
    (parts / "job.json").write_text(json.dumps(begun), encoding="utf-8")
    with pytest.raises(ValueError, match=r"from another run \(columns differs\)"):
        _manifest(parts, job, Source(fleet))


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
