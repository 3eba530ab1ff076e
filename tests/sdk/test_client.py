"""The client that waits: against the application in process, the service over loopback, and what stands between."""

import os
import pickle
import re
import subprocess
import sys
import threading
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import cloudpickle  # type: ignore[import-untyped]
import httpx
import msgspec
import pytest

from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof_sdk import Client, ReadingSet, Retry, Visit, Voltmeter, errors, simulated
from feedproof_sdk._requests import MEDIA_TYPES, Form
from feedproof_sdk.names import Determination, Disposition, Fault, MeterKind
from feedproof_sdk.types.request import VoltageReading
from support.bad_line import bad_line
from support.gateway import Gateway
from support.in_process import InProcess, in_process
from support.service_process import LiveService
from support.worker import assess_here

CATALOGUES = (
    "faults", "cautions", "supply_systems", "meters", "conductors", "receptacles", "observations", "units",
    "model", "limits",
)  # fmt: skip
HTML = b"<html>out of order</html>"


def test_the_common_case_is_five_lines(client: Client) -> None:
    visit = Visit("cabin-12/range")
    loz = visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
    unplugged = visit.disconnected()
    unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", "7 V", loz).voltage("L2", "N", "7 V", loz)
    answer = client.assess(visit)

    # Low-impedance readings near zero to both legs, the legs themselves full: nothing is behind the neutral (common
    # practice, no source).
    assert answer.finding.fault == Fault.OPEN_NEUTRAL
    assert answer.finding.conductor == "N"
    assert answer.determination == Determination.ESTABLISHED
    assert answer.disposition == Disposition.STOP_AND_REFER
    assert answer.reference == "cabin-12/range"
    assert len(answer.evidence) == 3
    assert answer.cautions


def test_every_form_of_a_reading_set_gives_the_same_answer(
    client: Client, unplugged: Visit, reading_set: ReadingSet
) -> None:
    json = msgspec.json.encode(reading_set)
    forms = [reading_set, unplugged, json, json.decode(), msgspec.json.decode(json)]
    assert len({client.assess(form).response.content for form in forms}) == 1


def test_what_is_no_reading_set_is_told_before_anything_is_sent(client: Client, transport: InProcess) -> None:
    before = len(transport.requests)
    with pytest.raises(TypeError, match="a list is no reading set"):
        client.assess([])  # type: ignore[arg-type]
    with pytest.raises(errors.BadQuantity):
        client.assess({"readings": [], "supply": {"frequency": float("nan")}})
    assert len(transport.requests) == before


def test_an_answer_is_read_into_frozen_hashable_values(client: Client, reading_set: ReadingSet) -> None:
    answer = client.assess(reading_set)
    with pytest.raises(AttributeError):
        answer.disposition = "go on"  # type: ignore[misc]
    assert hash(answer) == hash(client.assess(reading_set))
    assert pickle.loads(pickle.dumps(answer)) == answer  # noqa: S301 - our own


def test_a_plan_says_what_to_read_first_with_the_meters_at_hand(client: Client) -> None:
    nothing_known = client.assess(Visit())
    assert nothing_known.next_readings
    assert nothing_known.evidence == ()
    visit = Visit()
    visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
    with_meter = client.assess(visit)
    assert with_meter.evidence == ()
    meters = {
        step.reading.meter
        for step in with_meter.next_readings
        if step.reading is not None and step.meter_kind == MeterKind.LOW_IMPEDANCE_VOLTMETER
    }
    assert meters == {"loz"}


def test_what_is_simulated_is_found_again(client: Client, unplugged: Visit) -> None:
    asked = unplugged.simulation(Fault.OPEN_NEUTRAL, resistance="10 Mohm")
    answer = client.simulate(asked)
    across, l1, l2 = (reading.value for reading in answer.readings if isinstance(reading, VoltageReading))
    # A 3 kohm meter on a conductor that hangs on 10 Mohm reads near zero to both legs: 120 V times 3 kohm over 10 Mohm
    # is 0.04 V, by Ohm's law.
    assert isinstance(across, float)
    assert 220 < across < 260
    assert max(l1, l2) < 10  # type: ignore[operator]
    assert client.assess(simulated(asked, answer)).finding.fault == Fault.OPEN_NEUTRAL
    assert client.simulate(asked) == answer
    drawn = {client.simulate(unplugged.simulation("none_found", seed=seed)) for seed in range(3)}
    assert len(drawn) == 3
    sound = unplugged.simulation(Fault.NONE_FOUND)
    assert client.assess(simulated(sound, client.simulate(sound))).finding.fault == Fault.NONE_FOUND


