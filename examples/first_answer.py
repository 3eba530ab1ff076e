"""From a fresh clone to a first answer: `python3 examples/first_answer.py [REQUEST.json]`.

Installs the service into an environment of its own, starts it on the loopback interface, sends it a reading set over
HTTP as any client would, prints the answer in words and stops the service. Needs Python 3.11 or later and pip.
"""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import textwrap
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / ".ci"))

import environment  # noqa: E402

REQUEST = ROOT / "examples" / "requests" / "connected_high_impedance.json"
LOG = environment.FOLDER / "first_answer.log"
PATIENCE = 300.0
TOP_RANKS = 2
"""Beside every danger, so many of the first cautions stand at the top."""


def free_port() -> int:
    """Port of the loopback interface that is free just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_until_ready(url: str, server: subprocess.Popen[bytes]) -> None:
    """Wait until the service says that it is ready, or say why it cannot be."""
    deadline = time.monotonic() + PATIENCE
    trouble = ""
    while not trouble:
        try:
            with urllib.request.urlopen(f"{url}/health/ready", timeout=5):  # noqa: S310
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
        if server.poll() is not None:
            trouble = f"stopped while starting, exit code {server.returncode}"
        elif "self_test_failed" in LOG.read_text(encoding="utf-8"):
            trouble = "could not answer its own first question"
        elif time.monotonic() > deadline:
            trouble = f"was not ready after {PATIENCE:.0f} s"
    sys.exit(f"The service {trouble}. The end of {LOG.relative_to(ROOT)}:\n{LOG.read_text(encoding='utf-8')[-2000:]}")


def ask(url: str, reading_set: bytes) -> dict[str, Any]:
    """Send the reading set and give the assessment."""
    request = urllib.request.Request(  # noqa: S310
        f"{url}/v1/assessments", data=reading_set, headers={"Content-Type": "application/json"}
    )
    try:
        with urllib.request.urlopen(request, timeout=60) as response:  # noqa: S310
            assessment: dict[str, Any] = json.load(response)
            return assessment
    except urllib.error.HTTPError as refusal:
        sys.exit(f"{refusal.code} {refusal.reason}\n{refusal.read().decode()}")


def what(reading: dict[str, Any]) -> str:
    """Conductors that a reading concerns."""
    return "-".join(reading.get("between") or [reading.get("at") or reading.get("through") or ""])


def asked(reading_set: dict[str, Any]) -> Iterator[str]:
    """Lines that tell what was read."""
    yield f"READ  {reading_set.get('reference') or 'no reference'}"
    for reading in reading_set["readings"]:
        shown = reading.get("value", "signals" if reading.get("detected") else "silent")
        yield f"  {reading['kind']} {what(reading)}: {shown}, meter {reading['meter']}, {reading['load_state']}"
    if not reading_set["readings"]:
        yield "  nothing yet"


def answered(assessment: dict[str, Any]) -> Iterator[str]:
    """Lines that tell what the service answered."""
    yield assessment["headline"]
    yield assessment["next_action"]
    for caution in assessment["cautions"]:
        if caution["severity"] == "danger" or caution["rank"] <= TOP_RANKS:
            yield f"  {caution['severity'].upper()}: {caution['title']}"
    yield f"WHY  {assessment['determination']}, confidence {assessment['confidence']['level']}"
    for reason in assessment["confidence"]["reasons"]:
        yield f"  - {reason['text']}"
    if assessment["neutral_to_ground"]:
        yield "IN FIGURES"
    for volts in assessment["neutral_to_ground"]:
        yield f"  {volts['title']}: {volts['display']}"
    for title, lines in (
        ("CHECKS", [check["text"] for check in assessment["checks"]]),
        ("COULD HIDE FROM THESE READINGS", [limit["meaning"] for limit in assessment["detection_limits"]]),
        ("READ NEXT", [next_reading(reading) for reading in assessment["next_readings"][:3]]),
        ("CAUTIONS", [f"{caution['severity'].upper()}: {caution['text']}" for caution in assessment["cautions"]]),
    ):
        if lines:
            yield title
            yield from (f"  - {line}" for line in lines)


def next_reading(reading: dict[str, Any]) -> str:
    """Reading worth taking next, in one line."""
    return f"{reading['title']} ({reading['information']:.2f} bit): {reading['why']}"


def main() -> None:
    """Install, start, ask, print, stop."""
    path = Path(sys.argv[1]) if sys.argv[1:] else REQUEST
    reading_set = path.read_bytes()
    python = environment.provide_service()
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    print(f"Starting the service on {url} (the first start compiles, which takes a minute or less) ...", flush=True)
    command = [str(python.parent / "feedproof"), "serve", "--port", str(port)]
    with LOG.open("wb") as log:
        server = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
    try:
        wait_until_ready(url, server)
        assessment = ask(url, reading_set)
    finally:
        server.terminate()
        server.wait(timeout=60)
    print(f"POST {url}/v1/assessments\n")
    for line in [*asked(json.loads(reading_set)), "", *answered(assessment)]:
        print(textwrap.fill(line, 100, subsequent_indent="    ", break_on_hyphens=False))


if __name__ == "__main__":
    main()
