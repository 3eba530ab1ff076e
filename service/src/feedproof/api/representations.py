"""The forms in which one and the same assessment is given, by media type."""

import math
from collections.abc import Callable

import msgspec
from msgspec import Struct

from feedproof.contract.assessment import Assessment
from feedproof.errors import BrokenAnswer

JSON = "application/json"
Render = Callable[[Assessment], bytes]

_ENCODER = msgspec.json.Encoder()


class Representation(Struct, frozen=True, kw_only=True):
    """One form."""

    media_type: str
    content_type: str
    """With its parameters, as the Content-Type header says it."""
    meaning: str
    render: Render


def is_finite(value: object) -> bool:
    """Whether no number in a wire record is infinite or not a number.

    The encoder writes such a number as `null`, which a client would take for "not known".
    """
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, list | tuple):
        return all(is_finite(item) for item in value)
    if isinstance(value, Struct):
        return all(is_finite(getattr(value, name)) for name in value.__struct_fields__)
    return True


def encode_json(assessment: Assessment) -> bytes:
    """Encode as JSON.

    Raises
    ------
    BrokenAnswer
        If a number is not finite.
    """
    if not is_finite(assessment):
        raise BrokenAnswer("the assessment holds a number that is not finite")
    return _ENCODER.encode(assessment)


_JSON = Representation(
    media_type=JSON,
    content_type=JSON,
    meaning="The assessment itself. The default.",
    render=encode_json,
)

REPRESENTATIONS: dict[str, Representation] = {_JSON.media_type: _JSON}
"""By media type, the default first."""
