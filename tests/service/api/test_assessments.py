"""The main route: the answer, and everything that is refused before and instead of it."""

import gzip
import json
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.contract.assessment import Assessment
from feedproof.contract.problem import Problem
from feedproof.contract.quantities import SMALLEST
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.priors import BASE_RATES
from feedproof.settings import Settings

JSON = {"content-type": "application/json"}
Client = TestClient[Any]


def test_an_example_is_assessed(client: Client, example_requests: dict[str, bytes]) -> None:
    answer = client.post("/v1/assessments", content=example_requests["low_impedance"], headers=JSON)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["cache-control"] == "no-store"
    assert "Accept" in answer.headers["vary"].split(", ")
    assessment = msgspec.json.decode(answer.content, type=Assessment)
    assert assessment.finding.fault == "open_neutral"
    assert assessment.reference == json.loads(example_requests["low_impedance"])["reference"]


def test_every_example_gives_a_whole_answer(client: Client, example_requests: dict[str, bytes]) -> None:
    for name, raw in example_requests.items():
        answer = client.post("/v1/assessments", content=raw, headers=JSON)
        assert answer.status_code == 200, name
        assessment = msgspec.json.decode(answer.content, type=Assessment)
        assert assessment.finding.fault in FAULT_NAMES
        assert assessment.cautions, name
        assert len(assessment.evidence) == len(json.loads(raw)["readings"])


def test_no_readings_give_a_plan(client: Client) -> None:
    answer = client.post("/v1/assessments", content=b'{"readings": []}', headers=JSON)
    assessment = msgspec.json.decode(answer.content, type=Assessment)
    assert assessment.next_readings
    assert assessment.determination == "undetermined"
    assert {"/supply/system", "/supply/frequency"} <= {a.pointer for a in assessment.assumptions}


def test_the_same_request_gives_the_same_bytes(client: Client, example_requests: dict[str, bytes]) -> None:
    raw = example_requests["every_kind_of_reading"]
    respaced = json.dumps(json.loads(raw), indent=7).encode()
    answers = {client.post("/v1/assessments", content=body, headers=JSON).content for body in (raw, raw, respaced)}
    assert len(answers) == 1


def test_all_faults_are_told_at_once_as_problem_details(client: Client) -> None:
    reading = {
        "kind": "voltage",
        "between": ["L1", "L1"],
        "value": "5 kV\u00b7A",
        "meter": "nope",
        "load_state": "idle",
        "hue": 1,
    }
    answer = client.post("/v1/assessments", json={"colour": "red", "readings": [reading]})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    problem = msgspec.json.decode(answer.content, type=Problem)
    assert (problem.type, problem.status) == ("/problems/invalid-reading-set", 422)
    assert problem.detail == "5 faults in the request; see errors"
    assert problem.instance == f"urn:uuid:{answer.headers['request-id']}"
    assert [fault.pointer for fault in problem.errors] == [
        "/readings/0/between",
        "/readings/0/hue",
        "/readings/0/meter",
        "/readings/0/value",
        "/colour",
    ]
    (value,) = (fault for fault in problem.errors if fault.pointer.endswith("value"))
    assert value.detail == "unit 'kV\u00b7A' is not a voltage; give V, mV or kV"
    assert value.value == "5 kV\u00b7A"
    assert value.accepted == ["V", "mV", "kV"]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"{", 400),
        (b"\xff\xfe", 400),
        (b'{"reference": "caf\xe9", "readings": []}', 400),
        (b'{"readings": [NaN]}', 400),
        (b'{"readings": [], "readings": []}', 400),
        (b'{"a":' * 50_000, 400),
        (b"[" * 100_000, 400),
        (b"null", 422),
        (b'"readings"', 422),
        (b'{"readings": "2"}', 422),
        (b'{"readings": [], "supply": {"frequency": "60"}}', 422),
        (b'{"readings": [], "meters": {"a": {"kind": "voltmeter", "accuracy_counts": "3"}}}', 422),
        (b'{"readings": [], "supply": {"frequency": 1e400}}', 422),
        (b'{"readings": [], "supply": {"frequency": 1e-320}}', 422),
    ],
)
def test_what_cannot_be_read_is_refused_and_never_a_failure(client: Client, body: bytes, status: int) -> None:
    answer = client.post("/v1/assessments", content=body, headers=JSON)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["status"] == status


