"""From what came back to a value or an error."""

from typing import TypeVar

import msgspec

from feedproof_sdk import errors
from feedproof_sdk._requests import Sent
from feedproof_sdk.types.answer import Answer, Note, Response
from feedproof_sdk.types.problem import Problem

A = TypeVar("A", bound=Answer)

OK = 200
FIRST_ERROR = 400
SHOWN = 200
"""Characters of a foreign answer that a message shows."""


def read(sent: Sent, response: Response, kind: type[A]) -> A:
    """Read the value.

    Raises
    ------
    ProblemAnswer
        If it is a problem.
    UnreadableAnswer
        If it is not what the contract says.
    """
    raise_error_in(response)
    try:
        content = response.content
        value = kind(content) if issubclass(kind, Note) else msgspec.json.decode(content, type=kind)
        return with_response(value, response)
    except msgspec.DecodeError as error:
        message = f"{sent.method} {sent.path}: not what the contract says: {error}; {_shown(response.content)}"
        raise errors.UnreadableAnswer(message, status=response.status, content=response.content) from None


def with_response(value: A, response: Response) -> A:
    """Let an answer say how it came."""
    vars(value)["response"] = response
    return value


def raise_error_in(response: Response) -> None:
    """Raise the error that an answer stands for, where it stands for one."""
    if response.status >= FIRST_ERROR:
        raise errors.from_problem(problem_of(response), response.headers)
    if response.status != OK:
        to = f" to {response.headers['location']}" if "location" in response.headers else ""
        message = f"status {response.status}{to}: not what the contract says; {_shown(response.content)}"
        raise errors.UnreadableAnswer(message, status=response.status, content=response.content)


def problem_of(response: Response) -> Problem:
    """Read problem details; where something between answered without them, make those of its status.

    References
    ----------
    RFC 9457, 4.2.1 (about:blank).
    """
    if response.headers.get("content-type", "").partition(";")[0].strip().lower() == "application/problem+json":
        try:
            return msgspec.json.decode(response.content, type=Problem)
        except msgspec.DecodeError:
            pass
    from http import HTTPStatus  # noqa: PLC0415 - takes long to load

    try:
        title = HTTPStatus(response.status).phrase
    except ValueError:
        title = f"Status {response.status}"
    detail = f"answered without problem details: {_shown(response.content)}"
    return Problem(type="about:blank", title=title, status=response.status, detail=detail, instance="")


def _shown(content: bytes) -> str:
    text = content[: 4 * SHOWN].decode(errors="replace")
    return repr(text if len(text) <= SHOWN else text[:SHOWN] + " ...")
