"""The client that waits."""

import threading
import time
from collections import deque
from collections.abc import Generator, Iterable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from queue import SimpleQueue
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, Self, TypeVar, overload

from feedproof_sdk import _answers, _batch, _settings, calls
from feedproof_sdk._answers import RawResponse
from feedproof_sdk._batch import Failure, Outcome, Piece, Progress
from feedproof_sdk._raw import WithRawResponse
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
    from feedproof_sdk._transport import Transport, Wire

T = TypeVar("T")


class Client:
    """A client of the feedproof service. Keep one and share it between threads: it holds the connections.

    Connections are opened when first used. A client can be pickled, its key with it, and opens its own connections
    where it arrives; so it does after a fork.

    Parameters
    ----------
    base_url : str, optional
        Where the service is; left out: `FEEDPROOF_BASE_URL`, else where `feedproof serve` listens.
    api_key : str, optional
        Where the service asks for one; left out: `FEEDPROOF_API_KEY`.
    timeouts : Timeouts or float, optional
        A number is the whole call's [s].
    retries : Retries or int, optional
        A number is how many attempts may follow the first. `Retries` says why every call is safe to make again.
    limits : Limits, optional
        Of connections; a transport of one's own has its own.
    language : str, optional
        Languages for texts, as the Accept-Language header takes them.
    headers : mapping of str to str, optional
        Sent with every request.
    transport : Transport, optional
        Carries the requests, in place of connections: an `httpx.MockTransport` in tests, an `httpx.HTTPTransport`
        with a proxy or a certificate authority of one's own.

    Raises
    ------
    BadSetting
        If one of these cannot be used.
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
        transport: "Transport | None" = None,
    ) -> None:
        settings = _settings.settle(base_url, api_key, timeouts, retries, limits, language, headers)
        self._set_up(settings, transport)

    def _set_up(self, settings: Settings, transport: "Transport | None", wire: "Wire | None" = None) -> None:
        # Imported when the first client is made: httpx takes longer to load than all the rest of this package.
        from feedproof_sdk import _transport  # noqa: PLC0415

        self._settings = settings
        self._address = _transport.Address(settings)
        self._wire = wire or _transport.Wire(settings.limits, transport)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._settings!r})"

    def __getstate__(self) -> "tuple[Settings, Transport | None]":
        return self._settings, self._wire.transport

    def __setstate__(self, state: "tuple[Settings, Transport | None]") -> None:
        settings, transport = state
        self._set_up(settings, transport)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections. The next call would open new ones."""
        self._wire.close()

    def with_options(
        self,
        *,
        timeouts: Timeouts | float | None = None,
        retries: Retries | int | None = None,
        language: str | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Self:
        """Give a client with other options over the same connections: `client.with_options(timeouts=5).assess(x)`."""
        other = type(self).__new__(type(self))
        settings = _settings.changed(self._settings, timeouts, retries, language, headers)
        other._set_up(settings, self._wire.transport, self._wire)  # noqa: SLF001
        return other

    @property
    def with_raw_response(self) -> WithRawResponse:
        """The same calls, each giving a `RawResponse`: status, headers, content, request id, attempts, `parse()`."""
        return WithRawResponse(self)

    def send(self, call: Call[T], /) -> RawResponse[T]:
        """Make a call of `feedproof_sdk.calls`.

        Raises
        ------
        NoAnswer
            If the service was not reached or did not answer in time.
        ProblemAnswer
            If it answered with a problem.
        UnreadableAnswer
            If something else answered.
        """
        timeouts = self._settings.timeouts
        pacer = Pacer(self._settings.retries, timeouts.total)
        while True:
            try:
                received = self._wire.exchange(self._address, call.sent, pacer.within(timeouts))
                failed = _answers.error_in(received)
            except FeedproofError as error:
                failed = error
            else:
                if failed is None:
                    return RawResponse(call, *received, pacer.attempts)
            time.sleep(pacer.wait_after(failed))

    def assess(self, reading_set: ReadingSetLike) -> Assessment:
        """Tell from one visit's readings whether the electrical supply is at fault.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping or bytes
            Plain values and JSON are sent as they are.

        Raises
        ------
        InvalidReadingSet
            If the reading set is not valid; `errors` has every fault of it.
        FeedproofError
            Otherwise, see `feedproof_sdk.errors`.
        """
        return self.send(calls.assess(reading_set)).parse()

    @overload
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike],
        *,
        failures: Literal["return"] = "return",
        in_flight: int = ...,
        patience: float = ...,
    ) -> Generator[Assessment | Failure, None, None]: ...
    @overload
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike],
        *,
        failures: Literal["raise"],
        in_flight: int = ...,
        patience: float = ...,
    ) -> Generator[Assessment, None, None]: ...
    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike],
        *,
        failures: FailureMode = "return",
        in_flight: int = _batch.IN_FLIGHT,
        patience: float = _batch.PATIENCE,
    ) -> Generator[Any, None, None]:
        """Assess any number of reading sets, in order, in bounded memory.

        They are taken from the iterable as the service answers, some at a time. After a cut connection only what has
        not been answered is sent again.

        Parameters
        ----------
        reading_sets : iterable
            Of what `assess` takes; a file of NDJSON opened as bytes is one.
        failures : {"return", "raise"}
            A reading set that is refused comes back as a `Failure` in its place, or is raised.
        in_flight : int
            Requests under way at once.
        patience : float
            How long not a single answer may come, over all attempts [s].

        Yields
        ------
        Assessment or Failure
            One for each reading set.

        Raises
        ------
        FeedproofError
            In either mode, where no further set can be answered: the service stays away for longer than `patience`,
            or refuses the batch itself. What was yielded until then stands.
        """
        _batch.check(in_flight, patience, failures)
        return self._many(reading_sets, failures, in_flight, patience)

    def _many(
        self, reading_sets: Iterable[ReadingSetLike], failures: FailureMode, in_flight: int, patience: float
    ) -> Generator[Outcome, None, None]:
        pieces = _batch.cut(reading_sets)
        stop = threading.Event()
        lanes: deque[tuple[SimpleQueue[Outcome | None], Future[None]]] = deque()
        raised: Exception | None = None
        pool = ThreadPoolExecutor(in_flight, thread_name_prefix="feedproof")

        def send_next() -> None:
            nonlocal raised
            try:
                piece = next(pieces, None)
            except Exception as error:  # noqa: BLE001 - the caller's own; raised when all before it is answered
                raised = error
                return
            if piece is not None:
                lane: SimpleQueue[Outcome | None] = SimpleQueue()
                lanes.append((lane, pool.submit(self._answer, piece, lane, stop, patience)))

        try:
            for _ in range(in_flight):
                send_next()
            while lanes:
                lane, work = lanes[0]
                while (outcome := lane.get()) is not None:
                    yield _batch.settle(outcome, failures)
                lanes.popleft()
                work.result()
                send_next()
            if raised is not None:
                raise raised
        finally:
            stop.set()
            pool.shutdown(wait=False, cancel_futures=True)

    def _answer(self, piece: Piece, lane: SimpleQueue[Outcome | None], stop: threading.Event, patience: float) -> None:
        """Put the outcome of each line into the lane, and None at the end, whatever the end is."""
        timeouts = Timeouts(connect=self._settings.timeouts.connect, read=patience, total=patience)
        progress = Progress(piece, self._settings.retries, patience)
        try:
            while not (progress.done or stop.is_set()):
                try:
                    with self._wire.stream(self._address, progress.send(), timeouts) as (status, headers, received):
                        if status != _answers.OK:
                            _batch.refuse(status, headers, b"".join(received))
                        for some in received:
                            for outcome in progress.take(some):
                                lane.put(outcome)
                            if stop.is_set():
                                return
                    for outcome in progress.end():
                        lane.put(outcome)
                except FeedproofError as error:
                    stop.wait(progress.wait_after(error))
        finally:
            lane.put(None)

    def plan(self, reading_set: ReadingSetLike | None = None) -> Assessment:
        """Ask what to read first, before any reading: see `next_readings` and `cautions` of the answer.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping or bytes, optional
            What is known of the supply and the meters; readings in it are left aside, since every answer of `assess`
            has its own `next_readings`. Left out: nothing is known.
        """
        return self.send(calls.plan(reading_set)).parse()

    def simulate(self, simulation: SimulationLike) -> Simulation:
        """Run the model forward: take the readings that a person would see with a stated fault.

        Parameters
        ----------
        simulation : SimulationRequest, mapping or bytes
            `Visit.simulation` makes one of a visit.
        """
        return self.send(calls.simulate(simulation)).parse()

    def render(self, reading_set: ReadingSetLike, form: Form) -> str:
        """Assess one reading set, and give the answer in a form for people.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping or bytes
            As for `assess`.
        form : {"html", "svg", "markdown", "text"}
            A hand-off note that prints, a drawing of where the neutral sits between the legs, the note as Markdown,
            or the answer in plain words.
        """
        return self.send(calls.render(reading_set, form)).parse()

    def render_pdf(self, reading_set: ReadingSetLike) -> bytes:
        """Assess one reading set, and give the hand-off note as PDF.

        Raises
        ------
        NotNegotiated
            If the service was installed without its library for PDF.
        """
        return self.send(calls.render_pdf(reading_set)).parse()

    def faults(self) -> FaultCatalogue:
        """List what each fault means, its limits, its source and its base rate."""
        return self.send(calls.faults()).parse()

    def cautions(self) -> CautionCatalogue:
        """List each caution with its severity, text and basis."""
        return self.send(calls.cautions()).parse()

    def supply_systems(self) -> SupplySystemCatalogue:
        """List the supply systems that a request can state."""
        return self.send(calls.supply_systems()).parse()

    def meters(self) -> MeterCatalogue:
        """List the kinds of meter, with the figures that stand for what a request leaves out."""
        return self.send(calls.meters()).parse()

    def conductors(self) -> ConductorCatalogue:
        """List the conductor sizes with their resistance."""
        return self.send(calls.conductors()).parse()

    def receptacles(self) -> ReceptacleCatalogue:
        """List the receptacles that a request can state, with their contacts."""
        return self.send(calls.receptacles()).parse()

    def observations(self) -> ObservationCatalogue:
        """List what a person may have seen, as a request can state it."""
        return self.send(calls.observations()).parse()

    def units(self) -> UnitCatalogue:
        """List the accepted units, and the bounds of every physical input."""
        return self.send(calls.units()).parse()

    def model(self) -> ModelDescription:
        """Tell which model answers, with its base rates."""
        return self.send(calls.model()).parse()

    def limits(self) -> LimitCatalogue:
        """List the sizes and rates of this installation."""
        return self.send(calls.limits()).parse()
