"""What is computed for nobody ends: at the deadline, when the caller leaves, and when the service is to stop."""

import http.client
import json
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from support.operated_service import Service, running, within

# The engine's place is taken by one that would compute for ever, asking on its way as the engine does.
ENDLESS = """
import sys, time
import feedproof.assess
from feedproof.interruption import go_on

def infer(reading_set):
    while True:
        go_on()
        time.sleep(0.01)

feedproof.assess.infer = infer
from feedproof.cli import main
sys.exit(main(sys.argv[1:]))
"""
VISIT = b'{"readings": []}'


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    script = tmp_path / "endless.py"
    script.write_text(ENDLESS)
    command = (sys.executable, str(script), "serve", "--port", "0")
    with running(
        tmp_path, command=command, warm_up="false", workers="1", queue="0", request_seconds="3", stop_seconds="1"
    ) as service:
        yield service


def computing(service: Service) -> int:
    return int(service.metrics()["feedproof_computing"])


def begin(service: Service) -> http.client.HTTPConnection:
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=30)
    connection.request("POST", "/v1/assessments", VISIT, {"Content-Type": "application/json"})
    within(10.0, lambda: computing(service) == 1)
    return connection


def warm(service: Service) -> None:
    """Have something computed: before that nothing has a deadline, since it may have to compile."""
    assert service.post(b'{"fault": "none_found", "readings": []}', "/v1/simulations")[0] == 200


def test_at_the_deadline(service: Service) -> None:
    warm(service)
    with closing(begin(service)) as connection:
        answer = connection.getresponse()
        assert answer.status == 500
        assert answer.headers["Retry-After"] is None
        problem = json.loads(answer.read())
    assert problem["type"] == "/problems/time-limit-exceeded"
    within(1.0, lambda: computing(service) == 0)
    # The one thread is free for others.
    warm(service)
    assert not [line for line in service.lines() if line["level"] == "error"]
    assert service.metrics()['feedproof_refused_total{reason="deadline"}'] == 1


def test_when_the_caller_leaves(service: Service) -> None:
    begin(service).close()
    within(1.0, lambda: computing(service) == 0)
    warm(service)
    assert not [line for line in service.lines() if line["level"] == "error"]


def test_when_the_service_is_to_stop(service: Service) -> None:
    connection = begin(service)
    service.process.send_signal(signal.SIGTERM)
    begun = time.monotonic()
    service.process.wait(20.0)
    assert time.monotonic() - begun < 10.0
    assert service.process.returncode in {0, -signal.SIGTERM}
    connection.close()
