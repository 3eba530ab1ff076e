"""The SDK's public face as its users write it. Checked by mypy and pyright, never run."""

from collections.abc import AsyncGenerator, Generator
from typing import assert_type

import httpx
import pint

from feedproof_sdk import (
    Assessment,
    AsyncClient,
    ClampAmmeter,
    Client,
    Failure,
    Load,
    Ohmmeter,
    Options,
    ReadingSet,
    ReadingSetLike,
    Retry,
    Run,
    Supply,
    Visit,
    Voltmeter,
    errors,
    quantity,
    simulated,
)
from feedproof_sdk.names import Disposition, Fault
from feedproof_sdk.types.answer import Note, Response
from feedproof_sdk.types.assessment import Caution, Estimate, NextReading
from feedproof_sdk.types.catalogue import FaultCatalogue
from feedproof_sdk.types.problem import RequestFault
from feedproof_sdk.types.request import VoltageReading
from feedproof_sdk.types.screen import Screen
from feedproof_sdk.types.simulation import Simulation


def note_down(retry: Retry) -> None:
    assert_type(retry.wait, float)


units: pint.UnitRegistry[float] = pint.UnitRegistry()
# pint's own types leave the kind of magnitude open.
sixty_feet = units.Quantity(60.0, "ft")  # pyright: ignore[reportUnknownVariableType]
seven_volts = units.Quantity(7.0, "V")  # pyright: ignore[reportUnknownVariableType]

length = quantity(sixty_feet)  # pyright: ignore[reportUnknownArgumentType]
cable = Run(size="6 AWG", length=length)
visit = Visit("cabin-12/range", supply=Supply(frequency=60, equipment_ground="present", run=cable))
loz: str = visit.meter("loz", Voltmeter(input_impedance="3 kohm", accuracy_percent=1.5, resolution=0.1))
unplugged = visit.disconnected()
unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz)
unplugged.voltage("L2", "N", seven_volts, loz)  # pyright: ignore[reportUnknownArgumentType]
visit.running("heating", loads=(Load(between=("L1", "L2"), power="4.8 kW"),)).current(
    "N", 4.2, visit.meter("clamp", ClampAmmeter())
)
unplugged.resistance("N", "G", 0.3, visit.meter("ohms", Ohmmeter()), supply="isolated")
unplugged.voltage("L1", "L3", 247, loz)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
unplugged.resistance("N", "G", 0.3, loz, supply="live")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
Load(between=("L1", "L3"), power=1)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
unplugged.voltage("L1", "metalwork", 60, loz, id="first").voltage("L1", "metalwork", 2, loz, repeats="first")
unplugged.current("metalwork", 1, "clamp")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
visit.observed("lights_brighten_and_dim", where="whole_building")
visit.observed("ghosts")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
Supply(receptacle="14-51R")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
assert_type(visit.reading_set(), ReadingSet)

by_hand = ReadingSet(
    supply=Supply(run=Run(length=18)),
    meters={"dmm": Voltmeter()},
    readings=[VoltageReading(between=("L1", "N"), value=120, meter="dmm", load_state="idle")],
)
by_hand.reference = "x"  # type: ignore[misc]  # pyright: ignore[reportAttributeAccessIssue]

with Client(
    "http://127.0.0.1:8240",
    api_key="key",
    timeout=10,
    max_retries=1,
    language="en",
    headers={"X-Job": "7"},
    on_retry=note_down,
    http_client=httpx.Client(http2=False),
) as client:
    answer = client.assess(visit)
    assert_type(answer, Assessment)
    assert_type(client.assess(by_hand), Assessment)
    assert_type(client.assess({"readings": []}), Assessment)
    assert_type(client.assess(b'{"readings": []}'), Assessment)
    assert_type(client.assess('{"readings": []}'), Assessment)
    client.assess(7)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    assert_type(client.screen(visit), Screen)
    assert_type(answer.request_id, str | None)
    assert_type(answer.finding.fault == Fault.OPEN_NEUTRAL, bool)
    assert_type(answer.disposition == Disposition.STOP_AND_REFER, bool)
    assert_type(answer.cautions, tuple[Caution, ...])
    assert_type(answer.next_readings[0], NextReading)
    assert_type(answer.resistances[0].heat, Estimate | None)
    answer.safe  # type: ignore[attr-defined]  # noqa: B018  # pyright: ignore[reportAttributeAccessIssue, reportUnknownMemberType]

    sets: list[ReadingSetLike] = [visit, by_hand, b"{}"]
    assert_type(client.assess_many(sets), Generator[Assessment | Failure, None, None])
    assert_type(client.assess_many([by_hand, by_hand]), Generator[Assessment | Failure, None, None])
    for outcome in client.assess_many(sets):
        match outcome:
            case Failure(index=index, error=errors.InvalidReadingSet() as refused):
                assert_type(index, int)
                assert_type(refused.errors, tuple[RequestFault, ...])
            case Failure(error=error):
                assert_type(error, errors.FeedproofError)
            case Assessment():
                assert_type(outcome.determination, str)

    asked = visit.simulation(Fault.OPEN_NEUTRAL, conductor="N", resistance="5 kohm", seed=7)
    assert_type(client.simulate(asked), Simulation)
    assert_type(simulated(asked, client.simulate(asked)), ReadingSet)
    assert_type(client.render(visit, "html").text, str)
    assert_type(client.render(visit, "pdf"), Note)
    client.render(visit, "rtf")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    assert_type(client.faults(), FaultCatalogue)
    assert_type(answer.response, Response)
    assert_type(client.with_options(timeout=5), Client)
    client.with_options(retries=5)  # type: ignore[call-arg]  # pyright: ignore[reportCallIssue]
    common: Options = {"timeout": 5, "headers": {"X-Job": "7"}}
    Client(**common)

    try:
        client.assess(visit)
    except (errors.TooManyRequests, errors.Overloaded) as later:
        assert_type(later.retry_after, float | None)
    except errors.ProblemAnswer as problem:
        assert_type(problem.request_id, str)


async def asynchronously() -> None:
    async with AsyncClient(http_client=httpx.AsyncClient()) as client:
        assert_type(await client.assess(visit), Assessment)
        assert_type(client.assess_many(sets), AsyncGenerator[Assessment | Failure, None])
        assert_type(await client.render(visit, "svg"), Note)
        assert_type(await client.faults(), FaultCatalogue)
