"""What a screen shows: never more than 4 kB, dangers always, and nothing that the whole answer does not say."""

import json
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.api.screen import encode_for_screen
from feedproof.app import create_app
from feedproof.contract.assessment import Assessment
from feedproof.contract.screen import MOST_BYTES, Screen
from feedproof.settings import Settings

JSON = {"content-type": "application/json"}


@pytest.fixture(scope="module")
def answers(example_requests: dict[str, bytes]) -> list[tuple[dict[str, Any], bytes]]:
    """Each example's whole answer and its answer for a screen."""
    with TestClient(create_app(Settings(warm_up=False, log_level="error"))) as client:
        return [
            (
                client.post("/v1/assessments", content=raw, headers=JSON).json(),
                client.post("/v1/assessments/screen", content=raw, headers=JSON).content,
            )
            for raw in example_requests.values()
        ]


def test_it_fits_and_says_what_the_whole_answer_says(answers: list[tuple[dict[str, Any], bytes]]) -> None:
    for whole, raw in answers:
        assert len(raw) <= MOST_BYTES
        screen = json.loads(raw)
        for field in (
            "reference",
            "headline",
            "next_action",
            "refer_to",
            "disposition",
            "determination",
            "next_reason",
        ):
            assert screen[field] == whole[field]
        for field in ("place", "fault", "conductor", "probability"):
            assert screen[field] == whole["finding"][field]
        said = {(c["code"], c["title"]) for c in whole["cautions"]}
        assert {(c["code"], c["title"]) for c in screen["cautions"]} <= said
        dangers = [c["code"] for c in whole["cautions"] if c["severity"] == "danger"]
        assert [c["code"] for c in screen["cautions"] if c["severity"] == "danger"] == dangers
        assert [r["id"] for r in screen["next_readings"]] == [
            r["id"] for r in whole["next_readings"][: len(screen["next_readings"])]
        ]
        lists = ("cautions", "checks", "next_readings")
        assert screen["left_out"] == sum(len(whole[name]) - len(screen[name]) for name in lists)


def test_the_longest_names_still_fit(answers: list[tuple[dict[str, Any], bytes]]) -> None:
    wide = "\U0001f50c" * 200
    for whole, _ in answers:
        given = msgspec.convert(whole, Assessment)
        crowded = msgspec.structs.replace(
            given,
            reference=wide,
            cautions=given.cautions * 3,
            checks=[
                msgspec.convert({"code": "a", "readings": [0], "ids": [None], "text": wide}, type(c))
                for c in given.checks
            ],
        )
        screen = msgspec.json.decode(encode_for_screen(crowded), type=Screen)
        dangers = [c for c in crowded.cautions if c.severity == "danger"]
        assert [c.code for c in screen.cautions if c.severity == "danger"] == [c.code for c in dangers]
        if sum(len(c.text.encode()) for c in dangers) < 2000:
            assert len(encode_for_screen(crowded)) <= MOST_BYTES


def test_readings_with_the_longest_labels_are_left_out_before_it_grows_too_large(
    answers: list[tuple[dict[str, Any], bytes]],
) -> None:
    whole = next(whole for whole, _ in answers if whole["next_readings"])
    given = msgspec.convert(whole | {"reference": None, "checks": []}, Assessment)
    long = [msgspec.structs.replace(step, steps=["\U0001f50c" * 64] * 30) for step in given.next_readings]
    assert len(encode_for_screen(msgspec.structs.replace(given, next_readings=long))) <= MOST_BYTES


def test_a_view_by_query_is_the_same(example_requests: dict[str, bytes]) -> None:
    raw = example_requests["low_impedance"]
    with TestClient(create_app(Settings(warm_up=False, log_level="error"))) as client:
        by_path = client.post("/v1/assessments/screen", content=raw, headers=JSON)
        by_query = client.post("/v1/assessments?view=screen", content=raw, headers=JSON)
        assert by_query.content == by_path.content
        whole = client.post("/v1/assessments?view=whole", content=raw, headers=JSON)
        assert whole.content == client.post("/v1/assessments", content=raw, headers=JSON).content
        assert client.post("/v1/assessments?view=half", content=raw, headers=JSON).json()["detail"] == (
            "view is 'half'; give whole or screen"
        )
        for query in ("?views=screen", "?view=screen&view=screen", "?&"):
            assert client.post(f"/v1/assessments{query}", content=raw, headers=JSON).status_code == 400
        only = {"accept": "text/html"}
        assert client.post("/v1/assessments?view=screen", content=raw, headers=JSON | only).status_code == 406
