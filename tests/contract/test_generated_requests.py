"""Requests made from the published document: everything it allows is answered, everything it forbids is refused.

Every operation goes through the phases examples, coverage (boundaries, one fault at a time) and fuzzing, with valid
and with invalid data, in process and over a socket. All of schemathesis' checks are on, and some of our own.
"""

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis import Case
from schemathesis.specs.openapi.checks import negative_data_rejection

from feedproof.api.openapi import document
from feedproof.app import create_app
from feedproof.contract.assessment import Assessment
from feedproof.contract.problem import Problem
from feedproof.settings import Settings
from support import contract_checks as own
from support.live_service import live_service

SENT: Counter[str] = Counter()
"""Requests sent, by operation; what the last test counts."""

ENOUGH = 2000

EVERYDAY = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
)
LONG = settings(EVERYDAY, max_examples=1500, derandomize=False)


@schemathesis.serializer("application/x-ndjson")
def _lines(_context: Any, value: Any) -> bytes:
    return value.encode() if isinstance(value, str) else json.dumps(value).encode()


def _without_lifespan(app: Any) -> Any:
    """Keep the transport from starting and stopping the application round every request."""

    async def lasting(scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "lifespan":
            await app(scope, receive, send)
            return
        for stage in ("startup", "shutdown"):
            await receive()
            await send({"type": f"lifespan.{stage}.complete"})

    return lasting


def _schema() -> Any:
    return schemathesis.openapi.from_dict(json.loads(json.dumps(document())))


# Never started, so never ready: that operation is asked over the socket.
in_process = _schema().exclude(path="/health/ready")
in_process.app = _without_lifespan(create_app(Settings(warm_up=False, log_level="error")))
live = _schema()
PATH_OF_MAIN_JOB = "/v1/assessments"
MENDING = {PATH_OF_MAIN_JOB: own.mend, "/v1/simulations": own.mend_simulation}


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with live_service() as address:
        yield address


def is_valid(case: Case[Any]) -> bool:
    return case.meta is not None and case.meta.generation.mode.is_positive


def _body(case: Case[Any]) -> dict[str, Any]:
    assert isinstance(case.body, dict)
    return case.body


def mend(case: Case[Any]) -> None:
    """Mend a valid case where the document cannot say all that is needed, see `contract_checks.mend`."""
    rule = MENDING.get(case.path)
    if rule is not None and is_valid(case) and isinstance(case.body, dict):
        case.body = rule(case.body)


def check(case: Case[Any], response: Any) -> None:
    """Check what a schema cannot say."""
    content_type = response.headers["content-type"][0] if response.headers.get("content-type") else ""
    if response.status_code >= 400:
        assert content_type == "application/problem+json", content_type
        problem = msgspec.json.decode(response.content, type=Problem)
        assert problem.status == response.status_code
        assert problem.type.startswith("/problems/")
        assert problem.instance == f"urn:uuid:{response.headers['request-id'][0]}"
        assert (problem.status == 422) == bool(problem.errors)
    elif case.path == PATH_OF_MAIN_JOB and content_type == "application/json":
        assessment = msgspec.json.decode(response.content, type=Assessment)
        own.check_numbers(assessment)
        own.check_words(assessment, _body(case))


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
        body=own.mirrored(_body(case)), media_type="application/json", headers=case.headers
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
