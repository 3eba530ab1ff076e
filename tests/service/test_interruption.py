"""A computation that nobody waits for any more ends at its next step."""

import threading

import pytest

from feedproof.assess import assess
from feedproof.errors import Interrupted
from feedproof.interruption import go_on, interruptible
from feedproof.parsing import read_request


def test_without_anybody_to_say_so_nothing_ends() -> None:
    go_on()
    with interruptible(lambda: False):
        go_on()
    go_on()


def test_it_ends_where_it_is_told_to_and_in_its_own_thread_only() -> None:
    ended: list[str] = []

    def elsewhere() -> None:
        go_on()
        ended.append("went on")

    with interruptible(lambda: True):
        thread = threading.Thread(target=elsewhere)
        thread.start()
        thread.join()
        with pytest.raises(Interrupted):
            go_on()
    go_on()
    assert ended == ["went on"]


@pytest.mark.parametrize("visit", ["every_kind_of_reading", "dryer_heating"])
def test_an_assessment_asks_all_the_way_and_ends_at_once(example_requests: dict[str, bytes], visit: str) -> None:
    admitted = read_request(example_requests[visit])
    asked = 0

    def count() -> bool:
        nonlocal asked
        asked += 1
        return asked == stop_at

    stop_at = -1
    # What is worked out once and remembered is no step the second time.
    for _ in range(2):
        asked = 0
        with interruptible(count):
            assess(*admitted)
    all_the_way = asked
    # Each place is a step, and so is each that is drawn from or asked what further readings would show.
    assert all_the_way > 60
    for stop_at in (1, 2, all_the_way // 2, all_the_way):
        asked = 0
        with interruptible(count), pytest.raises(Interrupted):
            assess(*admitted)
        assert asked == stop_at
