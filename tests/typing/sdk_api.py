"""The SDK's public face as its users write it. Checked by mypy and pyright, never run."""

from collections.abc import AsyncGenerator, Generator
from decimal import Decimal
from typing import assert_type

import httpx
import pint

from feedproof_sdk import (
    Assessment,
    AsyncClient,
    Client,
    Failure,
    Limits,
    RawResponse,
    ReadingSet,
    ReadingSetLike,
    Retries,
    Timeouts,
    Visit,
    calls,
    errors,
    load,
    simulated,
)
from feedproof_sdk.names import Disposition, Fault
from feedproof_sdk.types.assessment import Caution, Estimate, NextReading
from feedproof_sdk.types.catalogue import FaultCatalogue
from feedproof_sdk.types.problem import RequestFault
from feedproof_sdk.types.request import Run, Supply, VoltageReading, Voltmeter
from feedproof_sdk.types.simulation import Simulation

units: pint.UnitRegistry[float] = pint.UnitRegistry()
# pint's own types leave the kind of magnitude open.
sixty_feet = units.Quantity(60.0, "ft")  # pyright: ignore[reportUnknownVariableType]
seven_volts = units.Quantity(7.0, "V")  # pyright: ignore[reportUnknownVariableType]

visit = Visit("cabin-12/range", frequency=60, equipment_ground="present").run(
    size="6 AWG",
    length=sixty_feet,  # pyright: ignore[reportUnknownArgumentType]
)
loz: str = visit.voltmeter("loz", input_impedance="3 kohm", accuracy_percent=1.5, resolution=Decimal("0.1"))
unplugged = visit.disconnected()
unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz)
unplugged.voltage("L2", "N", seven_volts, loz)  # pyright: ignore[reportUnknownArgumentType]
visit.running("heating", loads=(load("L1", "L2", power="4.8 kW"),)).current("N", 4.2, visit.clamp_ammeter("clamp"))
unplugged.resistance("N", "G", 0.3, visit.ohmmeter("ohms"), supply="isolated")
unplugged.voltage("L1", "L3", 247, loz)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
unplugged.resistance("N", "G", 0.3, loz, supply="live")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
load("L1", "L3", power=1)  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
unplugged.voltage("L1", "metalwork", 60, loz).called("first").voltage("L1", "metalwork", 2, loz).repeating("first")
unplugged.current("metalwork", 1, "clamp")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
visit.observed("lights_brighten_and_dim", where="whole_building")
visit.observed("ghosts")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
Visit(receptacle="14-51R")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
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
    timeouts=Timeouts(total=10),
    retries=Retries(attempts=2),
    limits=Limits(connections=4),
    language="en",
    headers={"X-Job": "7"},
    transport=httpx.HTTPTransport(),
) as client:
    answer = client.assess(visit)
    assert_type(answer, Assessment)
    assert_type(client.assess(by_hand), Assessment)
    assert_type(client.assess({"readings": []}), Assessment)
    assert_type(client.assess(b'{"readings": []}'), Assessment)
    client.assess("readings")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    assert_type(answer.finding.fault == Fault.OPEN_NEUTRAL, bool)
    assert_type(answer.disposition == Disposition.STOP_AND_REFER, bool)
    assert_type(answer.cautions, tuple[Caution, ...])
    assert_type(answer.next_readings[0], NextReading)
    assert_type(answer.resistances[0].heat, Estimate | None)
    answer.safe  # type: ignore[attr-defined]  # noqa: B018  # pyright: ignore[reportAttributeAccessIssue, reportUnknownMemberType]

    sets: list[ReadingSetLike] = [visit, by_hand, b"{}"]
    assert_type(client.assess_many(sets), Generator[Assessment | Failure, None, None])
    assert_type(client.assess_many(sets, failures="raise"), Generator[Assessment, None, None])
    assert_type(client.assess_many([by_hand, by_hand]), Generator[Assessment | Failure, None, None])
    client.assess_many(sets, failures="ignore")  # type: ignore[call-overload]  # pyright: ignore[reportCallIssue, reportArgumentType]
    for outcome in client.assess_many(sets):
        match outcome:
            case Failure(index=index, error=errors.InvalidReadingSet() as refused):
                assert_type(index, int)
                assert_type(refused.errors, tuple[RequestFault, ...])
            case Failure(error=error):
                assert_type(error, errors.FeedproofError)
            case Assessment():
                assert_type(outcome.determination, str)

    assert_type(client.plan(), Assessment)
    asked = visit.simulation(Fault.OPEN_NEUTRAL, conductor="N", resistance="5 kohm", seed=7)
    assert_type(client.simulate(asked), Simulation)
    assert_type(simulated(asked, client.simulate(asked)), ReadingSet)
    assert_type(client.render(visit, "html"), str)
    assert_type(client.render_pdf(visit), bytes)
    client.render(visit, "pdf")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    assert_type(client.faults(), FaultCatalogue)
    assert_type(client.with_raw_response.assess(visit), RawResponse[Assessment])
    assert_type(client.with_raw_response.render(visit, form="svg").parse(), str)
    client.with_raw_response.render(visit, "pdf")  # type: ignore[arg-type]  # pyright: ignore[reportArgumentType]
    assert_type(client.send(calls.faults()).parse(), FaultCatalogue)
    assert_type(client.with_options(timeouts=5), Client)

    try:
        client.assess(visit)
    except (errors.TooManyRequests, errors.Overloaded) as later:
        assert_type(later.retry_after, float | None)
    except errors.ProblemAnswer as problem:
        assert_type(problem.request_id, str)


async def asynchronously() -> None:
    async with AsyncClient(transport=httpx.AsyncHTTPTransport()) as client:
        assert_type(await client.assess(visit), Assessment)
        assert_type(client.assess_many(sets), AsyncGenerator[Assessment | Failure, None])
        assert_type(client.assess_many(sets, failures="raise"), AsyncGenerator[Assessment, None])
        assert_type(await client.with_raw_response.assess(visit), RawResponse[Assessment])
        assert_type((await client.with_raw_response.plan()).parse(), Assessment)
        assert_type(await client.render(visit, "svg"), str)
        assert_type(await client.faults(), FaultCatalogue)
