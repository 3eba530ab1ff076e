"""A client that costs little: keeps connections open and sends the next request as soon as an answer is there."""

import asyncio
import itertools
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass
class Load:
    """What came of a load."""

    seconds: float = 0.0
    latencies: list[float] = field(default_factory=list)
    """Of the requests that were answered with 200 [s]."""
    statuses: Counter[int] = field(default_factory=Counter)

    @property
    def per_second(self) -> float:
        """Answers with 200 in a second [1/s]."""
        return len(self.latencies) / self.seconds if self.seconds else 0.0


def request(path: str, body: bytes) -> bytes:
    """Give the bytes of one request."""
    head = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Accept: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


async def _answer(reader: asyncio.StreamReader) -> int:
    """Read one answer; gives its status."""
    head = await reader.readuntil(b"\r\n\r\n")
    length = next(
        int(line.split(b":")[1]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length")
    )
    await reader.readexactly(length)
    return int(head.split(b" ", 2)[1])


async def _load(port: int, requests: Sequence[bytes], connections: int, most: int, seconds: float) -> Load:
    found = Load()
    left = itertools.islice(itertools.cycle(requests), most)
    began = time.perf_counter()

    async def worker() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        try:
            while time.perf_counter() - began < seconds:
                one = next(left, None)
                if one is None:
                    return
                sent = time.perf_counter()
                writer.write(one)
                status = await _answer(reader)
                found.statuses[status] += 1
                if status == 200:
                    found.latencies.append(time.perf_counter() - sent)
        finally:
            writer.close()

    await asyncio.gather(*(worker() for _ in range(connections)))
    found.seconds = time.perf_counter() - began
    return found


def load(port: int, requests: Sequence[bytes], connections: int, most: int, seconds: float) -> Load:
    """Send requests over so many connections, until so many are sent or so much time has passed."""
    return asyncio.run(_load(port, requests, connections, most, seconds))
