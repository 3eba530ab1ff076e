"""HTTP/1.1 over a socket, as probes and other people's clients speak it."""

import asyncio
import http.client
import json
import shutil
import socket
import subprocess
from pathlib import Path

import pytest

from support.operated_service import Service, read_answer, running

SIMULATION = b"""{
  "fault": "open_neutral",
  "meters": {"dmm": {"kind": "voltmeter"}},
  "readings": [{"kind": "voltage", "between": ["L1", "N"], "meter": "dmm", "load_state": "idle"}]
}"""
# RFC 7540, 3.2: the offer that a client makes on a connection without encryption. The settings' value is arbitrary.
OFFER = {"Connection": "Upgrade, HTTP2-Settings", "Upgrade": "h2c", "HTTP2-Settings": "AAMAAABkAAQAoAAAAAIAAAAA"}

# The client that Java has had since version 11; it offers HTTP/2 unless told otherwise.
JAVA = """
import java.net.URI;
import java.net.http.*;
import java.nio.file.*;

public class Asks {
    public static void main(String[] given) throws Exception {
        HttpClient client = HttpClient.newHttpClient();
        HttpRequest request = HttpRequest.newBuilder(URI.create(given[0]))
            .header("Content-Type", "application/json")
            .POST(HttpRequest.BodyPublishers.ofFile(Path.of(given[1])))
            .build();
        for (int k = 0; k < 2; k++) {
            HttpResponse<String> answer = client.send(request, HttpResponse.BodyHandlers.ofString());
            System.out.println(answer.statusCode() + " " + answer.body());
        }
    }
}
"""


@pytest.fixture(scope="module")
def plain(service: Service) -> bytes:
    """Give the answer that a client gets who offers nothing."""
    status, _, body = service.post(SIMULATION, "/v1/simulations")
    assert status == 200
    return body


@pytest.mark.parametrize("path", ["/health/live", "/v1/faults"])
def test_a_probe_with_head_keeps_its_connection_and_leaves_no_trace_in_the_log(service: Service, path: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=10)
    connection.connect()
    first = connection.sock
    for _ in range(2):
        connection.request("HEAD", path)
        answer = connection.getresponse()
        assert (answer.status, answer.read()) == (200, b"")
        assert int(answer.headers["content-length"]) > 0
        assert connection.sock is first
    connection.close()
    assert {line["level"] for line in service.lines()} == {"info"}
    assert {line["method"] for line in service.lines() if line.get("route") == "/v1/faults"} <= {"HEAD"}
    assert service.metrics()[f'feedproof_requests_total{{method="HEAD",route="{path}",status="200"}}'] >= 2


def test_an_offer_of_another_protocol_is_ignored_and_the_body_kept(service: Service, plain: bytes) -> None:
    status, headers, body = service.post(SIMULATION, "/v1/simulations", headers=OFFER)
    assert (status, body) == (200, plain)
    assert "upgrade" not in headers


def test_an_offer_may_come_in_pieces_and_with_requests_behind_it(service: Service, plain: bytes) -> None:
    offer = "".join(f"{name}: {value}\r\n" for name, value in OFFER.items())
    post = (
        f"POST /v1/simulations HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n{offer}"
        f"Content-Length: {len(SIMULATION)}\r\n\r\n"
    ).encode() + SIMULATION
    sent = post + f"GET /health/live HTTP/1.1\r\nHost: x\r\n{offer}\r\n".encode() + post

    async def exchange(size: int) -> list[tuple[int, bytes]]:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port)
        for start in range(0, len(sent), size):
            writer.write(sent[start : start + size])
            await asyncio.sleep(0)
        answers = [await read_answer(reader) for _ in range(3)]
        writer.close()
        return [(status, body) for status, _, body in answers]

    for size in (1, 7, len(post) - 3, len(sent)):
        assert asyncio.run(exchange(size)) == [(200, plain), (200, b'{"status":"live"}'), (200, plain)]


def test_a_tunnel_is_refused(service: Service) -> None:
    with socket.create_connection(("127.0.0.1", service.port), timeout=10) as connection:
        connection.sendall(b"CONNECT example.org:443 HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        said = b""
        while piece := connection.recv(65536):
            said += piece
    assert said.startswith(b"HTTP/1.1 404 ")


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not on this machine")
def test_curl_that_offers_http_2_gets_the_same_answer(service: Service, plain: bytes, tmp_path: Path) -> None:
    body = tmp_path / "body"
    body.write_bytes(SIMULATION)
    asked = ["--http2", "--header", "Content-Type: application/json", "--data-binary", f"@{body}"]
    command = ["curl", "--silent", "--max-time", "30", "--write-out", "\n%{http_code}", *asked]
    said = subprocess.run([*command, f"{service.url}/v1/simulations"], capture_output=True, check=True, timeout=60)
    assert said.stdout == plain + b"\n200"


@pytest.mark.skipif(shutil.which("java") is None, reason="Java is not on this machine")
def test_the_client_of_java_gets_the_same_answer(service: Service, plain: bytes, tmp_path: Path) -> None:
    (tmp_path / "Asks.java").write_text(JAVA)
    (tmp_path / "body").write_bytes(SIMULATION)
    command = ["java", "-XX:TieredStopAtLevel=1", str(tmp_path / "Asks.java"), f"{service.url}/v1/simulations"]
    said = subprocess.run([*command, str(tmp_path / "body")], capture_output=True, check=True, timeout=120)
    assert said.stdout == (b"200 " + plain + b"\n") * 2


@pytest.mark.parametrize("hosts", ["", "Host: a\r\nHost: b\r\n"], ids=["missing", "twice"])
def test_a_request_without_one_host_is_refused(service: Service, hosts: str) -> None:
    """RFC 9112, 3.2: a server must answer 400."""
    with socket.create_connection(("127.0.0.1", service.port), timeout=10) as connection:
        connection.sendall(f"GET /health/live HTTP/1.1\r\n{hosts}\r\n".encode())
        assert connection.recv(65536).startswith(b"HTTP/1.1 400 ")


def say(service: Service, *pieces: bytes) -> tuple[int, dict[str, str], bytes]:
    """Say something, each piece in a packet of its own, and give the answer, after which the connection is closed."""

    async def exchange() -> tuple[int, dict[str, str], bytes]:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.port)
        for piece in pieces:
            writer.write(piece)
            await asyncio.sleep(0.05)
        answer = await asyncio.wait_for(read_answer(reader), 10.0)
        assert await asyncio.wait_for(reader.read(), 2.0) == b""
        writer.close()
        return answer

    return asyncio.run(exchange())


