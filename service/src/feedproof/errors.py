"""Everything that the package raises on purpose. Knows nothing of HTTP.

::

    FeedproofError
    ├── RequestError            the caller's doing
    │   ├── MalformedRequest    no JSON document in UTF-8
    │   ├── TooLarge            the body unpacks to more than is taken
    │   ├── RefusedRequest      a JSON document, but no valid request; lists its faults
    │   └── SimulationError     a valid request for a circuit that the model does not have
    └── ServiceError            ours
        ├── Interrupted         nobody waits for the answer any more
        ├── NotReady            it is starting or stopping; worth trying again
        └── Overloaded          more work than the service takes on; worth trying again
"""

from collections.abc import Sequence

from feedproof.contract.problem import MAX_FAULTS, RequestFault


class FeedproofError(Exception):
    """Base of every error of this package."""


class RequestError(FeedproofError):
    """The request is at fault."""


class MalformedRequest(RequestError):
    """The body is no JSON document in UTF-8."""


class TooLarge(RequestError):
    """The body unpacks to more than the service takes."""


class RefusedRequest(RequestError):
    """The body is a JSON document, but no valid request."""

    def __init__(self, faults: Sequence[RequestFault]) -> None:
        self.faults = list(faults[:MAX_FAULTS])
        self.count = len(faults)
        """How many there are; the first hundred are kept."""
        more = f", of which the first {MAX_FAULTS} are told" if self.count > MAX_FAULTS else ""
        super().__init__(f"{self.count} fault{'' if self.count == 1 else 's'} in the request{more}")


class SimulationError(RequestError):
    """The stated fault or value is not one that the model has on the stated circuit."""

    def __init__(self, field: str, detail: str) -> None:
        self.field = field
        """Field of the request."""
        self.detail = detail
        """What is had instead."""
        super().__init__(f"{field}: {detail}")


class ServiceError(FeedproofError):
    """The service is at fault."""


class Interrupted(ServiceError):
    """The computation was ended: nobody waits for its answer any more."""


class NotReady(ServiceError):
    """The service is starting, or about to stop."""

    retry_after = 2
    """When to try again [s]."""

    def __init__(self, what: str) -> None:
        super().__init__(f"the service is {what}")


class Overloaded(ServiceError):
    """The service has as much work as it takes on."""

    def __init__(self, retry_after: int, what: str = "the service has as much work as it takes on") -> None:
        self.retry_after = retry_after
        """When to try again [s]."""
        super().__init__(what)
