"""The benchmark runs, part by part. What it measures is reported, never asserted."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.parts.parts import PARTS
from benchmarks.parts.rows import Row, missing, share, table

ALONE = ("engine", "stages")
"""Parts that start no other program."""


def ran(root: Path, parts: str, tmp_path: Path) -> list[dict[str, object]]:
    file = tmp_path / "figures.json"
    command = [sys.executable, "tests/benchmarks/run.py", "--quick", "--here", "--parts", parts, "--json", str(file)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    rows: list[dict[str, object]] = json.loads(file.read_text(encoding="utf-8"))["rows"]
    assert rows
    assert all(str(row["what"]) in done.stdout for row in rows)
    return rows


def test_the_parts_that_start_no_program_run(root: Path, tmp_path: Path) -> None:
    rows = ran(root, ",".join(ALONE), tmp_path)
    assert all(row["value"] is not None or row["note"] for row in rows)


@pytest.mark.slow
@pytest.mark.alone
@pytest.mark.parametrize("part", sorted(set(PARTS) - set(ALONE)))
def test_a_part_that_starts_programs_runs(root: Path, part: str, tmp_path: Path) -> None:
    rows = ran(root, part, tmp_path)
    assert any(row["ratio"] is not None for row in rows)
    if part == "service":
        assert not [row for row in rows if "refused" in str(row["note"])]


def test_an_unknown_part_is_refused(root: Path) -> None:
    command = [sys.executable, "tests/benchmarks/run.py", "--parts", "weather"]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode != 0
    assert all(name in done.stderr for name in PARTS)


def test_quantiles_are_values_that_were_met() -> None:
    assert share([3.0, 1.0, 2.0], 0.5) == 2.0
    assert share([1.0], 0.99) == 1.0
    assert share([float(k) for k in range(1, 101)], 0.99) == 99.0


def test_the_table_says_what_could_not_be_measured() -> None:
    rows = [Row("one thing", 2.0, "ms", 4.0, "another"), missing("a third", "not here")]
    first, second = table(rows).splitlines()
    assert "4 x another" in first
    assert second.endswith("not here")
    assert rows[1].plain()["value"] is None
    assert math.isnan(rows[1].value)
