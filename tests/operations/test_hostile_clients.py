"""Clients that are slow, silent, endless or malformed, against the real process: each is ended, nobody else notices."""

import asyncio
import contextlib
import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from support.operated_service import Service, ask, read_answer, request_bytes, running

pytestmark = [pytest.mark.slow, pytest.mark.alone]

CHUNKED = "Transfer-Encoding: chunked"
HEAD, IDLE, REQUEST, CONNECTIONS = 1.0, 2.0, 4.0, 40


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with running(
        tmp_path_factory.mktemp("hostile"),
        head_seconds=str(HEAD),
        idle_seconds=str(IDLE),
        batch_idle_seconds=str(IDLE),
        request_seconds=str(REQUEST),
        max_connections=str(CONNECTIONS),
        max_streams="4",
    ) as service:
        yield service


@pytest.fixture(autouse=True)
def others_are_served(service: Service, visit: bytes) -> Iterator[None]:
    """After each attack the service answers as before."""
    yield
    status, _, _ = service.post(visit)
    assert status == 200
    assert service.process.poll() is None


def until_closed(connection: socket.socket, longest: float) -> tuple[bytes, float]:
    """Read until the other side closes."""
    connection.settimeout(longest)
    begin = time.monotonic()
    said = b""
    with contextlib.suppress(ConnectionResetError):
        while piece := connection.recv(65536):
            said += piece
    return said, time.monotonic() - begin


def problem_of(said: bytes) -> dict[str, object]:
    head, _, body = said.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head
    told: dict[str, object] = json.loads(body)
    return told


def status_of(said: bytes) -> int:
    return int(said.split()[1])


def head(path: str, media_type: str, header: str) -> bytes:
    return f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {media_type}\r\n{header}\r\n\r\n".encode()


def connect(service: Service) -> socket.socket:
    return socket.create_connection(("127.0.0.1", service.port), timeout=10.0)


def test_a_connection_that_says_nothing_is_closed(service: Service) -> None:
    with connect(service) as connection:
        said, seconds = until_closed(connection, 10.0)
    assert said == b""
    assert 0.5 * HEAD < seconds < HEAD + 2.0


def test_a_head_that_drips_is_refused(service: Service) -> None:
    with connect(service) as connection:
        begin = time.monotonic()
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            for letter in b"POST /v1/assessments HTTP/1.1\r\nHost: x\r\nX-Slow: " + b"a" * 1000:
                connection.send(bytes([letter]))
                time.sleep(0.05)
        assert time.monotonic() - begin < HEAD + 3.0
        said, _ = until_closed(connection, 10.0)
    assert not said or status_of(said) == 408


def test_a_half_closed_connection_is_let_go(service: Service) -> None:
    with connect(service) as connection:
        connection.sendall(b"POST /v1/assessments HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{")
        connection.shutdown(socket.SHUT_WR)
        _, seconds = until_closed(connection, 10.0)
    assert seconds < IDLE + 2.0


def test_a_body_that_stops_coming_is_refused(service: Service) -> None:
    with connect(service) as connection:
        connection.sendall(head("/v1/assessments", "application/json", "Content-Length: 100") + b"{")
        said, seconds = until_closed(connection, 10.0)
    assert problem_of(said)["status"] == 408
    assert seconds < REQUEST + 2.0


def test_a_body_that_drips_is_refused_at_the_deadline(service: Service) -> None:
    with connect(service) as connection:
        connection.sendall(head("/v1/assessments", "application/json", "Content-Length: 9999"))
        begin = time.monotonic()
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            while time.monotonic() - begin < 3 * REQUEST:
                connection.send(b" ")
                time.sleep(0.1)
        seconds = time.monotonic() - begin
    assert seconds < REQUEST + 3.0


