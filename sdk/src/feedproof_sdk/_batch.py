"""Many reading sets: cut into pieces, each piece one request to the batch route. No input or output here.

The service answers while it is still being sent to, and a client of HTTP/1.1 that sends everything before it reads
would stall both. A piece is therefore no larger than what a server takes in before it stops listening.
"""

from collections import deque
from collections.abc import Mapping
from contextlib import suppress

import msgspec
from msgspec import Struct

from feedproof_sdk import _answers, errors
from feedproof_sdk._requests import BATCH, NDJSON, ReadingSetLike, Sent, encode
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import Settings
from feedproof_sdk.types.answer import Response
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
        self.raised: Exception | None = None
        """What the caller's iterable raised after them."""


class Cutter:
    """Gathers reading sets into pieces."""

    def __init__(self) -> None:
        self._count = 0
        self.piece = Piece()
        """The one that is not full."""

    def add(self, reading_set: ReadingSetLike) -> Piece | None:
        """Add a reading set; give the piece that it did not fit into."""
        line = _write_line(self._count, reading_set)
        self._count += 1
        full, size = None, len(line.content) + 1
        if len(self.piece.lines) == LINES_AT_ONCE or (self.piece.lines and self.piece.size + size > BYTES_AT_ONCE):
            full, self.piece = self.piece, Piece()
        self.piece.lines.append(line)
        self.piece.size += size
        return full


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
        self._status = _answers.OK
        self._headers: Mapping[str, str] = {}

    def _begin_waiting(self) -> Pacer:
        return Pacer(self._settings, BATCH, self._patience, endless=True)

    @property
    def done(self) -> bool:
        """Whether every line has been answered."""
        return not self._waiting

    def send(self) -> Sent:
        """Make the request for what has not been answered."""
        self._begun = b""
        self._answered_here = 0
        content = b"".join(line.content + b"\n" for line in self._waiting)
        return Sent("POST", BATCH, NDJSON, content, NDJSON)

    def begin(self, status: int, headers: Mapping[str, str]) -> None:
        """Take the head of the answer."""
        self._status, self._headers = status, headers

    def take(self, received: bytes) -> None:
        """Take a piece of the answer."""
        if self._status != _answers.OK:
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
        _answers.raise_error_in(self._response(self._begun))
        # A line that was cut is no line; a whole one without its line break is.
        with suppress(msgspec.DecodeError):
            msgspec.json.decode(self._begun, type=msgspec.Raw)
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
            self.outcomes.append(_answers.with_response(answer, self._response(content)))

    def _response(self, content: bytes) -> Response:
        return Response(self._status, self._headers, content, self._pacer.attempts)


def _read_line(content: bytes, number: int) -> Assessment | errors.FeedproofError:
    try:
        return msgspec.json.decode(content, type=Assessment)
    except msgspec.DecodeError as error:
        not_an_assessment = error
    try:
        problem = msgspec.json.decode(content, type=Problem)
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
