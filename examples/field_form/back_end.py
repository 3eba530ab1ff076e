"""The back end of the field form: `python examples/field_form/back_end.py`, beside `feedproof serve`.

It serves the page and passes visits on to the service by the Python client. It keeps nothing: visits and notes are kept
by the page, on the phone. Loopback only; a platform would put its own sign-in and TLS before it. All data is invented.
"""

import argparse
import sys
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import msgspec
from form_visits import Form, Mark, marks, shown, visit_of

from feedproof_sdk import Client, errors
from feedproof_sdk.types.answer import Note

PAGE = Path(__file__).resolve().parent / "page"
FILES = {
    "/": ("index.html", "text/html; charset=utf-8"),
    "/form.css": ("form.css", "text/css; charset=utf-8"),
    "/form.js": ("form.js", "text/javascript; charset=utf-8"),
    "/kept.js": ("kept.js", "text/javascript; charset=utf-8"),
    "/sending.js": ("sending.js", "text/javascript; charset=utf-8"),
    "/worker.js": ("worker.js", "text/javascript; charset=utf-8"),
    "/icon.svg": ("icon.svg", "image/svg+xml"),
}
HEADERS = {
    # No inline script, no inline style, nothing from elsewhere.
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
JSON = "application/json"
LARGEST = 64 * 1024
"""Of a visit [byte]."""
COME_BACK = 5
"""When the page is to try again [s]."""

_FORM = msgspec.json.Decoder(Form)


class FormServer(ThreadingHTTPServer):
    """Listens on the loopback interface, and holds the one client that all requests share.

    Parameters
    ----------
    port : int
        0: any that is free.
    client : Client
        Of the service.
    """

    daemon_threads = True

    def __init__(self, port: int, client: Client) -> None:
        super().__init__(("127.0.0.1", port), Handler)
        self.client = client
        own = self.server_address[1]
        # A page from elsewhere that gave this machine a name of its own must not be answered.
        self.hosts = {f"127.0.0.1:{own}", f"localhost:{own}"}


class Handler(BaseHTTPRequestHandler):
    """One request."""

    server: FormServer  # pyright: ignore[reportIncompatibleVariableOverride] - as the standard library means it
    protocol_version = "HTTP/1.1"
    server_version = "field-form"
    sys_version = ""
    timeout = 30

    def do_GET(self) -> None:
        """Give a file of the page."""
        found = FILES.get(self.path.partition("?")[0])
        if not self._is_ours():
            return
        if found is None:
            self._send(HTTPStatus.NOT_FOUND, "text/plain; charset=utf-8", b"Not here. Notes are kept on the phone.\n")
            return
        name, kind = found
        self._send(HTTPStatus.OK, kind, (PAGE / name).read_bytes())

    def do_POST(self) -> None:
        """Answer a visit: `/answer` for what the form shows, `/note` for the hand-off note."""
        if not self._is_ours():
            return
        form = self._form()
        if form is None:
            return
        try:
            visit = visit_of(form)
            if self.path == "/answer":
                self._send_json(HTTPStatus.OK, shown(self.server.client.assess(visit)))
            elif self.path == "/note":
                self._pass_on(self.server.client.render(visit, "html"))
            else:
                self._send_json(HTTPStatus.NOT_FOUND, {})
        except (errors.BadQuantity, msgspec.ValidationError) as bad:
            self._send_json(HTTPStatus.UNPROCESSABLE_ENTITY, {"marks": [Mark(None, str(bad))]})
        except errors.InvalidReadingSet as refused:
            self._send_json(HTTPStatus.UNPROCESSABLE_ENTITY, {"marks": marks(refused)})
        except errors.FeedproofError as failed:
            # Nothing may be concluded, so nothing is said of the supply. The reason is for the log alone.
            self.log_error("%s", f"{type(failed).__name__}: {failed}")
            self._send_json(HTTPStatus.SERVICE_UNAVAILABLE, {}, {"Retry-After": str(COME_BACK)})

    def _is_ours(self) -> bool:
        same_site = self.headers.get("Sec-Fetch-Site", "same-origin") in {"same-origin", "none"}
        if self.headers.get("Host") in self.server.hosts and same_site:
            return True
        self.close_connection = True
        self._send_json(HTTPStatus.FORBIDDEN, {})
        return False

    def _form(self) -> Form | None:
        length = self.headers.get("Content-Length", "")
        # JSON is what a form of another site cannot send without asking first.
        if self.headers.get_content_type() != JSON:
            status = HTTPStatus.UNSUPPORTED_MEDIA_TYPE
        elif not length.isdigit():
            status = HTTPStatus.LENGTH_REQUIRED
        elif int(length) > LARGEST:
            status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE
        else:
            try:
                return _FORM.decode(self.rfile.read(int(length)))
            except (msgspec.DecodeError, UnicodeDecodeError) as error:
                self._send_json(HTTPStatus.UNPROCESSABLE_ENTITY, {"marks": [Mark(None, str(error))]})
                return None
        self.close_connection = True
        self._send_json(status, {})
        return None

    def _pass_on(self, note: Note) -> None:
        # The note's own policy in place of the page's: it allows its one style sheet and nothing else.
        policy = note.response.headers["content-security-policy"]
        self._send(HTTPStatus.OK, "text/html; charset=utf-8", note.content, {"Content-Security-Policy": policy})

    def _send_json(self, status: HTTPStatus, content: object, more: dict[str, str] | None = None) -> None:
        self._send(status, JSON, msgspec.json.encode(content), more)

    def _send(self, status: HTTPStatus, kind: str, content: bytes, more: dict[str, str] | None = None) -> None:
        self.send_response(status)
        headers = {"Content-Type": kind, "Content-Length": str(len(content)), "Cache-Control": "no-store"}
        for name, value in (headers | HEADERS | (more or {})).items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - as http.server names it
        """Leave requests unlogged: they hold what a technician wrote."""

    def log_error(self, format: str, *args: object) -> None:  # noqa: A002
        """Log what went wrong."""
        sys.stderr.write(f"field form: {format % args}\n")


def main() -> None:
    """Serve until stopped."""
    parser = argparse.ArgumentParser(description="The back end of the field form, on the loopback interface.")
    parser.add_argument("--port", type=int, default=8250)
    arguments = parser.parse_args()
    # The phone keeps the visit and tries again, so one attempt here is enough, and a short one.
    with Client(timeout=15.0, max_retries=0) as client, FormServer(arguments.port, client) as server:
        print(f"http://127.0.0.1:{server.server_address[1]}", flush=True)
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            print()


if __name__ == "__main__":
    main()
