"""What goes over the wire when a request cannot be answered.

References
----------
RFC 9457, Problem Details for HTTP APIs. RFC 6901, JSON Pointer.
"""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.words import WORDS_KEY

MEDIA_TYPE = "application/problem+json"
MAX_FAULTS = 100
"""How many faults of one request are told."""


class RequestFault(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing that is wrong with a request."""

    pointer: Annotated[
        str,
        Meta(
            description="JSON pointer (RFC 6901) to the faulty value; the empty string is the whole body.",
            examples=["/readings/0/value"],
        ),
    ]
    code: Annotated[
        str,
        Meta(
            description="What is wrong, as a word that programs can act on. The list may grow.",
            examples=["wrong_dimension", "unknown_field", "undefined_meter"],
            extra_json_schema={WORDS_KEY: "FaultOfRequest"},
        ),
    ]
    detail: Annotated[
        str,
        Meta(
            description="What is wrong, in words.",
            examples=["unit 'kV\u00b7A' is not a voltage; give V, mV or kV"],
        ),
    ]
    accepted: Annotated[
        list[str],
        Meta(
            description="What is accepted there: units, names, a span or a type.",
            examples=[["V", "mV", "kV"]],
        ),
    ]
    value: Annotated[
        str | float | bool | None,
        Meta(
            description=(
                "The faulty value, shortened where it is long; objects and lists as JSON text. Left out: none given."
            ),
            examples=["5 kV\u00b7A"],
            extra_json_schema={WORDS_KEY: "PlainValue"},
        ),
    ] = None


class Problem(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Why a request was not answered (RFC 9457)."""

    type: Annotated[
        str,
        Meta(
            description="Which problem this is: a path on this service that resolves to its page.",
            examples=["/problems/invalid-reading-set"],
        ),
    ]
    title: Annotated[
        str, Meta(description="The problem in words, the same for every occurrence.", examples=["Invalid reading set"])
    ]
    status: Annotated[int, Meta(ge=400, le=599, description="HTTP status code.", examples=[422])]
    detail: Annotated[
        str, Meta(description="This occurrence in words.", examples=["2 faults in the request; see errors"])
    ]
    instance: Annotated[
        str,
        Meta(
            description=(
                "This occurrence: a URN of the request id, which is also in the `Request-Id` header and in the log."
            ),
            examples=["urn:uuid:6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11"],
        ),
    ]
    errors: Annotated[
        list[RequestFault],
        Meta(
            description="Every fault of the request, the first 100 of more; left out where the body is not at fault.",
            examples=[
                [
                    {
                        "pointer": "/readings/0/value",
                        "code": "wrong_dimension",
                        "detail": "unit 'A' is a current, not a voltage; give V, mV or kV",
                        "accepted": ["V", "mV", "kV"],
                        "value": "5 A",
                    }
                ]
            ],
        ),
    ] = []
    line: Annotated[
        int | None,
        Meta(
            description="In a batch: the line that the problem is about, from 1, blank lines counted.",
            examples=[17],
        ),
    ] = None
    reference: Annotated[
        str | None,
        Meta(
            description="In a batch: the line's own `reference`, where it has one that could be read.",
            examples=["cabin-12/range"],
        ),
    ] = None
