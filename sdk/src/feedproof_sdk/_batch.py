"""Many reading sets: cut into pieces, each piece one request to the batch route. No input or output here.

The service answers while it is still being sent to, and a client of HTTP/1.1 that sends everything before it reads
would stall both. A piece is therefore no larger than what a server takes in before it stops listening.
"""

from collections import deque
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec
from msgspec import Struct

from feedproof_sdk import _answers, errors
from feedproof_sdk._exchange import Received, Sent
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import Retries
from feedproof_sdk.calls import NDJSON, ReadingSetLike, encode, reader
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.problem import Problem

LINES_AT_ONCE = 32
"""Most reading sets of one piece: some seconds of work for the service, so that the order costs little waiting."""
BYTES_AT_ONCE = 64 * 1024
"""Most bytes of one piece, unless one set alone is larger: what servers buffer before they stop reading."""
IN_FLIGHT = 4
"""Requests under way at once: enough for a service on a few cores, few enough for one client's connections."""
PATIENCE = 120.0
"""How long not a single answer may come, over all attempts [s]."""


class Failure(Struct, frozen=True):
    """A reading set that was not assessed."""

    index: int
    """Its place among those given, from 0."""
    reading_set: ReadingSetLike
    """As it was given, so that it can be mended and sent again."""
    error: errors.FeedproofError
    """Why: most often an `InvalidReadingSet`."""


Outcome = Assessment | Failure


class _Line(Struct, frozen=True):
    index: int
    reading_set: ReadingSetLike
    content: bytes
    error: errors.FeedproofError | None


class Piece:
    """Reading sets that go out in one request."""

    def __init__(self) -> None:
        self.lines: list[_Line] = []
        self.size = 0

    def takes(self, line: _Line) -> bool:
        """Tell whether another line may be added."""
        return not self.lines or (
            len(self.lines) < LINES_AT_ONCE and self.size + len(line.content) + 1 <= BYTES_AT_ONCE
        )

    def add(self, line: _Line) -> None:
        """Add a line."""
        self.lines.append(line)
        self.size += len(line.content) + 1


class Cutter:
    """Gathers reading sets into pieces."""

    def __init__(self) -> None:
        self._count = 0
        self._piece = Piece()

    def add(self, reading_set: ReadingSetLike) -> Piece | None:
        """Add a reading set; give the piece before it where that is full."""
        line = _write_line(self._count, reading_set)
        self._count += 1
        full = None
        if not self._piece.takes(line):
            full, self._piece = self._piece, Piece()
        self._piece.add(line)
        return full

    def rest(self) -> Piece | None:
        """Give what is left."""
        piece, self._piece = self._piece, Piece()
        return piece if piece.lines else None


def _write_line(index: int, reading_set: ReadingSetLike) -> _Line:
    try:
        # Between the tokens of a JSON document a line break is a space; inside of them there is none.
        content = encode(reading_set).replace(b"\n", b" ").replace(b"\r", b" ").strip()
    except errors.BadQuantity as error:
        return _Line(index, reading_set, b"null", error)
    # A blank line would be skipped and shift the answers of all others; `null` is refused by name.
    return _Line(index, reading_set, content or b"null", None)


def cut(reading_sets: Iterable[ReadingSetLike]) -> Iterator[Piece]:
    """Cut into pieces. Where the iterable raises, what came before it still goes out first."""
    cutter = Cutter()
    raised: Exception | None = None
    try:
        for reading_set in reading_sets:
            if full := cutter.add(reading_set):
                yield full
    except Exception as error:  # noqa: BLE001 - raised again below
        raised = error
    if rest := cutter.rest():
        yield rest
    if raised is not None:
        raise raised


