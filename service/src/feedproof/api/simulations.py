"""The model run forward over HTTP."""

from collections.abc import Callable
from functools import partial

import msgspec
from litestar import Response, post
from litestar.di import NamedDependency

from feedproof.api.bodies import AnyRequest, choose, require_content, whole_body
from feedproof.api.executor import Executor
from feedproof.api.representations import JSON
from feedproof.contract import request as wire
from feedproof.contract import simulation as answer
from feedproof.contract.assessment import ModelRelease
from feedproof.contract.problem import RequestFault
from feedproof.contract.quantities import READ_CURRENT, READ_VOLTAGE
from feedproof.errors import RefusedRequest, SimulationError
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.inference import simulate
from feedproof.parsing import read_simulation
from feedproof.readings import CurrentReading, ProximityReading, Reading, ResistanceReading, VoltageReading
from feedproof.settings import Settings

_AS_STATED: dict[type[Reading], Callable[..., wire.Reading]] = {
    VoltageReading: wire.VoltageReading,
    ProximityReading: wire.ProximityReading,
    CurrentReading: wire.CurrentReading,
    ResistanceReading: partial(wire.ResistanceReading, supply="isolated"),
}
_MOST = {VoltageReading: READ_VOLTAGE.high, CurrentReading: READ_CURRENT.high}
"""What a request may state at most [V, A]."""
_NOT_SHOWN = ("id", "repeats", "range_stated")
"""Fields of a reading that are no part of a simulated one."""


def _to_wire(reading: Reading) -> wire.Reading:
    """Write a reading as a request states it: nothing beyond what a request may state."""
    kind = type(reading)
    stated = {name: value for name, value in msgspec.structs.asdict(reading).items() if name not in _NOT_SHOWN}
    if kind in _MOST:
        stated["value"] = min(stated["value"], _MOST[kind])
    return _AS_STATED[kind](**stated)


def run(raw: bytes) -> bytes:
    """Simulate what a request states.

    Raises
    ------
    RefusedRequest
        If it is no valid request, or states what the model does not have on that circuit.
    """
    admitted = read_simulation(raw)
    try:
        readings = simulate(admitted.simulation)
    except SimulationError as error:
        value = getattr(admitted.simulation, error.field)
        fault = RequestFault(
            pointer=f"/{error.field}", code="not_simulated", detail=error.detail, accepted=[], value=value
        )
        raise RefusedRequest([fault]) from None
    return msgspec.json.encode(
        answer.Simulation(
            readings=[_to_wire(reading) for reading in readings],
            assumptions=list(admitted.assumptions),
            model=ModelRelease(version=MODEL_VERSION, priors_digest=priors_digest()),
        )
    )


@post("/v1/simulations", name="simulate", status_code=200, summary="Simulate readings of a stated fault")
async def simulate_readings(
    request: AnyRequest, executor: NamedDependency[Executor], settings: NamedDependency[Settings]
) -> Response[bytes]:
    """Give the readings that a person would see on a stated circuit with a stated fault and stated meters.

    The same model that assesses is run forward. The readings come back in the form that an assessment takes; a voltage
    or a current beyond what a reading may state is given as the largest. The same request, seed included, to the same
    model version gives the same bytes.
    """
    require_content(request, JSON)
    choose(request, (JSON,))
    raw = await whole_body(request, settings.max_body_bytes)
    body = await executor.run(partial(run, raw))
    return Response(body, media_type=JSON, headers={"Vary": "Accept", "Cache-Control": "no-store"})
