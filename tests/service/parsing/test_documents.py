"""The digest of a request: the examples and figures of the standard, and what it does not depend on."""

import hashlib
import json

import pytest

from feedproof.parsing import read_request
from feedproof.parsing.documents import canonical, digest_of

NUMBERS = [
    # RFC 8785, appendix B: the number's bits (IEEE 754), and how ECMAScript writes it.
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "written"), NUMBERS)
def test_numbers_are_written_as_the_standard_says(bits: str, written: str) -> None:
    import struct  # noqa: PLC0415 - only here

    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(number) == written


def test_the_standard_s_own_example() -> None:
    # RFC 8785, 3.2.2 and 3.2.3.
    given = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": '\u20ac$\u000f\nA\'B"\\\\"/',
        "literals": [None, True, False],
    }
    assert canonical(given) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = json.loads(canonical(dict.fromkeys(names, 0)))
    assert list(ordered) == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_it_does_not_depend_on_how_the_request_was_written() -> None:
    ways = [b'{"readings": [], "reference": "a"}', b'{\n "reference":"\\u0061",\r\n "readings":[ ]}']
    digests = {read_request(raw).reading_set.digest for raw in ways}
    assert digests == {hashlib.sha256(b'{"readings":[],"reference":"a"}').hexdigest()}
    assert digest_of({"a": 1}) == digest_of({"a": 1.0}) != digest_of({"a": "1"})
