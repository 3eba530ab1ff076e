"""The service on a free port of the loopback interface, in a thread of this process."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from feedproof.app import create_app
from feedproof.settings import Settings


@contextmanager
def live_service(settings: Settings | None = None) -> Iterator[str]:
    """Serve, and give the address.

    Parameters
    ----------
    settings : Settings, optional
        Without warming up where left out.
    """
    listener = socket.create_server(("127.0.0.1", 0))
    app = create_app(settings or Settings(warm_up=False, log_level="error"))
    server = uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False, server_header=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    deadline = time.monotonic() + 60
    while not server.started:
        assert time.monotonic() < deadline
        time.sleep(0.02)
    host, port = listener.getsockname()
    yield f"http://{host}:{port}"
    server.should_exit = True
    thread.join(timeout=30)
