"""Readings that are named, and readings taken again."""

from typing import Any

import pytest

from support.requests import READING, admit, changed, faults

FIRST = READING | {"id": "first"}
AGAIN = READING | {"value": "3 V", "repeats": "first"}


def two(*readings: dict[str, Any]) -> dict[str, Any]:
    document = changed(readings=list(readings), meters__clamp={"kind": "clamp_ammeter"})
    document["meters"]["loz"] = document["meters"]["dmm"] | {"input_impedance": "3 kohm"}
    return document


def told(*readings: dict[str, Any]) -> list[tuple[str, str]]:
    return [(f.pointer, f.code) for f in faults(two(*readings))]


@pytest.mark.parametrize(
    "again",
    [
        AGAIN,
        AGAIN | {"between": ["N", "L1"]},
        AGAIN | {"meter": "loz"},
        AGAIN | {"id": "second"},
        AGAIN | {"point": None},
    ],
)
def test_a_reading_of_the_same_repeats_another(again: dict[str, Any]) -> None:
    for order in ((FIRST, again), (again, FIRST)):
        made = admit(two(*order)).reading_set.readings
        assert {(r.id, r.repeats) for r in made} == {("first", None), (again.get("id"), "first")}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"between": ["L2", "N"]}, "another between"),
        ({"load_state": "idle"}, "another load_state"),
        ({"point": "service_panel"}, "another point"),
        ({"point": "service_panel", "load_state": "idle"}, "another point and load_state"),
    ],
)
def test_a_reading_of_something_else_repeats_nothing(change: dict[str, Any], words: str) -> None:
    (fault,) = faults(two(FIRST, AGAIN | change))
    assert (fault.pointer, fault.code, fault.value) == ("/readings/1/repeats", "contradiction", "first")
    assert words in fault.detail


def test_a_reading_of_another_kind_repeats_nothing() -> None:
    amps = {"kind": "current", "through": "N", "value": 1, "meter": "clamp", "load_state": "disconnected"}
    (fault,) = faults(two(FIRST, amps | {"repeats": "first"}))
    assert fault.detail.startswith("'first' has another kind")


def test_a_repeat_names_a_reading_that_is_there_and_not_itself() -> None:
    assert told(FIRST, AGAIN | {"repeats": "third"}) == [("/readings/1/repeats", "undefined_reading")]
    assert told(FIRST | {"repeats": "first"}) == [("/readings/0/repeats", "contradiction")]
    circle = (FIRST | {"repeats": "b"}, READING | {"id": "b", "repeats": "first"})
    assert told(*circle) == [("/readings/0/repeats", "contradiction"), ("/readings/1/repeats", "contradiction")]
    chain = (FIRST, READING | {"id": "b", "repeats": "first"}, READING | {"repeats": "b"})
    assert len(admit(two(*chain)).reading_set.readings) == 3
    # What leads into a circle without being on it is not at fault itself.
    assert told(*circle, READING | {"repeats": "b"}) == [
        ("/readings/0/repeats", "contradiction"),
        ("/readings/1/repeats", "contradiction"),
    ]


def test_an_id_is_there_once_and_is_text_of_one_line() -> None:
    assert told(FIRST, FIRST) == [("/readings/1/id", "given_twice")]
    assert told(READING | {"id": ""}) == [("/readings/0/id", "wrong_length")]
    assert told(READING | {"id": 7}) == [("/readings/0/id", "wrong_type")]
    assert told(READING | {"id": "a\n"}) == [("/readings/0/id", "not_accepted")]


def test_a_faulty_reading_is_not_told_to_repeat_something_else_as_well() -> None:
    assert told(FIRST, AGAIN | {"point": "attic"}) == [("/readings/1/point", "not_accepted")]
    assert told(FIRST | {"kind": "guess"}, AGAIN) == [("/readings/0/kind", "not_accepted")]
    assert told(FIRST | {"between": ["L1", "L3"]}, AGAIN) == [("/readings/0/between/1", "not_accepted")]