def test_what_cannot_be_simulated_is_refused_by_field(client: Client, unplugged: Visit) -> None:
    with pytest.raises(errors.InvalidReadingSet) as caught:
        client.simulate(unplugged.simulation("bad_weather"))
    assert "/fault" in {fault.pointer for fault in caught.value.errors}


@pytest.mark.parametrize(
    ("form", "begin"), [("html", "<!doctype html"), ("svg", "<svg"), ("markdown", "# "), ("text", "")]
)
def test_the_answer_comes_in_forms_for_people(client: Client, unplugged: Visit, form: Form, begin: str) -> None:
    note = client.render(unplugged, form)
    assert note.text.lstrip().lower().startswith(begin)
    assert "neutral" in note.text.lower()
    assert note.request_id is not None
    assert note.response.headers["content-type"].startswith(MEDIA_TYPES[form])


def test_and_as_pdf(client: Client, unplugged: Visit) -> None:
    assert client.render(unplugged, "pdf").content.startswith(b"%PDF-")


def test_a_form_that_nobody_knows_is_told_before_anything_is_sent(client: Client, unplugged: Visit) -> None:
    with pytest.raises(ValueError, match="form 'rtf': give one of html, pdf, svg, markdown, text"):
        client.render(unplugged, "rtf")  # type: ignore[arg-type]


def test_the_catalogues(client: Client) -> None:
    assert {entry.name for entry in client.faults().faults} >= {"none_found", "open_neutral"}
    assert sum(entry.base_rate for entry in client.faults().faults) == pytest.approx(1.0, abs=1e-6)
    assert all(entry.basis for entry in client.cautions().cautions)
    assert "split_phase_120_240" in {entry.name for entry in client.supply_systems().supply_systems}
    assert {entry.name for entry in client.meters().meters} == set(MeterKind)
    assert "6 AWG" in {entry.size for entry in client.conductors().conductors}
    assert "V" in {entry.unit for entry in client.units().units}


def test_the_raw_response_is_at_hand(client: Client, reading_set: ReadingSet) -> None:
    answer = client.assess(reading_set)
    raw = answer.response
    assert (raw.status, raw.attempts) == (200, 1)
    assert raw.headers["Content-Type"] == raw.headers["content-type"] == "application/json"
    assert answer.request_id == raw.headers["REQUEST-ID"]
    assert re.fullmatch(r"[0-9a-f-]{36}", answer.request_id)
    assert msgspec.json.decode(raw.content)["finding"]["fault"] == "open_neutral"
    # Another request with another id, and the same answer.
    again = client.assess(reading_set)
    assert again.request_id != answer.request_id
    assert again == answer
    assert hash(again) == hash(answer)
    for name in CATALOGUES:
        assert getattr(client, name)().request_id is not None


def test_what_is_sent_says_who_asks(elsewhere: Gateway) -> None:
    elsewhere.will_answer(500)
    ours = Client(elsewhere.url + "/below/", api_key="k3y", language="es", headers={"traceparent": "00-1-2-03"})
    with pytest.raises(errors.InternalError):
        ours.with_options(headers={"X-Job": "7"}).assess(ReadingSet(readings=()))
    ((method, path, headers, content),) = elsewhere.requests
    assert (method, path, content) == ("POST", "/below/v1/assessments", b'{"readings":[]}')
    assert headers["authorization"] == "Bearer k3y"
    assert headers["accept-language"] == "es"
    assert headers["traceparent"] == "00-1-2-03"
    assert headers["x-job"] == "7"
    assert headers["content-type"] == headers["accept"] == "application/json"
    assert re.fullmatch(r"feedproof-sdk/\S+ python/3\.\d+\.\d+\S* httpx/\S+", headers["user-agent"])


def test_without_a_key_none_is_sent(elsewhere: Gateway) -> None:
    elsewhere.will_answer(500)
    with pytest.raises(errors.InternalError):
        Client(elsewhere.url).faults()
    assert "authorization" not in elsewhere.requests[0][2]


