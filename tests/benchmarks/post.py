"""Count the files that one POST passes: `python3 tests/run.py --with python tests/benchmarks/post.py`.

The application is called as the server calls it, and every function of the package that runs is noted with its file, in
whatever thread it runs. Compiled functions do not show; the modules that call them do. Prints the files in the order
in which they are reached, by package, how often the way leads from one file into another, and the number of both.
"""

import asyncio
import sys
import threading
from collections import Counter
from pathlib import Path
from types import FrameType
from typing import Any

import feedproof
from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof.warm_up import self_test

PACKAGE = Path(feedproof.__file__).resolve().parent
BODY = Path(__file__).resolve().parents[2] / "examples" / "requests" / "low_impedance.json"


class Trace:
    """Files that calls lead into, in their order."""

    def __init__(self) -> None:
        self.files: Counter[str] = Counter()
        self.changes = 0
        self._last: dict[int, str] = {}

    def __call__(self, frame: FrameType, event: str, _: object) -> None:
        """Note a call."""
        if event != "call":
            return
        path = Path(frame.f_code.co_filename)
        if not path.is_relative_to(PACKAGE):
            return
        name = str(path.relative_to(PACKAGE))
        thread = threading.get_ident()
        if self._last.get(thread) != name:
            self._last[thread] = name
            self.changes += 1
        self.files[name] += 1


async def post(app: Any, body: bytes) -> int:
    """Send one request, and give the status of the answer."""
    scope: dict[str, Any] = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/assessments",
        "raw_path": b"/v1/assessments",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"here"), (b"content-type", b"application/json")],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
        "state": {},
    }
    sent: list[dict[str, Any]] = []
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> dict[str, Any]:
        if not waiting:
            await asyncio.Event().wait()
        return waiting.pop()

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    await app(scope, receive, send)
    status: int = sent[0]["status"]
    return status


def main() -> None:
    """Trace one request and print what it passed."""
    app = create_app(Settings(warm_up=False, log_level="error"))
    self_test()
    trace = Trace()
    threading.setprofile(trace)
    sys.setprofile(trace)
    status = asyncio.run(post(app, BODY.read_bytes()))
    sys.setprofile(None)
    threading.setprofile(None)
    if status != 200:
        raise SystemExit(f"the answer is {status}")
    by_package = Counter(name.split("/")[0] if "/" in name else "(top)" for name in trace.files)
    for name, calls in trace.files.items():
        print(f"{calls:8,}  {name}")
    print(", ".join(f"{package} {count}" for package, count in by_package.items()))
    print(f"{len(trace.files)} files, {trace.changes:,} changes of file, {sum(trace.files.values()):,} calls")


if __name__ == "__main__":
    main()