def is_problem(answer: tuple[int, dict[str, str], bytes], status: int, kind: str) -> bool:
    problem = json.loads(answer[2])
    return (answer[0], problem["status"], problem["type"]) == (status, status, f"/problems/{kind}") and (
        answer[1]["content-type"] == "application/problem+json"
    )


@pytest.mark.parametrize("cuts", [1, 3], ids=["at once", "in pieces"])
@pytest.mark.parametrize("shape", ["X-Long: %s\r\n", "%s: x\r\n", "X-Many: x\r\nCookie: %s\r\n"])
def test_a_head_beyond_its_bound_is_refused_however_it_arrives(service: Service, cuts: int, shape: str) -> None:
    """RFC 6585, 5. The bound is 32 KiB; 40 kB fit into what a server reads at once."""
    head = ("GET /v1/units HTTP/1.1\r\nHost: x\r\n" + shape % ("a" * 40_000) + "\r\n").encode()
    size = -(-len(head) // cuts)
    pieces = [head[start : start + size] for start in range(0, len(head), size)]
    before = service.metrics()['feedproof_refused_total{reason="head"}']
    assert is_problem(say(service, *pieces), 431, "request-header-fields-too-large")
    assert service.metrics()['feedproof_refused_total{reason="head"}'] == before + 1


def test_a_head_just_within_its_bound_is_taken(service: Service) -> None:
    assert service.post(SIMULATION, "/v1/simulations", headers={"X-Long": "a" * 32_000})[0] == 200


def test_a_body_whose_length_is_told_in_two_ways_is_refused(service: Service) -> None:
    """RFC 9112, 6.1 and 6.3: it may be an attempt to smuggle a request, and the connection must be closed."""
    head = b"POST /v1/simulations HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    lengths = b"Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n"
    assert is_problem(say(service, head + lengths + b"0\r\n\r\n"), 400, "malformed-request")


def test_what_is_no_http_gets_a_problem(service: Service) -> None:
    assert is_problem(say(service, b"HELLO\r\n\r\n"), 400, "malformed-request")


@pytest.mark.parametrize(
    ("target", "status"), [("/v1/units", 200), ("/health/live?x", 400), ("", 307), ("//v1/units", 404)]
)
def test_a_target_may_be_absolute(service: Service, target: str, status: int) -> None:
    """RFC 9112, 3.2.2: a server must accept it."""
    for scheme in ("http", "HTTPS"):
        head = f"GET {scheme}://x.example:80{target} HTTP/1.1\r\nHost: x.example\r\nConnection: close\r\n\r\n"
        assert say(service, head.encode())[0] == status


@pytest.mark.parametrize("version", ["0.9", "2.0", "9.9"])
def test_a_version_that_is_not_spoken_is_refused(service: Service, version: str) -> None:
    """RFC 9110, 15.6.6; without this, a Host would not be asked for."""
    with socket.create_connection(("127.0.0.1", service.port), timeout=10) as connection:
        connection.sendall(f"GET /v1/units HTTP/{version}\r\n\r\n".encode())
        assert connection.recv(65536).startswith(b"HTTP/1.1 505 ")


def test_a_body_that_is_too_large_is_refused_on_a_connection_that_still_writes(service: Service) -> None:
    status, _, body = service.post(b" " * 3_000_000)
    assert status == 413
    assert b'"/problems/content-too-large"' in body


@pytest.mark.parametrize(
    ("trusted", "statuses"), [("192.0.2.9, 127.0.0.1", [200, 200, 200]), ("10.0.0.1", [200, 429, 429])]
)
def test_a_client_behind_a_named_proxy_is_told_from_others(tmp_path: Path, trusted: str, statuses: list[int]) -> None:
    """By a rate of one for each client, of whom three stand behind one address."""
    with running(
        tmp_path, rate_per_second="0.001", rate_burst="1", warm_up="false", trusted_proxies=trusted
    ) as service:
        found = [
            service.post(SIMULATION, "/v1/simulations", headers={"X-Forwarded-For": f"192.0.2.{number}"})[0]
            for number in range(3)
        ]
    assert found == statuses