def test_a_service_with_keys_knows_ours(reading_set: ReadingSet) -> None:
    # SHA-256 of "key", from `printf key | sha256sum`.
    digest = "2c70e12b7a0646f92279f427c7b38e7334d8e5389cff167a1dc30e73f826b683"
    with in_process(create_app(Settings(warm_up=False, log_level="error", api_keys=(digest,)))) as transport:
        assert Client(http_client=httpx.Client(transport=transport), api_key="key").faults().faults
        with pytest.raises(errors.Unauthorized):
            Client(http_client=httpx.Client(transport=transport), api_key="other").assess(reading_set)
        with pytest.raises(errors.Unauthorized):
            next(Client(http_client=httpx.Client(transport=transport)).assess_many([reading_set]))


def test_a_service_that_counts_is_waited_for(unplugged: Visit) -> None:
    counts = Settings(warm_up=False, log_level="error", rate_per_second=1.0, rate_burst=1)
    with in_process(create_app(counts)) as transport:
        client = Client(http_client=httpx.Client(transport=transport))
        client.faults()
        begin = time.monotonic()
        assert client.faults().response.attempts == 2
        assert time.monotonic() - begin >= 1.0
        with pytest.raises(errors.TooManyRequests) as caught:
            client.with_options(max_retries=0).assess(unplugged)
        assert caught.value.retry_after == 1.0
        assert caught.value.headers["Retry-After"] == caught.value.headers["retry-after"] == "1"


def test_a_gateway_that_answers_for_the_service_is_tried_again(
    elsewhere: Gateway, client: Client, reading_set: ReadingSet
) -> None:
    answer = client.assess(reading_set).response.content
    elsewhere.will_answer(502, HTML, Content_Type="text/html")
    elsewhere.will_answer(503, HTML, Retry_After="0")
    elsewhere.will_answer(504, b"", Retry_After="whenever")
    elsewhere.will_answer(200, answer, Content_Type="application/json")
    found = Client(elsewhere.url).assess(reading_set)
    assert found.response.attempts == 4
    assert found.finding.fault == Fault.OPEN_NEUTRAL
    assert len({content for *_, content in elsewhere.requests}) == 1


def test_a_retry_is_told_to_the_log_and_to_a_hook(elsewhere: Gateway, caplog: pytest.LogCaptureFixture) -> None:
    elsewhere.will_answer(503, HTML, Retry_After="0")
    elsewhere.will_answer(404)
    told: list[Retry] = []
    with pytest.raises(errors.NotFound):
        Client(elsewhere.url, on_retry=told.append).faults()
    assert [(retry.path, retry.attempt) for retry in told] == [("/v1/faults", 1)]
    assert isinstance(told[0].error, errors.Overloaded)
    ((name, _, line),) = caplog.record_tuples
    assert name == "feedproof_sdk"
    assert line.startswith("/v1/faults: attempt 1 failed, next in 0.0")


def test_attempts_come_to_an_end(elsewhere: Gateway) -> None:
    elsewhere.will_answer(502, HTML, Content_Type="text/html")
    with pytest.raises(errors.ServiceFailed, match="out of order") as caught:
        Client(elsewhere.url).faults()
    assert len(elsewhere.requests) == 4
    assert caught.value.status == 502
    assert caught.value.problem.type == "about:blank"


def test_a_failure_of_the_service_and_a_refusal_are_not_tried_again(elsewhere: Gateway) -> None:
    elsewhere.will_answer(500)
    elsewhere.will_answer(404)
    for kind in (errors.InternalError, errors.NotFound):
        with pytest.raises(kind):
            Client(elsewhere.url).faults()
    assert len(elsewhere.requests) == 2


@pytest.mark.parametrize(
    ("status", "content", "headers"),
    [
        (200, HTML, {}),
        (200, b"", {}),
        (200, b'{"faults": [{"name": 3}], "model": {}}', {}),
        (204, b"", {}),
        (302, b"", {"Location": "https://elsewhere.example/login"}),
        (200, b"not gzip", {"Content-Encoding": "gzip"}),
    ],
)
def test_what_is_no_answer_of_the_service_is_told_as_such(
    elsewhere: Gateway, status: int, content: bytes, headers: dict[str, str]
) -> None:
    elsewhere.will_answer(status, content, **headers)
    with pytest.raises(errors.UnreadableAnswer):
        Client(elsewhere.url).faults()
    assert len(elsewhere.requests) == 1


