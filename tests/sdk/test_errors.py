"""One tree of errors: each problem type of the service has its class, and nothing gets lost on the way."""

import ast
import pickle
import re
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from feedproof.api.problems import PROBLEM_TYPES, TIME_LIMIT
from feedproof_sdk import Client, ReadingSet, errors
from feedproof_sdk.types.problem import Problem, RequestFault

SOURCE = Path(errors.__file__)
REFUSED = (
    b'{"readings": [{"kind": "voltage", "between": ["L1", "L2"], "value": "5 A", "load_state": "idle"}], "suply": {}}'
)


def problem(status: int, of_type: str = "about:blank") -> Problem:
    return Problem(type=of_type, title="Title", status=status, detail="detail", instance="urn:uuid:1")


def public() -> dict[str, type[Exception]]:
    return {
        name: kind
        for name, kind in vars(errors).items()
        if isinstance(kind, type) and issubclass(kind, Exception) and not name.startswith("_")
    }


def test_the_tree_drawn_at_its_head_is_the_tree() -> None:
    drawing = ast.get_docstring(ast.parse(SOURCE.read_text(encoding="utf-8"))) or ""
    parents: list[tuple[int, str]] = []
    drawn = {}
    for line in drawing.splitlines():
        if found := re.match(r"^([│├└─ ]*)([A-Z]\w+)(?:  |$)", line):
            depth = len(found[1])
            parents = [parent for parent in parents if parent[0] < depth]
            drawn[found[2]] = parents[-1][1] if parents else None
            parents.append((depth, found[2]))
    is_so = {
        name: next((base.__name__ for base in kind.__mro__[1:] if base.__name__ in public()), None)
        for name, kind in public().items()
    }
    assert drawn == is_so
    assert len(drawn) > 15


@pytest.mark.parametrize("kind", PROBLEM_TYPES, ids=lambda kind: kind.name)
def test_each_problem_type_of_the_service_has_a_class_that_its_status_agrees_with(kind: object) -> None:
    name, status = kind.name, kind.status  # type: ignore[attr-defined]
    made = errors.from_problem(problem(status, f"/problems/{name}"))
    if kind is TIME_LIMIT:
        assert type(made) is errors.TimeLimitExceeded
    else:
        assert type(made) is errors.BY_STATUS[status]
    assert isinstance(made, errors.Refused if status < 500 else errors.ServiceFailed)


@pytest.mark.parametrize(
    ("status", "kind"),
    [(402, errors.Refused), (418, errors.Refused), (403, errors.Unauthorized), (502, errors.ServiceFailed)],
)
def test_a_type_that_is_not_known_falls_back_on_its_status(status: int, kind: type[errors.ProblemAnswer]) -> None:
    assert type(errors.from_problem(problem(status, "/problems/invented-tomorrow"))) is kind


def test_network_errors_are_no_refusals() -> None:
    assert not issubclass(errors.NoAnswer, errors.ProblemAnswer)
    assert not issubclass(errors.ProblemAnswer, errors.NoAnswer)
    assert issubclass(errors.TimedOut, TimeoutError)
    assert issubclass(errors.BadSetting, ValueError)


def test_an_invalid_reading_set_shows_each_faulty_field(client: Client) -> None:
    with pytest.raises(errors.InvalidReadingSet) as caught:
        client.assess(REFUSED)
    error = caught.value
    assert {fault.pointer for fault in error.errors} == {"/readings/0/value", "/readings/0/meter", "/suply"}
    by_pointer = {fault.pointer: fault for fault in error.errors}
    assert by_pointer["/readings/0/value"].accepted == ("V", "mV", "kV")
    assert by_pointer["/readings/0/value"].value == "5 A"
    for fault in error.errors:
        assert f"  {fault.pointer}: {fault.detail}" in str(error)
    assert " (given: '5 A'); accepted: V, mV, kV\n" in str(error)
    assert str(error).endswith(f"\n  request id {error.request_id}")
    assert error.status == 422
    assert re.fullmatch(r"[0-9a-f-]{36}", error.request_id)
    assert error.request_id in error.problem.instance


def test_a_body_that_is_no_json_is_another_error(client: Client) -> None:
    with pytest.raises(errors.MalformedRequest):
        client.assess(b"{")


def examples() -> list[errors.FeedproofError]:
    fault = RequestFault(pointer="/x", code="c", detail="d", accepted=("a",), value=1.0)
    invalid = Problem(type="t", title="T", status=422, detail="d", instance="urn:uuid:1", errors=(fault,))
    return [
        errors.FeedproofError("f"),
        errors.BadSetting("b"),
        errors.BadQuantity("q"),
        errors.ConnectionFailed("c"),
        errors.TimedOut("t"),
        errors.UnreadableAnswer("u", status=200, content=b"x"),
        errors.from_problem(invalid, {"request-id": "2"}),
        errors.from_problem(problem(503), {"retry-after": "7"}),
        errors.from_problem(problem(599)),
    ]


@pytest.mark.parametrize("error", examples(), ids=lambda error: type(error).__name__)
def test_every_error_travels_to_another_process(error: errors.FeedproofError) -> None:
    error.add_note("on the way")
    arrived = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own
    assert type(arrived) is type(error)
    assert str(arrived) == str(error)
    assert vars(arrived) == vars(error)


def test_retry_after_is_seconds_or_a_date_or_nothing() -> None:
    assert errors.seconds_to_wait(None) is None
    assert errors.seconds_to_wait("120") == 120.0
    assert errors.seconds_to_wait(" 0 ") == 0.0
    in_a_minute = format_datetime(datetime.now(UTC) + timedelta(seconds=60), usegmt=True)
    assert errors.seconds_to_wait(in_a_minute) == pytest.approx(60.0, abs=2.0)
    # The example of RFC 9110, 10.2.3; long past.
    assert errors.seconds_to_wait("Fri, 31 Dec 1999 23:59:59 GMT") == 0.0
    for malformed in ("soon", "-1", "1.5", "٣", "Fri, 31 Dec", "", "1e3"):
        assert errors.seconds_to_wait(malformed) is None, malformed
    assert errors.seconds_to_wait("9" * 400) == 999_999_999.0


def test_only_those_that_say_come_back_later_say_when() -> None:
    later = errors.from_problem(problem(429), {"retry-after": "3"})
    assert isinstance(later, errors.TooManyRequests)
    assert later.retry_after == 3.0
    assert errors.from_problem(problem(503)).retry_after is None  # type: ignore[attr-defined]


def test_an_error_of_the_network_says_where_it_was_going(reading_set: ReadingSet) -> None:
    nobody = Client("http://127.0.0.1:1", max_retries=0)
    with pytest.raises(errors.ConnectionFailed, match=r"POST http://127\.0\.0\.1:1/v1/assessments: .*refused"):
        nobody.assess(reading_set)
