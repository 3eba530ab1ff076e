"""A server that answers over HTTP whatever it is told to: what stands between a client and the service at times."""

from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any, NamedTuple


class Answer(NamedTuple):
    """One answer."""

    status: int
    headers: dict[str, str]
    content: bytes


class Gateway:
    """Gives the answers in their order, the last one for ever."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.answers: deque[Answer] = deque()
        self.requests: list[tuple[str, str, dict[str, str], bytes]] = []

    def will_answer(self, status: int, content: bytes = b"", **headers: str) -> None:
        """Add an answer; underscores in the names of headers are hyphens."""
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        self.answers.append(Answer(status, named, content))


@contextmanager
def gateway() -> Iterator[Gateway]:
    """Give such a server on the loopback interface."""
    here: Gateway

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def _answer(self) -> None:
            content = self.rfile.read(int(self.headers.get("content-length", 0)))
            sent = {name.lower(): value for name, value in self.headers.items()}
            here.requests.append((self.command, self.path, sent, content))
            answer = here.answers.popleft() if len(here.answers) > 1 else here.answers[0]
            self.send_response(answer.status)
            for name, value in answer.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(answer.content)))
            self.end_headers()
            self.wfile.write(answer.content)

        do_GET = do_POST = _answer  # noqa: N815 - named by the base class

        def log_message(self, *_: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    here = Gateway(f"http://127.0.0.1:{server.server_address[1]}")
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    yield here
    server.shutdown()
    server.server_close()
    thread.join()
