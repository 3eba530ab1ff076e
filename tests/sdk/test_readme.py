"""The README's snippets run as they stand, beside the service, and its figures are those of the code."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from feedproof_sdk import Client, _batch, _settings, errors
from support.service_process import LiveService


@pytest.fixture(scope="module")
def readme(root: Path) -> str:
    """Give the README of the SDK."""
    return (root / "sdk" / "README.md").read_text(encoding="utf-8")


def snippets(text: str) -> list[str]:
    found: list[str] = re.findall(r"^```python\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    return found


def run(snippet: str, service: LiveService, folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", snippet],
        cwd=folder,
        env={"FEEDPROOF_BASE_URL": service.url},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_each_snippet_runs(readme: str, service: LiveService, tmp_path: Path) -> None:
    (tmp_path / "visits.ndjson").write_bytes(b'{"readings": [], "reference": "first"}\n{"readings": 3}\n')
    told = [run(snippet, service, tmp_path) for snippet in snippets(readme)]
    assert len(told) == 2
    assert told[0].startswith("open_neutral established stop_and_refer\ndanger ")
    assert told[1].startswith("first none_found ")
    assert "\n1 Invalid reading set (422)" in told[1]


def test_each_block_for_platforms_runs(root: Path, service: LiveService, tmp_path: Path) -> None:
    text = (root / "sdk" / "PLATFORMS.md").read_text(encoding="utf-8")
    told = [run(block, service, tmp_path) for block in snippets(text)]
    five, visit, batch, wrong, without = told
    assert five.startswith("Branch neutral")
    assert "danger " in visit
    assert batch.splitlines()[0].startswith("a none_found ")
    assert batch.splitlines()[1].startswith("1 Invalid reading set (422)")
    assert "/readings/0/between missing" in wrong
    assert without == "asked to come back in 3600.0 s\n"


def test_its_figures_are_those_of_the_code(readme: str) -> None:
    text = " ".join(readme.split())
    assert f"at most {_batch.LINES_AT_ONCE} sets and {_batch.BYTES_AT_ONCE // 1024} KiB" in text
    assert _batch.IN_FLIGHT == 4
    assert "four pieces are under way" in text
    assert f"`patience` seconds ({_batch.PATIENCE:.0f})" in text
    assert _settings.MAX_RETRIES == 3
    assert "Up to three further attempts" in text
    assert f"call's own time ({_settings.TIMEOUT:.0f} s)" in text
    assert _settings.LOOPBACK in text
    assert _settings.BASE_URL in text
    assert _settings.API_KEY in text


def test_each_call_and_error_that_it_names_is_there(readme: str) -> None:
    for line in re.findall(r"^\| (`.*?) \|", readme, re.MULTILINE):
        for name in re.findall(r"`(\w+)[(.]", line):
            if name != "import":
                assert hasattr(Client, name), name
    tree = readme.partition("FeedproofError\n")[2].partition("```")[0]
    for name in re.findall(r"\b[A-Z][a-z]+[A-Z]\w+", tree):
        assert hasattr(errors, name), name