@pytest.mark.parametrize(
    "flood",
    [
        b"".join(b"X-%d: %s\r\n" % (number, b"a" * 100) for number in range(10_000)),
        b"X-Long: " + b"a" * 1_000_000 + b"\r\n",
        b"".join(b"A%d:\r\n" % number for number in range(200)),
    ],
    ids=["many", "one that is long", "more than a request has"],
)
def test_a_flood_of_headers_is_refused(service: Service, flood: bytes) -> None:
    before = service.memory()
    with connect(service) as connection:
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            connection.sendall(b"GET /v1/faults HTTP/1.1\r\nHost: x\r\nConnection: close\r\n" + flood + b"\r\n")
        said, _ = until_closed(connection, 10.0)
    # Of heads that are within the bound in bytes the route answers; those beyond it the server refuses by itself.
    assert not said or status_of(said) in {200, 431}
    assert service.memory() - before < 10.0


def test_a_target_without_end_is_refused(service: Service) -> None:
    with connect(service) as connection:
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            connection.sendall(b"GET /" + b"a" * 1_000_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n")
        said, _ = until_closed(connection, 10.0)
    assert not said or status_of(said) == 431


@pytest.mark.parametrize("said", [b"\x16\x03\x01\x02\x00\x01\x00\x01", b"HELLO\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n\r\n"])
def test_what_is_no_http_is_refused(service: Service, said: bytes) -> None:
    with connect(service) as connection:
        connection.sendall(said)
        answer, seconds = until_closed(connection, 10.0)
    assert seconds < HEAD + 2.0
    assert not answer or status_of(answer) in {400, 408, 505}


def test_an_oversize_body_is_refused_by_what_it_announces_and_by_what_it_is(service: Service) -> None:
    body = b" " * (256 * 1024 + 1)
    assert service.post(body)[0] == 413
    with connect(service) as connection:
        connection.sendall(head("/v1/assessments", "application/json", CHUNKED))
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            for _ in range(10):
                connection.sendall(b"10000\r\n" + b" " * 0x10000 + b"\r\n")
        said, _ = until_closed(connection, 10.0)
    assert not said or problem_of(said)["status"] == 413


def test_a_body_without_end_is_cut_off_and_takes_no_memory(service: Service) -> None:
    before = service.memory()
    sent = 0
    with connect(service) as connection:
        connection.sendall(head("/v1/assessments", "application/json", CHUNKED))
        connection.settimeout(10.0)
        begin = time.monotonic()
        with contextlib.suppress(OSError):
            while time.monotonic() - begin < 20.0:
                connection.sendall(b"10000\r\n" + b" " * 0x10000 + b"\r\n")
                sent += 0x10000
        seconds = time.monotonic() - begin
    assert seconds < 10.0, f"{sent} bytes were taken"
    assert service.memory() - before < 20.0


@pytest.mark.parametrize(
    "body",
    [b"[" * 100_000, b'{"readings":' * 20_000, b'{"a":' * 20_000 + b"1" + b"}" * 20_000, b"[" * 60_000 + b"]" * 60_000],
)
def test_deep_nesting_is_refused(service: Service, body: bytes) -> None:
    status, headers, answer = service.post(body)
    assert status in {400, 422}
    assert headers["content-type"] == "application/problem+json"
    assert len(answer) < 65536


def batch_head() -> bytes:
    return head("/v1/assessments/batch", "application/x-ndjson", CHUNKED)


def chunk(data: bytes) -> bytes:
    return b"%x\r\n%s\r\n" % (len(data), data)


def test_a_batch_that_ends_in_the_middle_of_a_line_answers_that_line_too(service: Service, visit: bytes) -> None:
    line = json.dumps(json.loads(visit)).encode()

    async def scene() -> tuple[int, list[dict[str, object]]]:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port)
        writer.write(request_bytes(line + b"\n" + line[:100], "/v1/assessments/batch", "application/x-ndjson"))
        status, _, body = await read_answer(reader)
        writer.close()
        return status, [json.loads(row) for row in body.splitlines()]

    status, rows = asyncio.run(asyncio.wait_for(scene(), 30.0))
    assert status == 200
    assert rows[0]["finding"]
    assert (rows[1]["status"], rows[1]["line"]) == (400, 2)
    assert len(rows) == 2


