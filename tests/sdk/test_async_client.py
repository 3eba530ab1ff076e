"""The client for asyncio gives what the client that waits gives, and waits as it does."""

import asyncio
import gc
import inspect
import pickle
import subprocess
import sys
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof_sdk import (
    Assessment,
    AsyncClient,
    Client,
    Failure,
    ReadingSet,
    ReadingSetLike,
    Visit,
    errors,
)
from feedproof_sdk._batch import LINES_AT_ONCE
from feedproof_sdk.types.catalogue import FaultCatalogue
from support.bad_line import bad_line
from support.gateway import Gateway
from support.service_process import LiveService


def test_both_clients_have_the_same_methods_with_the_same_arguments() -> None:
    def methods(kind: type) -> dict[str, list[str]]:
        return {
            name: list(inspect.signature(member).parameters)
            for name, member in inspect.getmembers(kind, inspect.isfunction)
            if not name.startswith("_")
        }

    assert methods(Client) == methods(AsyncClient)
    assert set(inspect.signature(Client).parameters) == set(inspect.signature(AsyncClient).parameters)


def test_the_one_is_made_of_the_other(root: Path) -> None:
    command = [sys.executable, "-c", "import twin; print(twin.TARGET.read_text() == twin.made())"]
    done = subprocess.run(command, cwd=root / "sdk", capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "True", "run: python sdk/twin.py"


def test_it_answers_as_the_other_does_in_process(client: Client, unplugged: Visit) -> None:
    app: Any = create_app(Settings(warm_up=False, log_level="error"))

    async def ask() -> None:
        async with AsyncClient(http_client=httpx.AsyncClient(transport=httpx.ASGITransport(app))) as ours:
            assert await ours.assess(unplugged) == client.assess(unplugged)
            assert await ours.assess(Visit()) == client.assess(Visit())
            for name in (
                "faults",
                "cautions",
                "supply_systems",
                "meters",
                "conductors",
                "receptacles",
                "observations",
                "units",
                "model",
                "limits",
            ):
                assert await getattr(ours, name)() == getattr(client, name)()
            assert (await ours.assess(unplugged)).response.content == client.assess(unplugged).response.content
            assert await ours.render(unplugged, "svg") == client.render(unplugged, "svg")
            with pytest.raises(errors.InvalidReadingSet) as caught:
                await ours.assess({"readings": 3})
            assert [fault.pointer for fault in caught.value.errors] == ["/readings"]
            # More at once than there are connections.
            assert len(set(await asyncio.gather(*(ours.assess(unplugged) for _ in range(20))))) == 1

    asyncio.run(ask())


def test_many_from_either_kind_of_iterable(service: LiveService, unplugged: Visit) -> None:
    given: list[ReadingSetLike] = [unplugged, b'{"readings": 3}'] * LINES_AT_ONCE

    async def stream() -> AsyncIterator[ReadingSetLike]:
        for one in given:
            yield one

    async def ask() -> None:
        async with AsyncClient(service.url) as client:
            for sets in (given, stream()):
                outcomes = [outcome async for outcome in client.assess_many(sets, in_flight=2)]
                assert [type(outcome) for outcome in outcomes] == [Assessment, Failure] * LINES_AT_ONCE
                assert [o.index for o in outcomes if isinstance(o, Failure)] == list(range(1, len(given), 2))

    asyncio.run(ask())


def test_what_the_iterable_raises_comes_after_the_answers_to_all_before_it(service: LiveService) -> None:
    async def broken() -> AsyncIterator[ReadingSet]:
        for _ in range(LINES_AT_ONCE + 3):
            yield ReadingSet(readings=())
        raise OSError("the disk is gone")

    async def ask() -> int:
        answered = 0
        async with AsyncClient(service.url) as client:
            many = client.assess_many(broken())
            with pytest.raises(OSError, match="the disk is gone"):  # noqa: PT012 - where it raises is the point
                while True:
                    await anext(many)
                    answered += 1
        return answered

    assert asyncio.run(ask()) == LINES_AT_ONCE + 3


def test_a_cut_line_costs_only_what_was_not_answered(service: LiveService, reading_set: ReadingSet) -> None:
    async def ask(url: str) -> list[Assessment]:
        async with AsyncClient(url) as client:
            many = client.assess_many([reading_set] * LINES_AT_ONCE, in_flight=1)
            return [answer async for answer in many if isinstance(answer, Assessment)]

    with bad_line(service.port) as line:
        line.cut_after = [0, 1_500, 2_500]
        answers = asyncio.run(ask(line.url))
        assert line.connections == 4
    assert len(answers) == LINES_AT_ONCE
    assert len(set(answers)) == 1


def test_a_reader_that_stops_leaves_no_tasks_behind(service: LiveService, reading_set: ReadingSet) -> None:
    async def ask() -> None:
        async with AsyncClient(service.url) as client:
            many = client.assess_many([reading_set] * 300)
            await anext(many)
            assert len(asyncio.all_tasks()) > 1
            await many.aclose()
            assert len(asyncio.all_tasks()) == 1
            assert (await client.assess(reading_set)).evidence

    asyncio.run(ask())


def test_slow_and_trickling_services_are_given_up(service: LiveService) -> None:
    async def ask(url: str) -> None:
        async with AsyncClient(url, timeout=0.5, max_retries=0) as client:
            with pytest.raises(errors.TimedOut):
                await client.faults()

    with bad_line(service.port) as line:
        line.silence = 5.0
        asyncio.run(ask(line.url))
        line.silence, line.trickle = 0.0, 0.02
        asyncio.run(ask(line.url))


def test_it_retries_as_the_other_does(elsewhere: Gateway, client: Client) -> None:
    content = client.faults().response.content
    elsewhere.will_answer(502)
    elsewhere.will_answer(429, Retry_After="0")
    elsewhere.will_answer(200, content)

    async def ask() -> int:
        async with AsyncClient(elsewhere.url) as ours:
            return (await ours.faults()).response.attempts

    assert asyncio.run(ask()) == 3


def test_one_client_serves_one_loop_after_another(service: LiveService) -> None:
    client = AsyncClient(service.url)

    async def ask() -> FaultCatalogue:
        async with client:
            return await client.faults()

    assert asyncio.run(ask()) == asyncio.run(ask())


@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_even_where_nobody_closed_it(service: LiveService) -> None:
    client = AsyncClient(service.url)
    assert asyncio.run(client.faults()) == asyncio.run(client.faults())
    del client
    gc.collect()


def test_it_travels(service: LiveService) -> None:
    async def ask() -> None:
        async with AsyncClient(service.url, api_key="k3y") as client:
            there = await client.faults()
            async with pickle.loads(pickle.dumps(client)) as arrived:  # noqa: S301 - our own
                assert await arrived.faults() == there
                assert arrived._settings == client._settings

    asyncio.run(ask())
