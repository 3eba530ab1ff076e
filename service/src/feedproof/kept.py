"""Where what is worked out once is kept on disk: compiled functions, and the factors of the units."""

import os
import tempfile
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def kept_folder() -> Path:
    """Folder for what may be kept: the stated one, or beside the package, or a temporary one of this user.

    Returns
    -------
    Path
        `NUMBA_CACHE_DIR` where it is set; else inside the package where it can be written or has been before.
        It need not exist yet.
    """
    stated = os.environ.get("NUMBA_CACHE_DIR")
    if stated:
        return Path(stated)
    beside = _PACKAGE / "__pycache__" / "compiled"
    if beside.is_dir() or os.access(_PACKAGE, os.W_OK):
        return beside
    return Path(tempfile.gettempdir()) / f"feedproof-compiled-{os.getuid()}"
