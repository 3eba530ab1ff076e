"""More work than there is room for: what is taken on is answered in time, the rest is told so at once."""

import statistics
import threading
import time
from collections import Counter
from pathlib import Path

import pytest
import uvloop

from support.operated_service import Report, Service, ask_at_rate, ask_steadily, running, share

pytestmark = [pytest.mark.slow, pytest.mark.alone]

QUEUE_SECONDS = 1.0


def probe(service: Service, path: str, until: threading.Event) -> list[float]:
    """Ask for a path again and again, and give how long each answer took."""
    taken = []
    while not until.is_set():
        begin = time.perf_counter()
        assert service.get(path)[0] == 200
        taken.append(time.perf_counter() - begin)
        time.sleep(0.05)
    return taken


@pytest.mark.parametrize("name", ["low_impedance", "every_kind_of_reading"])
def test_at_five_times_capacity_the_rest_is_shed_and_the_taken_are_in_time(
    tmp_path: Path, example_requests: dict[str, bytes], report: Report, name: str
) -> None:
    visit = example_requests[name]
    with running(tmp_path, queue="16", queue_seconds=str(QUEUE_SECONDS)) as service:
        # Capacity: as many clients as threads, each waiting for its answer.
        settled = uvloop.run(ask_steadily(service.port, [visit], clients=4, seconds=4.0))
        assert {outcome.status for outcome in settled} == {200}
        capacity = len(settled) / 4.0
        usual = statistics.median(outcome.seconds for outcome in settled)

        over = threading.Event()
        live: list[float] = []
        prober = threading.Thread(target=lambda: live.extend(probe(service, "/health/live", over)))
        prober.start()
        outcomes = uvloop.run(ask_at_rate(service.port, visit, rate=5.0 * capacity, seconds=8.0))
        over.set()
        prober.join()

        counted = Counter(outcome.status for outcome in outcomes)
        served = [outcome.seconds for outcome in outcomes if outcome.status == 200]
        shed = [outcome.seconds for outcome in outcomes if outcome.status == 503]
        report(
            f"capacity {capacity:.0f}/s; at five times that {len(served) / 8.0:.0f}/s served, "
            f"{len(shed) / 8.0:.0f}/s shed; "
            f"served p50 {share(served, 0.5):.2f} s, p99 {share(served, 0.99):.2f} s; "
            f"shed p50 {share(shed, 0.5) * 1e3:.0f} ms; health p50 {share(live, 0.5) * 1e3:.0f} ms, "
            f"max {max(live) * 1e3:.0f} ms over {len(live)} probes"
        )
        assert set(counted) == {200, 503}
        # Useful work goes on: the load generator shares the machine, so some of the capacity is its own.
        assert len(served) / 8.0 > 0.4 * capacity
        # No wait longer than the bound, and then the work itself, which overload makes no slower than the machine.
        assert share(served, 0.99) < QUEUE_SECONDS + 20.0 * usual
        # What is shed is told at once, with when to come back.
        assert share(shed, 0.5) < 0.5
        assert len(live) > 20
        assert share(live, 0.99) < 1.0

        metrics = service.metrics()
        turned_away = sum(
            metrics[f'feedproof_refused_total{{reason="{reason}"}}'] for reason in ("queue_full", "queue_wait")
        )
        assert turned_away == len(shed)
        status, headers, _ = service.post(visit)
        assert status == 200
        assert "retry-after" not in headers


def test_what_is_shed_says_when_to_come_back(tmp_path: Path, visit: bytes) -> None:
    with running(tmp_path, workers="1", queue="0") as service:

        async def crowd() -> list[bytes]:
            outcomes = await ask_at_rate(service.port, visit, rate=100.0, seconds=1.0)
            return [outcome.body for outcome in outcomes if outcome.status == 503]

        refusals = uvloop.run(crowd())
        assert refusals
        assert all(b'"/problems/overloaded"' in body for body in refusals)
