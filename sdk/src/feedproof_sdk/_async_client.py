"""The client for asyncio. `_client.py` is made of this file by `python sdk/twin.py`: edit here."""

from collections import deque
from collections.abc import AsyncGenerator, AsyncIterable, Iterable
from contextlib import asynccontextmanager
from threading import Lock
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar, Unpack

from feedproof_sdk import _batch, _requests, _settings
from feedproof_sdk._answers import read
from feedproof_sdk._async_work import Pool, Started, each, forget, home, sleep
from feedproof_sdk._batch import Failure, Outcome, Piece, Progress
from feedproof_sdk._requests import Form, ReadingSetLike, Sent, SimulationLike
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import Options, Settings
from feedproof_sdk.errors import FeedproofError
from feedproof_sdk.types import catalogue
from feedproof_sdk.types.answer import Answer, Note, Response
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.screen import Screen
from feedproof_sdk.types.simulation import Simulation

if TYPE_CHECKING:
    from feedproof_sdk._transport import AsyncHttp, HttpResponse

A = TypeVar("A", bound=Answer)


class AsyncClient:
    """A client of the feedproof service. Keep one and share it: it holds the connections.

    Connections are opened when first used. A client can be pickled, its key with it, and opens its own connections
    where it arrives; so it does after a fork, and in another event loop.

    Parameters
    ----------
    base_url : str, optional
        Where the service is; left out: `FEEDPROOF_BASE_URL`, else where `feedproof serve` listens.
    http_client : httpx.AsyncClient, optional
        Carries the requests; yours to close. For proxies, certificates, limits of connections, and tests.
    **options
        `api_key`, `timeout`, `max_retries`, `language`, `headers`, `on_retry`; see `feedproof_sdk.Options`.

    Raises
    ------
    BadSetting
        If one of these cannot be used.
    """

    def __init__(
        self, base_url: str | None = None, *, http_client: "AsyncHttp | None" = None, **options: Unpack[Options]
    ) -> None:
        self._set_up(_settings.settle(base_url, **options), _Wire(http_client))

    def _set_up(self, settings: Settings, wire: "_Wire") -> None:
        # Imported when the first client is made: httpx takes longer to load than all the rest of this package.
        from feedproof_sdk._transport import Address  # noqa: PLC0415

        self._settings = settings
        self._address = Address(settings)
        self._wire = wire

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._settings!r})"

    def __getstate__(self) -> "tuple[Settings, AsyncHttp | None]":
        return self._settings, self._wire.given

    def __setstate__(self, state: "tuple[Settings, AsyncHttp | None]") -> None:
        self._set_up(state[0], _Wire(state[1]))

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections. The next call would open new ones."""
        await self._wire.close()

    def with_options(self, **options: Unpack[Options]) -> Self:
        """Give a client with other options over the same connections: `client.with_options(timeout=5).assess(x)`."""
        other = type(self).__new__(type(self))
        other._set_up(_settings.changed(self._settings, **options), self._wire)  # noqa: SLF001
        return other

    async def _ask(self, sent: Sent, kind: type[A]) -> A:
        """Make a call, as often as it may go better."""
        pacer = Pacer(self._settings, sent.path, self._settings.timeout)
        while True:
            try:
                response = await self._exchange(sent, pacer)
                return read(sent, response, kind)
            except FeedproofError as error:
                wait = pacer.wait_after(error)
            await sleep(wait)

    async def _exchange(self, sent: Sent, pacer: Pacer) -> Response:
        """Send a request and take the whole answer."""
        pieces: list[bytes] = []
        async with self._answering(sent, pacer.left) as response:
            async for piece in response.aiter_bytes():
                pieces.append(piece)
                if pacer.left <= _settings.SOON:
                    raise self._address.too_slow(sent, self._settings.timeout)
        return Response(response.status_code, response.headers, b"".join(pieces), pacer.attempts)

    @asynccontextmanager
    async def _answering(
        self, sent: Sent, total: float, silence: float | None = None
    ) -> "AsyncGenerator[HttpResponse, None]":
        """Send a request, and hold the connection while its answer is taken."""
        from feedproof_sdk._transport import HTTPError  # noqa: PLC0415

        try:
            response = await self._wire.opened().send(self._address.request(sent, total, silence), stream=True)
            try:
                yield response
            finally:
                await response.aclose()
        except HTTPError as error:
            self._address.fail(sent, error)

    async def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike],
        *,
        in_flight: int = _batch.IN_FLIGHT,
        patience: float = _batch.PATIENCE,
    ) -> AsyncGenerator[Assessment | Failure, None]:
        """Assess any number of reading sets, in order, in bounded memory.

        They are taken from the iterable as the service answers, some at a time. After a cut connection only what has
        not been answered is sent again.

        Parameters
        ----------
        reading_sets : iterable
            Of what `assess` takes; a file of NDJSON opened as bytes is one.
        in_flight : int
            Requests under way at once.
        patience : float
            How long not a single answer may come, over all attempts [s].

        Yields
        ------
        Assessment or Failure
            One for each reading set; a `Failure` in the place of one that was refused.

        Raises
        ------
        FeedproofError
            Where no further set can be answered: the service stays away for longer than `patience`, or refuses the
            batch itself. What was yielded until then stands.
        """
        _batch.check(in_flight, patience)
        pool = Pool(in_flight)
        waiting: deque[Started[tuple[list[Outcome], Exception | None]]] = deque()
        pieces = _cut(reading_sets)
        try:
            while True:
                piece = await anext(pieces, None) if len(waiting) < in_flight else None
                if piece is not None:
                    waiting.append(pool.start(self._answer, piece, patience))
                    continue
                if not waiting:
                    break
                outcomes, failed = await pool.result(waiting.popleft())
                for outcome in outcomes:
                    yield outcome
                if failed is not None:
                    raise failed
        finally:
            await pool.stop()

    async def _answer(self, piece: Piece, patience: float) -> tuple[list[Outcome], Exception | None]:
        """Give the outcome of each line, and what ends the batch after them, if something does."""
        progress = Progress(piece, self._settings, patience)
        while not progress.done:
            try:
                async with self._answering(progress.send(), patience, patience) as response:
                    progress.begin(response.status_code, response.headers)
                    async for some in response.aiter_bytes():
                        progress.take(some)
                    progress.end()
            except FeedproofError as error:
                try:
                    await sleep(progress.wait_after(error))
                except FeedproofError as last:
                    return progress.outcomes, last
        return progress.outcomes, piece.raised

    async def assess(self, reading_set: ReadingSetLike) -> Assessment:
        """Tell from one visit's readings whether the electrical supply is at fault; without any, what to read first.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping, str or bytes
            Plain values and JSON are sent as they are.

        Raises
        ------
        InvalidReadingSet
            If the reading set is not valid; `errors` has every fault of it.
        FeedproofError
            Otherwise, see `feedproof_sdk.errors`.
        """
        return await self._ask(_requests.post(_requests.ASSESS, reading_set), Assessment)

    async def screen(self, reading_set: ReadingSetLike) -> Screen:
        """Assess one reading set, and give what a screen shows first: 4 kB or less on the line."""
        return await self._ask(_requests.post(_requests.SCREEN, reading_set), Screen)

    async def simulate(self, simulation: SimulationLike) -> Simulation:
        """Run the model forward: take the readings that a person would see with a stated fault.

        Parameters
        ----------
        simulation : SimulationRequest, mapping, str or bytes
            `Visit.simulation` makes one of a visit.
        """
        return await self._ask(_requests.post(_requests.SIMULATE, simulation), Simulation)

    async def render(self, reading_set: ReadingSetLike, form: Form) -> Note:
        """Assess one reading set, and give the answer in a form for people.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping, str or bytes
            As for `assess`.
        form : {"html", "pdf", "svg", "markdown", "text"}
            A hand-off note that prints, the same as PDF, its pictures, the note as Markdown, or the answer in plain
            words.
        """
        return await self._ask(_requests.note(reading_set, form), Note)

    async def faults(self) -> catalogue.FaultCatalogue:
        """List what each fault means, its limits, its source and its base rate."""
        return await self._ask(Sent("GET", "/v1/faults"), catalogue.FaultCatalogue)

    async def cautions(self) -> catalogue.CautionCatalogue:
        """List each caution with its severity, text and basis."""
        return await self._ask(Sent("GET", "/v1/cautions"), catalogue.CautionCatalogue)

    async def supply_systems(self) -> catalogue.SupplySystemCatalogue:
        """List the supply systems that a request can state."""
        return await self._ask(Sent("GET", "/v1/supply-systems"), catalogue.SupplySystemCatalogue)

    async def meters(self) -> catalogue.MeterCatalogue:
        """List the kinds of meter, with the figures that stand for what a request leaves out."""
        return await self._ask(Sent("GET", "/v1/meters"), catalogue.MeterCatalogue)

    async def conductors(self) -> catalogue.ConductorCatalogue:
        """List the conductor sizes with their resistance."""
        return await self._ask(Sent("GET", "/v1/conductors"), catalogue.ConductorCatalogue)

    async def receptacles(self) -> catalogue.ReceptacleCatalogue:
        """List the receptacles that a request can state, with their contacts."""
        return await self._ask(Sent("GET", "/v1/receptacles"), catalogue.ReceptacleCatalogue)

    async def observations(self) -> catalogue.ObservationCatalogue:
        """List what a person may have seen, as a request can state it, and how much each speaks for what."""
        return await self._ask(Sent("GET", "/v1/observations"), catalogue.ObservationCatalogue)

    async def units(self) -> catalogue.UnitCatalogue:
        """List the accepted units, and the bounds of every physical input."""
        return await self._ask(Sent("GET", "/v1/units"), catalogue.UnitCatalogue)

    async def model(self) -> catalogue.ModelDescription:
        """Tell which model answers, with its base rates."""
        return await self._ask(Sent("GET", "/v1/model"), catalogue.ModelDescription)

    async def limits(self) -> catalogue.LimitCatalogue:
        """List the sizes and rates of this installation."""
        return await self._ask(Sent("GET", "/v1/limits"), catalogue.LimitCatalogue)


async def _cut(given: Iterable[ReadingSetLike] | AsyncIterable[ReadingSetLike]) -> AsyncGenerator[Piece, None]:
    """Cut reading sets into pieces; what the iterable raises comes with the last one."""
    cutter = _batch.Cutter()
    try:
        async for reading_set in each(given):
            if full := cutter.add(reading_set):
                yield full
    except Exception as error:  # noqa: BLE001 - the caller's own; raised when all before it is answered
        cutter.piece.raised = error
    yield cutter.piece


class _Wire:
    """Connections, opened when first used; those of the caller where some were given."""

    def __init__(self, given: "AsyncHttp | None") -> None:
        self.given = given
        self._own: AsyncHttp | None = None
        self._home: object = None
        self._lock = Lock()

    def opened(self) -> "AsyncHttp":
        if self.given is not None:
            return self.given
        with self._lock:
            if self._own is None or self._home != home():
                from feedproof_sdk._transport import POOL, AsyncHttp  # noqa: PLC0415

                self._own, self._home = AsyncHttp(limits=POOL), home()
            return self._own

    async def close(self) -> None:
        own, self._own = self._own, None
        if own is not None and self._home == home():
            await own.aclose()

    def __del__(self) -> None:
        forget(self._own)