def _with_rates(raw: bytes, rates: dict[str, float], **supply: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(raw)
    return document | {"base_rates": rates, "supply": document["supply"] | supply}


@pytest.mark.parametrize(
    ("rates", "pointer"),
    [
        ({"none_found": 0, "open_neutral": 1}, "/base_rates/none_found"),
        ({"gremlins": 1}, "/base_rates/gremlins"),
        ({"none_found": 1, "open_neutral": -1}, "/base_rates/open_neutral"),
        ({"none_found": 1, "open_neutral": 1e10}, "/base_rates/open_neutral"),
        ({"none_found": 1, "open_neutral": 5e-324}, "/base_rates/open_neutral"),
    ],
)
def test_base_rates_that_are_none_are_refused(
    client: Client, example_requests: dict[str, bytes], rates: dict[str, float], pointer: str
) -> None:
    answer = client.post("/v1/assessments", json=_with_rates(example_requests["low_impedance"], rates))
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["errors"]] == [pointer]


@pytest.mark.parametrize(
    "rates",
    [
        {"none_found": 1},
        {"open_neutral": 1},
        {"readings_inconsistent": 1e9},
        {"open_neutral": SMALLEST, "open_leg": 1e9},
        {"none_found": 1e9, "open_neutral": 1},
        {"none_found": SMALLEST, "open_neutral": 1},
        # Faults that cannot be on the stated supply: nothing is left but a sound one.
        {"open_ground": 1, "leg_ground_transposed": 1},
        {"other_supply_system": 5},
    ],
    ids="-".join,
)
@pytest.mark.parametrize("read", [True, False])
def test_extreme_base_rates_are_answered(
    client: Client, example_requests: dict[str, bytes], rates: dict[str, float], read: bool
) -> None:
    only = dict.fromkeys(BASE_RATES.keys() - {"none_found"}, 0.0) | rates
    request = _with_rates(example_requests["low_impedance"], only, equipment_ground="absent")
    request["readings"] = request["readings"] if read else []
    answer = client.post("/v1/assessments", json=request)
    assert answer.status_code == 200
    assessment = msgspec.json.decode(answer.content, type=Assessment)
    assert sum(candidate.probability for candidate in assessment.candidates) == pytest.approx(1.0, abs=0.05)
    # A sound supply is always weighed, however rare it is said to be.
    assert {candidate.fault for candidate in assessment.candidates} <= {*rates, "none_found"}
    plain = client.post("/v1/assessments", json=request | {"base_rates": None}).json()
    assert assessment.model.priors_digest != plain["model"]["priors_digest"]


#: A leg that is gone: nothing from it to neutral, half of the line between the legs through what is connected.
LOST_LEG: dict[str, Any] = {
    "supply": {"equipment_ground": "present"},
    "meters": {"loz": {"kind": "voltmeter", "input_impedance": "3 kohm"}},
    "readings": [
        {"kind": "voltage", "between": pair, "value": value, "meter": "loz", "load_state": "disconnected"}
        for pair, value in ((["L1", "L2"], 0), (["L1", "N"], 121), (["L2", "N"], 0))
    ],
}


@pytest.mark.parametrize(
    "rates",
    [
        {"none_found": 60, "open_neutral": 12, "high_resistance_neutral": 8},
        {"none_found": 0.6, "open_neutral": 0.12, "high_resistance_neutral": 0.08},
        {"none_found": 0.6},
        {"high_resistance_neutral": 0},
        {},
    ],
    ids=str,
)
def test_a_table_of_some_faults_does_not_switch_off_the_others(client: Client, rates: dict[str, float]) -> None:
    """A caller's own rates of sound supplies and neutrals say nothing of legs: a lost one stays established."""
    plain = client.post("/v1/assessments", json=LOST_LEG).json()
    assert (plain["finding"]["fault"], plain["determination"]) == ("open_leg", "established")
    answer = client.post("/v1/assessments", json=LOST_LEG | {"base_rates": rates}).json()
    assert (answer["finding"]["fault"], answer["determination"]) == ("open_leg", "established")
    assert answer["disposition"] == "stop_and_refer"


def test_a_ground_that_the_outlet_lacks_and_terminals_out_of_circuit_are_refused(client: Client) -> None:
    reading = {"kind": "voltage", "value": "120 V", "meter": "dmm", "load_state": "disconnected"}
    request = {
        "supply": {"equipment_ground": "absent"},
        "meters": {"dmm": {"kind": "voltmeter"}},
        "readings": [
            reading | {"between": ["L1", "G"]},
            reading | {"between": ["L1", "N"], "point": "appliance_terminals"},
        ],
    }
    answer = client.post("/v1/assessments", json=request)
    assert answer.status_code == 422
    assert [(fault["pointer"], fault["code"]) for fault in answer.json()["errors"]] == [
        ("/readings/0/between/1", "no_such_conductor"),
        ("/readings/1/point", "not_connected"),
    ]


