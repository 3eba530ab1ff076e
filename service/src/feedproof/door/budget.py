"""How large a visit may be, worked out from its figures before anything is computed.

Each limit is a limit of the engine behind the door: change them here when that changes. Measured, with figures, in
`tests/benchmarks/README.md`.
"""

from collections.abc import Iterator

from msgspec import Struct

from feedproof.contract.problem import RequestFault
from feedproof.faults.sites import sites
from feedproof.readings import LoadState, ProximityReading, ReadingSet, ResistanceReading, Voltmeter

MOST_STATES = 28
"""Load states, those that no reading names included: each is a circuit or two, told apart by the bits of one number."""
MOST_UNKNOWNS = 48
"""Unknowns of one place of a fault: the work of a climb grows with their square."""
MOST_CHOICES = 20_000
"""Meters times load states times points, so many ways there are to read on, times all unknowns of those: what is looked
through for what to read next."""
MOST_WORK = 250_000
"""Readings times places times unknowns, the latter with an addition: about three microseconds each."""

_ADDITION = 10
_BESIDE = 20
"""Unknowns beside those of the load states, about."""
_SPREAD = 9
"""Most unknowns of a fault and of the strays beside it."""
_EDGE = 0.1
"""Where a bad joint begins does not change how many places there are [ohm]."""


class Size(Struct, frozen=True, kw_only=True):
    """The figures of a visit that decide how much work it is."""

    readings: int
    states: int
    meters: int
    points: int
    loads: int
    """Unknowns of loads where something was read: those stated, and some of each load state that are not."""
    all_loads: int
    """The same in all load states."""
    unknowns: int
    """Bound on the unknowns of any one place."""
    places: int
    """Places and kinds of faults that are weighed one by one."""

    @property
    def choices(self) -> int:
        """Measure of what is looked through for what to read next [1]."""
        return self.meters * self.states * self.points * (_BESIDE + self.states + self.all_loads)

    @property
    def work(self) -> int:
        """Measure of the processor time [1]."""
        return self.readings * self.places * (self.unknowns + _ADDITION)


def _loads(state: LoadState, *, one_leg: bool) -> int:
    """Unknowns of the loads of a load state that was read."""
    if state.kind == "disconnected":
        return 0
    if state.kind == "test_load" and state.loads:
        return len(state.loads)
    beside = 2 if one_leg else 3
    return len(state.loads) + beside + (not one_leg and not state.loads)


def size_of(reading_set: ReadingSet) -> Size:
    """Work out the figures of a visit.

    Parameters
    ----------
    reading_set : ReadingSet
        In SI units.

    Returns
    -------
    Size
        Its unknowns are a bound, at most some too many.
    """
    supply, readings, states = reading_set.supply, reading_set.readings, reading_set.load_states
    one_leg = supply.system == "single_phase_120"
    points = frozenset(reading.point for reading in readings)
    read = {reading.load_state for reading in readings}
    live = {reading.load_state for reading in readings if not isinstance(reading, ResistanceReading)}
    gains = {reading.meter for reading in readings if not isinstance(reading, ProximityReading)}
    loads = sum(_loads(states[name], one_leg=one_leg) for name in read)
    testers = tuple((k, m.proved) for k, m in enumerate(reading_set.meters.values()) if isinstance(m, Voltmeter))
    rates = None if reading_set.base_rates is None else tuple(sorted(reading_set.base_rates.items()))
    wires = 8 if "appliance_terminals" in points else 4
    return Size(
        readings=len(readings),
        states=len(states),
        meters=len(reading_set.meters),
        points=max(len(points), 1),
        loads=loads,
        all_loads=sum(_loads(state, one_leg=one_leg) for state in states.values()),
        unknowns=1 + len(gains) + len(live) + loads + wires + _SPREAD,
        places=len(sites(supply, points, testers, _EDGE, rates)),
    )


def faults_of(size: Size, *, weighed: bool = True) -> Iterator[RequestFault]:
    """Say what is too large about a visit, and what to do about it.

    Parameters
    ----------
    size : Size
        Its figures.
    weighed : bool
        Whether it is to be assessed; a simulation only has to have a circuit.

    Yields
    ------
    RequestFault
        One for each limit, none where all are kept.
    """
    if size.states > MOST_STATES:
        yield RequestFault(
            pointer="/load_states",
            code="too_many_load_states",
            detail=f"{size.states} load states; at most {MOST_STATES}: send groups of load states one by one",
            accepted=[f"at most {MOST_STATES} load states"],
        )
    if not weighed:
        return
    if size.unknowns > MOST_UNKNOWNS:
        yield RequestFault(
            pointer="/load_states",
            code="too_many_unknowns",
            detail=(
                f"{size.loads} loads in the load states that were read, with meters, wires and strays up to"
                f" {size.unknowns} unknowns; at most {MOST_UNKNOWNS}: send the readings of some load states by"
                " themselves"
            ),
            accepted=[f"at most {MOST_UNKNOWNS} unknowns"],
        )
    if size.choices > MOST_CHOICES:
        yield RequestFault(
            pointer="/meters",
            code="too_many_choices",
            detail=(
                f"{size.meters} meters, {size.states} load states with {size.all_loads} loads, {size.points} points:"
                " more ways to read on than are looked through; leave out meters and load states that nothing was read"
                " with or in, or send points by themselves"
            ),
            accepted=[f"meters x load states x points x (load states + loads + {_BESIDE}) at most {MOST_CHOICES}"],
        )
    if size.work > MOST_WORK:
        most = MOST_WORK // (size.places * (size.unknowns + _ADDITION))
        yield RequestFault(
            pointer="/readings",
            code="too_much_work",
            detail=(
                f"{size.readings} readings, {size.places} places to weigh, up to {size.unknowns} unknowns; with these"
                f" at most {most} readings: send the readings of some load states or points by themselves"
            ),
            accepted=[f"at most {most} readings"],
        )
