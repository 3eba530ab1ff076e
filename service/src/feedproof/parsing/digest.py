"""A digest of a request that does not depend on how its JSON was written.

References
----------
RFC 8785, JSON Canonicalization Scheme: 3.2.2 (literals, strings, numbers as ECMAScript writes them), 3.2.3 (names in
the order of their UTF-16 code units).
"""

import hashlib
import json
from decimal import Decimal

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
