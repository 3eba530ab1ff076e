"""Calls of compiled functions that leave out the look at types."""

from typing import NamedTuple

import numba
import numpy as np
import pytest
from numpy.typing import NDArray

from feedproof.circuit.compiling import direct


class Record(NamedTuple):
    values: NDArray[np.float64]
    counts: NDArray[np.int64]
    scale: float


@numba.njit(error_model="numpy")
def weighted_sum(record: Record, flag: bool, out: NDArray[np.float64]) -> float:
    total = 0.0
    for i in range(record.values.size):
        total += record.scale * record.values[i] * record.counts[i]
        out[i] = total
    if total < 0.0:
        raise ValueError("less than nothing")
    return -total if flag else total


def record(*values: float, scale: float = 2.0) -> Record:
    return Record(np.array(values), np.arange(1, len(values) + 1), scale)


def test_a_direct_call_gives_what_the_call_gives() -> None:
    called = direct(weighted_sum)
    for given in (record(1.0), record(1.0, 2.0, 3.0), record(), record(5.0, 0.5, scale=-0.0)):
        for flag in (False, True):
            ours, theirs = np.zeros(3), np.zeros(3)
            assert called(given, flag, ours) == weighted_sum(given, flag, theirs)
            np.testing.assert_array_equal(ours, theirs)


def test_errors_come_through() -> None:
    called = direct(weighted_sum)
    for _ in range(2):
        with pytest.raises(ValueError, match="less than nothing"):
            called(record(-1.0), False, np.zeros(1))
    assert called(record(1.0), False, np.zeros(1)) == 2.0


def test_it_takes_the_form_of_its_own_first_call() -> None:
    """Where the function has been compiled for other types as well."""
    weighted_sum(Record(np.ones(1), np.ones(1, np.int64), 1), False, np.zeros(1))
    called = direct(weighted_sum)
    assert [called(record(1.0, 1.0), False, np.zeros(2)) for _ in range(2)] == [6.0, 6.0]
