"""What goes out: the content of a request, and where it is sent."""

import json
from collections.abc import Mapping
from typing import Literal, NamedTuple

import msgspec

from feedproof_sdk.errors import BadQuantity
from feedproof_sdk.types.request import ReadingSet
from feedproof_sdk.types.simulation import SimulationRequest
from feedproof_sdk.visit import Visit

JSON = "application/json"
NDJSON = "application/x-ndjson"
ASSESS = "/v1/assessments"
SCREEN = "/v1/assessments/screen"
NOTE = "/v1/assessments/note"
BATCH = "/v1/assessments/batch"
SIMULATE = "/v1/simulations"

Form = Literal["html", "pdf", "svg", "markdown", "text"]
"""Forms of an assessment for people: a hand-off note that prints, the same as PDF, its pictures, the note as Markdown,
the answer in plain words."""
MEDIA_TYPES: Mapping[Form, str] = {
    "html": "text/html",
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "markdown": "text/markdown",
    "text": "text/plain",
}

ReadingSetLike = ReadingSet | Visit | Mapping[str, object] | str | bytes
"""A reading set, a visit, plain values as JSON has them, or JSON itself."""
SimulationLike = SimulationRequest | Mapping[str, object] | str | bytes
"""A simulation request, plain values as JSON has them, or JSON itself."""


class Sent(NamedTuple):
    """What goes out."""

    method: str
    path: str
    accept: str = JSON
    content: bytes | None = None
    content_type: str | None = None


def post(path: str, given: ReadingSetLike | SimulationLike, accept: str = JSON) -> Sent:
    """Make the request that sends a reading set, or a simulation request."""
    return Sent("POST", path, accept, encode(given), JSON)


def note(given: ReadingSetLike, form: Form) -> Sent:
    """Make the request for an answer in a form for people."""
    if form not in MEDIA_TYPES:
        raise ValueError(f"form {form!r}: give one of {', '.join(MEDIA_TYPES)}")
    return post(NOTE, given, MEDIA_TYPES[form])


def encode(given: ReadingSetLike | SimulationLike) -> bytes:
    """Encode a reading set, or a simulation request, for the wire.

    Raises
    ------
    BadQuantity
        If a number is not finite: JSON has no such numbers.
    TypeError
        If it is neither.
    """
    if isinstance(given, Visit):
        given = given.reading_set()
    if isinstance(given, ReadingSet | SimulationRequest):
        return msgspec.json.encode(given)
    if isinstance(given, str | bytes):
        return given.encode() if isinstance(given, str) else given
    if isinstance(given, Mapping):  # pyright: ignore[reportUnnecessaryIsInstance] - not every caller has types
        try:
            # The standard library's encoder: it can be told to refuse what is not finite.
            return json.dumps(dict(given), allow_nan=False, ensure_ascii=False).encode()
        except ValueError as error:
            raise BadQuantity(str(error)) from None
    raise TypeError(f"a {type(given).__name__} is no reading set: give a ReadingSet, a Visit, a mapping or JSON")
