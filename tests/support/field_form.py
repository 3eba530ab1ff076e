"""The back end of the field form, as its user runs it: a process of its own, stopped and started on the same port."""

import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import msgspec

from support.service_process import free_port

FOLDER = Path(__file__).resolve().parents[2] / "examples" / "field_form"

FORM: dict[str, Any] = {
    "reference": "INVENTED lakeside campground, cabin 4, range",
    "system": "split_phase_120_240",
    "ground": "present",
    "frame": "no",
    "meters": ["dmm", "loz"],
    "loz_impedance": "3 kohm",
    "readings": [],
}


def reading(meter: str, at: str, value: str, state: str = "disconnected") -> dict[str, str]:
    """Give one reading as the form sends it."""
    return {"meter": meter, "at": at, "state": state, "value": value}


class BackEnd:
    """Starts, stops and starts again, always on the same port.

    Parameters
    ----------
    service : str
        Address of the service.
    log : Path
        Where what it says goes.
    """

    def __init__(self, service: str, log: Path) -> None:
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._environment = os.environ | {"FEEDPROOF_BASE_URL": service}
        self._log = log
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start, and wait until it listens."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-W", "error", str(FOLDER / "back_end.py"), "--port", str(self.port)],
                env=self._environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
            )
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            assert self._process.poll() is None, f"the back end stopped, see {self._log}"
            try:
                urllib.request.urlopen(self.url, timeout=5).close()  # noqa: S310
            except (urllib.error.URLError, OSError):
                time.sleep(0.05)
            else:
                return
        raise TimeoutError(str(self._log))

    def stop(self) -> None:
        """Stop; what the phone would see of a lost connection."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(timeout=30)
            self._process = None

    def post(self, path: str, body: object, **headers: str) -> tuple[int, dict[str, str], bytes]:
        """Send a body, bytes as they are and all else as JSON; give status, headers by lower-case name, and content."""
        content = body if isinstance(body, bytes) else msgspec.json.encode(body)
        sent = {"Content-Type": "application/json"} | {name.replace("_", "-"): value for name, value in headers.items()}
        return _answer(urllib.request.Request(self.url + path, content, sent, method="POST"))  # noqa: S310

    def get(self, path: str, **headers: str) -> tuple[int, dict[str, str], bytes]:
        """Ask for a path."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        return _answer(urllib.request.Request(self.url + path, headers=sent))  # noqa: S310


def _answer(request: urllib.request.Request) -> tuple[int, dict[str, str], bytes]:
    try:
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
            return answer.status, {name.lower(): value for name, value in answer.headers.items()}, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, {name.lower(): value for name, value in error.headers.items()}, error.read()
