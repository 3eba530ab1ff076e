"""The command `feedproof`."""

import argparse
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from socket import socket
from typing import cast

import msgspec

from feedproof import __version__
from feedproof.errors import RefusedRequest, RequestError
from feedproof.fleet.command import add_commands
from feedproof.note.command import add_options, complain, hand_over, is_asked
from feedproof.settings import PREFIX, Effective, check_exposure, describe, load

REFUSED = 2
"""Exit status where the request is at fault."""
DIFFERS = 1
"""Exit status where the committed document is not the one that the code gives."""
_HIGHEST_PORT = 65535
UNHEALTHY = 1
"""Exit status where the service does not say that it is ready."""


def _port(text: str) -> int:
    """A port, so that a wrong one is blamed on the option and not on the environment that it is handed on by."""
    if not (text.isascii() and text.isdigit()) or int(text) > _HIGHEST_PORT:
        raise argparse.ArgumentTypeError(f"{text!r} is no TCP port: a whole number from 0 to {_HIGHEST_PORT}")
    return int(text)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="feedproof",
        description="Weighs a technician's readings of an appliance's electrical supply for faults; it clears none.",
    )
    parser.add_argument("--version", action="version", version=f"feedproof {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)

    serve = commands.add_parser("serve", help="start the service")
    serve.add_argument("--host", help="address to listen on (127.0.0.1)")
    serve.add_argument("--port", type=_port, help="TCP port, 0 to 65535 (8240); 0 takes a free one")
    serve.add_argument("--config", metavar="FILE", help="file of settings, in TOML; see `feedproof config`")
    serve.set_defaults(run=_guarded(_serve))

    config = commands.add_parser("config", help="print the settings in effect, as a file of settings; secrets masked")
    config.add_argument("--config", metavar="FILE", help="file of settings, in TOML")
    config.set_defaults(run=_guarded(_config))

    health = commands.add_parser("health", help="ask a running service on this machine whether it is ready")
    health.add_argument("--url", help="of the service; from the settings where left out")
    health.set_defaults(run=_health)

    key = commands.add_parser("key", help="make, list and take away keys of callers")
    deeds = key.add_subparsers(dest="deed", required=True)
    new = deeds.add_parser("new", help="make a key and print it, this once; keep its digest")
    new.add_argument("client", help="whose it is")
    shown = deeds.add_parser("list", help="list clients and ids of keys")
    revoke = deeds.add_parser("revoke", help="take a key away")
    revoke.add_argument("id", help="the eight characters after `fp_`")
    for deed, run in ((new, _key_new), (shown, _key_list), (revoke, _key_revoke)):
        deed.add_argument("--file", metavar="FILE", type=Path, help="key file; FEEDPROOF_KEY_FILE where left out")
        deed.set_defaults(run=_guarded(run))

    assess = commands.add_parser("assess", help="assess one reading set, without a server")
    assess.add_argument("file", metavar="FILE", help="a reading set in JSON, as the service takes it; - reads stdin")
    assess.add_argument("--text", action="store_true", help="answer in words in place of JSON")
    add_options(assess)
    assess.set_defaults(run=_assess)

    openapi = commands.add_parser("openapi", help="print the OpenAPI document")
    which = openapi.add_mutually_exclusive_group()
    which.add_argument("--write", metavar="PATH", type=Path, help="write it to a file")
    which.add_argument("--check", metavar="PATH", type=Path, help="compare with a file; exit status 1 if it differs")
    openapi.set_defaults(run=_openapi)

    add_commands(commands)
    return parser


def _guarded(work: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """A command with what it cannot use reported in one line."""

    def run(arguments: argparse.Namespace) -> int:
        try:
            return work(arguments)
        except (ValueError, OSError) as error:
            return complain(str(error), REFUSED)

    return run


def _effective(arguments: argparse.Namespace) -> Effective:
    """Settings in effect, those of the command line put before those of the environment."""
    for name in ("config", "host", "port"):
        given = getattr(arguments, name, None)
        if given is not None:
            os.environ[f"{PREFIX}{name.upper()}"] = str(given)
    return load()


def _serve(arguments: argparse.Namespace) -> int:
    settings = _effective(arguments).settings
    check_exposure(settings)
    # Imported here and below, so that one command does not load what only another needs.
    from feedproof.server.run import listen, serve  # noqa: PLC0415

    listeners: list[socket] = []
    for port in (settings.port, settings.management_port):
        try:
            if port or not listeners:
                listeners.append(listen(settings.host, port, settings.idle_seconds))
        except OSError as error:
            raise ValueError(f"{settings.host} port {port}: {error.strerror}") from None
    return serve(settings, *listeners)


def _config(arguments: argparse.Namespace) -> int:
    effective = _effective(arguments)
    sys.stdout.write(describe(effective))
    check_exposure(effective.settings)
    return 0


def _health(arguments: argparse.Namespace) -> int:
    import urllib.error  # noqa: PLC0415
    import urllib.request  # noqa: PLC0415

    url = arguments.url
    if url is None:
        settings = load().settings
        host = {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}.get(settings.host, settings.host)  # noqa: S104
        port = settings.management_port or settings.port
        url = f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
    # Never through a proxy: the service is on this machine.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(f"{url.rstrip('/')}/health/ready", timeout=5):
            return 0
    except (urllib.error.URLError, OSError, ValueError) as error:
        return complain(str(error), UNHEALTHY)


def _key_file(arguments: argparse.Namespace) -> Path | None:
    path: Path | None = arguments.file
    if path is None:
        set_already = load().settings.key_file
        path = Path(set_already) if set_already else None
    if path is None and arguments.deed != "new":
        raise ValueError("no key file; give --file or set FEEDPROOF_KEY_FILE")
    return path


def _key_new(arguments: argparse.Namespace) -> int:
    from feedproof.api.keys import append_key, make_key  # noqa: PLC0415

    text, key = make_key(arguments.client)
    path = _key_file(arguments)
    if path is None:
        sys.stderr.write(f"No key file is set. Add this line to one, and name it in FEEDPROOF_KEY_FILE:\n{key.line}\n")
    else:
        append_key(path, key)
        told = "in force at once, or where the service runs elsewhere, once the file is there"
        sys.stderr.write(f"Added to {path}; {told}.\n")
    sys.stderr.write("The key, which is kept nowhere:\n")
    sys.stdout.write(f"{text}\n")
    return 0


def _key_list(arguments: argparse.Namespace) -> int:
    from feedproof.api.keys import read_keys  # noqa: PLC0415

    for key in read_keys(cast("Path", _key_file(arguments))):
        sys.stdout.write(f"{key.client} {key.id}\n")
    return 0


def _key_revoke(arguments: argparse.Namespace) -> int:
    from feedproof.api.keys import remove_key  # noqa: PLC0415

    remove_key(cast("Path", _key_file(arguments)), arguments.id)
    return 0


def _assess(arguments: argparse.Namespace) -> int:
    from feedproof.assess import assess  # noqa: PLC0415
    from feedproof.note.text import render_text  # noqa: PLC0415
    from feedproof.parsing import read_request  # noqa: PLC0415

    try:
        raw = sys.stdin.buffer.read() if arguments.file == "-" else Path(arguments.file).read_bytes()
    except OSError as error:
        return complain(f"{arguments.file}: {error.strerror}", REFUSED)
    try:
        admitted = read_request(raw)
    except RequestError as error:
        complain(str(error), REFUSED)
        for fault in error.faults if isinstance(error, RefusedRequest) else ():
            sys.stderr.write(f"  {fault.pointer or '(the whole body)'}: {fault.detail}\n")
        return REFUSED
    assessment = assess(admitted.reading_set, admitted.assumptions)
    if arguments.text:
        sys.stdout.write(render_text(assessment, _columns()))
    elif not is_asked(arguments):
        sys.stdout.buffer.write(msgspec.json.encode(assessment) + b"\n")
    return hand_over(arguments, assessment)


def _columns() -> int:
    """Columns of the terminal, or what `COLUMNS` says; into a file or a pipe as many as where nobody says."""
    from feedproof.note.text import WIDTH  # noqa: PLC0415

    return shutil.get_terminal_size((WIDTH, 0)).columns


def _openapi(arguments: argparse.Namespace) -> int:
    from feedproof.api.openapi import document_bytes  # noqa: PLC0415

    document = document_bytes()
    if arguments.check is not None:
        same = arguments.check.is_file() and arguments.check.read_bytes() == document
        if not same:
            return complain(f"{arguments.check} is not what the code gives; run with --write", DIFFERS)
        return 0
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
