"""How far a long run is, how fast it goes, and how long it will take."""

import sys
import time
from typing import TextIO

_EVERY = 30.0
_WIDTH = 79


class Progress:
    """A line that is written over on a terminal; elsewhere one now and then.

    Parameters
    ----------
    stream : file, optional
        Where to tell; standard error.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._over = self._stream.isatty()
        self._start = self._told = time.monotonic()
        self._before: int | None = None

    def show(self, done: int, total: int) -> None:
        """Tell where the run stands.

        Parameters
        ----------
        done : int
            Sets done, those of earlier runs among them; of the first call, those alone: they do not count for the rate.
        total : int
            Sets in all.
        """
        self._before = done if self._before is None else self._before
        now = time.monotonic()
        rate, left = pace(done - self._before, total - done, now - self._start)
        line = f"{done} of {total} sets, {rate}, {left} left"
        if self._over:
            self._stream.write(f"\r{line:<{_WIDTH}}")
        elif now - self._told >= _EVERY:
            self._told = now
            self._stream.write(f"{line}\n")
        self._stream.flush()

    def close(self) -> None:
        """Leave the terminal as it was."""
        if self._over:
            self._stream.write(f"\r{'':{_WIDTH}}\r")


def pace(done: int, left: int, seconds: float) -> tuple[str, str]:
    """Rate and remaining time in words.

    Parameters
    ----------
    done : int
        Sets done in this run.
    left : int
        Sets still to do.
    seconds : float
        Since it began [s].

    Returns
    -------
    rate, left : str
        Such as `"52 sets/s"` and `"2:31:07"`.
    """
    if done <= 0 or seconds <= 0.0:
        return "- sets/s", "-:--:--"
    rate = done / seconds
    whole = round(left / rate)
    clock = f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    return f"{rate:.3g} sets/s" if rate < 100 else f"{rate:.0f} sets/s", clock  # noqa: PLR2004
