"""Compiling and trying everything once before the first request, and by one process at a time.

Several copies that start together on the same cache would each compile the same. The first compiles, the others wait
for it and then read what it has left.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import msgspec
import numba

from feedproof.api.openapi import EXAMPLES
from feedproof.assess import assess
from feedproof.parsing import read_request

SETS = tuple(msgspec.json.encode(EXAMPLES["requests"][name]["value"]) for name in ("low_impedance", "every_kind"))
"""What is assessed: between them every kind of meter, reading and load state."""
LOCK = "compiling.lock"


def self_test() -> None:
    """Assess some small sets: compiles what is compiled, and shows that the engine answers."""
    for raw in SETS:
        assess(*read_request(raw))


@contextmanager
def alone(folder: str | Path) -> Iterator[None]:
    """Let one process at a time do what is within, where the system can; one that dies lets the next go on.

    Parameters
    ----------
    folder : str or Path
        Which they share; empty: none.
    """
    descriptor = None
    with suppress(ImportError, OSError):
        import fcntl  # noqa: PLC0415 - not on every system

        if str(folder):
            descriptor = os.open(Path(folder, LOCK), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            fcntl.flock(descriptor, fcntl.LOCK_EX)
    try:
        yield
    finally:
        if descriptor is not None:
            os.close(descriptor)


def warm_up() -> None:
    """Do the self-test, after any other process that does it on the same cache."""
    with alone(numba.config.CACHE_DIR):  # type: ignore[attr-defined]
        self_test()
