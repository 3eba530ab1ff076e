"""Requests made from the published document: everything it allows is answered, everything it forbids is refused.

Every operation goes through the phases examples, coverage (boundaries, one fault at a time) and fuzzing, with valid
and with invalid data. All of schemathesis' checks are on, and some of our own.

Coverage, hundreds of cases of one body, is gone through once where it is read in the same way: everyday in process,
`-m slow` over a socket, where the other forms of the main job are asked for as well. Of fuzzing, a few are made
everyday and many with `-m slow`, more where GENERATED_EXAMPLES says how many of each operation.
"""

import os
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, settings
from schemathesis import Case, GenerationMode
from schemathesis.pytest import from_fixture
from schemathesis.specs.openapi.checks import negative_data_rejection

from feedproof.api.openapi import document
from feedproof.app import create_app
from feedproof.contract.assessment import Assessment
from feedproof.settings import Settings
from support.generated import PATH_OF_MAIN_JOB, body_of, check, mend, schema_of_all, without_lifespan
from support.live_service import live_service
from support.mirror_images import check_mirror, mirrored

SENT: dict[str, Counter[str]] = {"everyday": Counter(), "at length": Counter()}
"""Requests sent, by operation; what the last tests count."""

EVERYDAY = settings(
    max_examples=8, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
)
CHOSEN = os.environ.get("GENERATED_EXAMPLES")
AT_LENGTH = settings(EVERYDAY, max_examples=int(CHOSEN or 120), derandomize=CHOSEN is None)


ASKED: dict[str, dict[str, bool]] = {}
"""By test, whether it asks in process, for coverage as well, and with invalid data; all where it does not say."""


def sent(how: settings, only: str = "", **asked: bool) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Call a test with each request of a schema, all made when the test runs: they take longer than all collecting."""

    def made(test: Callable[..., None]) -> Callable[..., None]:
        ASKED[test.__name__] = asked
        called: Callable[..., None] = how(from_fixture("schema").include(path_regex=only).parametrize()(test))
        return called

    return made


@pytest.fixture(scope="module")
def app() -> Any:
    return without_lifespan(create_app(Settings(warm_up=False, log_level="error")))


@pytest.fixture
def schema(request: pytest.FixtureRequest, app: Any) -> Any:
    # schemathesis 4.32 says of what it runs by a private name that pytest 9.2 no longer has.
    request.node._nodeid = request.node.nodeid
    asked = {"in_process": True, "coverage": True, "invalid": True} | ASKED[request.node.originalname]
    made = schema_of_all()
    made.app = app if asked["in_process"] else None
    made.config.phases.coverage.enabled = asked["coverage"]
    if not asked["invalid"]:
        made.config.generation.update(modes=[GenerationMode.POSITIVE])
    return made


# Never started, so never ready: that operation is asked over the socket. So are the other forms of the main job, which
# cost as much again and differ only in what is made of the answer.
IN_PROCESS = "^/(?!health/ready|v1/assessments/)"
# What a transport can change: bodies both ways, a stream, a document, and what only a started service tells.
BRIEF = "^/(v1/assessments|openapi.json|health/ready)"
MAIN_JOB = f"^{PATH_OF_MAIN_JOB}$"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with live_service() as address:
        yield address


def send(case: Case[Any], profile: str = "everyday", **transport: Any) -> None:
    mend(case)
    SENT[profile][f"{case.method} {case.path}"] += 1
    response = case.call(**transport)
    # A batch answers a bad line with a problem on its own line and 200 for the whole, so that the rest goes on.
    left_out: list[Any] = [negative_data_rejection] if case.path.endswith("/batch") else []
    case.validate_response(response, excluded_checks=left_out)
    check(case, response)


@sent(EVERYDAY, only=IN_PROCESS)
def test_in_process(case: Case[Any]) -> None:
    send(case)


@sent(EVERYDAY, only=BRIEF, in_process=False, coverage=False)
def test_over_a_socket(case: Case[Any], address: str) -> None:
    send(case, base_url=address)


@pytest.mark.slow
@sent(AT_LENGTH, only=IN_PROCESS, coverage=False)
def test_in_process_at_length(case: Case[Any]) -> None:
    send(case, "at length")


@pytest.mark.slow
@sent(AT_LENGTH, in_process=False)
def test_over_a_socket_at_length(case: Case[Any], address: str) -> None:
    send(case, "at length", base_url=address)


def send_twice_and_mirrored(case: Case[Any], profile: str) -> None:
    mend(case)
    first, second = case.call(), case.call()
    SENT[profile][f"{case.method} {case.path}"] += 2
    if first.status_code != 200 or "json" not in first.headers["content-type"][0]:
        return
    assert first.content == second.content
    body = body_of(case)
    twin = case.operation.Case(body=mirrored(body), media_type="application/json", headers=case.headers)
    answers = [msgspec.json.decode(given.content, type=Assessment) for given in (first, twin.call())]
    check_mirror(body, *answers)


# Only answers are compared, so valid requests will do.
@sent(EVERYDAY, only=MAIN_JOB, coverage=False, invalid=False)
def test_the_same_request_gives_the_same_bytes_and_the_legs_have_no_names(case: Case[Any]) -> None:
    send_twice_and_mirrored(case, "everyday")


@pytest.mark.slow
@sent(AT_LENGTH, only=MAIN_JOB, invalid=False)
def test_the_same_bytes_and_no_names_at_length(case: Case[Any]) -> None:
    send_twice_and_mirrored(case, "at length")


OPERATIONS = {f"{method.upper()} {path}" for path, methods in document()["paths"].items() for method in methods}


@pytest.mark.parametrize(
    ("profile", "enough"),
    [("everyday", 200), pytest.param("at length", 2000, marks=pytest.mark.slow)],
)
def test_enough_was_sent(profile: str, enough: int) -> None:
    """Runs last in this file; it fails where the generator gave up early or an operation was left out."""
    if not SENT[profile]:
        pytest.skip("run with the tests above")
    assert set(SENT[profile]) >= OPERATIONS
    assert sum(SENT[profile].values()) >= enough, SENT[profile]
