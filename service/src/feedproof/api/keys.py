"""Keys of callers: made here, kept as digests, their file read again and again.

A key holds 256 random bits, so a plain SHA-256 of it is as strong as any slower digest: there is nothing to guess.
The file has one line per key, `CLIENT ID SHA-256`; a client may have several, so that a new one can be handed out
before the old one is taken away. Lines that start with `#` are remarks.
"""

import hashlib
import hmac
import math
import os
import re
import secrets
import stat
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from msgspec import Struct

from feedproof.telemetry.logging import logger

PREFIX = "fp"
RECHECK = 1.0
"""How often the file is read, at most [s]. A file system may not tell of a change, and a file of keys is small."""
REMIND = 60.0
"""How often the log says that the file still cannot be read [s]."""

_CLIENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_ID = re.compile(r"[0-9a-f]{8}")
_DIGEST = re.compile(r"[0-9a-fA-F]{64}")


class Key(Struct, frozen=True, kw_only=True):
    """One key, without the key itself."""

    client: str
    """Whose it is; a name of the operator's choice."""
    id: str
    """Tells the keys of a client apart; no secret, and the same as in the key's text."""
    digest: bytes
    """SHA-256 of the key's text, hexadecimal."""

    @property
    def line(self) -> str:
        """As the file holds it."""
        return f"{self.client} {self.id} {self.digest.decode('ascii')}"


def digest(text: str) -> bytes:
    """SHA-256 of a key's text, hexadecimal."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest().encode("ascii")


def make_key(client: str) -> tuple[str, Key]:
    """Make a key.

    Parameters
    ----------
    client : str
        Letters, digits, `.`, `_` and `-`, at most 64.

    Returns
    -------
    tuple of str and Key
        The text, which is to be had this once only, and what is kept of it.

    Raises
    ------
    ValueError
        If the name has another form.
    """
    if not _CLIENT.fullmatch(client):
        raise ValueError("a client's name has letters, digits, '.', '_' and '-', at most 64, a letter or digit first")
    identity = secrets.token_hex(4)
    text = f"{PREFIX}_{identity}_{secrets.token_urlsafe(32)}"
    return text, Key(client=client, id=identity, digest=digest(text))


def parse_keys(text: str) -> tuple[Key, ...]:
    """Read the lines of a key file.

    Raises
    ------
    ValueError
        With the number of the first line that is none; never with what stands there, which may be a key.
    """
    keys = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        parts = line.split()
        shapes = (_CLIENT, _ID, _DIGEST)
        if len(parts) != len(shapes) or not all(map(re.Pattern.fullmatch, shapes, parts)):
            raise ValueError(f"line {number} is not 'CLIENT ID SHA-256'")
        keys.append(Key(client=parts[0], id=parts[1], digest=parts[2].lower().encode("ascii")))
    return tuple(keys)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise ValueError(f"{path}: {error.strerror}") from None


def _keys_in(raw: bytes, path: Path) -> tuple[Key, ...]:
    try:
        return parse_keys(raw.decode())
    except UnicodeDecodeError:
        raise ValueError(f"{path}: not UTF-8") from None
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from None


def read_keys(path: Path) -> tuple[Key, ...]:
    """Read a key file.

    Raises
    ------
    ValueError
        If it cannot be read or a line is none.
    """
    return _keys_in(_read(path), path)


def append_key(path: Path, key: Key) -> None:
    """Add a key to a file, which is made where it is not there, readable to its owner only."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    with os.fdopen(descriptor, "ab") as file:
        file.write(f"{key.line}\n".encode())


def remove_key(path: Path, identity: str) -> None:
    """Take a key out of a file, in one step, so that a service that reads it sees it whole.

    Owner, group and mode stay: a service that could read the file before can read it afterwards.

    Raises
    ------
    ValueError
        If there is no such key, or a line is none.
    OSError
        If the file cannot be written, or not with its owner.
    """
    # Behind a link the file itself is replaced, not the link.
    path = path.resolve()
    raw = _read(path)
    if identity not in {key.id for key in _keys_in(raw, path)}:
        raise ValueError(f"{path}: no key {identity!r}")
    kept = [line for line in raw.decode().splitlines() if identity not in line.split()[1:2]]
    before = path.stat()
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(descriptor, "wb") as file:
            own = os.fstat(descriptor)
            if (own.st_uid, own.st_gid) != (before.st_uid, before.st_gid):
                os.fchown(descriptor, before.st_uid, before.st_gid)
            os.fchmod(descriptor, stat.S_IMODE(before.st_mode))
            file.write("".join(f"{line}\n" for line in kept).encode())
        fresh.replace(path)
    except OSError:
        fresh.unlink()
        raise


class KeyBook:
    """All keys that may call.

    Parameters
    ----------
    digests : iterable of str
        SHA-256 of keys without a client's name, hexadecimal.
    path : Path or None
        Key file. While it cannot be read later, the keys that were read before stay in force.
    clock : callable
        Seconds that never go back.

    Raises
    ------
    ValueError
        If the file cannot be read to begin with.
    """

    def __init__(
        self, digests: Iterable[str] = (), path: Path | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._fixed = tuple(
            Key(client=f"key-{given[:8].lower()}", id=given[:8].lower(), digest=given.lower().encode("ascii"))
            for given in digests
        )
        self._path = path
        self._clock = clock
        self._checked = clock()
        self._raw = b""
        self._filed: tuple[Key, ...] = ()
        self._failing_since = self._told = -math.inf
        self.failures = 0
        """How often the file could not be read."""
        if path is not None:
            self._raw = _read(path)
            self._filed = _keys_in(self._raw, path)

    @property
    def asked_for(self) -> bool:
        """Whether a key is needed at all."""
        return bool(self._fixed) or self._path is not None

    def refresh(self) -> None:
        """Read the file again, unless that was done just now. One that cannot be read is tried again the next time."""
        now = self._clock()
        if self._path is None or now - self._checked < RECHECK:
            return
        self._checked = now
        try:
            raw = _read(self._path)
            if raw == self._raw and not self.failing:
                return
            self._filed, self._raw = _keys_in(raw, self._path), raw
        except ValueError as error:
            self._fail(now, str(error))
        else:
            self._failing_since = self._told = -math.inf
            logger().info("key_file_read", keys=len(self._filed))

    @property
    def failing(self) -> bool:
        """Whether the file could not be read the last time, so that keys that were revoked may still be in force."""
        return self._failing_since > -math.inf

    def _fail(self, now: float, reason: str) -> None:
        self.failures += 1
        if not self.failing:
            self._failing_since = now
        if now - self._told >= REMIND:
            self._told = now
            logger().error("key_file_unreadable", reason=reason, for_s=round(now - self._failing_since))

    def find(self, text: str) -> Key | None:
        """Find the key that was sent, in a time that does not tell how much of it is right."""
        self.refresh()
        sent = digest(text)
        found = None
        for key in (*self._fixed, *self._filed):
            if hmac.compare_digest(sent, key.digest):
                found = key
        return found
