"""The model run forward over HTTP."""

from functools import partial

import msgspec
from litestar import Response, post
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException

from feedproof.api.bodies import AnyRequest, require_content
from feedproof.api.executor import Executor
from feedproof.api.negotiation import best_media_type
from feedproof.api.packing import whole_body
from feedproof.contract import request as wire
from feedproof.contract import simulation as answer
from feedproof.contract.assessment import ModelRelease
from feedproof.contract.problem import RequestFault
from feedproof.contract.quantities import READ_CURRENT, READ_VOLTAGE
from feedproof.errors import RefusedRequest, SimulationError
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.inference import Simulation, simulate
from feedproof.parsing import read_simulation
from feedproof.readings import CurrentReading, ProximityReading, Reading, VoltageReading
from feedproof.settings import Settings

JSON = "application/json"


def _to_wire(reading: Reading) -> wire.Reading:
    """Write a reading as a request states it: nothing beyond what a request may state."""
    match reading:
        case VoltageReading():
            return wire.VoltageReading(
                between=list(reading.between),
                value=min(reading.value, READ_VOLTAGE.high),
                meter=reading.meter,
                load_state=reading.load_state,
                point=reading.point,
            )
        case ProximityReading():
            return wire.ProximityReading(
                at=reading.at,
                detected=reading.detected,
                meter=reading.meter,
                load_state=reading.load_state,
                point=reading.point,
            )
        case CurrentReading():
            return wire.CurrentReading(
                through=reading.through,
                value=min(reading.value, READ_CURRENT.high),
                meter=reading.meter,
                load_state=reading.load_state,
                point=reading.point,
            )
    return wire.ResistanceReading(
        between=list(reading.between),
        value=reading.value,
        meter=reading.meter,
        load_state=reading.load_state,
        supply="isolated",
        point=reading.point,
        over_range=reading.over_range,
    )


def run(raw: bytes) -> bytes:
    """Simulate what a request states.

    Raises
    ------
    RefusedRequest
        If it is no valid request, or states what the model does not have on that circuit.
    """
    admitted = read_simulation(raw)
    stated = Simulation(
        fault=admitted.fault,
        conductor=admitted.conductor,
        location=admitted.location,
        resistance=admitted.resistance,
        supply_voltage=admitted.supply_voltage,
        readings=admitted.reading_set,
        seed=admitted.seed,
    )
    try:
        readings = simulate(stated)
    except SimulationError as error:
        value = getattr(stated, error.field)
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
    if best_media_type(request.headers.get("accept"), (JSON,)) is None:
        raise HTTPException(status_code=406, detail=f"on offer is {JSON}")
    raw = await whole_body(request, settings.max_body_bytes)
    body = await executor.run(partial(run, raw))
    return Response(body, media_type=JSON, headers={"Vary": "Accept", "Cache-Control": "no-store"})
