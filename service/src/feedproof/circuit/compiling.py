"""How the hot core is compiled: strict arithmetic, and a cache on disk that cannot go stale.

numba looks only at a function's own file to decide whether its compiled form is still good, though other
files' functions and constants are compiled into it. So the cache is kept per state of all sources together.
"""

import hashlib
import os
import tempfile
from pathlib import Path
from typing import Any

import numba

_PACKAGE = Path(__file__).resolve().parents[1]
_COMPILED_FOLDERS = ("circuit", "inference", "faults")


def _digest() -> str:
    """State of all sources that compiled code may depend on, and of the compiler."""
    state = hashlib.sha256(numba.__version__.encode())
    for folder in _COMPILED_FOLDERS:
        for path in sorted((_PACKAGE / folder).glob("*.py")):
            state.update(path.name.encode() + b"\0" + path.read_bytes())
    return state.hexdigest()[:16]


def _cache_folder() -> Path:
    """Folder for this state: beside the package where it can be written or was filled before, else temporary."""
    stated = os.environ.get("NUMBA_CACHE_DIR")
    if stated:
        return Path(stated) / _digest()
    beside = _PACKAGE / "__pycache__" / "compiled" / _digest()
    if beside.is_dir() or os.access(_PACKAGE, os.W_OK):
        return beside
    return Path(tempfile.gettempdir()) / f"feedproof-compiled-{os.getuid()}" / _digest()


numba.config.CACHE_DIR = str(_cache_folder())  # type: ignore[attr-defined]

#: Every compiled function of the package: strict IEEE order (the same bytes on every run), cached on disk.
compiled: Any = numba.njit(cache=True, error_model="numpy", nogil=True)
#: The same for small pieces of the innermost loop: put in place, so that no array handle is passed.
inlined: Any = numba.njit(cache=True, error_model="numpy", nogil=True, inline="always")
