"""The executor: computing in threads, a bounded queue, an event loop that stays free."""

import asyncio
import gc
import math
import os
import sys
import threading
import time
from collections.abc import Callable
from functools import partial
from typing import cast

import pytest

from feedproof.api.executor import NICE_INCREMENT, Executor, Streams
from feedproof.errors import Interrupted, Overloaded
from feedproof.interruption import go_on
from feedproof.telemetry.metrics import REFUSALS, Metrics
from feedproof.telemetry.middleware import ENDS


def test_work_beyond_the_queue_is_refused_and_lines_of_batches_wait() -> None:
    gate = threading.Event()

    async def scene() -> tuple[list[object], int]:
        executor = Executor(workers=1, queue=2)
        accepted = [asyncio.create_task(executor.run(gate.wait)) for _ in range(3)]
        await asyncio.sleep(0.05)
        with pytest.raises(Overloaded):
            await executor.run(gate.wait)
        waiting = asyncio.create_task(executor.run(gate.wait, batch=True))
        await asyncio.sleep(0.05)
        load = executor.load
        gate.set()
        return await asyncio.gather(*accepted, waiting), load

    done, load = asyncio.run(scene())
    assert done == [True] * 4
    assert load == 4


def test_the_event_loop_runs_on_while_work_is_done() -> None:
    async def scene() -> int:
        executor = Executor(workers=1, queue=1)
        work = asyncio.create_task(executor.run(lambda: time.sleep(0.2)))
        turns = 0
        while not work.done():
            await asyncio.sleep(0.005)
            turns += 1
        return turns

    assert asyncio.run(scene()) > 5


def test_a_failure_of_the_work_is_the_callers_and_frees_its_place() -> None:
    def fail() -> None:
        raise ZeroDivisionError

    async def scene() -> None:
        executor = Executor(workers=1, queue=0)
        for _ in range(3):
            with pytest.raises(ZeroDivisionError):
                await executor.run(fail)
        assert executor.load == 0

    asyncio.run(scene())


def test_a_failure_that_a_future_cannot_carry_is_told_at_once() -> None:
    async def scene() -> None:
        executor = Executor(workers=1, queue=0)
        for _ in range(2):
            with pytest.raises(RuntimeError) as error:
                await asyncio.wait_for(executor.run(lambda: next(iter(()))), 5.0)
            assert isinstance(error.value.__cause__, StopIteration)
        assert executor.load == 0

    asyncio.run(scene())


def compute_until_interrupted(begun: threading.Event, ended: list[str]) -> None:
    begun.set()
    try:
        for _ in range(3000):
            go_on()
            time.sleep(0.01)
        ended.append("computed")
    except Interrupted:
        ended.append("interrupted")
        raise


@pytest.mark.parametrize("longest_wait", [60.0, math.inf])
@pytest.mark.parametrize("end", ["gone", "closed"])
def test_work_that_nobody_waits_for_is_interrupted_and_frees_its_thread(end: str, longest_wait: float) -> None:
    begun, ended = threading.Event(), list[str]()
    complaints: list[object] = []

    async def scene() -> None:
        asyncio.get_running_loop().set_exception_handler(lambda _, context: complaints.append(context))
        executor = Executor(workers=1, queue=1, longest_wait=longest_wait)
        executor.warm = True
        task = asyncio.create_task(executor.run(partial(compute_until_interrupted, begun, ended)))
        await asyncio.to_thread(begun.wait)
        if end == "gone":
            task.cancel()
            assert await asyncio.wait_for(executor.run(lambda: "next"), 5.0) == "next"
        else:
            executor.close()
        await asyncio.gather(task, return_exceptions=True)
        for _ in range(200):
            await asyncio.sleep(0.01 if executor.load else 0.0)
        assert executor.load == 0

    asyncio.run(scene())
    gc.collect()
    assert ended == ["interrupted"]
    assert complaints == []


def test_what_waits_too_long_is_refused_once_the_first_work_is_done() -> None:
    metrics = Metrics()

    async def scene() -> list[object]:
        executor = Executor(workers=1, queue=5, longest_wait=0.1, metrics=metrics)
        # The first work may be compilation, so nobody behind it is told that it takes too long.
        first = await asyncio.gather(*(executor.run(lambda: time.sleep(0.3)) for _ in range(2)))
        later = await asyncio.gather(*(executor.run(lambda: time.sleep(0.3)) for _ in range(3)), return_exceptions=True)
        assert executor.load == 0
        return [*first, *later]

    outcomes = asyncio.run(scene())
    assert outcomes[:3] == [None] * 3
    assert all(isinstance(outcome, Overloaded) for outcome in outcomes[3:])
    refused = [metrics.registry.get_sample_value("feedproof_refused_total", {"reason": r}) for r in REFUSALS]
    assert dict(zip(REFUSALS, refused, strict=True)) == dict.fromkeys(REFUSALS, 0.0) | {"queue_wait": 2.0}


