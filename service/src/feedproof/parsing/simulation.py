"""A request for a simulation, in SI units: parsed the same way, with the values that were read left out."""

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import msgspec

from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract import simulation as asked
from feedproof.contract.assessment import Assumption
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.inference import Simulation
from feedproof.parsing.admission import admit, open_diagnostics
from feedproof.parsing.documents import decode

_DECODER = msgspec.json.Decoder(asked.SimulationRequest, strict=True)


#: A reading to take is parsed as one that was taken; what was read of it is a placeholder.
_AS_READ: dict[type[asked.Asked], Callable[..., wire.Reading]] = {
    asked.AskedVoltage: partial(wire.VoltageReading, value=0.0),
    asked.AskedProximity: partial(wire.ProximityReading, detected=False),
    asked.AskedCurrent: partial(wire.CurrentReading, value=0.0),
    # A faulty `highest` is reported under that name by the caller.
    asked.AskedResistance: partial(wire.ResistanceReading, value=0.0, supply="isolated"),
}


class AdmittedSimulation(NamedTuple):
    """A valid simulation."""

    simulation: Simulation
    """Of its readings the values are placeholders; a resistance has its meter's highest range, or 0 for none."""
    assumptions: tuple[Assumption, ...]


def _as_read(given: asked.Asked) -> wire.Reading:
    stated = {name: value for name, value in msgspec.structs.asdict(given).items() if name != "highest"}
    return _AS_READ[type(given)](**stated)


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
        Simulation(
            fault=request.fault,
            conductor=request.conductor,
            location=request.location,
            resistance=resistance,
            supply_voltage=supply_voltage,
            readings=msgspec.structs.replace(admitted.reading_set, readings=tuple(readings)),
            seed=request.seed,
        ),
        admitted.assumptions,
    )
