"""Readings that could be taken next: every point, pair, meter and load state that the arrangement allows."""

from collections.abc import Callable
from itertools import combinations

import numpy as np
from msgspec import Struct

from feedproof.circuit.forward import IntArray
from feedproof.inference.likelihood import Observations
from feedproof.inference.observing import scatter_of
from feedproof.inference.scene import Kind, Scene, SceneReading, SceneState
from feedproof.instruments.typical import (
    CLAMP_AMMETER,
    HIGH_IMPEDANCE_VOLTMETER,
    LOW_IMPEDANCE_VOLTMETER,
    TypicalMeter,
)
from feedproof.readings import (
    PANELS,
    ClampAmmeter,
    Conductor,
    Load,
    LoadStateKind,
    Meter,
    Ohmmeter,
    Point,
    ProximityDetector,
    Supply,
    Voltmeter,
    is_low_impedance,
    meter_kind,
)
from feedproof.remembered import remembered


def _common(made: Callable[..., Meter], kind: TypicalMeter) -> Meter:
    return made(name="", **{figure.field: figure.value for figure in kind.figures})


COMMON_METERS: tuple[Meter, ...] = (
    _common(Voltmeter, HIGH_IMPEDANCE_VOLTMETER),
    _common(Voltmeter, LOW_IMPEDANCE_VOLTMETER),
    _common(ClampAmmeter, CLAMP_AMMETER),
)
"""The kinds that most technicians have or can borrow: what could be read with one that the request does not list."""

TEST_LOAD = Load(between=("L1", "N"), resistance=9.6, tolerance_percent=10.0)
"""A heater of 1.5 kW from one leg to the neutral: its current shows a joint of some ohms in either."""


class Question(Struct, frozen=True, kw_only=True):
    """One reading that could be taken."""

    reading: SceneReading
    repeats: int = -1
    """Index in the scene of the reading that this one takes again; -1: none."""
    at_hand: bool = True
    """The request lists the meter."""
    effort: float = 1.0
    """In readings at a place where one stands already: going there and setting the state up counts too [1]."""
    hazard: int = 0
    """Rank: lower is less hazardous."""


class Askable(Struct, frozen=True, kw_only=True):
    """All that could be read next on one arrangement."""

    scene: Scene
    """With the meters and states that the arrangement itself does not have; those come last."""
    questions: tuple[Question, ...]
    readings: tuple[SceneReading, ...]
    setup: IntArray
    """Number of point and load state, for each question."""
    scatter: Observations


def extended(scene: Scene) -> Scene:
    """A scene with the common meters that it lacks, and the load states that its appliance can be put in."""
    kinds = {meter_kind(m) for m in scene.meters}
    meters = (*scene.meters, *(m for m in COMMON_METERS if meter_kind(m) not in kinds))
    states = list(scene.states)
    wired = scene.supply.receptacle == "hardwired"
    for kind in ("disconnected", "idle", "running"):
        if not any(s.kind == kind for s in states) and not (wired and kind == "disconnected" and states):
            states.append(SceneState(kind=kind))
    if scene.supply.neutral and not wired and not any(s.kind == "test_load" and s.loads for s in states):
        states.append(SceneState(kind="test_load", loads=(TEST_LOAD,)))
    return Scene(supply=scene.supply, meters=meters, states=tuple(states), readings=scene.readings)


def conductors_at(supply: Supply, point: Point) -> tuple[Conductor, ...]:
    """Conductors that can be touched at a point."""
    if point in PANELS:
        # Where neutral and ground are joined, one stands for both.
        return (*supply.legs, "N") if point == "service_panel" else supply.conductors
    return supply.carrying if supply.equipment_ground == "absent" else (*supply.carrying, "G")


def panel_of(scene: Scene) -> Point:
    """The panel that the branch leaves, as a request would name it."""
    read = {r.point for r in scene.readings}.intersection(PANELS)
    if len(read) == 1:
        return next(iter(read))
    fed: dict[str, Point] = {
        "service_panel": "service_panel",
        "sub_panel": "sub_panel",
        "sub_panel_bonded": "sub_panel",
    }
    return fed.get(scene.supply.fed_from, "panel")


def _outlet(state: SceneState) -> Point:
    """Where the outlet's side is read: a plug covers the contacts."""
    return "receptacle" if state.kind == "disconnected" else "appliance_terminals"


def _of(reading: SceneReading) -> tuple[object, ...]:
    """What a reading is taken of, whatever it shows."""
    return reading.kind, reading.conductors, reading.point, reading.state, reading.meter