def test_work_is_not_begun_for_a_caller_that_has_gone() -> None:
    done: list[int] = []

    def work() -> None:
        time.sleep(0.2)
        done.append(1)

    async def scene() -> int:
        executor = Executor(workers=1, queue=5)
        tasks = [asyncio.create_task(executor.run(work)) for _ in range(4)]
        await asyncio.sleep(0.05)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await asyncio.sleep(0.4)
        return executor.load

    assert asyncio.run(scene()) == 0
    assert done == [1]


def test_a_visit_waits_for_no_more_lines_of_batches_than_there_are_threads() -> None:
    done: list[str] = []

    def work(name: str) -> None:
        time.sleep(0.02)
        done.append(name)

    async def scene() -> None:
        executor = Executor(workers=2, queue=2)
        lines = [asyncio.create_task(executor.run(partial(work, "line"), batch=True)) for _ in range(40)]
        await asyncio.sleep(0.03)
        # However many lines there are, they fill no queue.
        assert not executor.full
        before = len(done)
        await executor.run(partial(work, "visit"))
        # Those in the threads, those whose turn is next, and those that were begun beside the visit.
        assert done.index("visit") - before <= 6
        await asyncio.gather(*lines)
        assert executor.load == 0

    asyncio.run(scene())
    assert len(done) == 41


def test_lines_of_batches_go_on_beside_visits() -> None:
    async def scene() -> int:
        executor = Executor(workers=1, queue=4)
        ended = asyncio.Event()

        async def visits() -> None:
            while not ended.is_set():
                await asyncio.gather(*(executor.run(lambda: time.sleep(0.005)) for _ in range(3)))

        crowd = asyncio.create_task(visits())
        begun = time.monotonic()
        for _ in range(10):
            await executor.run(lambda: time.sleep(0.005), batch=True)
        taken = time.monotonic() - begun
        ended.set()
        await crowd
        return round(taken / 0.005)

    # A line in every round of at most three visits and itself.
    assert asyncio.run(scene()) < 200


def test_the_oldest_computation_has_an_age() -> None:
    async def scene() -> tuple[float, float, float]:
        executor = Executor(workers=1, queue=1)
        before = executor.oldest
        work = asyncio.create_task(executor.run(lambda: time.sleep(0.2)))
        await asyncio.sleep(0.1)
        during = executor.oldest
        await work
        await asyncio.sleep(0.01)
        return before, during, executor.oldest

    before, during, after = asyncio.run(scene())
    assert (before, after) == (0.0, 0.0)
    assert 0.03 < during < 0.2


@pytest.mark.parametrize(
    ("callers", "taken", "said"),
    [
        (["a"] * 5, 2, "this caller has 2 batches under way"),
        (["a", "b", "c", "d", "e"], 4, "the service has 4 batches under way"),
    ],
)
def test_batches_are_bounded_together_and_for_each_caller(callers: list[str], taken: int, said: str) -> None:
    streams = Streams(4, 2)
    scope: dict[str, object] = {ENDS: []}
    entered = 0
    for caller in callers:
        try:
            streams.enter(scope, caller)
            entered += 1
        except Overloaded as refusal:
            assert said in str(refusal)  # noqa: PT017 - which of them are refused is told by `entered`
    assert entered == taken
    ends = cast("list[Callable[[], None]]", scope[ENDS])
    for end in ends:
        end()
    streams.enter(scope, callers[0])


@pytest.mark.skipif(sys.platform != "linux", reason="threads have a priority of their own on Linux")
def test_computing_comes_after_the_event_loop_where_processors_are_short() -> None:
    async def scene() -> int:
        return await Executor(workers=1, queue=1).run(
            lambda: os.getpriority(os.PRIO_PROCESS, threading.get_native_id())
        )

    before = os.getpriority(os.PRIO_PROCESS, 0)
    assert asyncio.run(scene()) == min(before + NICE_INCREMENT, 19)
    assert os.getpriority(os.PRIO_PROCESS, 0) == before
