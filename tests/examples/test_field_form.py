"""The back end of the field form over HTTP: the service's answers in the form's words, and nothing for strangers."""

import importlib
import json
import re
from pathlib import Path
from typing import Any

import pytest

from support.field_form import FOLDER, FORM, BackEnd, reading
from support.hostile import CORPUS
from support.service_process import LiveService

#: Unplugged, 3 kΩ voltmeter, 7 V from each leg to neutral: nothing behind the neutral (common practice, no source).
NOTHING_BEHIND = [reading("loz", "L1-L2", "247"), reading("loz", "L1-N", "7 V"), reading("loz", "L2-N", "7")]


def answer(back_end: BackEnd, **changes: Any) -> dict[str, Any]:
    status, _, content = back_end.post("/answer", FORM | changes)
    assert status == 200, content
    told: dict[str, Any] = json.loads(content)
    return told


def test_an_empty_visit_is_answered_with_what_to_read_first(back_end: BackEnd) -> None:
    told = answer(back_end)
    assert told["headline"].startswith("Nothing read yet")
    assert told["disposition"] == "take_more_readings"
    assert told["next"]["take"]["at"] == "L1-L2"
    assert told["next"]["take"]["meter"] in FORM["meters"]
    assert told["next"]["hazards"]


def test_readings_are_answered_with_headline_finding_and_every_caution(back_end: BackEnd, service: LiveService) -> None:
    told = answer(back_end, readings=NOTHING_BEHIND)
    request = {
        "reference": FORM["reference"],
        "supply": {"system": "split_phase_120_240", "equipment_ground": "present", "frame_bonded_to_neutral": False},
        "meters": {
            "dmm": {"kind": "voltmeter", "input_impedance": "10 Mohm"},
            "loz": {"kind": "voltmeter", "input_impedance": "3 kohm"},
        },
        "readings": [
            {"kind": "voltage", "between": between, "value": value, "meter": "loz", "load_state": "disconnected"}
            for between, value in ((["L1", "L2"], 247), (["L1", "N"], 7), (["L2", "N"], 7))
        ],
    }
    _, _, content = BackEnd.post(_at(service.url), "/v1/assessments", request)
    straight = json.loads(content)
    assert "eutral bad: " in told["headline"]
    assert (told["headline"], told["action"]) == (straight["headline"], straight["next_action"])
    for words in ("rank", "title", "text"):
        assert [caution[words] for caution in told["cautions"]] == [caution[words] for caution in straight["cautions"]]
    assert told["cautions"][0]["severity"] == "DANGER"
    assert told["limits"] == [limit["meaning"] for limit in straight["detection_limits"]]


def _at(url: str) -> BackEnd:
    """Give something that posts to the service itself."""
    straight = BackEnd(url, Path())
    straight.url = url
    return straight


def test_every_kind_of_meter_is_understood(back_end: BackEnd) -> None:
    taken = [
        reading("dmm", "L1-L2", "243", "idle"),
        reading("pen", "N", "signals", "idle"),
        reading("clamp", "L1", "19.6", "running"),
        reading("loz", "N-G", "0", "disconnected"),
    ]
    told = answer(back_end, meters=["dmm"], readings=taken)
    assert told["headline"].startswith("Not decided")
    assert any("proximity detector" in caution["text"].lower() for caution in told["cautions"])


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("118,5", 118.5),
        (" 0,04 ", 0.04),
        ("-3,7", -3.7),
        ("118,5 V", "118.5 V"),
        ("1,234", "1,234"),  # thousands in one country, a decimal comma in another: the service is to ask
        ("1,2,3", "1,2,3"),
        ("ol", "OL"),
        ("O.L", "OL"),
        ("247", 247.0),
        ("10 Mohm", "10 Mohm"),
    ],
)
def test_decimal_commas_and_over_range_are_taken(text: str, value: float | str, monkeypatch: Any) -> None:
    # A script beside its own modules, and no package: as Python runs it.
    monkeypatch.syspath_prepend(str(FOLDER))
    assert importlib.import_module("form_visits").typed(text) == value


def test_what_was_seen_counts(back_end: BackEnd) -> None:
    taken = [reading("loz", pair, "0") for pair in ("L1-L2", "L1-N", "L2-N")]
    answers = [
        json.loads(back_end.post("/answer", FORM | {"readings": taken, "observations": seen})[2])
        for seen in ([], ["breaker_found_tripped", "other_circuits_live"])
    ]
    assert answers[0]["headline"] != answers[1]["headline"]


def test_the_note_comes_with_its_own_policy(back_end: BackEnd) -> None:
    status, headers, content = back_end.post("/note", FORM | {"readings": NOTHING_BEHIND})
    assert status == 200
    assert headers["content-type"] == "text/html; charset=utf-8"
    assert "script-src" not in headers["content-security-policy"]
    assert "style-src 'sha256-" in headers["content-security-policy"]
    assert b"eutral bad: " in content
    assert b"<script" not in content


