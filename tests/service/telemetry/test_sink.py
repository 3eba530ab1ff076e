"""The log's own thread: order kept, a full disk and a stalled reader cost lines and nothing else."""

import os
import time
from pathlib import Path

import pytest

from feedproof.telemetry.sink import Sink


def test_lines_arrive_whole_and_in_order(tmp_path: Path) -> None:
    path = tmp_path / "log"
    with path.open("wb") as file:
        sink = Sink(file.fileno())
        for number in range(5000):
            sink.write(f"{number}\n")
        sink.close(30.0)
    assert path.read_text().split() == [str(number) for number in range(5000)]
    assert sink.lost == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_loses_lines_and_raises_nothing() -> None:
    with Path("/dev/full").open("wb", buffering=0) as file:
        sink = Sink(file.fileno())
        for number in range(100):
            sink.write(f"{number}\n")
        sink.close(30.0)
        assert sink.lost == 100


def test_a_reader_that_stalls_holds_nobody_up() -> None:
    reader, writer = os.pipe()
    sink = Sink(writer, longest=100)
    begin = time.monotonic()
    for _ in range(10_000):
        sink.write("x" * 100 + "\n")
    # Ten thousand lines in far less time than a stalled reader would take, which is for ever.
    assert time.monotonic() - begin < 5.0
    sink.close(0.1)
    assert sink.lost > 5000
    os.close(reader)
    time.sleep(0.1)
    os.close(writer)
