"""More work than there is room for: what is taken on is answered in time, the rest is told so at once.

Where there are two processors, the service has one to itself and the crowd the other: what the crowd costs is then no
part of what the service can do.
"""

import asyncio
import json
import os
import statistics
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvloop

from support.operated_service import (
    Outcome,
    Report,
    Service,
    ask_at_rate,
    ask_on_connections,
    ask_steadily,
    running,
    share,
)

pytestmark = [pytest.mark.slow, pytest.mark.alone]

SECONDS = 8.0
CROWD = 256
"""Connections that ask again as soon as they are answered."""
GOODPUT = 0.8
"""Of capacity, at five times the load [1]."""
SERVED = 4.0
"""p99 of what is served by what an answer usually takes [1]."""
HEALTH = 0.05
"""p99 of the health's answers [s]."""
TRIES = 5

# A process of its own: in the crowd's it would wait for the crowd. A new connection each time, as an orchestrator's
# probe has. Not urllib: what that does before its first request (it loads the certificates that it trusts) takes longer
# than the answer.
PROBE = """
import http.client, sys, time
while True:
    begin = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", int(sys.argv[1]), timeout=30)
    connection.request("GET", "/health/live")
    answer = connection.getresponse()
    assert (answer.status, bool(answer.read())) == (200, True)
    connection.close()
    print(time.perf_counter() - begin, flush=True)
    time.sleep(0.05)
"""


@contextmanager
def apart() -> Iterator[tuple[str, ...]]:
    """Keep this process to one processor, and give what starts another on the other."""
    cores = sorted(os.sched_getaffinity(0))
    if len(cores) < 2:
        yield ()
        return
    os.sched_setaffinity(0, cores[1:])
    try:
        yield ("taskset", "--cpu-list", str(cores[0]))
    finally:
        os.sched_setaffinity(0, cores)


@contextmanager
def probing(service: Service) -> Iterator[list[float]]:
    """Ask for the health again and again; what each answer took stands in the list afterwards [s]."""
    taken: list[float] = []
    process = subprocess.Popen([sys.executable, "-c", PROBE, str(service.port)], stdout=subprocess.PIPE, text=True)
    try:
        yield taken
    finally:
        process.terminate()
        said, _ = process.communicate(timeout=10.0)
        taken.extend(map(float, said.splitlines()))


def capacity_of(service: Service, visit: bytes) -> tuple[float, float]:
    """Give what the service answers where nobody is turned away, and what one answer then takes [1/s, s]."""
    settled = uvloop.run(ask_steadily(service.port, [visit], clients=4, seconds=SECONDS / 2))
    assert {outcome.status for outcome in settled} == {200}
    return len(settled) / (SECONDS / 2), statistics.median(outcome.seconds for outcome in settled)


def of_status(outcomes: list[Outcome], status: int) -> list[float]:
    return [outcome.seconds for outcome in outcomes if outcome.status == status]


@pytest.mark.parametrize("name", ["low_impedance", "every_kind_of_reading"])
@pytest.mark.parametrize("crowd", ["five times the rate", "connections"])
def test_under_a_crowd_useful_work_goes_on_in_time(
    tmp_path: Path, example_requests: dict[str, bytes], report: Report, name: str, crowd: str
) -> None:
    visit = example_requests[name]
    # A machine that others use too may stand still for a second, which is no work of the service's: then once more.
    found: list[tuple[float, float, float]] = []
    while len(found) < TRIES:
        found.append(with_crowd(tmp_path, visit, report, crowd))
        goodput, served, live = found[-1]
        if goodput >= GOODPUT and served <= SERVED and live <= HEALTH:
            return
    raise AssertionError(found)


