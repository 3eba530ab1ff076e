"""From bytes to a typed request, or to every structural fault of it; and a digest that no spacing or order changes.

References
----------
RFC 8259, The JavaScript Object Notation (JSON) Data Interchange Format, 4: names within an object should be unique,
and what a reader makes of a name that is there twice cannot be foreseen. RFC 7493, I-JSON, 2.3: they must be unique.
RFC 8785, JSON Canonicalization Scheme: 3.2.2 (literals, strings, numbers as ECMAScript writes them), 3.2.3 (names in
the order of their UTF-16 code units).
"""

import hashlib
import json
import math
import re
from collections import Counter
from decimal import Decimal
from typing import Generic, NamedTuple, NoReturn, TypeVar

import msgspec

from feedproof.errors import MalformedRequest
from feedproof.parsing.diagnostics import echo
from feedproof.parsing.structure import Examined, convert, examine

T = TypeVar("T", bound=msgspec.Struct)


class _ConstantError(ValueError):
    """NaN or an infinity, which JavaScript has and JSON has not."""


def _refuse_constant(name: str) -> NoReturn:
    raise _ConstantError(name)


_STRING_OR_CONSTANT = re.compile(r'"(?:[^"\\]|\\.)*+"|(NaN|-?Infinity)', re.DOTALL)


def _place_of(error: ValueError, text: str) -> str:
    """Where the document is at fault, in bytes from 0: what a person sees in the body that was sent."""
    if isinstance(error, _ConstantError):
        places = (found.start() for found in _STRING_OR_CONSTANT.finditer(text) if found[1])
        return f": {error} at byte {len(text[: next(places)].encode())} is no number"
    if isinstance(error, json.JSONDecodeError):
        return f" at byte {len(text[: error.pos].encode())}"
    return ""


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
        text = raw.decode()
    except UnicodeDecodeError as error:
        raise MalformedRequest(f"the body is not UTF-8 at byte {error.start}") from None
    try:
        return json.loads(text, parse_constant=_refuse_constant, parse_int=_integer, object_pairs_hook=_object)
    except RecursionError:
        raise MalformedRequest("the document is nested too deep") from None
    except ValueError as error:
        raise MalformedRequest(f"the body is not a JSON document{_place_of(error, text)}") from None


class Decoded(NamedTuple, Generic[T]):
    """A request as its type has it."""

    request: T
    examined: Examined | None
    """What was wrong with it and mended; None: nothing."""
    document: object
    """The same as plain values, as it was sent."""


def decode(raw: bytes, decoder: msgspec.json.Decoder[T]) -> Decoded[T]:
    """Decode a request; where the typed decoder refuses, list every structural fault and mend a copy.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8, or has a name twice in one object.
    """
    # The typed decoder silently takes the last of two equal names.
    document = parse_document(raw)
    try:
        return Decoded(decoder.decode(raw), None, document)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        pass
    examined = examine(document, decoder.type)
    try:
        # No faults: the typed decoder is stricter than JSON Schema, for example on 2.0 as a whole number.
        return Decoded(convert(examined, decoder.type), examined, document)
    except msgspec.ValidationError:
        if examined.faults:
            raise
        raise MalformedRequest("the body is not a JSON document of the published form") from None


_PLAIN_FROM = 1e-6
_PLAIN_BELOW = 1e21
"""Between these ECMAScript writes a number without an exponent (ECMA-262, Number::toString)."""


def _number(value: float) -> str:
    number = float(value)
    if number == 0.0:
        return "0"
    shortest = repr(number)
    if _PLAIN_FROM <= abs(number) < _PLAIN_BELOW:
        plain = f"{Decimal(shortest):f}"
        return plain.removesuffix(".0")
    digits, _, exponent = shortest.partition("e")
    return f"{digits.removesuffix('.0')}e{int(exponent):+d}"


def _utf16(name: str) -> bytes:
    return name.encode("utf-16-be", "surrogatepass")


def canonical(value: object) -> str:
    """Write plain values as canonical JSON."""
    if isinstance(value, dict):
        return "{" + ",".join(f"{canonical(name)}:{canonical(value[name])}" for name in sorted(value, key=_utf16)) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _number(value)
    return json.dumps(value, ensure_ascii=False)


def digest_of(document: object) -> str:
    """SHA-256 of the canonical form, hexadecimal."""
    return hashlib.sha256(canonical(document).encode()).hexdigest()
