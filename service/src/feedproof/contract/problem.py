"""What goes over the wire when a request cannot be answered.

References
----------
RFC 9457, Problem Details for HTTP APIs. RFC 6901, JSON Pointer.
"""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.words import example

MEDIA_TYPE = "application/problem+json"
MAX_FAULTS = 100
"""How many faults of one request are told."""


class RequestFault(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing that is wrong with a request."""

    pointer: Annotated[str, example("/readings/0/value")]
    """JSON pointer (RFC 6901) to the faulty value; the empty string is the whole body."""
    code: Annotated[str, example("wrong_dimension", "unknown_field", "undefined_meter", words="FaultOfRequest")]
    """What is wrong, as a word that programs can act on. The list may grow."""
    detail: Annotated[str, example("unit 'kV\u00b7A' is not a voltage; give V, mV or kV")]
    """What is wrong, in words."""
    accepted: Annotated[list[str], example(["V", "mV", "kV"])]
    """What is accepted there: units, names, a span or a type."""
    value: Annotated[str | float | bool | None, example("5 kV\u00b7A", words="PlainValue")] = None
    """The faulty value, shortened where it is long; objects and lists as JSON text. Left out: none given."""


class Problem(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Why a request was not answered (RFC 9457)."""

    type: Annotated[str, example("/problems/invalid-reading-set")]
    """Which problem this is: a path on this service that resolves to its page."""
    title: Annotated[str, example("Invalid reading set")]
    """The problem in words, the same for every occurrence."""
    status: Annotated[int, Meta(ge=400, le=599, examples=[422])]
    """HTTP status code."""
    detail: Annotated[str, example("2 faults in the request; see errors")]
    """This occurrence in words."""
    instance: Annotated[str, example("urn:uuid:6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11")]
    """This occurrence: a URN of the request id, which is also in the `Request-Id` header and in the log."""
    errors: Annotated[
        list[RequestFault],
        example(
            [
                {
                    "pointer": "/readings/0/value",
                    "code": "wrong_dimension",
                    "detail": "unit 'A' is a current, not a voltage; give V, mV or kV",
                    "accepted": ["V", "mV", "kV"],
                    "value": "5 A",
                }
            ]
        ),
    ] = []
    """Every fault of the request, the first 100 of more; left out where the body is not at fault."""
    line: Annotated[int | None, example(17)] = None
    """In a batch: the line that the problem is about, from 1, blank lines counted."""
    reference: Annotated[str | None, example("cabin-12/range")] = None
    """In a batch: the line's own `reference`, where it has one that could be read."""
