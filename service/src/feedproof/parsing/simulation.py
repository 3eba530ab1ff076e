"""A request for a simulation, in SI units: parsed the same way, with the values that were read left out."""

from typing import NamedTuple

import msgspec

from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract import simulation as asked
from feedproof.contract.assessment import Assumption
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.parsing.admission import admit, open_diagnostics
from feedproof.parsing.documents import decode
from feedproof.readings import Conductor, ReadingSet

_DECODER = msgspec.json.Decoder(asked.SimulationRequest, strict=True)


class AdmittedSimulation(NamedTuple):
    """A valid simulation."""

    fault: str
    conductor: Conductor | None
    location: str | None
    resistance: float | None
    """[ohm]"""
    supply_voltage: float | None
    """[V]"""
    reading_set: ReadingSet
    """Values are placeholders; a resistance has its meter's highest range, or 0 for none."""
    seed: int | None
    assumptions: tuple[Assumption, ...]


def _as_read(given: asked.Asked) -> wire.Reading:
    match given:
        case asked.AskedVoltage():
            return wire.VoltageReading(
                between=given.between, value=0.0, meter=given.meter, load_state=given.load_state, point=given.point
            )
        case asked.AskedProximity():
            return wire.ProximityReading(
                at=given.at, detected=False, meter=given.meter, load_state=given.load_state, point=given.point
            )
        case asked.AskedCurrent():
            return wire.CurrentReading(
                through=given.through, value=0.0, meter=given.meter, load_state=given.load_state, point=given.point
            )
    return wire.ResistanceReading(
        between=given.between,
        # A faulty range is noted by its own name below.
        value=0.0,
        meter=given.meter,
        load_state=given.load_state,
        supply="isolated",
        point=given.point,
    )


def read_simulation(raw: bytes) -> AdmittedSimulation:
    """Read a simulation from the bytes of a request.

    Parameters
    ----------
    raw : bytes
        A JSON document in UTF-8.

    Returns
    -------
    AdmittedSimulation
        In SI units.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8.
    RefusedRequest
        If it is no valid request; with every fault.
    """
    request, examined, _ = decode(raw, _DECODER)
    diagnostics = open_diagnostics(examined)
    if request.fault not in FAULT_NAMES:
        diagnostics.fault("/fault", "unknown_fault", "no such fault", sorted(FAULT_NAMES), request.fault)
    resistance = diagnostics.optional(request.resistance, q.FAULT_RESISTANCE, "/resistance")
    supply_voltage = diagnostics.optional(request.supply_voltage, q.SOURCE_VOLTAGE, "/supply_voltage")
    ranges = {
        index: diagnostics.quantity(given.highest, q.METER_RANGE, f"/readings/{index}/highest")
        for index, given in enumerate(request.readings)
        if isinstance(given, asked.AskedResistance) and given.highest is not None
    }
    admitted = admit(
        wire.AssessmentRequest(
            supply=request.supply,
            appliance=request.appliance,
            meters=request.meters,
            load_states=request.load_states,
            readings=[_as_read(given) for given in request.readings],
        ),
        diagnostics,
        weighed=False,
    )
    readings = [
        msgspec.structs.replace(reading, value=ranges[index]) if index in ranges else reading
        for index, reading in enumerate(admitted.reading_set.readings)
    ]
    return AdmittedSimulation(
        fault=request.fault,
        conductor=request.conductor,
        location=request.location,
        resistance=resistance,
        supply_voltage=supply_voltage,
        reading_set=msgspec.structs.replace(admitted.reading_set, readings=tuple(readings)),
        seed=request.seed,
        assumptions=admitted.assumptions,
    )
