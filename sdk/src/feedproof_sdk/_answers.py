"""From what came back to a value or an error."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Generic, TypeVar

import msgspec
from msgspec import Struct

from feedproof_sdk import errors
from feedproof_sdk._exchange import Received
from feedproof_sdk.calls import Call
from feedproof_sdk.types.problem import Problem

T = TypeVar("T")

OK = 200
FIRST_ERROR = 400
SHOWN = 200
"""Characters of a foreign answer that a message shows."""


class RawResponse(Struct, Generic[T], frozen=True):
    """An answer as it came, for those who need more than its value."""

    call: Call[T]
    status: int
    headers: Mapping[str, str]
    """Names in any case."""
    content: bytes
    """After content decoding."""
    attempts: int
    """How many it took, this one included."""

    @property
    def request_id(self) -> str | None:
        """Id of the request in the service's log."""
        return self.headers.get("request-id")

    def parse(self) -> T:
        """Read the value.

        Raises
        ------
        UnreadableAnswer
            If it is not what the contract says.
        """
        return read(self.call, self.status, self.content)


def read(call: Call[T], status: int, content: bytes) -> T:
    """Read the value of a content."""
    try:
        return call.read(content)
    except (msgspec.DecodeError, UnicodeError) as error:
        message = f"{call.sent.method} {call.sent.path}: not what the contract says: {error}; {_shown(content)}"
        raise errors.UnreadableAnswer(message, status=status, content=content) from None


def error_in(received: Received) -> errors.FeedproofError | None:
    """Make the error that an answer stands for; None: it stands for none."""
    status, headers, content = received
    if status == OK:
        return None
    lowered = {name.lower(): value for name, value in headers.items()}
    if status >= FIRST_ERROR:
        return errors.from_problem(problem_of(status, lowered, content), lowered)
    to = f" to {lowered['location']}" if "location" in lowered else ""
    return errors.UnreadableAnswer(
        f"status {status}{to}: not what the contract says; {_shown(content)}", status=status, content=content
    )


def problem_of(status: int, headers: Mapping[str, str], content: bytes) -> Problem:
    """Read problem details; where something between answered without them, make those of its status.

    References
    ----------
    RFC 9457, 4.2.1 (about:blank).
    """
    if headers.get("content-type", "").partition(";")[0].strip().lower() == "application/problem+json":
        try:
            return msgspec.json.decode(content, type=Problem)
        except msgspec.DecodeError:
            pass
    try:
        title = HTTPStatus(status).phrase
    except ValueError:
        title = f"Status {status}"
    return Problem(
        type="about:blank",
        title=title,
        status=status,
        detail=f"answered without problem details: {_shown(content)}",
        instance="",
    )


def _shown(content: bytes) -> str:
    text = content[: 4 * SHOWN].decode(errors="replace")
    return repr(text if len(text) <= SHOWN else text[:SHOWN] + " ...")
