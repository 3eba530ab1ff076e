"""How the numerical core is compiled: strict arithmetic, and a cache on disk that cannot go stale.

numba looks only at a function's own file to decide whether its compiled form is still good, though other
files' functions and constants are compiled into it. So the cache is kept per state of all sources together.
"""

import hashlib
from pathlib import Path
from typing import Any

import numba

from feedproof.cache_folder import cache_folder

_PACKAGE = Path(__file__).resolve().parents[1]
_COMPILED_FOLDERS = ("circuit", "inference", "faults")


def _digest() -> str:
    """State of all sources that compiled code may depend on, and of the compiler."""
    state = hashlib.sha256(numba.__version__.encode())
    for folder in _COMPILED_FOLDERS:
        for path in sorted((_PACKAGE / folder).glob("*.py")):
            state.update(path.name.encode() + b"\0" + path.read_bytes())
    return state.hexdigest()[:16]


_FOLDER = cache_folder(_digest())
KEPT = _FOLDER is not None
"""Whether compiled functions are kept on disk. Where they are not, each start compiles."""
numba.config.CACHE_DIR = str(_FOLDER or "")  # type: ignore[attr-defined]
# Circuits of ten nodes gain nothing by it, and looking for it costs a third of the time to compile.
numba.config.LOOP_VECTORIZE = 0  # type: ignore[attr-defined]
numba.config.SLP_VECTORIZE = 0  # type: ignore[attr-defined]

#: Every compiled function of the package: strict IEEE order (the same bytes on every run), cached on disk.
compiled: Any = numba.njit(cache=KEPT, error_model="numpy", nogil=True)
