"""Start the service, in this process or in several that it looks after.

Several processes come out of one that has loaded and tried the engine already (a fork server): they share its memory,
and one that is replaced is ready at once. The process that looks after them loads no engine.
"""

import gc
import multiprocessing
import os
import shutil
import socket
import sys
import tempfile
from typing import TYPE_CHECKING, Any, cast

import uvicorn
from uvicorn import _subprocess as processes_of_uvicorn
from uvicorn.supervisors import Multiprocess
from uvicorn.supervisors import multiprocess as supervision

from feedproof.server.protocol import GuardedProtocol
from feedproof.settings import Settings
from feedproof.telemetry.logging import configure, logger
from feedproof.telemetry.metrics import SHARED

if TYPE_CHECKING:
    from feedproof.server.served import Served

WORKER_SILENCE = 30
"""How long a process may be silent before it is replaced [s]."""


def _config(settings: Settings, app: "Served | str") -> uvicorn.Config:
    return uvicorn.Config(
        cast("Any", app),
        factory=isinstance(app, str),
        workers=settings.processes,
        http=GuardedProtocol,
        ws="none",
        lifespan="on",
        interface="asgi3",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=settings.keep_alive_seconds,
        timeout_graceful_shutdown=settings.stop_seconds,
        timeout_worker_healthcheck=WORKER_SILENCE,
    )


def listen(settings: Settings) -> socket.socket:
    """Open the socket to listen on.

    Raises
    ------
    OSError
        If the address is not to be had.
    """
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    return socket.create_server((settings.host, settings.port), family=family, backlog=2048)


def _announce(listener: socket.socket, settings: Settings) -> None:
    host, port = listener.getsockname()[:2]
    shown = f"[{host}]" if ":" in host else host
    logger().info("listening", url=f"http://{shown}:{port}", processes=settings.processes, threads=settings.workers)


class _Watched(supervision.Process):
    """A process whose end is noticed while it is being asked for a sign of life.

    With its end of the pipe held here as well, asking would go on for as long as a process may be silent.
    """

    def start(self) -> None:
        """Start it."""
        super().start()
        self.child_conn.close()


def _come_from_one() -> None:
    """Let processes be forked from one that has the engine, where the system can."""
    if "forkserver" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["feedproof.server.preloaded"])
        processes_of_uvicorn.spawn = cast("Any", context)


def _several(settings: Settings, listener: socket.socket) -> None:
    folder = tempfile.mkdtemp(prefix="feedproof-metrics-")
    os.environ[SHARED] = folder
    configure(settings.log_format, settings.log_level)
    try:
        _announce(listener, settings)
        _come_from_one()
        cast("Any", supervision).Process = _Watched
        Multiprocess(_config(settings, "feedproof.server.served:served"), sockets=[listener]).run()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def serve(settings: Settings, listener: socket.socket) -> int:
    """Serve until told to stop.

    Parameters
    ----------
    settings : Settings
        In effect; the same as in the environment where there are several processes.
    listener : socket
        From `listen`.

    Returns
    -------
    int
        Exit status.

    Raises
    ------
    ValueError
        If a key file is named and cannot be read.
    """
    if settings.processes > 1:
        _several(settings, listener)
        return 0
    # Imported here, so that a process that only looks after others does not load the engine.
    from feedproof.server.served import SWITCH, Served  # noqa: PLC0415

    sys.setswitchinterval(SWITCH)
    # Before what is loaded is left alone, what loading left over goes.
    gc.collect()
    app = Served(settings)
    _announce(listener, settings)
    uvicorn.Server(_config(settings, app)).run(sockets=[listener])
    return 0
