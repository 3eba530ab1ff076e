"""When a call is made again, and after how long."""

import time

import pytest

from feedproof_sdk import _retry, errors
from feedproof_sdk._retry import Pacer, may_go_better
from feedproof_sdk._settings import settle
from feedproof_sdk.types.problem import Problem


def answer(status: int, retry_after: str | None = None) -> errors.ProblemAnswer:
    problem = Problem(type="about:blank", title="t", status=status, detail="d", instance="")
    return errors.from_problem(problem, {} if retry_after is None else {"retry-after": retry_after})


CUT = errors.ConnectionFailed("cut")


def pacer_of(retries: int, total: float, *, endless: bool = False) -> Pacer:
    return Pacer(settle(max_retries=retries), "/v1/faults", total, endless=endless)


@pytest.mark.parametrize("status", [408, 429, 502, 503, 504])
def test_what_says_not_now_is_tried_again(status: int) -> None:
    assert may_go_better(answer(status))


@pytest.mark.parametrize("status", [400, 401, 404, 406, 413, 415, 422, 500, 501])
def test_what_would_say_the_same_again_is_not(status: int) -> None:
    assert not may_go_better(answer(status))
    with pytest.raises(errors.ProblemAnswer):
        pacer_of(3, 60).wait_after(answer(status))


def test_what_took_too_long_is_not_tried_again() -> None:
    problem = Problem(type="/problems/time-limit-exceeded", title="t", status=500, detail="d", instance="")
    error = errors.from_problem(problem)
    assert isinstance(error, errors.TimeLimitExceeded)
    assert not may_go_better(error)


def test_the_network_may_go_better_and_another_server_will_not() -> None:
    assert may_go_better(CUT)
    assert may_go_better(errors.TimedOut("slow"))
    assert not may_go_better(errors.UnreadableAnswer("u", status=200, content=b""))


def test_attempts_are_counted() -> None:
    pacer = pacer_of(2, 60)
    pacer.wait_after(CUT)
    pacer.wait_after(CUT)
    assert pacer.attempts == 3
    with pytest.raises(errors.ConnectionFailed):
        pacer.wait_after(CUT)


def test_waits_double_to_the_longest_and_are_spread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_retry, "FIRST_WAIT", 0.5)
    monkeypatch.setattr(_retry, "LONGEST_WAIT", 4.0)
    waits = [
        [(pacer := pacer_of(7, 1e6)).wait_after(CUT), *(pacer.wait_after(CUT) for _ in range(6))] for _ in range(200)
    ]
    for column, longest in zip(zip(*waits, strict=True), [0.5, 1, 2, 4, 4, 4, 4], strict=True):
        assert longest / 2 <= min(column) <= max(column) <= longest
        # 200 draws from a uniform law over half its length all lie within 60 % of it with probability 0.6 ** 199.
        assert max(column) - min(column) > 0.6 * longest / 2


def test_the_service_says_how_long_to_wait_and_nobody_comes_earlier() -> None:
    waits = [pacer_of(3, 60).wait_after(answer(503, "7")) for _ in range(50)]
    assert all(7.0 <= wait < 7.1 for wait in waits)
    assert len(set(waits)) > 1


def test_a_retry_after_that_nobody_can_read_is_passed_over() -> None:
    assert pacer_of(3, 60).wait_after(answer(429, "soon")) <= 0.25


def test_a_wait_that_ends_too_late_is_not_begun() -> None:
    with pytest.raises(errors.Overloaded) as caught:
        pacer_of(3, 5).wait_after(answer(503, "7"))
    assert caught.value.retry_after == 7.0


def test_a_batch_tries_as_often_as_its_patience_allows_unless_it_is_told_never_to() -> None:
    pacer = pacer_of(1, 60, endless=True)
    for _ in range(20):
        pacer.wait_after(CUT)
    with pytest.raises(errors.ConnectionFailed):
        pacer_of(0, 60, endless=True).wait_after(CUT)


def test_a_later_attempt_gets_what_is_left_of_the_time() -> None:
    pacer = pacer_of(3, 10)
    assert 9.9 < pacer.left <= 10.0
    pacer.deadline = time.monotonic() - 1.0
    assert 0.0 < pacer.left < 0.01
