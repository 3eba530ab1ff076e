"""Answers that are there already, in memory or in a file that processes and runs share.

An answer hangs on what was read, of which circuit, with which meters, under which base rates, and on nothing that a
caller has labelled or ordered; nor on which leg is called L1, but for the columns that say so, which are exchanged. So
it is kept under a digest of that, of the model and its priors, of the sources, and of the machine's kind: what any of
them changes is not found, and computed. Each entry carries a digest of its own, and one that does not fit is not
believed. The file is a database of SQLite; it must lie on a disk of this machine, and hold no more than it is allowed:
then what was put in first goes first.
"""

import functools
import hashlib
import platform
import sqlite3
import warnings
import weakref
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any, cast

import msgspec
import numba
import numpy as np

import feedproof
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.fleet.answer import ANSWER_COLUMNS, Cell
from feedproof.inference import Likeness

MOST = 2 * 2**30
"""Most that a file holds [byte]; an answer takes about 1.1 kB."""
IN_MEMORY = 64 * 2**20
"""Most that is held where there is no file [byte]."""
SUFFIX = ".sqlite"
_OWNER = 0x46505341
_BUSY_TIMEOUT = 60.0
"""How long to wait for another process that is writing [s]."""
_OFTEN = 64
_SHARE = 8
_CHECK = 16

_Cells = tuple[Cell, ...]
_MIRROR = {"L1": "L2", "L2": "L1", "l1": "l2", "l2": "l1"}


def _turned(name: str, between: str) -> str:
    return between.join(_MIRROR.get(word, word) for word in name.split(between))


_FROM = [ANSWER_COLUMNS.index(_turned(name, "_")) for name in ANSWER_COLUMNS]
_FAULT, _ON, _ALSO, _HEATED = (
    ANSWER_COLUMNS.index(name) for name in ("finding", "finding_conductor", "finding_also", "heat_conductor")
)


def mirrored(cells: _Cells) -> _Cells:
    """The columns of an answer after the legs have been exchanged."""
    found: list[Any] = [cells[place] for place in _FROM]
    for place in (_ON, _HEATED):
        found[place] = _MIRROR.get(found[place], found[place])
    if found[_ALSO]:
        also = [_turned(part, ":") for part in found[_ALSO].split(" ")]
        fault, _, on = also[0].partition(":")
        # Of the same fault twice the first conductor is named first.
        if fault == found[_FAULT] and on and found[_ON] and on < found[_ON]:
            found[_ON], also[0] = on, f"{fault}:{found[_ON]}"
        found[_ALSO] = " ".join(also)
    return tuple(found)


