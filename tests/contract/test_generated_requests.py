"""Requests made from the published document: everything it allows is answered, everything it forbids is refused.

Every operation goes through the phases examples, coverage (boundaries, one fault at a time) and fuzzing, with valid
and with invalid data, in process and over a socket. All of schemathesis' checks are on, and some of our own.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, settings
from schemathesis import Case
from schemathesis.specs.openapi.checks import negative_data_rejection

from feedproof.api.openapi import document
from feedproof.app import create_app
from feedproof.contract.assessment import Assessment
from feedproof.settings import Settings
from support import contract_checks as own
from support.generated import PATH_OF_MAIN_JOB, body_of, check, mend, schema_of_all, without_lifespan
from support.live_service import live_service

SENT: Counter[str] = Counter()
"""Requests sent, by operation; what the last test counts."""

ENOUGH = 2000

EVERYDAY = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
)
LONG = settings(EVERYDAY, max_examples=1500, derandomize=False)


# Never started, so never ready: that operation is asked over the socket.
in_process = schema_of_all().exclude(path="/health/ready")
in_process.app = without_lifespan(create_app(Settings(warm_up=False, log_level="error")))
live = schema_of_all()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with live_service() as address:
        yield address


def send(case: Case[Any], **transport: Any) -> None:
    mend(case)
    SENT[f"{case.method} {case.path}"] += 1
    response = case.call(**transport)
    # A batch answers a bad line with a problem on its own line and 200 for the whole, so that the rest goes on.
    left_out: list[Any] = [negative_data_rejection] if case.path.endswith("/batch") else []
    case.validate_response(response, excluded_checks=left_out)
    check(case, response)


@in_process.parametrize()
@EVERYDAY
def test_in_process(case: Case[Any]) -> None:
    send(case)


@live.parametrize()
@EVERYDAY
def test_over_a_socket(case: Case[Any], address: str) -> None:
    send(case, base_url=address)


main_job = in_process.include(path=PATH_OF_MAIN_JOB, method="POST")


@main_job.parametrize()
@settings(EVERYDAY, max_examples=40)
def test_the_same_request_gives_the_same_bytes_and_the_legs_have_no_names(case: Case[Any]) -> None:
    mend(case)
    first, second = case.call(), case.call()
    SENT[f"{case.method} {case.path}"] += 2
    if first.status_code != 200 or "json" not in first.headers["content-type"][0]:
        return
    assert first.content == second.content
    twin = in_process[PATH_OF_MAIN_JOB]["POST"].Case(
        body=own.mirrored(body_of(case)), media_type="application/json", headers=case.headers
    )
    own.check_mirror(
        msgspec.json.decode(first.content, type=Assessment), msgspec.json.decode(twin.call().content, type=Assessment)
    )


@pytest.mark.slow
@main_job.parametrize()
@LONG
def test_the_main_job_at_length(case: Case[Any]) -> None:
    send(case)


def test_enough_was_sent() -> None:
    """Runs last in this file; it fails where the generator gave up early or an operation was left out."""
    operations = {f"{method.upper()} {path}" for path, methods in document()["paths"].items() for method in methods}
    if not operations & set(SENT):
        pytest.skip("run with the tests above")
    assert operations <= set(SENT)
    assert sum(SENT.values()) >= ENOUGH, SENT
