"""What the inference hands over: records that any reader of JSON takes, without a word for people in them."""

import msgspec
import pytest

from feedproof.inference import Candidate, Hazards, Interval, Outcome, infer
from support.proof_cases import CASES


def found() -> Outcome:
    return infer(CASES["low impedance, nothing behind the neutral"])


def test_it_survives_the_way_through_json() -> None:
    first = found()
    assert msgspec.json.decode(msgspec.json.encode(first), type=Outcome) == first


def test_it_cannot_be_changed() -> None:
    first = found()
    with pytest.raises(AttributeError):
        first.candidates[0].probability = 1.0  # type: ignore[misc]


def texts(value: object) -> set[str]:
    if isinstance(value, str):
        return {value}
    if isinstance(value, dict):
        return {t for v in value.values() for t in texts(v)}
    return {t for v in value for t in texts(v)} if isinstance(value, list) else set()


def test_it_holds_names_and_numbers_and_no_sentence() -> None:
    assert not [text for text in texts(msgspec.to_builtins(found())) if " " in text]


@pytest.mark.parametrize("record", [Interval, Candidate, Hazards])
def test_nothing_is_left_out_by_mistake(record: type[msgspec.Struct]) -> None:
    with pytest.raises(TypeError):
        record()
