"""Why a request was not answered (RFC 9457). Raised as `feedproof_sdk.errors.ProblemAnswer`."""

from msgspec import Struct


class RequestFault(Struct, frozen=True, kw_only=True):
    """One thing that is wrong with a request."""

    pointer: str
    """JSON pointer (RFC 6901) to the faulty value; empty: the whole body."""
    code: str
    """What is wrong, as a word that programs can act on. The list may grow."""
    detail: str
    accepted: tuple[str, ...]
    """What is accepted there."""
    value: str | float | bool | None = None
    """The faulty value, shortened where it is long; None: none was given."""


class Problem(Struct, frozen=True, kw_only=True):
    """Problem details."""

    type: str
    title: str
    status: int
    detail: str
    instance: str
    """This occurrence: a URN of the request id, which is also in the service's log."""
    errors: tuple[RequestFault, ...] = ()
    """Every fault of the request."""
    line: int | None = None
    """In a batch: the line that the problem is about, from 1."""
    reference: str | None = None
    """In a batch: the line's own reference, where it could be read."""
