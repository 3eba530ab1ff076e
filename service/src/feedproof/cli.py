"""The command `feedproof`."""

import argparse
import socket
import sys
from collections.abc import Sequence
from pathlib import Path

import msgspec

from feedproof import __version__
from feedproof.errors import RefusedRequest, RequestError

REFUSED = 2
"""Exit status where the request is at fault."""
GRACE = 20
"""How long requests in flight may take once the service is told to stop [s]."""
DIFFERS = 1
"""Exit status where the committed document is not the one that the code gives."""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="feedproof", description="Proves an appliance's electrical feed from a technician's readings."
    )
    parser.add_argument("--version", action="version", version=f"feedproof {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)

    serve = commands.add_parser("serve", help="start the service")
    serve.add_argument("--host", help="address to listen on (127.0.0.1)")
    serve.add_argument("--port", type=int, help="TCP port (8240)")
    serve.set_defaults(run=_serve)

    assess = commands.add_parser("assess", help="assess one reading set, without a server")
    assess.add_argument("file", metavar="FILE", help="a reading set in JSON, as the service takes it; - reads stdin")
    assess.add_argument("--text", action="store_true", help="answer in words in place of JSON")
    assess.set_defaults(run=_assess)

    openapi = commands.add_parser("openapi", help="print the OpenAPI document")
    which = openapi.add_mutually_exclusive_group()
    which.add_argument("--write", metavar="PATH", type=Path, help="write it to a file")
    which.add_argument("--check", metavar="PATH", type=Path, help="compare with a file; exit status 1 if it differs")
    openapi.set_defaults(run=_openapi)
    return parser


def _complain(line: str) -> None:
    sys.stderr.write(line + "\n")


def _serve(arguments: argparse.Namespace) -> int:
    # Imported here and below, so that one command does not load what only another needs.
    import uvicorn  # noqa: PLC0415

    from feedproof.app import create_app  # noqa: PLC0415
    from feedproof.settings import from_environment  # noqa: PLC0415
    from feedproof.telemetry.logging import logger  # noqa: PLC0415

    try:
        settings = from_environment()
    except ValueError as error:
        _complain(f"feedproof: {error}")
        return REFUSED
    given = {name: getattr(arguments, name) for name in ("host", "port") if getattr(arguments, name) is not None}
    settings = msgspec.structs.replace(settings, **given)
    app = create_app(settings)
    try:
        listener = socket.create_server((settings.host, settings.port), reuse_port=False)
    except OSError as error:
        _complain(f"feedproof: {settings.host} port {settings.port}: {error.strerror}")
        return REFUSED
    host, port = listener.getsockname()[:2]
    logger().info("listening", url=f"http://{host}:{port}")
    config = uvicorn.Config(
        app, log_config=None, access_log=False, server_header=False, timeout_graceful_shutdown=GRACE
    )
    uvicorn.Server(config).run(sockets=[listener])
    return 0


def _assess(arguments: argparse.Namespace) -> int:
    from feedproof.advice.text import render_text  # noqa: PLC0415
    from feedproof.assess import assess  # noqa: PLC0415
    from feedproof.door import read_request  # noqa: PLC0415

    try:
        raw = sys.stdin.buffer.read() if arguments.file == "-" else Path(arguments.file).read_bytes()
    except OSError as error:
        _complain(f"feedproof: {arguments.file}: {error.strerror}")
        return REFUSED
    try:
        admitted = read_request(raw)
    except RequestError as error:
        _complain(f"feedproof: {error}")
        for fault in error.faults if isinstance(error, RefusedRequest) else ():
            _complain(f"  {fault.pointer or '(the whole body)'}: {fault.detail}")
        return REFUSED
    assessment = assess(admitted.reading_set, admitted.assumptions)
    if arguments.text:
        sys.stdout.write(render_text(assessment).rstrip("\n") + "\n")
    else:
        sys.stdout.buffer.write(msgspec.json.encode(assessment) + b"\n")
    return 0


def _openapi(arguments: argparse.Namespace) -> int:
    from feedproof.api.openapi import document_bytes  # noqa: PLC0415

    document = document_bytes()
    if arguments.check is not None:
        same = arguments.check.is_file() and arguments.check.read_bytes() == document
        if not same:
            _complain(f"feedproof: {arguments.check} is not what the code gives; run with --write")
        return 0 if same else DIFFERS
    if arguments.write is not None:
        arguments.write.write_bytes(document)
    else:
        sys.stdout.buffer.write(document)
    return 0


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    argv : sequence of str, optional
        In place of the process's arguments.

    Returns
    -------
    int
        Exit status: 0, or 1 where a comparison fails, or 2 where what was given cannot be read.
    """
    arguments = _parser().parse_args(argv)
    status: int = arguments.run(arguments)
    return status
