"""The service as a process of its own on the loopback interface, and clients that know nothing of manners."""

import asyncio
import contextlib
import http.client
import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Report = Callable[[str], None]
"""Says a figure."""

COMMAND = (sys.executable, "-m", "feedproof", "serve", "--port", "0")
PATIENCE = 300.0
"""For a first start, which compiles [s]."""


@dataclass
class Service:
    """A running service."""

    process: subprocess.Popen[bytes]
    port: int
    log: Path

    @property
    def url(self) -> str:
        """Address."""
        return f"http://127.0.0.1:{self.port}"

    def get(self, path: str, timeout: float = 10.0) -> tuple[int, bytes]:
        """Ask for a path."""
        try:
            with urllib.request.urlopen(f"{self.url}{path}", timeout=timeout) as answer:  # noqa: S310
                return answer.status, answer.read()
        except urllib.error.HTTPError as refusal:
            return refusal.code, refusal.read()

    def post(
        self,
        body: bytes,
        path: str = "/v1/assessments",
        media_type: str = "application/json",
        headers: dict[str, str] | None = None,
        timeout: float = 60.0,
    ) -> tuple[int, dict[str, str], bytes]:
        """Send a body."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.request("POST", path, body, {"Content-Type": media_type, **(headers or {})})
            answer = connection.getresponse()
            return answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
        finally:
            connection.close()

    def metrics(self) -> dict[str, float]:
        """Give all samples by name and labels, as they are written."""
        _, text = self.get("/metrics")
        samples = (line.rsplit(" ", 1) for line in text.decode().splitlines() if line and not line.startswith("#"))
        return {name: float(value) for name, value in samples}

    def lines(self) -> list[dict[str, Any]]:
        """Give the log so far."""
        return [json.loads(line) for line in self.log.read_text().splitlines()]

    def memory(self) -> float:
        """Resident memory [MB]."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    def descriptors(self) -> int:
        """Open descriptors."""
        return len(list(Path(f"/proc/{self.process.pid}/fd").iterdir()))

    def stop(self, patience: float = 60.0) -> int:
        """Tell it to stop, and give its exit status."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(patience)


def _port(log: Path, process: subprocess.Popen[bytes]) -> int:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        assert process.poll() is None, log.read_text()
        for line in log.read_text().splitlines():
            if '"listening"' in line:
                return int(str(json.loads(line)["url"]).rsplit(":", 1)[1])
        time.sleep(0.05)
    raise AssertionError(log.read_text())


def await_ready(service: Service) -> None:
    """Wait until the service says that it takes requests."""
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        assert service.process.poll() is None, service.log.read_text()
        with contextlib.suppress(OSError):
            if service.get("/health/ready")[0] == 200:
                return
        time.sleep(0.1)
    raise AssertionError(service.log.read_text())


@contextlib.contextmanager
def running(
    folder: Path,
    *prefix: str,
    command: tuple[str, ...] = COMMAND,
    errors: int | None = None,
    port: int = 0,
    **settings: str,
) -> Iterator[Service]:
    """Start a service and stop it again.

    Settings without their prefix, in small letters. Its log goes to a file in the folder, or to the descriptor
    `errors`, where a port must be given since nobody can read which one it took.
    """
    log = folder / f"log-{time.monotonic_ns()}"
    log.touch()
    clean = {name: value for name, value in os.environ.items() if not name.startswith("FEEDPROOF_")}
    clean |= {f"FEEDPROOF_{name.upper()}": value for name, value in settings.items()}
    if port:
        clean["FEEDPROOF_PORT"] = str(port)
    started = [*prefix, *(command[:-2] if port else command)]
    with log.open("wb") as file:
        process = subprocess.Popen(started, stdin=subprocess.DEVNULL, stdout=file, stderr=errors or file, env=clean)
    try:
        service = Service(process, port or _port(log, process), log)
        await_ready(service)
        yield service
    finally:
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(60.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@dataclass(frozen=True)
class Outcome:
    """What became of one request."""

    status: int
    """0: refused or cut before any byte of an answer; -1: cut within one."""
    seconds: float
    body: bytes = b""
    request_id: str = ""


async def read_answer(reader: asyncio.StreamReader, begun: bytes = b"") -> tuple[int, dict[str, str], bytes]:
    """Read one answer off a connection, of which a part may have been read."""
    head = (begun + await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    headers = {name.lower(): value.strip() for name, _, value in (line.partition(":") for line in head[1:] if line)}
    if headers.get("transfer-encoding") == "chunked":
        body = b""
        while size := int(await reader.readuntil(b"\r\n"), 16):
            body += (await reader.readexactly(size + 2))[:-2]
        await reader.readexactly(2)
    else:
        body = await reader.readexactly(int(headers.get("content-length", "0")))
    return int(head[0].split()[1]), headers, body


def request_bytes(body: bytes, path: str = "/v1/assessments", media_type: str = "application/json") -> bytes:
    """Give a whole request."""
    head = f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {media_type}\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


async def ask(port: int, body: bytes) -> Outcome:
    """Send one request on a connection of its own."""
    begin = time.perf_counter()
    answered = False
    writer: asyncio.StreamWriter | None = None
    try:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(request_bytes(body))
        await writer.drain()
        first = await reader.readexactly(1)
        answered = True
        status, headers, content = await read_answer(reader, first)
        return Outcome(status, time.perf_counter() - begin, content, headers.get("request-id", ""))
    except (OSError, asyncio.IncompleteReadError):
        return Outcome(-1 if answered else 0, time.perf_counter() - begin)
    finally:
        if writer is not None:
            writer.close()


async def ask_steadily(port: int, bodies: list[bytes], clients: int, seconds: float) -> list[Outcome]:
    """Let clients ask one request after the other, each on a new connection, until the time is over."""
    deadline = time.perf_counter() + seconds
    outcomes: list[Outcome] = []

    async def one(number: int) -> None:
        count = number
        while time.perf_counter() < deadline:
            outcome = await ask(port, bodies[count % len(bodies)])
            outcomes.append(outcome)
            count += 1
            if outcome.status == 0:
                await asyncio.sleep(0.05)

    await asyncio.gather(*(one(number) for number in range(clients)))
    return outcomes


async def ask_on_connections(port: int, body: bytes, connections: int, seconds: float) -> list[Outcome]:
    """Let clients ask one request after the other, each on a connection that it keeps, until the time is over."""
    deadline = time.perf_counter() + seconds
    outcomes: list[Outcome] = []

    async def one() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        while time.perf_counter() < deadline:
            begin = time.perf_counter()
            writer.write(request_bytes(body))
            status, headers, content = await read_answer(reader)
            outcome = Outcome(status, time.perf_counter() - begin, content, headers.get("request-id", ""))
            outcomes.append(outcome)
        writer.close()

    await asyncio.gather(*(one() for _ in range(connections)))
    return outcomes


async def ask_at_rate(port: int, body: bytes, rate: float, seconds: float) -> list[Outcome]:
    """Ask at a rate that does not depend on the answers, as a crowd does."""
    begin = time.perf_counter()
    tasks: list[asyncio.Task[Outcome]] = []
    while (elapsed := time.perf_counter() - begin) < seconds:
        while len(tasks) < elapsed * rate:
            tasks.append(asyncio.create_task(ask(port, body)))
        await asyncio.sleep(0.005)
    return await asyncio.gather(*tasks)


def share(values: list[float], part: float) -> float:
    """Give the quantile of a list."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def within(seconds: float, condition: Callable[[], bool]) -> None:
    """Wait for something that need not be so at once."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.1)
