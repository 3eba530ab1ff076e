"""How far a long run is, how fast it goes, and how long it will take."""

import sys
import time
from collections.abc import Callable
from typing import Any, TextIO

_EVERY = 30.0


class Progress:
    """A bar on a terminal; elsewhere a line now and then.

    Parameters
    ----------
    stream : file, optional
        Where to tell; standard error.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._start, self._before = time.monotonic(), 0
        self._told = self._start
        self._bar: Any = _bar(self._stream) if self._stream.isatty() else None
        self._task: Any = None
        if self._bar is not None:
            self._bar.start()
            self._task = self._bar.add_task("", total=None, rate="", left="")

    def begin(self, done: int) -> None:
        """Note how many sets an earlier run has done: they do not count for the rate."""
        self._before = done

    def show(self, done: int, total: int) -> None:
        """Tell where the run stands.

        Parameters
        ----------
        done : int
            Sets done, those of earlier runs among them.
        total : int
            Sets in all, as far as is known by now.
        """
        now = time.monotonic()
        total = max(total, done, 1)
        rate, left = pace(done - self._before, total - done, now - self._start)
        if self._bar is not None:
            self._bar.update(self._task, completed=done, total=total, rate=rate, left=left)
        elif now - self._told >= _EVERY:
            self._told = now
            self._stream.write(f"{done} of about {total} sets, {rate}, {left} left\n")
            self._stream.flush()

    def close(self) -> None:
        """Leave the terminal as it was."""
        if self._bar is not None:
            self._bar.stop()


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


def _bar(stream: TextIO) -> Any:  # noqa: ANN401
    from rich.console import Console  # noqa: PLC0415 - only a terminal needs it
    from rich.progress import BarColumn, MofNCompleteColumn, TaskProgressColumn, TextColumn  # noqa: PLC0415
    from rich.progress import Progress as Bar  # noqa: PLC0415

    columns: list[Callable[[], Any]] = [
        BarColumn,
        TaskProgressColumn,
        MofNCompleteColumn,
    ]
    made = [column() for column in columns]
    return Bar(
        *made,
        TextColumn("{task.fields[rate]}"),
        TextColumn("{task.fields[left]} left"),
        console=Console(file=stream),
        refresh_per_second=4,
    )