def test_ten_thousand_readings_are_refused_at_once(client: Client) -> None:
    small = {"kind": "voltage"}
    answer = client.post("/v1/assessments", json={"readings": [small] * 10_000})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/readings"
    assert len(answer.json()["errors"]) == 100
    many = client.post("/v1/assessments", json={"readings": [small | {"value": "x"}] * 150}).json()
    assert many["detail"].startswith("600 faults in the request, of which the first 100 are told")
    assert len(many["errors"]) == 100
    large = {"readings": [small | {"x": "x" * 100}] * 10_000}
    refused = client.post("/v1/assessments", json=large)
    assert refused.status_code == 413
    assert refused.json()["detail"] == "the body is larger than 262144 bytes"


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"content-type": "text/plain"},
        {"content-type": "application/x-www-form-urlencoded"},
        {"content-type": "application/json; charset=latin-1"},
        {"content-type": "application/jsonp"},
        JSON | {"content-encoding": "br"},
    ],
)
def test_another_media_type_is_refused(client: Client, headers: dict[str, str]) -> None:
    answer = client.post("/v1/assessments", content=b'{"readings": []}', headers=headers)
    assert answer.status_code == 415
    assert answer.headers["accept-post"] == "application/json"
    wrong = {"application/json; charset=latin-1": "charset=latin-1", "text/plain": "text/plain"}
    assert wrong.get(headers.get("content-type", ""), "") in answer.json()["detail"]
    assert answer.json()["type"] == "/problems/unsupported-media-type"


@pytest.mark.parametrize("media_type", ["application/json; charset=UTF-8", 'application/json;charset="utf-8"'])
def test_utf_8_may_be_said(client: Client, media_type: str) -> None:
    answer = client.post("/v1/assessments", content=b'{"readings": []}', headers={"content-type": media_type})
    assert answer.status_code == 200


def test_a_form_that_is_not_on_offer_is_not_acceptable(client: Client) -> None:
    answer = client.post("/v1/assessments", content=b'{"readings": []}', headers=JSON | {"accept": "video/mp4"})
    assert answer.status_code == 406
    assert "application/json" in answer.json()["detail"]


def test_a_query_parameter_is_refused(client: Client) -> None:
    answer = client.post("/v1/assessments?language=en", content=b'{"readings": []}', headers=JSON)
    assert answer.status_code == 400
    assert answer.json()["type"] == "/problems/malformed-request"


NDJSON = {"content-type": "application/x-ndjson"}


def test_a_batch_answers_line_by_line_in_order(client: Client, example_requests: dict[str, bytes]) -> None:
    good = [json.dumps(json.loads(raw)).encode() for raw in example_requests.values()]
    twice = b'{"readings": [], "reference": "a", "reference": "b"}'
    lines = [
        good[0],
        b"{}",
        b"",
        b"not json",
        twice,
        *good[1:],
        b'{"readings": [], "x": "' + b"x" * 300_000 + b'"}',
        good[0],
    ]
    answer = client.post("/v1/assessments/batch", content=b"\n".join(lines), headers=NDJSON)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/x-ndjson"
    told = [json.loads(line) for line in answer.text.splitlines()]
    assert len(told) == len(lines) - 1
    assert [(row["status"], row["line"]) for row in told if "status" in row] == [
        (422, 2),
        (400, 4),
        (400, 5),
        (413, len(lines) - 1),
    ]
    assert told[-2]["detail"] == "the line is longer than 262144 bytes"
    references = [row["reference"] for row in told if "finding" in row]
    assert references == [json.loads(raw)["reference"] for raw in (*good, good[0])]


def test_a_line_of_a_batch_is_the_same_as_the_single_answer(client: Client, example_requests: dict[str, bytes]) -> None:
    raw = json.dumps(json.loads(example_requests["legs_apart"])).encode()
    batch = client.post("/v1/assessments/batch", content=raw, headers=NDJSON)
    assert batch.content == client.post("/v1/assessments", content=raw, headers=JSON).content + b"\n"


def test_an_empty_batch_is_an_empty_answer(client: Client) -> None:
    answer = client.post("/v1/assessments/batch", content=b"\n\n", headers=NDJSON)
    assert (answer.status_code, answer.content) == (200, b"")


@pytest.mark.parametrize(("headers", "status"), [(JSON, 415), (NDJSON | {"accept": "application/json"}, 406)])
def test_a_batch_of_another_form_is_refused(client: Client, headers: dict[str, str], status: int) -> None:
    assert client.post("/v1/assessments/batch", content=b"{}", headers=headers).status_code == status


@pytest.mark.parametrize("media_type", ["text/html", "text/markdown", "text/plain", "image/svg+xml"])
def test_the_note_is_an_operation_of_its_own(
    client: Client, example_requests: dict[str, bytes], media_type: str
) -> None:
    raw, wanted = example_requests["low_impedance"], JSON | {"accept": media_type}
    note = client.post("/v1/assessments/note", content=raw, headers=wanted)
    assert note.headers["content-type"].startswith(media_type)
    assert note.content == client.post("/v1/assessments", content=raw, headers=wanted).content


