"""`feedproof assess --html FILE --pdf FILE --open`, as a person runs it."""

import os
import stat
import subprocess
import sys
import time
import urllib.parse
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.note.html import render_html
from feedproof.note.pdf import render_pdf
from feedproof.parsing import read_request


@pytest.fixture(scope="module")
def request_file(root: Path) -> Path:
    return root / "examples" / "requests" / "low_impedance.json"


@pytest.fixture(scope="module")
def assessment(request_file: Path) -> Assessment:
    admitted = read_request(request_file.read_bytes())
    return assess(admitted.reading_set, admitted.assumptions)


def run(*arguments: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "feedproof", "assess", *map(str, arguments)],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture
def shown(tmp_path: Path) -> tuple[str, Path]:
    """Give a browser of the environment, as BROWSER names it, and where it writes down what it was to show."""
    told, program = tmp_path / "told", tmp_path / "browser"
    program.write_text(f'#!/bin/sh\nprintf %s "$1" > "{told}"\n')
    program.chmod(0o700)
    return str(program), told


def _address(told: Path) -> Path:
    deadline = time.monotonic() + 30
    while not (told.exists() and told.read_text()):
        assert time.monotonic() < deadline
        time.sleep(0.02)
    address = urllib.parse.urlsplit(told.read_text())
    assert address.scheme == "file"
    return Path(urllib.parse.unquote(address.path))


def test_page_and_pdf_are_the_notes_of_the_same_answer(
    request_file: Path, assessment: Assessment, tmp_path: Path
) -> None:
    page, paper = tmp_path / "note.html", tmp_path / "note.pdf"
    result = run(request_file, "--html", page, "--pdf", paper)
    assert (result.returncode, result.stdout) == (0, "")
    assert sorted(result.stderr.split()) == sorted(map(str, (page, paper)))
    assert page.read_bytes() == render_html(assessment)
    assert paper.read_bytes() == render_pdf(assessment)
    printed = "".join("".join(sheet.extract_text().split()) for sheet in PdfReader(BytesIO(paper.read_bytes())).pages)
    for caution in assessment.cautions:
        assert "".join(caution.text.split()) in printed


def test_words_and_note_can_be_had_at_once(request_file: Path, tmp_path: Path) -> None:
    result = run(request_file, "--text", "--html", tmp_path / "note.html")
    assert result.returncode == 0
    assert "DANGER" in result.stdout
    assert (tmp_path / "note.html").exists()


def test_open_shows_a_page_that_only_this_user_can_read(
    request_file: Path, assessment: Assessment, shown: tuple[str, Path], tmp_path: Path
) -> None:
    program, told = shown
    result = run(request_file, "--open", BROWSER=program, TMPDIR=str(tmp_path))
    assert (result.returncode, result.stdout) == (0, "")
    page = _address(told)
    assert page == Path(result.stderr.strip())
    assert page.parent == tmp_path
    assert page.read_bytes() == render_html(assessment)
    if os.name == "posix":
        assert stat.S_IMODE(page.stat().st_mode) == 0o600


def test_open_shows_the_named_file_where_there_is_one(
    request_file: Path, shown: tuple[str, Path], tmp_path: Path
) -> None:
    program, told = shown
    page = tmp_path / "a note #1 50%.html"
    assert run(request_file, "--open", "--html", page, BROWSER=program).returncode == 0
    assert _address(told) == page


def test_without_a_browser_the_file_is_named_and_the_status_tells(request_file: Path, tmp_path: Path) -> None:
    page = tmp_path / "note.html"
    # Neither a browser of the environment nor a program or a display where one could be found.
    result = run(request_file, "--open", "--html", page, BROWSER="", PATH=str(tmp_path), DISPLAY="", WAYLAND_DISPLAY="")
    assert result.returncode == 1
    assert f"no browser was found; open {page} yourself" in result.stderr
    assert page.exists()


@pytest.mark.parametrize("option", ["--html", "--pdf"])
def test_what_cannot_be_written_exits_2_without_a_traceback(request_file: Path, option: str, tmp_path: Path) -> None:
    result = run(request_file, option, tmp_path / "nowhere" / "note")
    assert result.returncode == 2
    assert result.stderr == f"feedproof: {tmp_path / 'nowhere' / 'note'}: No such file or directory\n"


def test_no_note_is_written_of_a_request_that_is_refused(tmp_path: Path) -> None:
    request = tmp_path / "request.json"
    request.write_text('{"readings": 3}')
    result = run(request, "--html", tmp_path / "note.html")
    assert result.returncode == 2
    assert not (tmp_path / "note.html").exists()