def test_what_was_mistyped_is_marked_at_its_reading(back_end: BackEnd) -> None:
    taken = [reading("dmm", "L1-L2", "243"), reading("dmm", "L1-N", "121 A"), reading("dmm", "L2-N", "lots")]
    for path in ("/answer", "/note"):
        status, _, content = back_end.post(path, FORM | {"readings": taken, "loz_impedance": "three"})
        assert status == 422
        marks = json.loads(content)["marks"]
        assert [mark["reading"] for mark in marks if mark["reading"] is not None] == [1, 2]
        assert "current" in next(mark["detail"] for mark in marks if mark["reading"] == 1)
        assert any(mark["detail"].startswith("Low-impedance voltmeter: ") for mark in marks)


@pytest.mark.parametrize(
    "changes",
    [
        {"system": "other"},
        {"meters": []},
        {"readings": [reading("dmm", "L1", "120")]},
        {"readings": [reading("dmm", "L1-L9", "120")]},
        {"readings": [reading("dmm", "L1-N", "nan")]},
        {"readings": [reading("dmm", "L1-N", "1" * 201)]},
        {"colour": "red"},
    ],
)
def test_a_form_that_the_page_does_not_send_is_refused_in_words(back_end: BackEnd, changes: dict[str, Any]) -> None:
    status, _, content = back_end.post("/answer", FORM | changes)
    assert status == 422
    assert json.loads(content)["marks"][0]["detail"]


def test_without_the_service_nothing_is_concluded(tmp_path: Path) -> None:
    alone = BackEnd("http://127.0.0.1:9", tmp_path / "log")
    alone.start()
    try:
        status, headers, content = alone.post("/answer", FORM)
    finally:
        alone.stop()
    assert (status, headers["retry-after"], content) == (503, "5", b"{}")
    assert "ConnectionFailed" in (tmp_path / "log").read_text()


def test_the_page_allows_no_inline_script_or_style_and_nothing_from_elsewhere(back_end: BackEnd) -> None:
    _, headers, page = back_end.get("/")
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert "unsafe" not in headers["content-security-policy"]
    html = page.decode()
    assert re.findall(r"<script[^>]*>([^<]*)</script>", html) == [""]
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", html)
    sources = re.findall(r'(?:src|href)="([^"]+)"', html)
    assert sources
    for source in sources:
        status, _, content = back_end.get(source)
        assert source.startswith("/")
        assert (status, bool(content)) == (200, True), source


def test_text_goes_into_the_page_as_text_only() -> None:
    for script in (FOLDER / "page").glob("*.js"):
        text = script.read_text(encoding="utf-8")
        assert not re.search(r"innerHTML|outerHTML|insertAdjacent|document\.write|\beval\b|new Function", text), script


def test_what_the_worker_keeps_is_what_the_page_needs(back_end: BackEnd) -> None:
    worker = (FOLDER / "page" / "worker.js").read_text(encoding="utf-8")
    listed = re.search(r"FILES = \[(.*?)\]", worker)
    assert listed
    kept = set(re.findall(r'"([^"]+)"', listed[1]))
    needed = set(re.findall(r'(?:src|href)="([^"]+)"', back_end.get("/")[2].decode())) | {"/"}
    for script in (FOLDER / "page").glob("*.js"):
        needed |= {f"/{name}" for name in re.findall(r'from "\./([^"]+)"', script.read_text(encoding="utf-8"))}
    assert kept == needed


@pytest.mark.parametrize("text", CORPUS)
def test_hostile_names_are_inert_in_answers_and_notes(back_end: BackEnd, text: str) -> None:
    form = FORM | {"reference": text[:200], "readings": NOTHING_BEHIND}
    status, headers, _ = back_end.post("/answer", form)
    assert status in {200, 422}
    if status == 200:
        assert headers["content-type"] == "application/json"
        assert headers["x-content-type-options"] == "nosniff"
        note = back_end.post("/note", form)[2].decode()
        assert not re.search(r"<(script|img|iframe|a href=.?javascript)", note, re.IGNORECASE)


@pytest.mark.parametrize(
    "path", ["/../back_end.py", "/%2e%2e/back_end.py", "/notes/1", "/back_end.py", "/page/form.js"]
)
def test_nothing_else_is_given_out(back_end: BackEnd, path: str) -> None:
    assert back_end.get(path)[0] == 404


def test_strangers_are_not_answered(back_end: BackEnd) -> None:
    assert back_end.get("/", Host="rebound.example")[0] == 403
    assert back_end.post("/answer", FORM, Sec_Fetch_Site="cross-site")[0] == 403
    assert back_end.post("/answer", FORM, Content_Type="text/plain")[0] == 415
    assert back_end.post("/answer", b" " * (64 * 1024 + 1))[0] == 413
    assert back_end.post("/elsewhere", FORM)[0] == 404
    assert back_end.post("/answer", b"\xff{")[0] == 422
    assert back_end.get("/")[0] == 200