def test_a_note_is_a_page_unless_another_form_is_asked_for(client: Client) -> None:
    page = client.post("/v1/assessments/note", content=b'{"readings": []}', headers=JSON)
    assert page.headers["content-type"].startswith("text/html")
    other = JSON | {"accept": "application/json"}
    assert client.post("/v1/assessments/note", content=b'{"readings": []}', headers=other).status_code == 406


def test_a_packed_body_is_taken_and_bounded_by_what_it_unpacks_to(
    client: Client, example_requests: dict[str, bytes]
) -> None:
    raw, is_packed = example_requests["legs_apart"], JSON | {"content-encoding": "gzip"}
    plain = client.post("/v1/assessments", content=raw, headers=JSON)
    assert client.post("/v1/assessments", content=gzip.compress(raw), headers=is_packed).content == plain.content
    large = gzip.compress(b" " * 300_000)
    refused = client.post("/v1/assessments", content=large, headers=is_packed)
    assert (refused.status_code, refused.json()["detail"]) == (413, "the body unpacks to more than 262144 bytes")
    assert client.post("/v1/assessments", content=raw, headers=is_packed).status_code == 400


def test_a_batch_comes_and_goes_packed(client: Client, example_requests: dict[str, bytes]) -> None:
    raw = b"\n".join(json.dumps(json.loads(one)).encode() for one in example_requests.values())
    plain = client.post("/v1/assessments/batch", content=raw, headers=NDJSON | {"accept-encoding": "identity"})
    assert "content-encoding" not in plain.headers
    both = {"content-encoding": "gzip", "accept-encoding": "gzip"}
    packed = client.post("/v1/assessments/batch", content=gzip.compress(raw), headers=NDJSON | both)
    assert packed.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["vary"]
    assert packed.content == plain.content
    cut = client.post("/v1/assessments/batch", content=gzip.compress(raw + b"\n")[:-8], headers=NDJSON | both)
    *answered, last = [json.loads(line) for line in cut.text.splitlines()]
    assert [row["reference"] for row in answered] == [json.loads(line)["reference"] for line in raw.splitlines()]
    assert (last["status"], last["line"], last["detail"]) == (400, len(answered) + 1, "the gzip body ends early")


def test_a_batch_that_unpacks_to_too_much_ends_with_saying_so(example_requests: dict[str, bytes]) -> None:
    line = json.dumps(json.loads(example_requests["plan"])).encode() + b"\n"
    with TestClient(create_app(Settings(warm_up=False, log_level="error", max_unpacked_bytes=2 * len(line)))) as small:
        sent = gzip.compress(line * 100)
        answer = small.post("/v1/assessments/batch", content=sent, headers=NDJSON | {"content-encoding": "gzip"})
    *_, last = [json.loads(text) for text in answer.text.splitlines()]
    assert (last["status"], last["detail"]) == (413, f"the body unpacks to more than {2 * len(line)} bytes")


def test_both_names_of_lines_are_taken_and_given(client: Client) -> None:
    jsonl = {"content-type": "application/jsonl", "accept": "application/jsonl"}
    answer = client.post("/v1/assessments/batch", content=b'{"readings": []}', headers=jsonl)
    assert answer.headers["content-type"] == "application/jsonl"
    refused = client.post("/v1/assessments/batch", content=b"{}", headers=JSON)
    assert refused.headers["accept-post"] == "application/x-ndjson, application/jsonl"


@pytest.mark.parametrize(
    ("line", "reference"),
    [(b'{"reference": "cabin-12"}', "cabin-12"), (b'{"reference": 12}', None), (b'{"reference": "cabin', None)],
)
def test_a_refused_line_says_whose_it_is(client: Client, line: bytes, reference: str | None) -> None:
    told = client.post("/v1/assessments/batch", content=b"\n" + line, headers=NDJSON).json()
    assert (told["line"], told.get("reference")) == (2, reference)


def test_readings_are_named_by_the_caller_s_own_ids(client: Client) -> None:
    readings: list[dict[str, Any]] = [
        {"kind": "voltage", "between": ["L1", "L2"], "value": 240, "meter": "m", "load_state": "idle", "id": "across"},
        {"kind": "voltage", "between": ["L1", "N"], "value": 90, "meter": "m", "load_state": "idle"},
        {"kind": "voltage", "between": ["L2", "N"], "value": 120, "meter": "m", "load_state": "idle", "id": "second"},
    ]
    body = {"meters": {"m": {"kind": "voltmeter"}}, "readings": readings}
    answer = client.post("/v1/assessments", json=body).json()
    assert [entry["id"] for entry in answer["evidence"]] == ["across", None, "second"]
    assert answer["checks"]
    for check in answer["checks"]:
        assert check["ids"] == [readings[index].get("id") for index in check["readings"]]
