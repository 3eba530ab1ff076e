"""From bytes to a typed request, or to every structural fault of it.

References
----------
RFC 8259, The JavaScript Object Notation (JSON) Data Interchange Format, 4: names within an object should be unique,
and what a reader makes of a name that is there twice cannot be foreseen. RFC 7493, I-JSON, 2.3: they must be unique.
"""

import json
import math
from collections import Counter
from typing import NoReturn, TypeVar

import msgspec

from feedproof.contract.structure import Examined, convert, echo, examine
from feedproof.errors import MalformedRequest

T = TypeVar("T")


def _refuse_constant(_name: str) -> NoReturn:
    raise ValueError


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    made = dict(pairs)
    if len(made) < len(pairs):
        twice, _ = Counter(name for name, _ in pairs).most_common(1)[0]
        raise MalformedRequest(f"the name '{echo(twice)}' is there twice in one object")
    return made


def _integer(digits: str) -> float:
    # No quantity has so many digits, and converting them takes time that grows with their square.
    return int(digits) if len(digits) <= 64 else math.inf  # noqa: PLR2004


def parse_document(raw: bytes) -> object:
    """Decode JSON into plain values, numbers out of range included.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8, is nested too deep, or has a name twice in one object.
    """
    try:
        return json.loads(raw.decode(), parse_constant=_refuse_constant, parse_int=_integer, object_pairs_hook=_object)
    except RecursionError:
        raise MalformedRequest("the document is nested too deep") from None
    except UnicodeDecodeError:
        raise MalformedRequest("the body is not UTF-8") from None
    except ValueError as error:
        where = f" at byte {error.pos}" if isinstance(error, json.JSONDecodeError) else ""
        raise MalformedRequest(f"the body is not a JSON document{where}") from None


def decode(raw: bytes, decoder: msgspec.json.Decoder[T]) -> tuple[T, Examined | None]:
    """Decode a request; where the typed decoder refuses, list every structural fault and mend a copy.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8, or has a name twice in one object.
    """
    # The typed decoder takes the last of two equal names without a word: which reading would count, nobody could say.
    document = parse_document(raw)
    try:
        return decoder.decode(raw), None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        pass
    examined = examine(document, decoder.type)
    try:
        # Without faults: what the typed decoder is stricter about than JSON Schema, 2.0 for a whole number say.
        return convert(examined, decoder.type), examined
    except msgspec.ValidationError:
        if examined.faults:
            raise
        raise MalformedRequest("the body is not a JSON document of the published form") from None
