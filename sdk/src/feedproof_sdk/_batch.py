"""Many reading sets: cut into pieces, each piece one request to the batch route. No input or output here.

The service answers while it is still being sent to, and a client of HTTP/1.1 that sends everything before it reads
would stall both. A piece is therefore no larger than what a server takes in before it stops listening.
"""

from collections import deque

import msgspec
from msgspec import Struct

from feedproof_sdk import _answers, errors
from feedproof_sdk._exchange import Headers, Received, Sent
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import Settings
from feedproof_sdk.calls import NDJSON, ReadingSetLike, encode, reader
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.problem import Problem

ROUTE = "/v1/assessments/batch"
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
        self._pieces: list[Piece] = [Piece()]
        self.ended = False

    def add(self, reading_set: ReadingSetLike) -> bool:
        """Add a reading set; tell whether a piece is full by it."""
        line = _write_line(self._count, reading_set)
        self._count += 1
        if not self._pieces[-1].takes(line):
            self._pieces.append(Piece())
        self._pieces[-1].add(line)
        return len(self._pieces) > 1

    def end(self) -> None:
        """Take note that there is nothing more."""
        self.ended = True

    def full(self) -> list[Piece]:
        """Give the pieces that are full, or all where there is nothing more."""
        pieces = self._pieces
        self._pieces = []
        if not self.ended:
            self._pieces.append(pieces.pop())
        return [piece for piece in pieces if piece.lines]


def _write_line(index: int, reading_set: ReadingSetLike) -> _Line:
    try:
        # Between the tokens of a JSON document a line break is a space; inside of them there is none.
        content = encode(reading_set).replace(b"\n", b" ").replace(b"\r", b" ").strip()
    except errors.BadQuantity as error:
        return _Line(index, reading_set, b"null", error)
    # A blank line would be skipped and shift the answers of all others; `null` is refused by name.
    return _Line(index, reading_set, content or b"null", None)


class Progress:
    """How far a piece has been answered. After a cut connection only the rest is sent again.

    Parameters
    ----------
    piece : Piece
        What is to be answered.
    settings : Settings
        How often it may be sent again.
    patience : float
        How long not a single answer may come [s].
    """

    def __init__(self, piece: Piece, settings: Settings, patience: float) -> None:
        self.outcomes: list[Outcome] = []
        self._waiting = deque(piece.lines)
        self._settings = settings
        self._patience = patience
        self._pacer = self._begin_waiting()
        self._begun = b""
        self._answered_here = 0
        self._answered: tuple[int, Headers] = (_answers.OK, Headers())

    def _begin_waiting(self) -> Pacer:
        return Pacer(self._settings, ROUTE, self._patience, endless=True)

    @property
    def done(self) -> bool:
        """Whether every line has been answered."""
        return not self._waiting

    def send(self) -> Sent:
        """Make the request for what has not been answered."""
        self._begun = b""
        self._answered_here = 0
        content = b"".join(line.content + b"\n" for line in self._waiting)
        return Sent("POST", ROUTE, NDJSON, content, NDJSON)

    def begin(self, status: int, headers: Headers) -> None:
        """Take the head of the answer."""
        self._answered = status, headers

    def take(self, received: bytes) -> None:
        """Take a piece of the answer."""
        if self._answered[0] != _answers.OK:
            self._begun += received
            return
        *complete, self._begun = (self._begun + received).split(b"\n")
        for content in complete:
            if content.strip():
                self._read(content)

    def end(self) -> None:
        """Take the end of the answer.

        Raises
        ------
        ConnectionFailed
            If lines are missing.
        ProblemAnswer, UnreadableAnswer
            If the whole batch is refused.
        """
        status, headers = self._answered
        if failed := _answers.error_in(Received(status, headers, self._begun)):
            raise failed
        # A line that was cut is no line; a whole one without its line break is.
        if self._waiting and self._begun.strip() and _is_whole(self._begun):
            self._read(self._begun)
        if self._waiting:
            raise errors.ConnectionFailed(f"the answer ended {len(self._waiting)} lines early")

    def wait_after(self, error: errors.FeedproofError) -> float:
        """Give the wait before the rest is sent again [s], or raise the error."""
        return self._pacer.wait_after(error)

    def _read(self, content: bytes) -> None:
        if not self._waiting:
            raise errors.UnreadableAnswer("more lines came back than were sent", status=200, content=content)
        line = self._waiting[0]
        answer = line.error or _read_line(content, self._answered_here + 1)
        self._waiting.popleft()
        self._answered_here += 1
        self._pacer = self._begin_waiting()
        if isinstance(answer, errors.FeedproofError):
            self.outcomes.append(Failure(line.index, line.reading_set, answer))
        else:
            self.outcomes.append(_answers.with_id(answer, self._answered[1]))


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
    if problem.line is not None and problem.line != number:
        message = f"line {number} of the answer is about line {problem.line}"
        raise errors.UnreadableAnswer(message, status=200, content=content)
    return errors.from_problem(problem)


def check(in_flight: int, patience: float) -> None:
    """Refuse options that make no sense before anything is sent."""
    if in_flight < 1:
        raise errors.BadSetting(f"in_flight is {in_flight}; give at least 1")
    if not 0.0 < patience < float("inf"):
        raise errors.BadSetting(f"patience is {patience}; give seconds above 0")
