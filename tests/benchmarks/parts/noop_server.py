"""The service with endpoints beside it that do nothing: `python -P noop_server.py PORT BODY ANSWER [--empty-engine]`.

`POST /bare` and `POST /framework` read the request and give back the bytes of the file ANSWER, with the same server,
protocol and process as the service's own routes: the first at once, the second through the web framework that the
service uses, without any of the service's own layers. With `--empty-engine` the service's own routes answer as ever,
but what the engine would compute was computed once, for the file BODY: what all else costs is then seen alone.
"""

import socket
import sys
from pathlib import Path
from typing import Any

import uvicorn
from litestar import Litestar, Request, Response, post

from feedproof.api import assessments
from feedproof.assess import assess
from feedproof.parsing import read_request
from feedproof.server.run import SWITCH, Service, configure
from feedproof.settings import load


def _in_the_framework(answer: bytes) -> Litestar:
    @post("/framework", status_code=200, media_type="application/json")
    async def nothing(request: Request[Any, Any, Any]) -> Response[bytes]:
        await request.body()
        return Response(answer)

    return Litestar([nothing], openapi_config=None, logging_config=None)


class WithNothing:
    """The service's application, and two paths in front of it.

    Parameters
    ----------
    served : Service
        The service.
    answer : bytes
        Of the paths that do nothing.
    """

    def __init__(self, served: Service, answer: bytes) -> None:
        self._served = served
        self._framework: Any = _in_the_framework(answer)
        self._answer = answer

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Serve one connection."""
        if scope["type"] != "http" or scope["path"] not in {"/bare", "/framework"}:
            await self._served(scope, receive, send)
            return
        if scope["path"] == "/framework":
            await self._framework(scope, receive, send)
            return
        while (await receive()).get("more_body"):
            pass
        headers = [(b"content-type", b"application/json"), (b"content-length", str(len(self._answer)).encode())]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": self._answer})


def _empty_the_engine(raw: bytes) -> None:
    known = assess(*read_request(raw))
    setattr(assessments, "assess", lambda *_: known)  # noqa: B010 - for this process only


def main() -> None:
    """Serve until told to stop."""
    port, body, answer, *options = sys.argv[1:]
    sys.setswitchinterval(SWITCH)
    settings = load().settings
    content = Path(answer).read_bytes()
    if "--empty-engine" in options:
        _empty_the_engine(Path(body).read_bytes())
    served = Service(settings)
    config = configure(settings, served)
    config.app = WithNothing(served, content)
    listener = socket.create_server(("127.0.0.1", int(port)), backlog=2048)
    uvicorn.Server(config).run(sockets=[listener])


if __name__ == "__main__":
    main()