def _features() -> str:
    """What the processor can, where the system says so."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor()
    return next((line for line in lines if line.startswith(("flags", "Features"))), platform.processor())


@functools.cache
def _circumstances() -> bytes:
    """What an answer hangs on beside what was read: sources, model and priors, and what computes."""
    state = hashlib.sha256()
    package = Path(feedproof.__file__).parent
    for path in sorted(package.rglob("*")):
        if path.suffix in {".py", ".json", ".toml"}:
            state.update(f"{path.relative_to(package)}\0".encode() + path.read_bytes())
    versions = (numba.__version__, np.__version__, platform.python_version(), *platform.libc_ver())
    processor = (platform.machine(), _features())
    told = (versions, processor, MODEL_VERSION, priors_digest(), ANSWER_COLUMNS)
    state.update(msgspec.json.encode(told))
    return state.digest()


class Store:
    """Answers by what was read; one for each process, several on the same file.

    Parameters
    ----------
    path : Path, optional
        File; none: in memory.
    most : int, optional
        How much it may hold at most [byte].

    Raises
    ------
    ValueError
        If the file is a database of something else. One that cannot be used is done without, with a warning.
    """

    def __init__(self, path: Path | None = None, most: int | None = None) -> None:
        self._most = most or (IN_MEMORY if path is None else MOST)
        self._path, self._put = path, 0
        self._use(":memory:")
        if path is not None:
            try:
                self._use(path)
            except sqlite3.Error as error:
                self._gone(error)

    def find(self, like: Likeness) -> _Cells | None:
        """Columns of a set's answer, in the order of `ANSWER_COLUMNS`; None where it is not there."""
        key, turned = _key(like)
        try:
            row = self._base.execute("SELECT cells FROM answers WHERE key = ?", (key,)).fetchone()
        except sqlite3.Error as error:
            self._gone(error)
            return None
        if row is None or _check(key, row[0][_CHECK:]) != row[0][:_CHECK]:
            return None
        cells: _Cells = tuple(msgspec.msgpack.decode(row[0][_CHECK:]))
        return mirrored(cells) if turned else cells

    def keep(self, like: Likeness, cells: _Cells) -> None:
        """Put in the answer of a set."""
        key, turned = _key(like)
        held = msgspec.msgpack.encode(mirrored(cells) if turned else cells)
        try:
            self._base.execute("INSERT OR REPLACE INTO answers VALUES (?, ?)", (key, _check(key, held) + held))
            self._put += 1
            if self._put % _OFTEN == 0:
                self._bound()
        except sqlite3.Error as error:
            self._gone(error)

    def close(self) -> None:
        """Let go of the file; the last to do so leaves it whole, with nothing beside it."""
        self._let_go()

    def size(self) -> int:
        """How much it holds [byte]."""
        tables = "pragma_page_count, pragma_freelist_count, pragma_page_size"
        asked = self._base.execute(f"SELECT (page_count - freelist_count) * page_size FROM {tables}")  # noqa: S608
        return int(asked.fetchone()[0])

    def _bound(self) -> None:
        if self.size() > self._most:
            self._base.execute(
                "DELETE FROM answers WHERE rowid < (SELECT min(rowid) + (max(rowid) - min(rowid)) / ? FROM answers)",
                (_SHARE,),
            )

    def _use(self, path: Path | str) -> None:
        self._base = base = _opened(path)
        # Python 3.13 warns of a connection that is not closed explicitly.
        self._let_go = weakref.finalize(self, base.close)

    def _gone(self, error: sqlite3.Error) -> None:
        warnings.warn(f"{self._path}: {error}; going on without it", RuntimeWarning, stacklevel=3)
        self._let_go()
        self._use(":memory:")
        self._most = IN_MEMORY


def check_store(path: Path) -> None:
    """Make sure that a file can serve as a store; one that is damaged is put aside, and begun anew.

    Parameters
    ----------
    path : Path
        It need not be there yet.

    Raises
    ------
    ValueError
        If it is something else.
    """
    if path.suffix != SUFFIX:
        raise ValueError(f"{path}: the name of a store ends in {SUFFIX}")
    try:
        with closing(_opened(path)) as base:
            (found,) = base.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError as error:
        raise ValueError(f"{path}: {error}") from None
    except sqlite3.DatabaseError as error:
        found = str(error)
    if found != "ok":
        aside = path.with_name(f"{path.name}.damaged")
        warnings.warn(f"{path} is damaged ({found}) and begun anew; it is now {aside}", RuntimeWarning, stacklevel=2)
        path.replace(aside)
        for beside in ("-wal", "-shm"):
            path.with_name(path.name + beside).unlink(missing_ok=True)


def _opened(path: Path | str) -> sqlite3.Connection:
    """The database, with its table made where there is none."""
    # Whichever thread lets go of a store last closes it.
    base = sqlite3.connect(path, timeout=_BUSY_TIMEOUT, isolation_level=None, check_same_thread=False)
    with ExitStack() as unusable:
        unusable.callback(base.close)
        (owner,), (tables,) = (
            base.execute(asked).fetchone() for asked in ("PRAGMA application_id", "SELECT count(*) FROM sqlite_master")
        )
        if tables and owner != _OWNER:
            raise ValueError(f"{path}: a database of something else")
        # Answers lost in a power failure are computed again; the file stays consistent.
        base.executescript("PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL")
        if not tables:
            base.execute(f"PRAGMA application_id = {_OWNER}")
            base.execute("CREATE TABLE IF NOT EXISTS answers (key BLOB NOT NULL UNIQUE, cells BLOB NOT NULL)")
        unusable.pop_all()
    return base


def _key(like: Likeness) -> tuple[bytes, bool]:
    """Digest of all that an answer hangs on, and whether the legs are exchanged."""
    scene, turned, *rates = cast("tuple[Any, ...]", like.content)
    content = msgspec.msgpack.encode((scene, rates))
    return hashlib.blake2b(content, key=_circumstances(), digest_size=32).digest(), turned


def _check(key: bytes, held: bytes) -> bytes:
    return hashlib.blake2b(held, key=key, digest_size=_CHECK).digest()
