"""The forms in which one and the same assessment is given, by media type."""

from collections.abc import Callable

import msgspec
from msgspec import Struct

from feedproof.contract.assessment import Assessment

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


def encode_json(assessment: Assessment) -> bytes:
    """Encode as JSON. Its numbers are finite: the composer of the answer has seen to it."""
    return _ENCODER.encode(assessment)


_JSON = Representation(
    media_type=JSON,
    content_type=JSON,
    meaning="The assessment itself. The default.",
    render=encode_json,
)

REPRESENTATIONS: dict[str, Representation] = {_JSON.media_type: _JSON}
"""By media type, the default first."""
