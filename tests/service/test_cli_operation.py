"""The commands of whoever operates the service."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from feedproof.api.keys import KeyBook

COMMAND = [sys.executable, "-m", "feedproof"]


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("FEEDPROOF_")}
    return subprocess.run(
        [*COMMAND, *arguments], capture_output=True, text=True, timeout=60, check=False, env=clean | environment
    )


def test_a_new_key_is_printed_once_and_kept_as_a_digest(tmp_path: Path) -> None:
    path = tmp_path / "keys"
    made = run("key", "new", "depot", FEEDPROOF_KEY_FILE=str(path))
    assert made.returncode == 0, made.stderr
    text = made.stdout.strip()
    found = KeyBook(path=path).find(text)
    assert found is not None
    assert found.client == "depot"
    assert text not in path.read_text()
    assert text not in made.stderr

    second = run("key", "new", "depot", "--file", str(path)).stdout.strip()
    listed = run("key", "list", "--file", str(path))
    assert [line.split()[0] for line in listed.stdout.splitlines()] == ["depot", "depot"]
    assert run("key", "revoke", found.id, "--file", str(path)).returncode == 0
    book = KeyBook(path=path)
    assert book.find(text) is None
    assert book.find(second) is not None


def test_without_a_file_the_line_to_keep_is_shown() -> None:
    made = run("key", "new", "depot")
    text = made.stdout.strip()
    assert made.returncode == 0
    line = next(line for line in made.stderr.splitlines() if line.startswith("depot "))
    assert text not in made.stderr
    assert line.split()[1] == text.split("_")[1]


@pytest.mark.parametrize(
    "arguments",
    [("key", "new", "two words"), ("key", "list"), ("key", "revoke", "00000000"), ("key", "list", "--file", "no-such")],
)
def test_what_cannot_be_done_exits_2_without_a_traceback(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.returncode == 2
    assert result.stderr.startswith("feedproof: ")
    assert "Traceback" not in result.stderr


def test_config_prints_what_is_in_effect_and_masks_secrets(tmp_path: Path) -> None:
    file = tmp_path / "feedproof.toml"
    file.write_text("queue = 7\n")
    digest = "ab" * 32
    shown = run("config", "--config", str(file), FEEDPROOF_API_KEYS=digest, FEEDPROOF_PORT="9001")
    assert shown.returncode == 0, shown.stderr
    assert "queue = 7  # file" in shown.stdout
    assert "port = 9001  # environment" in shown.stdout
    assert "request_seconds = 30.0  # default" in shown.stdout
    assert digest not in shown.stdout


@pytest.mark.parametrize("command", [("serve",), ("config",)])
def test_being_open_to_other_machines_must_be_said(command: tuple[str, ...]) -> None:
    refused = run(*command, FEEDPROOF_HOST="0.0.0.0")  # noqa: S104
    assert refused.returncode == 2
    assert "FEEDPROOF_ANONYMOUS=true" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_key_file_that_cannot_be_read_stops_the_start(tmp_path: Path) -> None:
    refused = run("serve", "--port", "0", FEEDPROOF_KEY_FILE=str(tmp_path / "none"))
    assert refused.returncode == 2
    assert refused.stderr.splitlines()[-1].startswith("feedproof: ")


def test_health_says_by_its_exit_status_whether_the_service_is_ready() -> None:
    # Port 9 of the loopback interface: nobody listens there.
    asked = run("health", "--url", "http://127.0.0.1:9")
    assert asked.returncode == 1
    assert asked.stderr.startswith("feedproof: ")
