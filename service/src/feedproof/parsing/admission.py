"""From bytes to a reading set."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from feedproof.contract import quantities as q
from feedproof.contract import request as wire
from feedproof.contract import visit as visit_wire
from feedproof.contract.assessment import Assumption
from feedproof.contract.problem import RequestFault
from feedproof.errors import RefusedRequest
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.priors import completed_rates
from feedproof.parsing.budget import faults_of, size_of
from feedproof.parsing.circuit import read_load_state, read_supply
from feedproof.parsing.diagnostics import Diagnostics, escape
from feedproof.parsing.documents import decode, digest_of
from feedproof.parsing.readings import Visit, check_repeats, conductors_of, read_meter, read_reading
from feedproof.parsing.structure import Examined
from feedproof.readings import PANELS, Observation, ReadingSet, VisitDetails

_WITH_PLACE = "lights_brighten_and_dim"
"""The one observation of which it is asked where."""


def read_observations(
    given: Sequence[str | wire.Observation] | None, diagnostics: Diagnostics
) -> tuple[Observation, ...]:
    """Make the observations; one that is there twice, or says where of what has no place, is a fault."""
    made: dict[str, Observation] = {}
    for index, seen in enumerate(given or ()):
        at = f"/observations/{index}"
        if diagnostics.is_broken(at):
            continue
        one = Observation(code=seen) if isinstance(seen, str) else Observation(code=seen.code, where=seen.where)
        if one.where is not None and one.code != _WITH_PLACE:
            diagnostics.fault(
                f"{at}/where", "contradiction", f"where is asked of {_WITH_PLACE} alone", ["null"], one.where
            )
        if one.code in made:
            diagnostics.fault(at, "given_twice", f"'{one.code}' is there twice; give each once", [], one.code)
        made[one.code] = one
    return tuple(made.values())


_DECODER = msgspec.json.Decoder(wire.AssessmentRequest, strict=True)


class Admitted(NamedTuple):
    """A valid request."""

    reading_set: ReadingSet
    assumptions: tuple[Assumption, ...]


def _base_rates(given: dict[str, float] | None, diagnostics: Diagnostics) -> dict[str, float] | None:
    if given is None:
        return None
    for name in given.keys() - FAULT_NAMES:
        diagnostics.fault(f"/base_rates/{escape(name)}", "unknown_fault", "no such fault", sorted(FAULT_NAMES), name)
    for name, rate in given.items():
        if 0.0 < rate < q.SMALLEST:
            detail = f"below {q.SMALLEST:g}; give 0"
            diagnostics.fault(
                f"/base_rates/{escape(name)}", "out_of_bounds", detail, [f"0, or {q.SMALLEST:g} to 1e+09"], rate
            )
    if given.get("none_found") == 0.0:
        detail = "a sound supply cannot be ruled out beforehand; give a number above 0, or leave it out"
        diagnostics.fault("/base_rates/none_found", "out_of_bounds", detail, [f"{q.SMALLEST:g} to 1e+09"], 0.0)
    return None if diagnostics.faults else completed_rates(given)


def _uses_neutral(request: wire.AssessmentRequest) -> bool:
    """Whether a load, or a reading that is not taken at a panel, is to the neutral."""
    loads = [load for state in (request.load_states or {}).values() for load in state.loads or ()]
    read = [reading for reading in request.readings if reading.point not in PANELS]
    return any("N" in load.between for load in loads) or any("N" in conductors_of(reading)[1] for reading in read)


def _details(given: visit_wire.VisitDetails | None, diagnostics: Diagnostics) -> VisitDetails:
    told = {} if given is None else msgspec.structs.asdict(given)
    for name, text in told.items():
        diagnostics.plain_text(text, f"/visit/{name}")
    return VisitDetails(**told)


def open_diagnostics(examined: Examined | None) -> Diagnostics:
    """Begin with the structural faults, where there are any."""
    return Diagnostics() if examined is None else Diagnostics(examined.faults, examined.broken)


def admit(request: wire.AssessmentRequest, diagnostics: Diagnostics | None = None, *, weighed: bool = True) -> Admitted:
    """Make the reading set of a typed request.

    Parameters
    ----------
    request : AssessmentRequest
        Structurally sound, or mended.
    diagnostics : Diagnostics, optional
        What was noted before; its faults are told with those found here.
    weighed : bool
        Whether it is to be assessed; what is only simulated may be larger.

    Returns
    -------
    Admitted
        The reading set in SI units, and the assumptions made for it.

    Raises
    ------
    RefusedRequest
        With every fault of the request.
    """
    diagnostics = diagnostics or Diagnostics()
    diagnostics.plain_text(request.reference, "/reference")
    details = _details(request.visit, diagnostics)
    kind = request.appliance.kind if request.appliance is not None else "other"
    supply = read_supply(request.supply, diagnostics, appliance=kind, uses_neutral=_uses_neutral(request))
    meters = request.meters or {}
    for group, names in (("meters", meters), ("load_states", request.load_states or {})):
        for name in names:
            diagnostics.plain_text(name, f"/{group}/{escape(name)}")
    for index, reading in enumerate(request.readings):
        diagnostics.plain_text(reading.id, f"/readings/{index}/id")
    made_meters = {name: read_meter(name, meter, diagnostics) for name, meter in meters.items()}
    states = {
        name: read_load_state(name, state, supply, diagnostics) for name, state in (request.load_states or {}).items()
    }
    visit = Visit(supply, meters, states)
    readings = tuple(
        read_reading(reading, visit, f"/readings/{index}", diagnostics)
        for index, reading in enumerate(request.readings)
    )
    check_repeats(readings, diagnostics)
    observations = read_observations(request.observations, diagnostics)
    if request.appliance is None:
        diagnostics.assume("/appliance/kind", "other", None, "not stated; loads of any appliance are weighed")
    base_rates = _base_rates(request.base_rates, diagnostics)
    if diagnostics.faults:
        raise RefusedRequest(sorted(diagnostics.faults, key=_document_order))
    reading_set = ReadingSet(
        reference=request.reference,
        supply=supply,
        meters=made_meters,
        load_states=states,
        readings=readings,
        appliance=kind,
        observations=observations,
        base_rates=base_rates,
        visit=details,
    )
    # The size can only be worked out for a valid request.
    too_large = list(faults_of(size_of(reading_set), weighed=weighed))
    if too_large:
        raise RefusedRequest(too_large)
    return Admitted(reading_set, tuple(diagnostics.assumptions))


_SECTIONS = {name: rank for rank, name in enumerate(wire.AssessmentRequest.__struct_fields__)}


def _document_order(fault: RequestFault) -> tuple[int, str, int, str]:
    _, section, item, *_rest = [*fault.pointer.split("/"), "", ""]
    return (_SECTIONS.get(section, len(_SECTIONS)), section, int(item) if item.isdigit() else 0, fault.pointer)


def read_request(raw: bytes) -> Admitted:
    """Read a reading set from the bytes of a request.

    Parameters
    ----------
    raw : bytes
        A JSON document in UTF-8.

    Returns
    -------
    Admitted
        The reading set in SI units, and the assumptions made for it.

    Raises
    ------
    MalformedRequest
        If it is no JSON document in UTF-8.
    RefusedRequest
        If it is no valid request; with every fault.
    """
    decoded = decode(raw, _DECODER)
    admitted = admit(decoded.request, open_diagnostics(decoded.examined))
    named = msgspec.structs.replace(admitted.reading_set, digest=digest_of(decoded.document))
    return admitted._replace(reading_set=named)
