"""From what came back to a value or an error."""

from typing import Generic, TypeVar

import msgspec
from msgspec import Struct

from feedproof_sdk import errors
from feedproof_sdk._exchange import Headers, Received
from feedproof_sdk.calls import Call
from feedproof_sdk.types.answer import Answer
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
    headers: Headers
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
        try:
            value = self.call.read(self.content)
        except (msgspec.DecodeError, UnicodeError) as error:
            sent = self.call.sent
            message = f"{sent.method} {sent.path}: not what the contract says: {error}; {_shown(self.content)}"
            raise errors.UnreadableAnswer(message, status=self.status, content=self.content) from None
        return with_id(value, self.headers)


def with_id(value: T, headers: Headers) -> T:
    """Let an answer say under which id the service's log has its request."""
    if isinstance(value, Answer):
        vars(value)["request_id"] = headers.get("request-id")
    return value


def error_in(received: Received) -> errors.FeedproofError | None:
    """Make the error that an answer stands for; None: it stands for none."""
    status, headers, content = received
    if status == OK:
        return None
    if status >= FIRST_ERROR:
        return errors.from_problem(problem_of(status, headers, content), headers)
    to = f" to {headers['location']}" if "location" in headers else ""
    return errors.UnreadableAnswer(
        f"status {status}{to}: not what the contract says; {_shown(content)}", status=status, content=content
    )


def problem_of(status: int, headers: Headers, content: bytes) -> Problem:
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
    from http import HTTPStatus  # noqa: PLC0415 - takes long to load

    try:
        title = HTTPStatus(status).phrase
    except ValueError:
        title = f"Status {status}"
    detail = f"answered without problem details: {_shown(content)}"
    return Problem(type="about:blank", title=title, status=status, detail=detail, instance="")


def _shown(content: bytes) -> str:
    text = content[: 4 * SHOWN].decode(errors="replace")
    return repr(text if len(text) <= SHOWN else text[:SHOWN] + " ...")
