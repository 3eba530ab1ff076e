"""Every call with its answer as it came."""

from collections.abc import Awaitable, Callable
from typing import ParamSpec, Protocol, TypeVar

from feedproof_sdk import calls
from feedproof_sdk._answers import RawResponse
from feedproof_sdk.calls import Call

P = ParamSpec("P")
T = TypeVar("T")


class _Sends(Protocol):
    def send(self, call: Call[T], /) -> RawResponse[T]: ...


class _AsyncSends(Protocol):
    async def send(self, call: Call[T], /) -> RawResponse[T]: ...


def _bind(client: _Sends, make: Callable[P, Call[T]]) -> Callable[P, RawResponse[T]]:
    def call(*args: P.args, **kwargs: P.kwargs) -> RawResponse[T]:
        return client.send(make(*args, **kwargs))

    return call


def _bind_async(client: _AsyncSends, make: Callable[P, Call[T]]) -> Callable[P, Awaitable[RawResponse[T]]]:
    async def call(*args: P.args, **kwargs: P.kwargs) -> RawResponse[T]:
        return await client.send(make(*args, **kwargs))

    return call


class WithRawResponse:
    """The calls of `Client`, each giving a `RawResponse`."""

    def __init__(self, client: _Sends) -> None:
        self.assess = _bind(client, calls.assess)
        self.plan = _bind(client, calls.plan)
        self.simulate = _bind(client, calls.simulate)
        self.render = _bind(client, calls.render)
        self.render_pdf = _bind(client, calls.render_pdf)
        self.faults = _bind(client, calls.faults)
        self.cautions = _bind(client, calls.cautions)
        self.supply_systems = _bind(client, calls.supply_systems)
        self.meters = _bind(client, calls.meters)
        self.conductors = _bind(client, calls.conductors)
        self.receptacles = _bind(client, calls.receptacles)
        self.observations = _bind(client, calls.observations)
        self.units = _bind(client, calls.units)
        self.model = _bind(client, calls.model)
        self.limits = _bind(client, calls.limits)


class AsyncWithRawResponse:
    """The calls of `AsyncClient`, each giving a `RawResponse`."""

    def __init__(self, client: _AsyncSends) -> None:
        self.assess = _bind_async(client, calls.assess)
        self.plan = _bind_async(client, calls.plan)
        self.simulate = _bind_async(client, calls.simulate)
        self.render = _bind_async(client, calls.render)
        self.render_pdf = _bind_async(client, calls.render_pdf)
        self.faults = _bind_async(client, calls.faults)
        self.cautions = _bind_async(client, calls.cautions)
        self.supply_systems = _bind_async(client, calls.supply_systems)
        self.meters = _bind_async(client, calls.meters)
        self.conductors = _bind_async(client, calls.conductors)
        self.receptacles = _bind_async(client, calls.receptacles)
        self.observations = _bind_async(client, calls.observations)
        self.units = _bind_async(client, calls.units)
        self.model = _bind_async(client, calls.model)
        self.limits = _bind_async(client, calls.limits)
