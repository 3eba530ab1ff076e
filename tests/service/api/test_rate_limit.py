"""Token buckets, against their definition: at most `burst + rate * time` requests in any span of time."""

import math

from hypothesis import given
from hypothesis import strategies as st

from feedproof.api.rate_limit import CALLERS_KEPT, RateLimit, header


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@given(
    rate=st.floats(0.1, 50.0),
    burst=st.integers(1, 20),
    pauses=st.lists(st.floats(0.0, 2.0), min_size=1, max_size=100),
)
def test_no_span_of_time_holds_more_than_the_bucket_and_what_flowed_in(
    rate: float, burst: int, pauses: list[float]
) -> None:
    clock = Clock()
    buckets = RateLimit(rate, burst, clock)
    allowed = []
    for pause in pauses:
        clock.now += pause
        if buckets.take("one").allowed:
            allowed.append(clock.now)
    for i, begin in enumerate(allowed):
        for j in range(i, len(allowed)):
            assert j - i + 1 <= burst + rate * (allowed[j] - begin) + 1e-6


def test_after_the_wait_that_was_named_the_next_one_passes() -> None:
    clock = Clock()
    buckets = RateLimit(0.5, 3, clock)
    assert [buckets.take("one").allowed for _ in range(4)] == [True, True, True, False]
    refused = buckets.take("one")
    assert math.isclose(refused.wait, 2.0)
    clock.now += refused.wait + 1e-9
    assert buckets.take("one").allowed
    assert buckets.take("two").allowed


def test_headers_say_quota_window_rest_and_time() -> None:
    buckets = RateLimit(0.5, 3, Clock())
    assert buckets.policy == '"default";q=3;w=6'
    assert header(buckets.take("one")) == '"default";r=2;t=2'
    assert header(buckets.take("one")) == '"default";r=1;t=4'


def test_what_a_batch_borrows_is_waited_for() -> None:
    clock = Clock()
    buckets = RateLimit(10.0, 5, clock)
    assert buckets.borrow("one", 5) == 0.0
    assert math.isclose(buckets.borrow("one", 20), 2.0)
    assert not buckets.take("one").allowed
    clock.now += 2.2
    assert buckets.take("one").allowed


def test_callers_are_forgotten_before_memory_is_full() -> None:
    buckets = RateLimit(1.0, 1, Clock())
    for number in range(CALLERS_KEPT + 100):
        buckets.take(str(number))
    assert len(buckets._levels) == CALLERS_KEPT