def test_a_batch_whose_connection_is_cut_in_a_line_frees_its_place(service: Service, visit: bytes) -> None:
    line = json.dumps(json.loads(visit)).encode()
    for _ in range(8):
        with connect(service) as connection:
            connection.sendall(batch_head() + chunk(line + b"\n") + chunk(line[:100]))
            connection.recv(1000)
    status, _, body = service.post(line + b"\n", "/v1/assessments/batch", "application/x-ndjson")
    assert status == 200
    assert len(body.splitlines()) == 1


def test_a_batch_that_falls_silent_is_ended(service: Service, visit: bytes) -> None:
    line = json.dumps(json.loads(visit)).encode()
    with connect(service) as connection:
        connection.sendall(batch_head() + chunk(line + b"\n") + chunk(line[:100]))
        said, seconds = until_closed(connection, 30.0)
    assert b'"finding"' in said
    assert not said.endswith(b"0\r\n\r\n")
    assert seconds < IDLE + 5.0


def test_a_line_without_end_takes_no_memory(service: Service) -> None:
    before = service.memory()

    async def scene() -> list[dict[str, object]]:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port)
        writer.write(batch_head())
        for _ in range(500):
            writer.write(chunk(b" x" * 0x8000))
            await writer.drain()
        writer.write(chunk(b"\n") + b"0\r\n\r\n")
        _, _, body = await read_answer(reader)
        writer.close()
        return [json.loads(row) for row in body.splitlines()]

    rows = asyncio.run(asyncio.wait_for(scene(), 60.0))
    assert [row["status"] for row in rows] == [413]
    assert service.memory() - before < 20.0


def test_a_client_that_reads_nothing_is_cut_off(service: Service) -> None:
    async def scene() -> float:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port, limit=1024)
        writer.transport.pause_reading()  # type: ignore[attr-defined]
        writer.write(batch_head())
        begin = time.monotonic()
        with contextlib.suppress(ConnectionError, BrokenPipeError, TimeoutError):
            while time.monotonic() - begin < 40.0:
                # Lines that are refused are answered fast and at length.
                writer.write(chunk(b'{"readings":[{"kind":"x"}],"a":1,"b":2,"c":3}\n' * 200))
                await asyncio.wait_for(writer.drain(), 20.0)
        writer.transport.abort()
        del reader
        return time.monotonic() - begin

    asyncio.run(scene())
    deadline = time.monotonic() + 20.0
    while service.metrics()["feedproof_requests_in_flight"] > 1.0 and time.monotonic() < deadline:
        time.sleep(0.2)
    assert service.metrics()["feedproof_requests_in_flight"] == 1.0


def test_more_batches_than_may_run_are_turned_away(service: Service, visit: bytes) -> None:
    line = json.dumps(json.loads(visit)).encode() + b"\n"
    open_ones = []
    try:
        for _ in range(4):
            connection = connect(service)
            connection.sendall(batch_head() + chunk(line))
            assert connection.recv(12) == b"HTTP/1.1 200"
            open_ones.append(connection)
        status, headers, _ = service.post(line, "/v1/assessments/batch", "application/x-ndjson")
        assert status == 503
        assert int(headers["retry-after"]) >= 1
        assert service.post(visit)[0] == 200
    finally:
        for connection in open_ones:
            connection.close()
    time.sleep(0.5)


def test_idle_connections_make_room_for_those_that_ask(service: Service, visit: bytes) -> None:
    idle = [connect(service) for _ in range(3 * CONNECTIONS)]
    try:
        assert service.get("/health/live")[0] == 200
        assert asyncio.run(ask(service.port, visit)).status == 200
    finally:
        for connection in idle:
            connection.close()


def test_what_was_turned_away_is_counted_by_reason(service: Service) -> None:
    metrics = service.metrics()
    for reason in ("slow_head", "deadline", "streams"):
        assert metrics[f'feedproof_refused_total{{reason="{reason}"}}'] >= 1.0, reason


def test_the_log_holds_no_error_and_nothing_of_what_was_sent(service: Service, visit: bytes) -> None:
    written = service.log.read_text()
    assert [line for line in service.lines() if line["level"] != "info"] == []
    for value in (json.loads(visit)["reference"], "X-Slow", "HELLO"):
        assert value not in written
    assert Path(service.log).stat().st_size > 0