@remembered(8 * 2**20)
def askable(scene: Scene) -> Askable:
    """What could be read next: the same for every reading set of one arrangement.

    Parameters
    ----------
    scene : Scene
        Without values.
    """
    full = extended(scene)
    taken = {_of(r): k for k, r in enumerate(scene.readings)}
    number = [sum(r == other for other in scene.readings) for r in scene.readings]
    been = {(r.point, r.state) for r in scene.readings}
    found: list[Question] = []

    def ask(kind: Kind, conductors: tuple[Conductor, ...], point: Point, state: int, meter: int) -> None:
        reading = SceneReading(kind=kind, conductors=conductors, point=point, state=state, meter=meter)
        again = taken.get(_of(reading), -1)
        if again >= 0 and number[again] > 1:
            return
        found.append(
            Question(
                reading=reading,
                repeats=again,
                at_hand=meter < len(scene.meters),
                effort=_effort(point, state, full.states[state].kind, been) + _on_ground(full, reading),
                hazard=_hazard(full, reading),
            )
        )

    for s, state in enumerate(full.states):
        outlet = _outlet(state)
        own = s < len(scene.states) and any(r.state == s for r in scene.readings)
        panel = panel_of(scene)
        for m, meter in enumerate(full.meters):
            if m >= len(scene.meters) and state.loaded is not isinstance(meter, ClampAmmeter):
                continue
            for point in (outlet, panel):
                if point == panel and not (
                    own or state.loaded or (not scene.readings and state.kind == "disconnected")
                ):
                    continue
                for kind, conductors in _with_meter(scene, meter, state, point):
                    ask(kind, conductors, point, s, m)
    readings = tuple(q.reading for q in found)
    setups = list(dict.fromkeys((r.point, r.state) for r in readings))
    return Askable(
        scene=full,
        questions=tuple(found),
        readings=readings,
        setup=np.array([setups.index((r.point, r.state)) for r in readings], np.int64),
        scatter=scatter_of(full, readings),
    )


def _with_meter(
    scene: Scene, meter: Meter, state: SceneState, point: Point
) -> list[tuple[Kind, tuple[Conductor, ...]]]:
    """What a meter can read at a point in a load state, as far as another meter there would not read the same."""
    there = conductors_at(scene.supply, point)
    if isinstance(meter, Voltmeter):
        at_hand = scene.meters or COMMON_METERS
        high = any(isinstance(m, Voltmeter) and not is_low_impedance(m) for m in at_hand)
        stiff = point in PANELS or state.loaded
        if is_low_impedance(meter) and high and stiff:
            return []
        return [("voltage", pair) for pair in combinations(there, 2)]
    if isinstance(meter, ProximityDetector):
        return [("proximity", (c,)) for c in there if point not in PANELS and state.kind == "disconnected"]
    if isinstance(meter, ClampAmmeter):
        carried = conductors_at(scene.supply, "receptacle")
        return [("current", (c,)) for c in carried if state.loaded]
    # An ohmmeter goes on an isolated circuit, with nothing connected that would stand in for the conductor.
    isolated = state.kind == "disconnected" and point not in PANELS and {"N", "G"} <= set(there)
    return [("resistance", ("N", "G"))] if isolated and isinstance(meter, Ohmmeter) else []


def _effort(point: Point, state: int, kind: LoadStateKind, been: set[tuple[Point, int]]) -> float:
    effort = 1.0
    if (point, state) in been:
        return effort
    if not any(p == point for p, _ in been):
        effort += 0.5 if point in PANELS else 0.2
    if not any(s == state for _, s in been):
        effort += 0.4 if kind == "test_load" else 0.2
    return effort


def _on_ground(scene: Scene, reading: SceneReading) -> float:
    """A low-impedance meter from a leg to ground energizes a ground that is open: the neutral goes first."""
    low = meter_kind(scene.meters[reading.meter]) == "low_impedance_voltmeter"
    return 0.3 if low and "G" in reading.conductors and "N" not in reading.conductors else 0.0


def _hazard(scene: Scene, reading: SceneReading) -> int:
    """Lower is less hazardous: what one has to touch or open for it, and what flows meanwhile. Our own order."""
    kinds = {"resistance": 0, "proximity": 1, "voltage": 3, "current": 4}
    states: dict[LoadStateKind, int] = {"disconnected": 0, "idle": 1, "test_load": 2, "running": 3}
    points = {"receptacle": 0, "appliance_terminals": 1}
    kind = scene.states[reading.state].kind
    return 100 * kinds[reading.kind] + 10 * points.get(reading.point, 2) + states[kind]
