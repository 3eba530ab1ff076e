"""What is remembered is bounded in bytes, not in number."""

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from msgspec import Struct

from feedproof.remembered import remembered, size_of


class Record(Struct, frozen=True):
    values: Any
    name: str = "a"


def test_arrays_count_wherever_they_are() -> None:
    array = np.zeros(1000)
    for value in (array, (array,), [array], {"a": array}, Record(array), (Record((1, {"b": array})),)):
        assert 8000 < size_of(value) < 9000
    assert size_of(Record((array, array))) > 16_000


def test_the_same_arguments_are_computed_once() -> None:
    calls: list[int] = []

    @remembered(10_000)
    def double(x: int, *, by: int = 2) -> int:
        calls.append(x)
        return by * x

    assert [double(1), double(1), double(2), double(1, by=3), double(1, by=3)] == [2, 2, 4, 3, 3]
    assert calls == [1, 2, 1]
    double.cache_clear()
    assert double.held == 0
    assert double(1) == 2
    assert calls == [1, 2, 1, 1]


def test_the_least_recently_used_goes_first_and_what_is_large_is_not_held() -> None:
    calls: list[int] = []

    @remembered(100_000)
    def zeros(count: int) -> np.ndarray[Any, Any]:
        calls.append(count)
        return np.zeros(count)

    for count in (2000, 2001, 2002, 2003, 2004, 2005):
        zeros(count)
    assert zeros.held <= 100_000
    zeros(2000)
    zeros(2006)
    calls.clear()
    zeros(2000)
    assert calls == []
    zeros(2001)
    assert calls == [2001]
    for _ in range(2):
        zeros(4000)
    assert calls == [2001, 4000, 4000]
    for count in range(500):
        zeros(count * 10)
        assert zeros.held <= 100_000


def test_several_threads_may_call() -> None:
    @remembered(20_000)
    def zeros(count: int) -> np.ndarray[Any, Any]:
        return np.zeros(count)

    with ThreadPoolExecutor(8) as threads:
        sizes = [len(array) for array in threads.map(zeros, [count % 60 for count in range(4000)])]
    assert sizes == [count % 60 for count in range(4000)]
    assert 0 < zeros.held <= 20_000