def test_a_problem_whose_body_is_broken_still_has_its_status(elsewhere: Gateway) -> None:
    elsewhere.will_answer(422, b"{", Content_Type="application/problem+json")
    with pytest.raises(errors.InvalidReadingSet) as caught:
        Client(elsewhere.url).assess(Visit())
    assert caught.value.errors == ()


def test_over_loopback(service: LiveService, client: Client, reading_set: ReadingSet) -> None:
    with Client(service.url) as live:
        assert live.assess(reading_set).response.content == client.assess(reading_set).response.content
        assert live.faults() == client.faults()


def test_one_connection_serves_many_calls(service: LiveService) -> None:
    with bad_line(service.port) as line, Client(line.url) as client:
        for _ in range(5):
            client.faults()
        client.close()
        assert line.connections == 1
        client.faults()
        assert line.connections == 2


def test_threads_share_a_client(service: LiveService, reading_set: ReadingSet) -> None:
    with Client(service.url) as client, ThreadPoolExecutor(8) as pool:
        answers = set(pool.map(client.assess, [reading_set] * 24))
    assert len(answers) == 1


def test_a_slow_service_is_not_waited_for_for_ever(service: LiveService) -> None:
    with bad_line(service.port) as line:
        line.silence = 5.0
        begin = time.monotonic()
        with pytest.raises(errors.TimedOut):
            Client(line.url, timeout=0.5).faults()
        assert time.monotonic() - begin < 3.0


def test_an_answer_that_trickles_is_given_up_when_the_time_is_over(service: LiveService) -> None:
    with bad_line(service.port) as line:
        line.trickle = 0.02
        begin = time.monotonic()
        with pytest.raises(errors.TimedOut, match=r"no whole answer within 1 s"):
            Client(line.url, timeout=1.0, max_retries=0).faults()
        assert time.monotonic() - begin < 4.0


def test_a_connection_that_is_cut_is_made_again(service: LiveService, reading_set: ReadingSet) -> None:
    with bad_line(service.port) as line:
        # Before a byte, inside the headers, inside the body.
        line.cut_after = [0, 40, 900]
        found = Client(line.url).assess(reading_set)
        assert found.response.attempts == 4
        assert found.finding.fault == Fault.OPEN_NEUTRAL
        line.cut_after = [900]
        with pytest.raises(errors.ConnectionFailed):
            Client(line.url, max_retries=0).assess(reading_set)


def test_the_environment_is_enough(service: LiveService, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FEEDPROOF_BASE_URL", service.url)
    assert Client().faults().faults


def test_a_client_travels_to_another_process(service: LiveService, reading_set: ReadingSet) -> None:
    client = Client(service.url, api_key="k3y", timeout=50, headers={"X-Job": "7"})
    here = client.assess(reading_set)  # so that it holds connections that cannot travel
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        worker, there = pool.submit(assess_here, client, reading_set).result(120)
    assert worker != os.getpid()
    assert there == here
    assert pickle.loads(pickle.dumps(client))._settings == client._settings  # noqa: S301 - our own
    assert cloudpickle.loads(cloudpickle.dumps(client))._settings == client._settings


FORK = """
import os, sys
from feedproof_sdk import Client

client = Client(sys.argv[1])
here = client.faults()
child = os.fork()
if child == 0:
    os._exit(0 if client.faults() == here else 1)
assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
assert client.faults() == here
"""


def test_after_a_fork_the_child_opens_connections_of_its_own(service: LiveService) -> None:
    # In a process of its own: a fork of this one would copy threads in the midst of their work.
    with bad_line(service.port) as line:
        subprocess.run([sys.executable, "-W", "error", "-c", FORK, line.url], check=True, timeout=120)
        assert line.connections == 2


def test_a_transport_of_one_s_own_carries_the_requests(reading_set: ReadingSet) -> None:
    seen: list[str] = []

    def answer(request: httpx.Request) -> httpx.Response:
        seen.append(f"{request.method} {request.url}")
        return httpx.Response(429, headers={"Retry-After": "3600"})

    client = Client("https://feedproof.example/api", http_client=httpx.Client(transport=httpx.MockTransport(answer)))
    with pytest.raises(errors.TooManyRequests):  # an hour is longer than the call may take: told at once
        client.assess(reading_set)
    assert seen == ["POST https://feedproof.example/api/v1/assessments"]


def test_a_client_that_nobody_calls_opens_nothing() -> None:
    before = threading.active_count()
    Client("http://127.0.0.1:1").close()
    assert threading.active_count() == before
