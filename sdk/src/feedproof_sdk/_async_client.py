"""The client for asyncio: the same calls, awaited."""

import asyncio
from collections import deque
from collections.abc import AsyncGenerator, AsyncIterable, AsyncIterator, Iterable, Mapping
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, Self, TypeVar, overload

from feedproof_sdk import _answers, _batch, _settings, calls
from feedproof_sdk._answers import RawResponse
from feedproof_sdk._batch import Failure, Outcome, Piece, Progress
from feedproof_sdk._raw import AsyncWithRawResponse
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import FailureMode, Limits, Retries, Settings, Timeouts
from feedproof_sdk.calls import Call, Form, ReadingSetLike, SimulationLike
from feedproof_sdk.errors import FeedproofError
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.catalogue import (
    CautionCatalogue,
    ConductorCatalogue,
    FaultCatalogue,
    LimitCatalogue,
    MeterCatalogue,
    ModelDescription,
    ObservationCatalogue,
    ReceptacleCatalogue,
    SupplySystemCatalogue,
    UnitCatalogue,
)
from feedproof_sdk.types.simulation import Simulation

if TYPE_CHECKING:
    from feedproof_sdk._transport import AsyncTransport, AsyncWire

T = TypeVar("T")


class AsyncClient:
    """A client of the feedproof service for asyncio. Keep one per program; it opens connections anew in another loop.

    Parameters, errors and answers are those of `Client`.
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        api_key: str | None = None,
        timeouts: Timeouts | float | None = None,
        retries: Retries | int | None = None,
        limits: Limits | None = None,
        language: str | None = None,
        headers: Mapping[str, str] | None = None,
        transport: "AsyncTransport | None" = None,
    ) -> None:
        settings = _settings.settle(base_url, api_key, timeouts, retries, limits, language, headers)
        self._set_up(settings, transport)

    def _set_up(self, settings: Settings, transport: "AsyncTransport | None", wire: "AsyncWire | None" = None) -> None:
        # Imported when the first client is made: httpx takes longer to load than all the rest of this package.
        from feedproof_sdk import _transport  # noqa: PLC0415

        self._settings = settings
        self._address = _transport.Address(settings)
        self._wire = wire or _transport.AsyncWire(settings.limits, transport)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._settings!r})"

    def __getstate__(self) -> "tuple[Settings, AsyncTransport | None]":
        return self._settings, self._wire.transport

    def __setstate__(self, state: "tuple[Settings, AsyncTransport | None]") -> None:
        settings, transport = state
        self._set_up(settings, transport)

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections. The next call would open new ones."""
        await self._wire.close()

    def with_options(
        self,
        *,
        timeouts: Timeouts | float | None = None,
        retries: Retries | int | None = None,
        language: str | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Self:
        """Give a client with other options over the same connections."""
        other = type(self).__new__(type(self))
        settings = _settings.changed(self._settings, timeouts, retries, language, headers)
        other._set_up(settings, self._wire.transport, self._wire)  # noqa: SLF001
        return other

    @property
    def with_raw_response(self) -> AsyncWithRawResponse:
        """The same calls, each giving a `RawResponse`: status, headers, content, request id, attempts, `parse()`."""
        return AsyncWithRawResponse(self)

    async def send(self, call: Call[T], /) -> RawResponse[T]:
        """Make a call of `feedproof_sdk.calls`, see `Client.send`."""
        timeouts = self._settings.timeouts
        pacer = Pacer(self._settings.retries, timeouts.total)
        while True:
            try:
                received = await self._wire.exchange(self._address, call.sent, pacer.within(timeouts))
                failed = _answers.error_in(received)
            except FeedproofError as error:
                failed = error
            else:
                if failed is None:
                    return RawResponse(call, *received, pacer.attempts)
            await asyncio.sleep(pacer.wait_after(failed))

    async def assess(self, reading_set: ReadingSetLike) -> Assessment:
        """Tell from one visit's readings whether the electrical supply is at fault, see `Client.assess`."""
        return (await self.send(calls.assess(reading_set))).parse()

    @overload
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike],
        *,
        failures: Literal["return"] = "return",
        in_flight: int = ...,
        patience: float = ...,
    ) -> AsyncGenerator[Assessment | Failure, None]: ...
    @overload
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike],
        *,
        failures: Literal["raise"],
        in_flight: int = ...,
        patience: float = ...,
    ) -> AsyncGenerator[Assessment, None]: ...
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike],
        *,
        failures: FailureMode = "return",
        in_flight: int = _batch.IN_FLIGHT,
        patience: float = _batch.PATIENCE,
    ) -> AsyncGenerator[Any, None]:
        """Assess any number of reading sets, in order, in bounded memory, see `Client.assess_many`.

        The iterable may be an asynchronous one.
        """
        _batch.check(in_flight, patience, failures)
        return self._many(reading_sets, failures, in_flight, patience)

    async def _many(
        self,
        reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike],
        failures: FailureMode,
        in_flight: int,
        patience: float,
    ) -> AsyncGenerator[Outcome, None]:
        pieces = _cut(reading_sets)
        lanes: deque[tuple[asyncio.Queue[Outcome | None], asyncio.Task[None]]] = deque()
        raised: Exception | None = None

        async def send_next() -> None:
            nonlocal raised
            try:
                piece = await anext(pieces, None)
            except Exception as error:  # noqa: BLE001 - the caller's own; raised when all before it is answered
                raised = error
                return
            if piece is not None:
                lane: asyncio.Queue[Outcome | None] = asyncio.Queue()
                lanes.append((lane, asyncio.create_task(self._answer(piece, lane, patience))))

        try:
            for _ in range(in_flight):
                await send_next()
            while lanes:
                lane, work = lanes[0]
                while (outcome := await lane.get()) is not None:
                    yield _batch.settle(outcome, failures)
                await work
                lanes.popleft()
                await send_next()
            if raised is not None:
                raise raised
        finally:
            for _, work in lanes:
                work.cancel()
            await asyncio.gather(*(work for _, work in lanes), return_exceptions=True)

    async def _answer(self, piece: Piece, lane: asyncio.Queue[Outcome | None], patience: float) -> None:
        """Put the outcome of each line into the lane, and None at the end, whatever the end is."""
        timeouts = Timeouts(connect=self._settings.timeouts.connect, read=patience, total=patience)
        progress = Progress(piece, self._settings.retries, patience)
        try:
            while not progress.done:
                try:
                    async with self._wire.stream(self._address, progress.send(), timeouts) as (
                        status,
                        headers,
                        received,
                    ):
                        if status != _answers.OK:
                            _batch.refuse(status, headers, b"".join([some async for some in received]))
                        async for some in received:
                            for outcome in progress.take(some):
                                lane.put_nowait(outcome)
                    for outcome in progress.end():
                        lane.put_nowait(outcome)
                except FeedproofError as error:
                    await asyncio.sleep(progress.wait_after(error))
        finally:
            lane.put_nowait(None)

    async def plan(self, reading_set: ReadingSetLike | None = None) -> Assessment:
        """Ask what to read first, before any reading, see `Client.plan`."""
        return (await self.send(calls.plan(reading_set))).parse()

    async def simulate(self, simulation: SimulationLike) -> Simulation:
        """Take the readings that a person would see with a stated fault, see `Client.simulate`."""
        return (await self.send(calls.simulate(simulation))).parse()

    async def render(self, reading_set: ReadingSetLike, form: Form) -> str:
        """Assess one reading set, and give the answer in a form for people, see `Client.render`."""
        return (await self.send(calls.render(reading_set, form))).parse()

    async def render_pdf(self, reading_set: ReadingSetLike) -> bytes:
        """Assess one reading set, and give the hand-off note as PDF, see `Client.render_pdf`."""
        return (await self.send(calls.render_pdf(reading_set))).parse()

    async def faults(self) -> FaultCatalogue:
        """List what each fault means, its limits, its source and its base rate."""
        return (await self.send(calls.faults())).parse()

    async def cautions(self) -> CautionCatalogue:
        """List each caution with its severity, text and basis."""
        return (await self.send(calls.cautions())).parse()

    async def supply_systems(self) -> SupplySystemCatalogue:
        """List the supply systems that a request can state."""
        return (await self.send(calls.supply_systems())).parse()

    async def meters(self) -> MeterCatalogue:
        """List the kinds of meter, with the figures that stand for what a request leaves out."""
        return (await self.send(calls.meters())).parse()

    async def conductors(self) -> ConductorCatalogue:
        """List the conductor sizes with their resistance."""
        return (await self.send(calls.conductors())).parse()

    async def receptacles(self) -> ReceptacleCatalogue:
        """List the receptacles that a request can state, with their contacts."""
        return (await self.send(calls.receptacles())).parse()

    async def observations(self) -> ObservationCatalogue:
        """List what a person may have seen, as a request can state it."""
        return (await self.send(calls.observations())).parse()

    async def units(self) -> UnitCatalogue:
        """List the accepted units, and the bounds of every physical input."""
        return (await self.send(calls.units())).parse()

    async def model(self) -> ModelDescription:
        """Tell which model answers, with its base rates."""
        return (await self.send(calls.model())).parse()

    async def limits(self) -> LimitCatalogue:
        """List the sizes and rates of this installation."""
        return (await self.send(calls.limits())).parse()


async def _cut(reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike]) -> AsyncIterator[Piece]:
    if not isinstance(reading_sets, AsyncIterable):
        for piece in _batch.cut(reading_sets):
            yield piece
        return
    cutter = _batch.Cutter()
    raised: Exception | None = None
    try:
        async for reading_set in reading_sets:
            if full := cutter.add(reading_set):
                yield full
    except Exception as error:  # noqa: BLE001 - raised again below
        raised = error
    if rest := cutter.rest():
        yield rest
    if raised is not None:
        raise raised
