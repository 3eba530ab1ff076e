"""What may go wrong around the process: the clock, the disk, whoever reads the log, the key file."""

import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from support.operated_service import running, within

pytestmark = [pytest.mark.slow, pytest.mark.alone]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def faketime() -> Path | None:
    """Give the library that stands between a program and the clock, where it is installed."""
    return next(Path("/usr/lib").glob("*/faketime/libfaketime.so.1"), None)


@pytest.mark.skipif(faketime() is None, reason="faketime is not installed")
@pytest.mark.parametrize("step", ["+3600", "-3600"], ids=["forward", "back"])
def test_a_step_of_the_clock_changes_no_wait_no_rate_and_no_time_taken(tmp_path: Path, visit: bytes, step: str) -> None:
    control = tmp_path / "clock"
    control.write_text("+0\n")
    # libfaketime(1): FAKETIME_TIMESTAMP_FILE is read while the program runs. A step of the wall clock moves no
    # monotonic one (POSIX, clock_settime).
    prefix = (
        "env",
        f"LD_PRELOAD={faketime()}",
        f"FAKETIME_TIMESTAMP_FILE={control}",
        "FAKETIME_NO_CACHE=1",
        "FAKETIME_DONT_FAKE_MONOTONIC=1",
    )
    with running(tmp_path, *prefix, rate_per_second="0.01", rate_burst="3") as service:
        assert service.post(visit)[0] == 200
        # Its line is written after its answer has been sent.
        within(5.0, lambda: any(line["event"] == "request" for line in service.lines()))
        control.write_text(f"{step}\n")
        assert [service.post(visit)[0] for _ in range(3)] == [200, 200, 429]
        assert service.get("/health/ready")[0] == 200
        lines = [line for line in service.lines() if line["event"] == "request"]
        seconds = [time.mktime(time.strptime(line["timestamp"][:19], "%Y-%m-%dT%H:%M:%S")) for line in lines]
        stepped = seconds[1] - seconds[0]
        assert abs(stepped - float(step)) < 60.0
        assert all(0.0 < line["duration_ms"] < 30_000.0 for line in lines)
        begin = time.monotonic()
        service.stop()
        assert time.monotonic() - begin < 20.0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_costs_log_lines_and_no_request(tmp_path: Path, visit: bytes) -> None:
    full = os.open("/dev/full", os.O_WRONLY)
    try:
        with running(tmp_path, errors=full, port=free_port()) as service:
            assert [service.post(visit)[0] for _ in range(5)] == [200] * 5
            within(5.0, lambda: service.metrics()["feedproof_log_lines_lost_total"] >= 5.0)
    finally:
        os.close(full)


def test_a_reader_of_the_log_that_stalls_costs_no_request(tmp_path: Path, visit: bytes) -> None:
    reader, writer = os.pipe()
    try:
        with running(tmp_path, errors=writer, port=free_port()) as service:
            os.close(writer)
            # More than a pipe holds (64 KiB on Linux, pipe(7)), of lines of some 300 bytes.
            for number in range(600):
                assert service.get(f"/{number}", timeout=5.0)[0] == 404
            assert service.post(visit)[0] == 200
    finally:
        os.close(reader)


def new_key(path: Path) -> str:
    made = subprocess.run(
        [sys.executable, "-m", "feedproof", "key", "new", "depot", "--file", str(path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return made.stdout.strip()


def test_keys_are_rotated_while_serving_and_never_logged(tmp_path: Path, visit: bytes) -> None:
    path = tmp_path / "keys"
    old = new_key(path)
    with running(tmp_path, key_file=str(path), rate_per_second="100", rate_burst="50") as service:

        def status(key: str) -> int:
            return service.post(visit, headers={"Authorization": f"Bearer {key}"})[0]

        assert service.post(visit)[0] == 401
        status_old, headers, _ = service.post(visit, headers={"Api-Key": old})
        assert status_old == 200
        assert headers["ratelimit-policy"] == '"default";q=50;w=1'
        assert headers["ratelimit"].startswith('"default";r=49;t=')
        new = new_key(path)
        within(5.0, lambda: status(new) == 200)
        assert status(old) == 200
        path.write_text("".join(line for line in path.read_text().splitlines(True) if old.split("_")[1] not in line))
        within(5.0, lambda: status(old) == 401)
        assert status(new) == 200
        assert service.get("/health/ready")[0] == 200
        assert service.get("/metrics")[0] == 200
        written = service.log.read_text()
        assert {line.get("client") for line in service.lines() if line.get("status") == 200} == {"depot"}
        for key in (old, new):
            assert key not in written
            assert key.split("_", 2)[2] not in written
