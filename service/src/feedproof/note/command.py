"""What `feedproof assess` does with the hand-off note: into files, and before somebody's eyes."""

import argparse
import os
import sys
import tempfile
import webbrowser
from pathlib import Path

from feedproof.contract.assessment import Assessment

UNUSABLE = 2
"""Exit status where a file cannot be written or a library is missing."""
UNOPENED = 1
"""Exit status where the note was written, but no program was found that shows it."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add `--html`, `--pdf` and `--open` to a command.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's own.
    """
    note = parser.add_argument_group(
        "hand-off note", "one page for the customer, the electrician and the job file, in place of JSON on the output"
    )
    note.add_argument("--html", metavar="FILE", type=Path, help="write it as a page; what is there is replaced")
    note.add_argument("--pdf", metavar="FILE", type=Path, help="write it as PDF")
    note.add_argument(
        "--open", action="store_true", help="show the page in a browser; kept among temporary files without --html"
    )


def is_asked(arguments: argparse.Namespace) -> bool:
    """Whether any of the options was given."""
    return bool(arguments.open or arguments.html or arguments.pdf)


def hand_over(arguments: argparse.Namespace, assessment: Assessment) -> int:
    """Write the note as the options say, name each file on the error output, and open it where asked.

    Parameters
    ----------
    arguments : argparse.Namespace
        With `html`, `pdf` and `open`.
    assessment : Assessment
        The answer.

    Returns
    -------
    int
        Exit status: 0, 1 where no browser was found, 2 where something could not be written.
    """
    # Imported here: the command's other options need none of it.
    from feedproof.note.html import render_html  # noqa: PLC0415
    from feedproof.note.pdf import render_pdf  # noqa: PLC0415

    page: Path | None = arguments.html
    try:
        if arguments.pdf is not None:
            _write(arguments.pdf, render_pdf(assessment))
        if page is not None:
            _write(page, render_html(assessment))
        elif arguments.open:
            page = _temporary(render_html(assessment))
    except OSError as error:
        return complain(f"{error.filename}: {error.strerror}", UNUSABLE)
    if arguments.open and page is not None and not webbrowser.open(page.resolve().as_uri()):
        return complain(f"no browser was found; open {page} yourself", UNOPENED)
    return 0


def complain(line: str, status: int) -> int:
    """Say on the error output what went wrong, and give the exit status for it."""
    sys.stderr.write(f"feedproof: {line}\n")
    return status


def _write(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    sys.stderr.write(f"{path}\n")


def _temporary(content: bytes) -> Path:
    # For nobody else's eyes on a shared machine; kept, since the browser reads it after this program has ended.
    handle, name = tempfile.mkstemp(prefix="feedproof-", suffix=".html")
    with os.fdopen(handle, "wb") as file:
        file.write(content)
    sys.stderr.write(f"{name}\n")
    return Path(name)
