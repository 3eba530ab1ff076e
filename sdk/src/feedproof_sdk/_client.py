"""The client that waits. Made of `_async_client.py` by `python sdk/twin.py`: edit there."""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Mapping
from threading import Lock
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar

from feedproof_sdk import _answers, _batch, _settings, calls
from feedproof_sdk._answers import RawResponse
from feedproof_sdk._batch import Failure, Outcome, Piece, Progress
from feedproof_sdk._exchange import Headers, Received, Sent
from feedproof_sdk._retry import Pacer
from feedproof_sdk._settings import Retry, Settings
from feedproof_sdk._work import Pool, Started, each, forget, home, sleep
from feedproof_sdk.calls import Call, Form, ReadingSetLike, SimulationLike
from feedproof_sdk.errors import FeedproofError
from feedproof_sdk.types import catalogue
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.screen import Screen
from feedproof_sdk.types.simulation import Simulation

if TYPE_CHECKING:
    from feedproof_sdk._transport import Http

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
    timeout : float
        The whole call, with all its attempts and the waits between them [s].
    max_retries : int
        Attempts that may follow the first; 0: never again.
    language : str, optional
        Languages for texts, as the Accept-Language header takes them.
    headers : mapping of str to str, optional
        Sent with every request.
    on_retry : callable, optional
        Told each time that a call is about to be made again.
    http_client : httpx.Client, optional
        Carries the requests; yours to close. For proxies, certificates, limits of connections, and tests.

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
        timeout: float = _settings.TIMEOUT,
        max_retries: int = _settings.MAX_RETRIES,
        language: str | None = None,
        headers: Mapping[str, str] | None = None,
        on_retry: Callable[[Retry], None] | None = None,
        http_client: "Http | None" = None,
    ) -> None:
        settings = _settings.settle(base_url, api_key, timeout, max_retries, language, headers, on_retry)
        self._set_up(settings, _Wire(http_client))

    def _set_up(self, settings: Settings, wire: "_Wire") -> None:
        # Imported when the first client is made: httpx takes longer to load than all the rest of this package.
        from feedproof_sdk._transport import Address  # noqa: PLC0415

        self._settings = settings
        self._address = Address(settings)
        self._wire = wire

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._settings!r})"

    def __getstate__(self) -> "tuple[Settings, Http | None]":
        return self._settings, self._wire.given

    def __setstate__(self, state: "tuple[Settings, Http | None]") -> None:
        self._set_up(state[0], _Wire(state[1]))

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
        timeout: float | None = None,
        max_retries: int | None = None,
        language: str | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Self:
        """Give a client with other options over the same connections: `client.with_options(timeout=5).assess(x)`."""
        other = type(self).__new__(type(self))
        other._set_up(_settings.changed(self._settings, timeout, max_retries, language, headers), self._wire)  # noqa: SLF001
        return other

    def send(self, call: Call[T], /) -> RawResponse[T]:
        """Make a call of `feedproof_sdk.calls`, and give its answer as it came: status, headers, content, attempts.

        Raises
        ------
        NoAnswer
            If the service was not reached or did not answer in time.
        ProblemAnswer
            If it answered with a problem.
        UnreadableAnswer
            If something else answered.
        """
        pacer = Pacer(self._settings, call.sent.path, self._settings.timeout)
        while True:
            try:
                received = self._exchange(call.sent, pacer)
                failed = _answers.error_in(received)
            except FeedproofError as error:
                failed = error
            else:
                if failed is None:
                    return RawResponse(call, *received, pacer.attempts)
            sleep(pacer.wait_after(failed))

    def _exchange(self, sent: Sent, pacer: Pacer) -> Received:
        """Send a request and take the whole answer."""
        from feedproof_sdk._transport import HTTPError  # noqa: PLC0415

        pieces: list[bytes] = []
        total = self._settings.timeout
        try:
            response = self._wire.opened().send(self._address.request(sent, pacer.left), stream=True)
            try:
                for piece in response.iter_bytes():
                    pieces.append(piece)
                    if pacer.left <= _settings.SOON:
                        raise self._address.too_slow(sent, total)
            finally:
                response.close()
        except HTTPError as error:
            self._address.fail(sent, error)
        return Received(response.status_code, Headers(response.headers), b"".join(pieces))

    def assess_many(
        self,
        reading_sets: Iterable[ReadingSetLike],
        *,
        in_flight: int = _batch.IN_FLIGHT,
        patience: float = _batch.PATIENCE,
    ) -> Generator[Assessment | Failure, None, None]:
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
        cutter = _batch.Cutter()
        pool = Pool(in_flight)
        waiting: deque[Started[tuple[list[Outcome], FeedproofError | None]]] = deque()
        raised: Exception | None = None
        given = each(reading_sets)
        try:
            while True:
                while raised is None and len(waiting) < in_flight and not cutter.ended:
                    try:
                        for reading_set in given:
                            if cutter.add(reading_set):
                                break
                        else:
                            cutter.end()
                    except Exception as error:  # noqa: BLE001 - the caller's own; raised when all before it is answered
                        raised = error
                        cutter.end()
                    waiting.extend(pool.start(self._answer, piece, patience) for piece in cutter.full())
                if not waiting:
                    break
                outcomes, failed = pool.result(waiting.popleft())
                for outcome in outcomes:
                    yield outcome
                if failed is not None:
                    raise failed
            if raised is not None:
                raise raised
        finally:
            pool.stop()

    def _answer(self, piece: Piece, patience: float) -> tuple[list[Outcome], FeedproofError | None]:
        """Give the outcome of each line, and the error that ended it early, if one did."""
        from feedproof_sdk._transport import HTTPError  # noqa: PLC0415

        progress = Progress(piece, self._settings, patience)
        while not progress.done:
            sent = progress.send()
            try:
                try:
                    request = self._address.request(sent, patience, patience)
                    response = self._wire.opened().send(request, stream=True)
                    try:
                        progress.begin(response.status_code, Headers(response.headers))
                        for some in response.iter_bytes():
                            progress.take(some)
                        progress.end()
                    finally:
                        response.close()
                except HTTPError as error:
                    self._address.fail(sent, error)
            except FeedproofError as error:
                try:
                    sleep(progress.wait_after(error))
                except FeedproofError as last:
                    return progress.outcomes, last
        return progress.outcomes, None

    def assess(self, reading_set: ReadingSetLike) -> Assessment:
        """Tell from one visit's readings whether the electrical supply is at fault.

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
        return self.send(calls.assess(reading_set)).parse()

    def screen(self, reading_set: ReadingSetLike) -> Screen:
        """Assess one reading set, and give what a screen shows first: 4 kB or less on the line."""
        return self.send(calls.screen(reading_set)).parse()

    def plan(self, reading_set: ReadingSetLike | None = None) -> Assessment:
        """Ask what to read first, before any reading: see `next_readings` and `cautions` of the answer.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping, str or bytes, optional
            What is known of the supply and the meters; readings in it are left aside, since every answer of `assess`
            has its own `next_readings`. Left out: nothing is known.
        """
        return self.send(calls.plan(reading_set)).parse()

    def simulate(self, simulation: SimulationLike) -> Simulation:
        """Run the model forward: take the readings that a person would see with a stated fault.

        Parameters
        ----------
        simulation : SimulationRequest, mapping, str or bytes
            `Visit.simulation` makes one of a visit.
        """
        return self.send(calls.simulate(simulation)).parse()

    def render(self, reading_set: ReadingSetLike, form: Form) -> str:
        """Assess one reading set, and give the answer in a form for people.

        Parameters
        ----------
        reading_set : ReadingSet, Visit, mapping, str or bytes
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

    def faults(self) -> catalogue.FaultCatalogue:
        """List what each fault means, its limits, its source and its base rate."""
        return self.send(calls.faults()).parse()

    def cautions(self) -> catalogue.CautionCatalogue:
        """List each caution with its severity, text and basis."""
        return self.send(calls.cautions()).parse()

    def supply_systems(self) -> catalogue.SupplySystemCatalogue:
        """List the supply systems that a request can state."""
        return self.send(calls.supply_systems()).parse()

    def meters(self) -> catalogue.MeterCatalogue:
        """List the kinds of meter, with the figures that stand for what a request leaves out."""
        return self.send(calls.meters()).parse()

    def conductors(self) -> catalogue.ConductorCatalogue:
        """List the conductor sizes with their resistance."""
        return self.send(calls.conductors()).parse()

    def receptacles(self) -> catalogue.ReceptacleCatalogue:
        """List the receptacles that a request can state, with their contacts."""
        return self.send(calls.receptacles()).parse()

    def observations(self) -> catalogue.ObservationCatalogue:
        """List what a person may have seen, as a request can state it, and how much each speaks for what."""
        return self.send(calls.observations()).parse()

    def units(self) -> catalogue.UnitCatalogue:
        """List the accepted units, and the bounds of every physical input."""
        return self.send(calls.units()).parse()

    def model(self) -> catalogue.ModelDescription:
        """Tell which model answers, with its base rates."""
        return self.send(calls.model()).parse()

    def limits(self) -> catalogue.LimitCatalogue:
        """List the sizes and rates of this installation."""
        return self.send(calls.limits()).parse()


class _Wire:
    """Connections, opened when first used; those of the caller where some were given."""

    def __init__(self, given: "Http | None") -> None:
        self.given = given
        self._own: Http | None = None
        self._home: object = None
        self._lock = Lock()

    def opened(self) -> "Http":
        if self.given is not None:
            return self.given
        with self._lock:
            if self._own is None or self._home != home():
                from feedproof_sdk._transport import POOL, Http  # noqa: PLC0415

                self._own, self._home = Http(limits=POOL), home()
            return self._own

    def close(self) -> None:
        own, self._own = self._own, None
        if own is not None and self._home == home():
            own.close()

    def __del__(self) -> None:
        forget(self._own)
