"""Everything that this package raises of its own.

FeedproofError
├── BadSetting                    the client was set up with something it cannot use (also a ValueError)
├── BadQuantity                   a value that is no number, no text and no quantity of that kind (also a ValueError)
├── NoAnswer                      the network: nothing may be concluded, sending again is safe
│   ├── ConnectionFailed          not reached, or cut off
│   └── TimedOut                  not answered in time (also a TimeoutError)
├── UnreadableAnswer              answered, but not as the contract says
└── ProblemAnswer                 answered with problem details (RFC 9457)
    ├── Refused                   4xx: the request is at fault
    │   ├── MalformedRequest      400
    │   ├── Unauthorized          401, 403
    │   ├── NotFound              404, 405: another service, or an older one
    │   ├── NotNegotiated         406, 415: the service does not offer this form
    │   ├── RequestCutOff         408: the service gave up waiting for the rest of the request
    │   ├── ContentTooLarge       413, 431
    │   ├── InvalidReadingSet     422: `errors` has every fault
    │   └── TooManyRequests       429: `retry_after`
    └── ServiceFailed             5xx: the service is at fault
        ├── InternalError         500
        ├── TimeLimitExceeded     500: the same request would take as long again
        └── Overloaded            503: `retry_after`

Each status of the service has its class, and the one problem type that shares a status. All of them can be pickled.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from feedproof_sdk.types.problem import Problem, RequestFault


class FeedproofError(Exception):
    """Whatever this package raises."""

    def __reduce__(self) -> tuple[Any, ...]:
        # By `__new__`, which keeps the arguments: those of `__init__` are others.
        return type(self).__new__, (type(self), *self.args), self.__dict__


class BadSetting(FeedproofError, ValueError):
    """The client was set up with something it cannot use."""


class BadQuantity(FeedproofError, ValueError):
    """A value that is no finite number, no text, and no quantity of the kind that is asked for."""


class NoAnswer(FeedproofError):
    """The network. Nothing may be concluded about the supply; sending again is safe."""


class ConnectionFailed(NoAnswer):
    """The service was not reached, or the connection was cut before the answer was whole."""


class TimedOut(NoAnswer, TimeoutError):
    """The service did not answer in time."""


class UnreadableAnswer(FeedproofError):
    """Something answered, but not as the contract says: most often another server at that address.

    Attributes
    ----------
    status : int
        HTTP status code.
    content : bytes
        What was answered.
    """

    def __init__(self, message: str, *, status: int, content: bytes) -> None:
        super().__init__(message)
        self.status = status
        self.content = content


class ProblemAnswer(FeedproofError):
    """The service answered with problem details.

    Attributes
    ----------
    problem : Problem
        As it came.
    headers : mapping of str to str
        Of the answer, names in any case.
    """

    def __init__(self, problem: Problem, headers: Mapping[str, str] | None = None) -> None:
        self.problem = problem
        self.headers: Mapping[str, str] = {} if headers is None else headers
        super().__init__(_in_words(problem, self.request_id))

    @property
    def status(self) -> int:
        """HTTP status code."""
        return self.problem.status

    @property
    def request_id(self) -> str:
        """Id of the request in the service's log: what to report to whoever runs it. Empty: it was refused unread."""
        return self.headers.get("request-id") or self.problem.instance.partition("urn:uuid:")[2]


class Refused(ProblemAnswer):
    """The request is at fault."""


class MalformedRequest(Refused):
    """The body is no JSON document."""


class Unauthorized(Refused):
    """The service asks for a key that it knows: `api_key`, or `FEEDPROOF_API_KEY`."""


class NotFound(Refused):
    """Nothing of the kind is at this address: another service, an older one, or a wrong base URL."""


class ContentTooLarge(Refused):
    """The reading set, or a header, is larger than the service takes."""


class NotNegotiated(Refused):
    """The service does not take or give this media type."""


class InvalidReadingSet(Refused):
    """The reading set is not valid; nothing was computed."""

    @property
    def errors(self) -> tuple[RequestFault, ...]:
        """Every fault of the request, each with a JSON pointer, what is wrong, and what is accepted."""
        return self.problem.errors


class RequestCutOff(Refused):
    """The service gave up waiting for the rest of the request. Sending it again is safe."""


class _ComeBackLater:
    headers: Mapping[str, str]

    @property
    def retry_after(self) -> float | None:
        """Time after which the service would like to be asked again [s]; None: it does not say."""
        return seconds_to_wait(self.headers.get("retry-after"))


class TooManyRequests(_ComeBackLater, Refused):
    """The caller has sent more than it may."""


class ServiceFailed(ProblemAnswer):
    """The service is at fault. Nothing may be concluded about the supply."""


class InternalError(ServiceFailed):
    """The service failed on this request; the same request would fail again."""


class TimeLimitExceeded(ServiceFailed):
    """The answer was not ready in the time that a request may take there; the same request would take as long again."""


class Overloaded(_ComeBackLater, ServiceFailed):
    """The service has as much work as it takes on, or is still starting."""


BY_STATUS: Mapping[int, type[ProblemAnswer]] = {
    400: MalformedRequest, 401: Unauthorized, 403: Unauthorized, 404: NotFound, 405: NotFound, 406: NotNegotiated,
    408: RequestCutOff, 413: ContentTooLarge, 415: NotNegotiated, 422: InvalidReadingSet, 429: TooManyRequests,
    431: ContentTooLarge, 500: InternalError, 503: Overloaded,
}  # fmt: skip
"""Class of each status; of one that is not known it is `Refused` or `ServiceFailed`."""


def from_problem(problem: Problem, headers: Mapping[str, str] | None = None) -> ProblemAnswer:
    """Make the error that a problem stands for.

    Parameters
    ----------
    problem : Problem
        As it came.
    headers : mapping of str to str, optional
        Of the answer.

    Returns
    -------
    ProblemAnswer
        Of the class of its status, or of the one type that shares a status.
    """
    if problem.type.endswith("/time-limit-exceeded"):
        return TimeLimitExceeded(problem, headers)
    other = Refused if problem.status < 500 else ServiceFailed  # noqa: PLR2004
    return BY_STATUS.get(problem.status, other)(problem, headers)


def seconds_to_wait(retry_after: str | None) -> float | None:
    """Read a Retry-After header: seconds, or a date; None where it says nothing that can be read [s].

    References
    ----------
    RFC 9110, HTTP Semantics, 10.2.3.
    """
    if retry_after is None:
        return None
    text = retry_after.strip()
    if text.isascii() and text.isdigit():
        return float(text[:9])
    from email.utils import parsedate_to_datetime  # noqa: PLC0415 - takes long to load, for what is seldom sent

    try:
        when = parsedate_to_datetime(text)
    except ValueError:
        return None
    if when.tzinfo is None:
        when = when.replace(tzinfo=UTC)
    return max(0.0, (when - datetime.now(UTC)).total_seconds())


def _in_words(problem: Problem, request_id: str) -> str:
    lines = [f"{problem.title} ({problem.status}): {problem.detail}"]
    for fault in problem.errors:
        given = "" if fault.value is None else f" (given: {fault.value!r})"
        accepted = f"; accepted: {', '.join(fault.accepted)}" if fault.accepted else ""
        lines.append(f"  {fault.pointer or '(the whole body)'}: {fault.detail}{given}{accepted}")
    return "\n".join(lines + [f"  request id {request_id}"] * bool(request_id))