class Progress:
    """How far a piece has been answered. After a cut connection only the rest is sent again.

    Parameters
    ----------
    piece : Piece
        What is to be answered.
    retries : Retries
        Waits between attempts.
    patience : float
        How long not a single answer may come [s].
    """

    def __init__(self, piece: Piece, retries: Retries, patience: float) -> None:
        self._waiting = deque(piece.lines)
        self._retries = retries
        self._patience = patience
        self._pacer = Pacer(retries, patience, endless=True)
        self._begun = b""
        self._answered_here = 0

    @property
    def done(self) -> bool:
        """Whether every line has been answered."""
        return not self._waiting

    def send(self) -> Sent:
        """Make the request for what has not been answered."""
        self._begun = b""
        self._answered_here = 0
        content = b"".join(line.content + b"\n" for line in self._waiting)
        return Sent("POST", "/v1/assessments/batch", NDJSON, content, NDJSON)

    def take(self, received: bytes) -> Iterator[Outcome]:
        """Take a piece of the answer; give what it completes."""
        *complete, self._begun = (self._begun + received).split(b"\n")
        for content in complete:
            if content.strip():
                yield self._outcome(content)

    def end(self) -> Iterator[Outcome]:
        """Take the end of the answer.

        Raises
        ------
        ConnectionFailed
            If lines are missing.
        """
        if self._waiting:
            # A line that was cut is no line; a whole one without its line break is.
            if self._begun.strip() and _is_whole(self._begun):
                yield self._outcome(self._begun)
            if self._waiting:
                raise errors.ConnectionFailed(f"the answer ended {len(self._waiting)} lines early")

    def wait_after(self, error: errors.FeedproofError) -> float:
        """Give the wait before the rest is sent again [s], or raise the error."""
        return self._pacer.wait_after(error)

    def _outcome(self, content: bytes) -> Outcome:
        if not self._waiting:
            raise errors.UnreadableAnswer("more lines came back than were sent", status=200, content=content)
        line = self._waiting[0]
        answer = line.error or _read_line(content, self._answered_here)
        self._waiting.popleft()
        self._answered_here += 1
        self._pacer = Pacer(self._retries, self._patience, endless=True)
        return Failure(line.index, line.reading_set, answer) if isinstance(answer, errors.FeedproofError) else answer


def _is_whole(content: bytes) -> bool:
    try:
        msgspec.json.decode(content, type=msgspec.Raw)
    except msgspec.DecodeError:
        return False
    return True


def _read_line(content: bytes, number: int) -> Assessment | errors.FeedproofError:
    read_assessment, read_problem = reader(Assessment), reader(Problem)
    try:
        return read_assessment(content)
    except msgspec.DecodeError as error:
        not_an_assessment = error
    try:
        problem = read_problem(content)
    except msgspec.DecodeError:
        message = f"line {number}: not what the contract says: {not_an_assessment}"
        return errors.UnreadableAnswer(message, status=200, content=content)
    if problem.line is not None and problem.line != number + 1:
        message = f"line {number + 1} of the answer is about line {problem.line}"
        raise errors.UnreadableAnswer(message, status=200, content=content)
    return errors.from_problem(problem)


def refuse(status: int, headers: Any, content: bytes) -> None:  # noqa: ANN401
    """Raise the error of a whole batch that is refused."""
    error = _answers.error_in(Received(status, headers, content))
    if error is not None:
        raise error


def check(in_flight: int, patience: float, failures: str) -> None:
    """Refuse options that make no sense before anything is sent."""
    if in_flight < 1:
        raise errors.BadSetting(f"in_flight is {in_flight}; give at least 1")
    if not 0.0 < patience < float("inf"):
        raise errors.BadSetting(f"patience is {patience}; give seconds above 0")
    if failures not in {"return", "raise"}:
        raise errors.BadSetting(f"failures is {failures!r}; give 'return' or 'raise'")


def settle(outcome: Outcome, failures: str) -> Outcome:
    """Raise a failure where that was chosen."""
    if failures == "raise" and isinstance(outcome, Failure):
        outcome.error.add_note(f"This is reading set {outcome.index} (from 0).")
        raise outcome.error
    return outcome
