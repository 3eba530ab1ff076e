"""How large a visit may be, worked out from its figures before anything is computed.

Both limits are limits of the engine: change them here when that changes. `tests/service/
test_large_visits.py` reports what the largest visits cost.
"""

from collections.abc import Iterator

from msgspec import Struct

from feedproof.contract.problem import RequestFault
from feedproof.faults.places import SYSTEMS
from feedproof.readings import LoadState, ProximityReading, ReadingSet, ResistanceReading, SystemName, Voltmeter

MOST_UNKNOWNS = 64
"""Unknowns of one place of a fault; the time grows with their square or cube."""
MOST_SIMULATED = 256
"""The same of a simulation, which is worked out once and not weighed."""
MOST_WORK = 400_000
"""Readings times places times unknowns, the latter with an addition: up to four microseconds of a processor each."""

UNKNOWNS = "Unknowns of one reading set: meters, load states and loads that were read in, wires, the building."
WORK = "Work of one reading set: readings times places times unknowns, the last with an addition of 10."

_ADDITION = 10
#: Places of a supply system without those of its testers, of which each voltmeter is one in each form of the system:
#: where nothing is read at the appliance's terminals, and where something is.
_PLACES: dict[SystemName, tuple[int, int]] = {
    "split_phase_120_240": (49, 56),
    "wye_120_208": (48, 55),
    "single_phase_120": (30, 34),
    "high_leg_delta_120_240": (134, 155),
}
#: Of them, in each form, those that an idle appliance with nothing connected would hide, which are weighed both ways.
_HIDDEN = (13, 16)
#: Most unknowns of an open conductor and what floats behind it; of a neutral further upstream those of the building,
#: and two for each load state in which it may take another load.
_FLOATING, _BUILDING, _CHANGING = 11, 5, 2
#: Unknowns of the insulation that an ohmmeter reads: of all wires together, and of each leg.
_INSULATION = 3


class Size(Struct, frozen=True, kw_only=True):
    """The figures of a visit that decide how much work it is."""

    readings: int
    states: int
    """Load states that were read."""
    loads: int
    """Unknowns of the loads in them: those stated, and some of each load state that are not."""
    unknowns: int
    """Bound on the unknowns of any one place."""
    places: int
    """Bound on the places that are weighed one by one."""

    @property
    def work(self) -> int:
        """Measure of the processor time [1]."""
        return self.readings * self.places * (self.unknowns + _ADDITION)

    @property
    def most_readings(self) -> int:
        """Readings that would be within bounds, with all else the same [1]."""
        return MOST_WORK // (self.places * (self.unknowns + _ADDITION))


def _loads(state: LoadState, *, one_leg: bool) -> int:
    """Unknowns of the loads of a load state."""
    if state.kind == "disconnected":
        return 0
    if state.kind == "test_load" and state.loads:
        return len(state.loads)
    # One on each leg, their angle, and one across the legs where no load is stated.
    return len(state.loads) + (2 if one_leg else 3 + (not state.loads))


def size_of(reading_set: ReadingSet) -> Size:
    """Work out the figures of a visit.

    Parameters
    ----------
    reading_set : ReadingSet
        In SI units.

    Returns
    -------
    Size
        Bounds, at most some too many.
    """
    system, readings = reading_set.supply.system, reading_set.readings
    read = {reading.load_state for reading in readings}
    live = {reading.load_state for reading in readings if not isinstance(reading, ResistanceReading)}
    gains = {reading.meter for reading in readings if not isinstance(reading, ProximityReading)}
    loads = sum(_loads(reading_set.load_states[name], one_leg=reading_set.supply.one_leg) for name in read)
    at_terminals = any(reading.point == "appliance_terminals" for reading in readings)
    wires = 8 if at_terminals else 4
    voltmeters = sum(isinstance(meter, Voltmeter) for meter in reading_set.meters.values())
    # The wiring that a generator's ground hangs on is not known.
    floating = _FLOATING + (3 if reading_set.supply.source == "generator" else 0)
    faulted = max(floating, _BUILDING + _CHANGING * len(live))
    ohms = any(isinstance(reading, ResistanceReading) for reading in readings)
    insulation = _INSULATION if ohms else 0
    # While idle the appliance may have nothing connected: what that would hide is weighed both ways.
    idle = any(state.kind == "idle" for state in reading_set.load_states.values())
    forms = len(SYSTEMS[system])
    return Size(
        readings=len(readings),
        states=len(read),
        loads=loads,
        unknowns=len(gains) + len(live) + loads + wires + faulted + insulation,
        places=_PLACES[system][at_terminals] + forms * (voltmeters + idle * _HIDDEN[at_terminals]),
    )


def faults_of(size: Size, *, weighed: bool = True) -> Iterator[RequestFault]:
    """Say what is too large about a visit, and what to do about it.

    Parameters
    ----------
    size : Size
        Its figures.
    weighed : bool
        Whether it is to be assessed, and not only simulated.

    Yields
    ------
    RequestFault
        One for each limit, none where all are kept.
    """
    most = MOST_UNKNOWNS if weighed else MOST_SIMULATED
    if size.unknowns > most:
        yield RequestFault(
            pointer="/load_states",
            code="too_many_unknowns",
            detail=(
                f"readings in {size.states} load states with {size.loads} loads: with meters, wires and the building up"
                f" to {size.unknowns} unknowns, at most {most}; send the readings of some load states by themselves, or"
                " leave loads out of them"
            ),
            accepted=[f"at most {most} unknowns"],
        )
    if weighed and size.work > MOST_WORK:
        yield RequestFault(
            pointer="/readings",
            code="too_much_work",
            detail=(
                f"{size.readings} readings, {size.places} places to weigh, up to {size.unknowns} unknowns: with these"
                f" at most {size.most_readings} readings; send the readings of some load states or points by themselves"
            ),
            accepted=[f"at most {size.most_readings} readings"],
        )