def with_crowd(tmp_path: Path, visit: bytes, report: Report, crowd: str) -> tuple[float, float, float]:
    """Give the served share of capacity, p99 of what is served by the usual, and p99 of the health [1, 1, s]."""
    with apart() as prefix, running(tmp_path, *prefix) as service:
        capacity, usual = capacity_of(service, visit)
        with probing(service) as live:
            if crowd == "connections":
                outcomes = uvloop.run(ask_on_connections(service.port, visit, CROWD, SECONDS))
            else:
                outcomes = uvloop.run(ask_at_rate(service.port, visit, rate=5.0 * capacity, seconds=SECONDS))
        served, shed = of_status(outcomes, 200), of_status(outcomes, 503)
        goodput = len(served) / SECONDS / capacity
        report(
            f"capacity {capacity:.0f}/s at p50 {usual * 1e3:.0f} ms; {len(served) / SECONDS:.0f}/s served "
            f"({goodput:.2f} of capacity), {len(shed) / SECONDS:.0f}/s shed; "
            f"served p50 {share(served, 0.5) * 1e3:.0f} ms, p99 {share(served, 0.99) * 1e3:.0f} ms "
            f"({share(served, 0.99) / usual:.1f} times the usual); shed p50 {share(shed, 0.5) * 1e3:.0f} ms; "
            f"health p50 {share(live, 0.5) * 1e3:.0f} ms, p99 {share(live, 0.99) * 1e3:.0f} ms of {len(live)}"
        )
        assert set(Counter(outcome.status for outcome in outcomes)) == {200, 503}
        assert len(live) > 20

        metrics = service.metrics()
        turned_away = sum(
            metrics[f'feedproof_refused_total{{reason="{reason}"}}'] for reason in ("queue_full", "queue_wait")
        )
        # On connections, the last answers may be on their way when the crowd goes.
        assert len(shed) <= turned_away <= len(shed) + (CROWD if crowd == "connections" else 0)
        status, headers, _ = service.post(visit)
        assert status == 200
        assert "retry-after" not in headers
        return goodput, share(served, 0.99) / usual, share(live, 0.99)


def test_batches_do_not_keep_a_visit_waiting(tmp_path: Path, visit: bytes, report: Report) -> None:
    line = json.dumps(json.loads(visit)).encode() + b"\n"
    with running(tmp_path) as service:
        _, usual = capacity_of(service, visit)
        ends: list[int] = []

        def batch() -> None:
            ends.append(service.post(line * 400, "/v1/assessments/batch", "application/x-ndjson", timeout=120.0)[0])

        batches = [threading.Thread(target=batch) for _ in range(8)]
        for thread in batches:
            thread.start()
        alone = uvloop.run(ask_steadily(service.port, [visit], clients=2, seconds=4.0))
        during = service.metrics()
        for thread in batches:
            thread.join()
        taken = [outcome.seconds for outcome in alone]
        report(
            f"beside 8 batches: {len(alone)} visits, p50 {share(taken, 0.5) * 1e3:.0f} ms, "
            f"p99 {share(taken, 0.99) * 1e3:.0f} ms against {usual * 1e3:.0f} ms"
        )
        assert {outcome.status for outcome in alone} == {200}
        assert set(ends) == {200}
        # The batches were under way all the time.
        assert during['feedproof_batch_lines_total{outcome="answered"}'] < 8 * 400
        assert share(taken, 0.99) <= SERVED * usual


def test_connections_that_are_all_taken_leave_room_for_probes(tmp_path: Path, report: Report) -> None:
    """As many requests as there may be connections, each with one byte of its body and no more."""
    begun = b"POST /v1/assessments HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 99\r\n\r\n{"

    async def attack(service: Service) -> list[float]:
        writers = []
        for _ in range(600):
            _, writer = await asyncio.open_connection("127.0.0.1", service.port)
            writer.write(begun)
            writers.append(writer)
        await asyncio.sleep(0.5)
        with probing(service) as taken:
            await asyncio.sleep(3.0)
        for writer in writers:
            writer.close()
        return taken

    with running(tmp_path) as service:
        taken = uvloop.run(attack(service))
        report(f"health p50 {share(taken, 0.5) * 1e3:.0f} ms, p99 {share(taken, 0.99) * 1e3:.0f} ms of {len(taken)}")
        assert len(taken) > 20
        assert share(taken, 0.99) <= HEALTH


def test_what_is_shed_says_when_to_come_back(tmp_path: Path, visit: bytes) -> None:
    with running(tmp_path, workers="1", queue="0") as service:

        async def crowd() -> list[bytes]:
            outcomes = await ask_at_rate(service.port, visit, rate=100.0, seconds=1.0)
            return [outcome.body for outcome in outcomes if outcome.status == 503]

        refusals = uvloop.run(crowd())
        assert refusals
        assert all(b'"/problems/overloaded"' in body for body in refusals)
