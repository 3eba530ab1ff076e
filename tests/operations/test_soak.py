"""Hours in small: everything that callers do, good and bad, at once, for a time; memory and descriptors stay flat.

`SOAK_SECONDS=1200 python3 tests/run.py -m slow tests/operations/test_soak.py -rP -o faulthandler_timeout=0` runs it for
twenty minutes; `SOAK_RATE=6` beside it bounds the requests a second, where the machine has other work.
"""

import asyncio
import contextlib
import json
import os
import random
import time
from collections import Counter
from pathlib import Path

import pytest

from support.operated_service import Outcome, Report, Service, ask, read_answer, request_bytes, running, share

pytestmark = [pytest.mark.slow, pytest.mark.alone]

SECONDS = float(os.environ.get("SOAK_SECONDS", "120"))
CALLERS = 8
# Requests a second, of all callers together, at most.
RATE = float(os.environ.get("SOAK_RATE", "inf"))
# Resident memory may grow by that in the second half of the run: what the allocator does not give back at once [MB].
GROWTH = 8.0


async def batch(port: int, line: bytes, chance: random.Random) -> Outcome:
    """Send a batch with some bad lines."""
    lines = [line if chance.random() < 0.7 else b'{"readings": 1}' for _ in range(10)]
    begin = time.perf_counter()
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(request_bytes(b"\n".join(lines) + b"\n", "/v1/assessments/batch", "application/x-ndjson"))
    status, _, body = await read_answer(reader)
    writer.close()
    assert status in {200, 503}
    assert status == 503 or len(body.splitlines()) == len(lines)
    return Outcome(status, time.perf_counter() - begin)


async def vanish(port: int, body: bytes, chance: random.Random) -> Outcome:
    """Go away in the middle of a request."""
    begin = time.perf_counter()
    _, writer = await asyncio.open_connection("127.0.0.1", port)
    whole = request_bytes(body)
    writer.write(whole[: chance.randrange(1, len(whole) + 1)])
    with contextlib.suppress(OSError):
        await writer.drain()
    await asyncio.sleep(chance.random() * 0.05)
    writer.transport.abort()
    return Outcome(-2, time.perf_counter() - begin)


async def caller(service: Service, bodies: list[bytes], deadline: float, number: int, told: list[Outcome]) -> None:
    """Do one thing after the other."""
    chance = random.Random(number)
    line = b" ".join(bodies[0].split())
    while time.perf_counter() < deadline:
        dice = chance.random()
        if dice < 0.65:
            told.append(await ask(service.port, chance.choice(bodies)))
        elif dice < 0.75:
            told.append(await ask(service.port, b'{"readings": [{"kind": "voltage"}]}'))
        elif dice < 0.80:
            told.append(await ask(service.port, b" " * 300_000))
        elif dice < 0.90:
            told.append(await batch(service.port, line, chance))
        else:
            told.append(await vanish(service.port, bodies[0], chance))
        await asyncio.sleep(CALLERS / RATE)


async def watch(service: Service, deadline: float) -> list[tuple[float, float]]:
    """Take memory [MB] and open descriptors from time to time."""
    taken = []
    while time.perf_counter() < deadline:
        taken.append((service.memory(), float(service.descriptors())))
        await asyncio.sleep(min(5.0, SECONDS / 40.0))
    return taken


async def soak(service: Service, bodies: list[bytes]) -> tuple[list[Outcome], list[tuple[float, float]]]:
    """Let several callers do all that for the time."""
    deadline = time.perf_counter() + SECONDS
    told: list[Outcome] = []
    watching = asyncio.create_task(watch(service, deadline))
    await asyncio.gather(*(caller(service, bodies, deadline, number, told) for number in range(CALLERS)))
    return told, await watching


def test_memory_and_descriptors_stay_flat(tmp_path: Path, example_requests: dict[str, bytes], report: Report) -> None:
    bodies = [example_requests["low_impedance"], *example_requests.values()]
    with running(tmp_path) as service:
        for body in bodies:
            assert service.post(body)[0] == 200
        told, taken = asyncio.run(soak(service, bodies))
        half = len(taken) // 2
        memory = [value for value, _ in taken]
        # The middle of the second half against the middle of its end: single peaks are the work's own.
        earlier, later = share(memory[half : half + half // 2], 0.5), share(memory[half + half // 2 :], 0.5)
        counted = Counter(outcome.status for outcome in told)
        good = [outcome.seconds for outcome in told if outcome.status == 200]
        report(
            f"{SECONDS:.0f} s, {len(told)} requests {dict(sorted(counted.items()))}; "
            f"memory {memory[0]:.0f} MB at the start, {earlier:.1f} MB in the third quarter, {later:.1f} MB in the "
            f"fourth, {max(memory):.0f} MB at most; "
            f"descriptors {max(number for _, number in taken):.0f} at most; p50 {share(good, 0.5) * 1e3:.0f} ms, "
            f"p99 {share(good, 0.99) * 1e3:.0f} ms"
        )
        assert set(counted) <= {-2, 200, 413, 422, 503}
        assert counted[500] == 0
        assert later - earlier < GROWTH
        time.sleep(3.0)
        assert service.descriptors() <= taken[0][1] + 3
        assert service.metrics()["feedproof_requests_in_flight"] == 1.0
        assert service.metrics()["feedproof_queue_length"] == 0.0
        errors = [json.dumps(line) for line in service.lines() if line["level"] == "error"]
        assert errors == []
