"""Stopping and losing processes under load: what was accepted is answered."""

import asyncio
import signal
import threading
import time
from collections import Counter
from pathlib import Path

import pytest

from support.operated_service import (
    Outcome,
    Report,
    Service,
    ask_steadily,
    read_answer,
    request_bytes,
    running,
)

pytestmark = [pytest.mark.slow, pytest.mark.alone]


async def stop_under_load(service: Service, visit: bytes) -> tuple[list[Outcome], float]:
    """Send SIGTERM while many clients ask, and give what became of every request."""
    load = asyncio.create_task(ask_steadily(service.port, [visit], clients=24, seconds=6.0))
    await asyncio.sleep(2.0)
    begin = time.monotonic()
    service.process.send_signal(signal.SIGTERM)
    await asyncio.to_thread(service.process.wait)
    taken = time.monotonic() - begin
    return await load, taken


@pytest.mark.parametrize("drain", ["0", "1.5"])
def test_sigterm_under_load_loses_no_accepted_request(tmp_path: Path, visit: bytes, report: Report, drain: str) -> None:
    with running(tmp_path, drain_seconds=drain) as service:
        outcomes, taken = asyncio.run(stop_under_load(service, visit))
        counted = Counter(outcome.status for outcome in outcomes)
        # Every request that the service took on has its line, and every such line an answer that arrived whole.
        told = {line["request_id"]: line["status"] for line in service.lines() if line["event"] == "request"}
        answered = {outcome.request_id: outcome.status for outcome in outcomes if outcome.status > 0}
        report(f"drain {drain} s: {dict(counted)}, stopped after {taken:.2f} s")
        assert answered == told
        assert set(counted) <= {0, 200, 503}
        assert counted[200] > 10
        assert service.process.wait(10.0) in {0, -signal.SIGTERM}
        assert taken < float(drain) + 20.0
        assert [line for line in service.lines() if line["level"] == "error"] == []


def test_while_draining_it_says_not_ready_and_still_answers(tmp_path: Path, visit: bytes) -> None:
    with running(tmp_path, drain_seconds="3") as service:
        service.process.send_signal(signal.SIGTERM)
        deadline = time.monotonic() + 2.0
        while (status := service.get("/health/ready")[0]) == 200 and time.monotonic() < deadline:
            time.sleep(0.02)
        assert status == 503
        assert service.get("/health/live")[0] == 200
        status, headers, _ = service.post(visit)
        assert (status, headers["connection"]) == (200, "close")
        assert service.process.wait(20.0) in {0, -signal.SIGTERM}


def test_a_second_signal_does_not_wait(tmp_path: Path) -> None:
    with running(tmp_path, drain_seconds="60") as service:
        service.process.send_signal(signal.SIGTERM)
        time.sleep(0.5)
        assert service.process.poll() is None
        service.process.send_signal(signal.SIGTERM)
        assert service.process.wait(10.0) in {0, -signal.SIGTERM}


def test_a_batch_under_way_is_finished(tmp_path: Path, visit: bytes) -> None:
    lines = b"".join(b" ".join(visit.split()) + b"\n" for _ in range(40))

    async def scene(service: Service) -> int:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port)
        writer.write(request_bytes(lines, "/v1/assessments/batch", "application/x-ndjson"))
        await writer.drain()
        await reader.readexactly(100)
        service.process.send_signal(signal.SIGTERM)
        rest = b"HTTP/1.1 200 OK\r\ntransfer-encoding: chunked\r\n\r\n"
        whole = asyncio.StreamReader()
        # The first hundred bytes are of the head, whose rest is skipped.
        await reader.readuntil(b"\r\n\r\n")
        whole.feed_data(rest)
        while piece := await reader.read(65536):
            whole.feed_data(piece)
        whole.feed_eof()
        writer.close()
        _, _, body = await read_answer(whole)
        return body.count(b'"finding"')

    with running(tmp_path) as service:
        assert asyncio.run(asyncio.wait_for(scene(service), 60.0)) == 40


def test_a_process_that_is_killed_leaves_the_port_and_another_takes_it(tmp_path: Path, visit: bytes) -> None:
    """One process has one socket: nobody is left behind that still has it, so its successor can be started at once."""
    with running(tmp_path) as service:
        port = service.port
        load = threading.Thread(target=lambda: asyncio.run(ask_steadily(port, [visit], clients=4, seconds=1.0)))
        load.start()
        time.sleep(0.3)
        service.process.kill()
        service.process.wait(10.0)
        load.join()
    with running(tmp_path, port=port) as service:
        assert service.post(visit)[0] == 200
