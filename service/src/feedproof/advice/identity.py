"""Which reading it was, in the answer's types and in words."""

from collections.abc import Mapping

from feedproof.advice.wording import pair_name, point_name, quantity, short_conductor, state_name
from feedproof.contract.assessment import Observed, ReadingIdentity
from feedproof.readings import CurrentReading, LoadState, ProximityReading, Reading, Terminal, VoltageReading


def kind_of(reading: Reading) -> str:
    """Kind of the reading, as the request calls it."""
    if isinstance(reading, VoltageReading):
        return "voltage"
    if isinstance(reading, CurrentReading):
        return "current"
    return "proximity" if isinstance(reading, ProximityReading) else "resistance"


def conductors_of(reading: Reading) -> tuple[Terminal, ...]:
    """Conductors that the meter was on: two for a voltage or a resistance, else one."""
    if isinstance(reading, CurrentReading):
        return (reading.through,)
    return (reading.at,) if isinstance(reading, ProximityReading) else reading.between


def identity_of(reading: Reading, states: Mapping[str, LoadState]) -> ReadingIdentity:
    """The reading's identity for the answer."""
    return ReadingIdentity(
        kind=kind_of(reading),
        conductors=[*conductors_of(reading)],
        point=reading.point,
        meter=reading.meter,
        load_state=reading.load_state,
        load_state_kind=states[reading.load_state].kind,
    )


def what_words(identity: ReadingIdentity) -> str:
    """What was read: "L1 to neutral", "current through L1"."""
    pair = pair_name(identity.conductors)
    return {"current": f"current through {pair}", "proximity": f"detector at {pair}"}.get(identity.kind, pair)


def where_words(identity: ReadingIdentity) -> str:
    """Under which conditions: "appliance running, receptacle"."""
    return f"{state_name(identity.load_state, identity.load_state_kind)}, {point_name(identity.point)}"


def observed_words(observed: Observed, identity: ReadingIdentity) -> str:
    """What was seen: "3.7 V", or whether the detector signalled."""
    if identity.kind == "proximity":
        return "signal" if observed.value else "no signal"
    return quantity(observed.value, observed.unit)


def reading_words(observed: Observed, identity: ReadingIdentity) -> str:
    """The whole reading: "3.7 V L1 to neutral (appliance connected, not started)"."""
    state = state_name(identity.load_state, identity.load_state_kind)
    if identity.kind == "proximity":
        return f"{observed_words(observed, identity)} at {short_conductor(identity.conductors[0])} ({state})"
    return f"{observed_words(observed, identity)} {what_words(identity)} ({state})"
