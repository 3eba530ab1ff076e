"""Where compiled functions are kept on disk: in a folder that only this user can write, or nowhere.

What is kept are pickles of the compiler's, which run code when they are read. So a folder that somebody else has made,
or may write, is worse than none.
"""

import contextlib
import os
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
STATED = "NUMBA_CACHE_DIR"
"""Setting of the environment that names the folder; the compiler's own."""


def _places() -> Iterator[Path]:
    """Folders that may serve, the best first."""
    stated = os.environ.get(STATED)
    if stated:
        # Resolved, so that a symbolic link cannot be redirected later.
        yield Path(stated).resolve()
        return
    yield _PACKAGE / "__pycache__" / "compiled"
    with contextlib.suppress(RuntimeError):
        yield Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "feedproof"


def _is_own(folder: Path) -> bool:
    """Whether this user alone can write into a folder; where the system has no such modes, whether it is there."""
    state = folder.stat(follow_symlinks=False)
    if not stat.S_ISDIR(state.st_mode):
        return False
    return os.name != "posix" or (state.st_uid == os.geteuid() and not state.st_mode & (stat.S_IWGRP | stat.S_IWOTH))


def _usable(folder: Path, name: str) -> Path | None:
    """Folder of a name in a folder, made where it is missing; None where it cannot be relied on or written."""
    inner = folder / name
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        for made in (folder, inner):
            # Mode 0700 whatever the umask: no other user may write here or below.
            made.mkdir(mode=0o700, exist_ok=True)
            if not _is_own(made):
                return None
        with tempfile.TemporaryFile(dir=inner):
            return inner
    except OSError:
        return None


def cache_folder(name: str) -> Path | None:
    """Folder for what may be kept, which is there and can be written.

    Parameters
    ----------
    name : str
        Of the folder within the one for everything that is kept: what depends on a state of the sources.

    Returns
    -------
    Path or None
        In `NUMBA_CACHE_DIR` where that is set; else beside the package, or among this user's caches. None where this
        user alone cannot write there: then nothing is kept.
    """
    return next(filter(None, (_usable(place, name) for place in _places())), None)
