"""The service as its users run it: the command, in a process of its own, on a free port of the loopback interface."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

PATIENCE = 240.0
"""A first start compiles [s]."""


def free_port() -> int:
    """Port of the loopback interface that is free just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class LiveService:
    """Starts, kills and starts again, always on the same port.

    Parameters
    ----------
    log : Path
        Where what it says goes.
    **settings : str
        `FEEDPROOF_*` without the prefix.
    """

    def __init__(self, log: Path, **settings: str) -> None:
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._log: IO[bytes] = log.open("ab")
        own = {name: value for name, value in os.environ.items() if not name.startswith("FEEDPROOF_")}
        self._environment = own | {f"FEEDPROOF_{name.upper()}": value for name, value in settings.items()}
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start, and come back at once."""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "feedproof", "serve", "--port", str(self.port)],
            env=self._environment,
            stdin=subprocess.DEVNULL,
            stdout=self._log,
            stderr=self._log,
        )

    def wait(self) -> None:
        """Wait until it is ready."""
        deadline = time.monotonic() + PATIENCE
        while time.monotonic() < deadline:
            assert self._process is not None
            assert self._process.poll() is None, f"the service stopped, see {self._log.name}"
            try:
                with urllib.request.urlopen(f"{self.url}/health/ready", timeout=5):  # noqa: S310
                    return
            except (urllib.error.URLError, OSError):
                time.sleep(0.05)
        raise TimeoutError(f"the service was not ready after {PATIENCE:.0f} s, see {self._log.name}")

    def kill(self) -> None:
        """Kill it as a crash or the kernel would: no goodbye to anybody."""
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait(timeout=30)
            self._process = None

    def stop(self) -> None:
        """Stop for good."""
        if self._process is not None:
            self._process.terminate()
            try:
                self._process.wait(timeout=30)
            except subprocess.TimeoutExpired:
                self.kill()
        self._log.close()


@contextmanager
def running_service(log: Path, **settings: str) -> Iterator[LiveService]:
    """Give a service that is ready, and stop it afterwards."""
    live = LiveService(log, **settings)
    live.start()
    try:
        live.wait()
        yield live
    finally:
        live.stop()
