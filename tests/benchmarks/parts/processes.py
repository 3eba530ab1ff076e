"""Programs under measurement: started, watched and ended by their process number."""

import os
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

PARTS = Path(__file__).resolve().parent
EXAMPLE = PARTS.parents[2] / "examples" / "requests" / "low_impedance.json"
PATIENCE = 240.0
"""A first start compiles [s]."""


def free_port() -> int:
    """Port of the loopback interface that is free just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def environment(**more: str) -> dict[str, str]:
    """Give the environment without anybody's own settings of the service."""
    own = {name: value for name, value in os.environ.items() if not name.startswith("FEEDPROOF_")}
    return own | {"FEEDPROOF_LOG_LEVEL": "warning"} | more


def compile_once(python: str) -> None:
    """Leave the compiled functions on disk: a process that compiles them itself stays larger by what that took."""
    command = [python, "-m", "feedproof", "assess", str(EXAMPLE)]
    subprocess.run(command, env=environment(), check=True, stdout=subprocess.DEVNULL, timeout=PATIENCE)


def wait_until_ready(port: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until a service says that it is ready."""
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise RuntimeError(f"the service stopped with status {process.returncode}")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/health/ready", timeout=5):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.01)
    raise TimeoutError(f"the service was not ready after {PATIENCE:.0f} s")


def ask(port: int) -> None:
    """Have the example assessed, and read the answer."""
    asked = urllib.request.Request(
        f"http://127.0.0.1:{port}/v1/assessments",
        data=EXAMPLE.read_bytes(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(asked, timeout=60) as answer:  # noqa: S310
        answer.read()


@contextmanager
def running(command: Sequence[str], **more: str) -> Iterator[subprocess.Popen[bytes]]:
    """Run a program while the block runs, with `more` in its environment; its log is kept off the terminal."""
    with tempfile.TemporaryFile() as log:
        process = subprocess.Popen(command, env=environment(**more), stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            yield process
        except Exception as error:
            log.seek(0)
            error.add_note(log.read()[-2000:].decode(errors="replace"))
            raise
        finally:
            process.terminate()
            try:
                process.wait(timeout=30)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(timeout=30)


@contextmanager
def service_beside_nothing(
    python: str, body: bytes, answer: bytes, *, empty_engine: bool = False
) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """Run the service with an endpoint beside it that gives `answer` at once; gives port and process."""
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        files = Path(folder, "body.json"), Path(folder, "answer.json")
        for file, content in zip(files, (body, answer), strict=True):
            file.write_bytes(content)
        command = [python, "-P", str(PARTS / "noop_server.py"), str(port), *map(str, files)]
        with running([*command, "--empty-engine"] if empty_engine else command) as process:
            wait_until_ready(port, process)
            yield port, process


def processor_seconds(pid: int) -> float | None:
    """Processor time of a process so far [s]; None where the system does not tell."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    except OSError:
        return None
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident_megabytes(pid: int) -> float | None:
    """Resident memory of a process [MB]; None where the system does not tell."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return None
    return next(int(line.split()[1]) / 1024.0 for line in lines if line.startswith("VmRSS:"))
