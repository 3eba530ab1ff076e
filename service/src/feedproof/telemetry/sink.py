"""Where log lines go: a thread of its own, so that neither a full disk nor a reader that stalls holds a request up.

Lines that cannot be written are counted and let go; the service is worth more than its log.
"""

import os
import threading
import time
from collections import deque

GATHER = 0.01
"""How long lines are gathered before they are written together [s]."""
LONGEST = 10_000
"""Lines that may wait for a reader that stalls."""


class Sink:
    """Writes lines to a file descriptor, in order.

    Parameters
    ----------
    descriptor : int
        Where to; stays open.
    longest : int
        Lines that may wait.
    """

    def __init__(self, descriptor: int, longest: int = LONGEST) -> None:
        self._descriptor = descriptor
        self._longest = longest
        self._waiting: deque[bytes] = deque()
        self._wake = threading.Event()
        self._idle = threading.Event()
        self._idle.set()
        self.lost = 0
        """Lines that were let go."""
        threading.Thread(target=self._write_all, name="log", daemon=True).start()

    def write(self, text: str) -> None:
        """Take a line, and be back at once."""
        if len(self._waiting) >= self._longest:
            self.lost += 1
            return
        self._idle.clear()
        self._waiting.append(text.encode("utf-8", "backslashreplace"))
        self._wake.set()

    def flush(self) -> None:
        """Do nothing: lines are on their way already."""

    def close(self, longest: float = 2.0) -> None:
        """Wait until what was taken is written.

        Parameters
        ----------
        longest : float
            How long at most [s].
        """
        deadline = time.monotonic() + longest
        while self._waiting and time.monotonic() < deadline:
            self._idle.wait(max(0.0, deadline - time.monotonic()))
        self._idle.wait(max(0.0, deadline - time.monotonic()))

    def _write_all(self) -> None:
        # An event that is never set: `time.sleep` fails under a fake clock and would end the thread.
        pause = threading.Event()
        while True:
            self._wake.wait()
            self._wake.clear()
            while self._waiting:
                # Several lines in one call, up to what a pipe takes as one piece.
                piece = self._waiting.popleft()
                while self._waiting and len(piece) + len(self._waiting[0]) <= 4096:  # noqa: PLR2004
                    piece += self._waiting.popleft()
                self._write(piece)
            self._idle.set()
            # Waking the thread for every line would cost the event loop as much as making the line.
            pause.wait(GATHER)

    def _write(self, piece: bytes) -> None:
        rest = memoryview(piece)
        try:
            while rest:
                rest = rest[os.write(self._descriptor, rest) :]
        except OSError:
            self.lost += max(1, bytes(rest).count(b"\n"))
