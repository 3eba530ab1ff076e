"""What the SDK costs beside bare httpx, and how many rows a second go through `assess_many`.

Run by hand: `python3 tests/run.py --with python tests/benchmarks/sdk.py [--service URL]`. Nothing here is asserted:
machines differ, so both sides run in turns on the same machine and the ratio is what counts. Without `--service`
the other end is a process that answers at once with a recorded answer, so that what is seen is the client; with it
the service itself answers as well.
"""

import argparse
import asyncio
import itertools
import json
import multiprocessing
import resource
import statistics
import time
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path

import httpx
import msgspec

from feedproof_sdk import Assessment, Client, ReadingSet

ROOT = Path(__file__).resolve().parents[2]
RECORDED = ROOT / "service" / "src" / "feedproof" / "api" / "data" / "assessment.json"
REQUEST = ROOT / "examples" / "requests" / "low_impedance.json"
TURNS = 15
CALLS = 200
ROWS = 20_000


class _AtOnce(asyncio.Protocol):
    """Answers every request with the recorded answer, and every line of a batch with one."""

    answer = b""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = transport
        self._received = bytearray()

    def data_received(self, data: bytes) -> None:
        self._received += data
        while (end := self._received.find(b"\r\n\r\n")) >= 0:
            head = bytes(self._received[:end]).lower()
            length = int(head.partition(b"content-length:")[2].partition(b"\r\n")[0])
            if len(self._received) < end + 4 + length:
                return
            body = self._received[end + 4 : end + 4 + length]
            del self._received[: end + 4 + length]
            content = self.answer
            if b"/batch " in head.partition(b"\r\n")[0]:
                content = (content + b"\n") * body.count(b"\n")
            assert isinstance(self._transport, asyncio.WriteTransport)
            self._transport.write(
                b"HTTP/1.1 200 OK\r\ncontent-type: application/json\r\ncontent-length: %d\r\n\r\n" % len(content)
                + content
            )


def _serve(ready: Connection, answer: bytes) -> None:
    _AtOnce.answer = answer

    async def serve() -> None:
        server = await asyncio.get_running_loop().create_server(_AtOnce, "127.0.0.1", 0)
        ready.send(server.sockets[0].getsockname()[1])
        await server.serve_forever()

    asyncio.run(serve())


def in_turns(sides: dict[str, Callable[[], object]], calls: int) -> dict[str, tuple[float, float]]:
    """Median time and processor time of one call of each side [s], the sides taking turns."""
    spent: dict[str, list[tuple[float, float]]] = {name: [] for name in sides}
    for _ in range(TURNS):
        for name, call in sides.items():
            wall, own = time.perf_counter(), time.process_time()
            for _ in range(calls):
                call()
            spent[name].append(((time.perf_counter() - wall) / calls, (time.process_time() - own) / calls))
    return {
        name: (statistics.median(wall for wall, _ in pairs), statistics.median(own for _, own in pairs))
        for name, pairs in spent.items()
    }


def per_call(url: str, calls: int) -> None:
    """Print what one call costs."""
    reading_set = msgspec.json.decode(REQUEST.read_bytes(), type=ReadingSet)
    encoder, decoder = msgspec.json.Encoder(), msgspec.json.Decoder(Assessment)
    headers = {"Content-Type": "application/json", "Accept": "application/json"}
    address = f"{url}/v1/assessments"
    with httpx.Client(timeout=60) as bare, Client(url) as ours:

        def by_hand() -> Assessment:
            response = bare.post(address, content=encoder.encode(reading_set), headers=headers)
            response.raise_for_status()
            return decoder.decode(response.content)

        assert ours.assess(reading_set) == by_hand()
        told = in_turns({"bare httpx and msgspec": by_hand, "SDK": lambda: ours.assess(reading_set)}, calls)
    base_wall, base_own = told["bare httpx and msgspec"]
    for name, (wall, own) in told.items():
        print(f"  {name:24s} {wall * 1e6:9.0f} {wall / base_wall:7.3f} {own * 1e6:12.0f} {own / base_own:7.3f}")


def rows(url: str, count: int) -> None:
    """Print rows a second."""
    reading_set = msgspec.json.decode(REQUEST.read_bytes(), type=ReadingSet)

    def sets() -> Iterator[ReadingSet]:
        return itertools.repeat(reading_set, count)

    with Client(url) as client:
        list(client.assess_many(itertools.repeat(reading_set, 100)))
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        wall, own = time.perf_counter(), time.process_time()
        done = sum(1 for _ in client.assess_many(sets()))
        wall, own = time.perf_counter() - wall, time.process_time() - own
        grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    print(f"  {done} rows: {done / wall:.0f} a second, {own / done * 1e6:.0f} us of processor each, +{grown:.1f} MB")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else None)
    parser.add_argument("--service", metavar="URL", help="also measure against a running service")
    service = parser.parse_args().service
    answer = json.dumps(json.loads(RECORDED.read_bytes()), separators=(",", ":")).encode()
    here, there = multiprocessing.Pipe()
    server = multiprocessing.get_context("spawn").Process(target=_serve, args=(there, answer), daemon=True)
    server.start()
    ends = [("an end that answers at once", f"http://127.0.0.1:{here.recv()}", CALLS, ROWS)]
    if service:
        ends.append(("the service", service, 5, 200))
    for name, url, calls, count in ends:
        print(f"One call, {name} ({len(answer)} bytes of answer): time [us], ratio, processor time [us], ratio")
        per_call(url, calls)
        print(f"assess_many, {name}")
        rows(url, count)
    server.terminate()
    server.join()


if __name__ == "__main__":
    main()
