"""Each check that no schema can make passes a good answer and tells a spoiled one."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedproof.api.openapi import EXAMPLES
from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.parsing import read_request
from support.contract_checks import check_numbers, check_words
from support.mirror_images import check_mirror, mirrored

Json = dict[str, Any]

ASKED: Json = {
    **EXAMPLES["requests"]["low_impedance"]["value"],
    "readings": [
        {"kind": "voltage", "between": ["L1", "L2"], "value": 243, "meter": "loz", "load_state": "disconnected"},
        {"kind": "voltage", "between": ["L1", "N"], "value": 7, "meter": "loz", "load_state": "disconnected"},
        {"kind": "voltage", "between": ["L2", "N"], "value": 118, "meter": "loz", "load_state": "disconnected"},
    ],
}
LIKE_LEGS: Json = EXAMPLES["requests"]["low_impedance"]["value"]
"""Its own mirror image, up to the order of its readings."""

REASON = {"code": "ground_not_read", "text": "", "readings": []}


def answer(body: Json) -> Json:
    given: Json = json.loads(msgspec.json.encode(assess(*read_request(json.dumps(body).encode()))))
    return given


@pytest.fixture(scope="module")
def good() -> Json:
    return answer(ASKED)


@pytest.fixture(scope="module")
def twin() -> Json:
    return answer(mirrored(ASKED))


def spoiled(good: Json, path: str, value: object) -> Assessment:
    """Put another value at a JSON pointer, or leave the place out where the value is `...`."""
    whole = json.loads(json.dumps(good))
    *way, last = [int(part) if part.isdigit() else part for part in path.split("/")]
    place: Any = whole
    for part in way:
        place = place[part]
    if value is ...:
        del place[last]
    else:
        place[last] = value(place[last]) if callable(value) else value
    return msgspec.convert(whole, Assessment)


def test_a_good_answer_passes(good: Json, twin: Json) -> None:
    ours, twins = (msgspec.convert(given, Assessment) for given in (good, twin))
    check_numbers(ours)
    check_words(ours, ASKED)
    check_mirror(ASKED, ours, twins)


def test_a_request_with_like_legs_passes_either_way() -> None:
    ours, twins = (msgspec.convert(answer(body), Assessment) for body in (LIKE_LEGS, mirrored(LIKE_LEGS)))
    check_mirror(LIKE_LEGS, ours, twins)
    other = msgspec.to_builtins(twins)
    with pytest.raises(AssertionError):
        check_mirror(LIKE_LEGS, ours, spoiled(other, "resistances/0/low", 0.01))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("candidates", lambda _: []),
        ("candidates", lambda all_of: all_of[::-1]),
        ("candidates/0/probability", lambda p: p / 2),
        ("candidates/0/probability", lambda p: p + 0.01),
        ("candidates/0", ...),
        ("finding/probability", 0.0),
        ("neutral_to_ground/0/low", lambda low: low + 1e3),
        ("neutral_to_ground/0/high", -1.0),
        ("neutral_to_ground/0/value", 1e6),
        ("neutral_to_ground/0/low", -1.0),
        ("resistances/0/value", -0.5),
        ("resistances/0/high", math.inf),
        ("resistances/0/high", math.nan),
        ("evidence/0/expected_if_sound/low", 1e9),
        ("evidence/0/expected_under_finding/high", -1e9),
    ],
)
def test_a_wrong_number_is_told(good: Json, path: str, value: object) -> None:
    with pytest.raises((AssertionError, ValueError)):
        check_numbers(spoiled(good, path, value))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("cautions", lambda _: []),
        ("cautions", lambda all_of: [c for c in all_of if c["code"] != "licensed_work"]),
        ("cautions/0/basis", ""),
        ("cautions/0/because", ""),
        ("cautions/0/text", ""),
        ("cautions/0/text", "The supply is safe to use."),
        ("confidence/reasons", [REASON | {"text": "It can safely be used."}]),
        ("next_readings/0/why", "For safety."),
        ("next_readings/0/hazards", [{"code": "a", "text": "Safe."}]),
        ("checks", [{"code": "a", "readings": [0], "text": "All are SAFE."}]),
        ("checks", [{"code": "a", "readings": [3], "text": "There is no such reading."}]),
        ("evidence/0", ...),
        ("evidence", lambda all_of: all_of[::-1]),
        ("reference", "another visit"),
        ("reference", None),
    ],
)
def test_a_wrong_word_is_told(good: Json, path: str, value: object) -> None:
    with pytest.raises(AssertionError):
        check_words(spoiled(good, path, value), ASKED)


def test_a_callers_own_label_may_say_anything(good: Json) -> None:
    asked = ASKED | {"meters": ASKED["meters"] | {"safe": {"kind": "ohmmeter"}}}
    check_words(spoiled(good, "confidence/reasons", [REASON | {"text": "Read with the meter safe."}]), asked)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("determination", lambda was: "probable" if was != "probable" else "undetermined"),
        ("disposition", lambda was: "take_more_readings" if was != "take_more_readings" else "stop_and_refer"),
        ("confidence/level", "none"),
        ("assumptions", lambda _: []),
        ("cautions", lambda all_of: all_of[1:]),
        ("checks", [{"code": "a", "readings": [0], "text": "Something."}]),
        ("candidates/0/probability", lambda p: p * 1.00001),
        ("candidates/0/fault", "voltage_high"),
        ("candidates/0", ...),
        ("finding/probability", lambda p: p * 0.999),
        ("finding/conductor", lambda c: "L1" if c != "L1" else "L2"),
        ("detection_limits/0/conductor", "G"),
        ("detection_limits/0/value", lambda ohm: None if ohm is not None else 3.0),
        ("neutral_to_ground/0", ...),
        ("neutral_to_ground/0/high", lambda volts: volts + 0.1),
        ("neutral_to_ground/0/bound", "at_least"),
        ("resistances/2/value", lambda ohm: ohm * 1.001),
        ("evidence/1/bits", lambda bits: bits + 0.01),
    ],
)
def test_an_answer_that_depends_on_the_legs_names_is_told(
    good: Json, twin: Json, path: str, value: Callable[[Any], object]
) -> None:
    with pytest.raises(AssertionError):
        check_mirror(ASKED, msgspec.convert(good, Assessment), spoiled(twin, path, value))


def test_an_answer_left_as_it_stands_is_told(good: Json) -> None:
    ours = msgspec.convert(good, Assessment)
    with pytest.raises(AssertionError):
        check_mirror(ASKED, ours, ours)


def test_the_published_example_passes(root: Path) -> None:
    text = (root / "service/src/feedproof/api/data/assessment.json").read_bytes()
    ours = msgspec.json.decode(text, type=Assessment)
    check_numbers(ours)
    check_words(ours, LIKE_LEGS)
