"""The command, as a person runs it."""

import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from feedproof.cli import main

COMMAND = [sys.executable, "-m", "feedproof"]


def run(*arguments: str, given: bytes = b"", folder: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*COMMAND, *arguments], input=given, capture_output=True, timeout=300, check=False, cwd=folder
    )


@pytest.fixture(scope="module")
def answer(root: Path) -> bytes:
    result = run("assess", str(root / "examples" / "requests" / "low_impedance.json"))
    assert result.returncode == 0, result.stderr
    return result.stdout


def test_a_file_is_assessed_without_a_server(answer: bytes) -> None:
    assert json.loads(answer)["finding"]["fault"] == "open_neutral"


def test_standard_input_gives_the_same_bytes(answer: bytes, example_requests: dict[str, bytes]) -> None:
    assert run("assess", "-", given=example_requests["low_impedance"]).stdout == answer


def test_the_text_names_finding_and_cautions(example_requests: dict[str, bytes]) -> None:
    text = run("assess", "-", "--text", given=example_requests["low_impedance"]).stdout.decode()
    assert "Open neutral" in text
    assert "DANGER" in text


def test_the_text_is_as_wide_as_the_terminal(
    example_requests: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "48")
    lines = run("assess", "-", "--text", given=example_requests["low_impedance"]).stdout.decode().splitlines()
    assert 40 < max(len(line) for line in lines) <= 48
    assert lines[1].startswith("STOP AND HAND OVER: ")


@pytest.mark.parametrize("port", ["-1", "65536", "eighty", "82.5", "٣"])
def test_a_wrong_port_is_blamed_on_the_option(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["serve", f"--port={port}"])
    told = capsys.readouterr().err
    assert "argument --port" in told
    assert "FEEDPROOF_PORT" not in told


def test_help_promises_no_supply() -> None:
    told = " ".join(run("--help").stdout.decode().split())
    assert "it clears none" in told
    assert "is at fault" not in told


def test_a_bad_request_lists_its_faults_and_exits_2() -> None:
    request = b'{"readings": [{"kind": "proximity", "at": "N", "detected": true, "meter": "pen", "load_state": "x"}]}'
    result = run("assess", "-", given=request)
    assert (result.returncode, result.stdout) == (2, b"")
    told = result.stderr.decode().splitlines()
    assert told[0] == "feedproof: 2 faults in the request"
    assert [line.split(":")[0].strip() for line in told[1:]] == ["/readings/0/load_state", "/readings/0/meter"]


@pytest.mark.parametrize(("arguments", "given"), [(("assess", "-"), b"\xff"), (("assess", "no-such-file"), b"")])
def test_what_cannot_be_read_exits_2_without_a_traceback(arguments: tuple[str, ...], given: bytes) -> None:
    result = run(*arguments, given=given)
    assert result.returncode == 2
    assert result.stderr.startswith(b"feedproof: ")
    assert b"Traceback" not in result.stderr


def test_the_document_is_printed_written_and_compared(tmp_path: Path) -> None:
    printed = run("openapi").stdout
    assert json.loads(printed)["openapi"] == "3.1.0"
    file = tmp_path / "openapi.json"
    assert main(["openapi", "--check", str(file)]) == 1
    assert main(["openapi", "--write", str(file)]) == 0
    assert file.read_bytes() == printed
    assert main(["openapi", "--check", str(file)]) == 0
    file.write_bytes(printed.replace(b"feedproof", b"other", 1))
    assert run("openapi", "--check", str(file)).returncode == 1


def test_serve_listens_on_loopback_says_when_it_is_ready_and_stops_when_told(
    answer: bytes, example_requests: dict[str, bytes], tmp_path: Path
) -> None:
    port_file = tmp_path / "log"
    with port_file.open("wb") as log:
        server = subprocess.Popen(
            [*COMMAND, "serve", "--port", "0"], stdout=log, stderr=log, env=os.environ | {"FEEDPROOF_LOG_LEVEL": "info"}
        )
    try:
        url = _wait(port_file, server)
        request = urllib.request.Request(  # noqa: S310
            f"{url}/v1/assessments",
            data=example_requests["low_impedance"],
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=60) as response:  # noqa: S310
            assert response.read() + b"\n" == answer
    finally:
        server.send_signal(signal.SIGTERM)
        status = server.wait(timeout=60)
    assert status in {0, -signal.SIGTERM}


def _wait(log: Path, server: subprocess.Popen[bytes]) -> str:
    deadline = time.monotonic() + 300
    url = ""
    while time.monotonic() < deadline:
        assert server.poll() is None, log.read_text()
        started = [json.loads(line) for line in log.read_text().splitlines() if '"listening"' in line]
        if started:
            url = str(started[0]["url"])
            assert url.startswith("http://127.0.0.1:")
            try:
                with urllib.request.urlopen(f"{url}/health/ready", timeout=5):  # noqa: S310
                    return url
            except urllib.error.HTTPError as error:
                if error.code != 503:
                    raise
        time.sleep(0.1)
    raise AssertionError(log.read_text())
