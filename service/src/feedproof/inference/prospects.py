"""What to read next: readings ranked by what they are expected to tell about the fault, hazard beside it."""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.inference.fit import Fit
from feedproof.inference.information import bin_edges, bin_shares, information, parted
from feedproof.inference.likelihood import Observations
from feedproof.inference.outcome import Prospect
from feedproof.inference.program import scatter_of
from feedproof.inference.queries import predicted, some_of
from feedproof.inference.scene import Scene, SceneReading, SceneState, mirror
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import (
    ClampAmmeter,
    Conductor,
    LoadStateKind,
    Meter,
    Point,
    ProximityDetector,
    Voltmeter,
)

_DRAWS = 24
_LEAST_PROBABILITY = 4e-3
_LEAST_INFORMATION = 1e-3
_MOST = 8
#: Readings this near in information count as equal: the less hazardous comes first.
_NEAR = 0.1
_LEG_PAIRS: tuple[tuple[Conductor, ...], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))
#: Lower is less hazardous: what one has to touch or open for it, and what flows meanwhile. Our own order.
_HAZARD = {"resistance": 0, "proximity": 1, "voltage": 3, "current": 4}
_STATE_HAZARD: dict[LoadStateKind, int] = {"disconnected": 0, "idle": 1, "test_load": 2, "running": 3}

COMMON_METERS: tuple[Meter, ...] = (
    Voltmeter(
        name="",
        input_impedance=10e6,
        input_capacitance=100e-12,
        accuracy_percent=0.8,
        accuracy_counts=3,
        resolution=0.1,
    ),
    Voltmeter(name="", input_impedance=3e3, accuracy_percent=1.5, accuracy_counts=3, resolution=1.0),
    ProximityDetector(name="", threshold=50.0),
)
"""Stand in where the request lists no meter."""


def meter_kind(meter: Meter) -> str:
    """The trade's name of a meter's kind."""
    if isinstance(meter, Voltmeter):
        low = meter.input_impedance < LOW_IMPEDANCE_BELOW
        return "low_impedance_voltmeter" if low else "high_impedance_voltmeter"
    if isinstance(meter, ProximityDetector):
        return "proximity_detector"
    return "clamp_ammeter" if isinstance(meter, ClampAmmeter) else "ohmmeter"


def extended(scene: Scene) -> Scene:
    """A scene with the common meters where it has none, and the two states that any appliance can be put in."""
    meters = scene.meters or COMMON_METERS
    states = list(scene.states)
    for kind in ("disconnected", "idle"):
        if not any(s.kind == kind for s in states):
            states.append(SceneState(kind=kind))
    return Scene(supply=scene.supply, meters=meters, states=tuple(states), readings=scene.readings)


def allowed_readings(scene: Scene) -> tuple[SceneReading, ...]:
    """Readings that the meters and the appliance allow, not taken yet.

    Parameters
    ----------
    scene : Scene
        Extended.

    Returns
    -------
    tuple of SceneReading
        Without values.
    """
    one_leg = scene.supply.system == "single_phase_120"
    absent = scene.supply.equipment_ground == "absent"
    points: list[Point] = sorted({r.point for r in scene.readings}) or ["receptacle"]
    taken = {(r.kind, r.conductors, r.point, r.state, r.meter) for r in scene.readings}
    pairs = [p for p in (*_LEG_PAIRS, ("N", "G")) if not (one_leg and "L2" in p) and not (absent and "G" in p)]
    found = []
    for m, meter in enumerate(scene.meters):
        for s, state in enumerate(scene.states):
            for point in points:
                if state.kind == "disconnected" and point == "appliance_terminals":
                    continue
                for kind, conductors in _with_meter(meter, state.kind, pairs, point):
                    if (kind, conductors, point, s, m) in taken:
                        continue
                    found.append(SceneReading(kind=kind, conductors=conductors, point=point, state=s, meter=m))  # type: ignore[arg-type]
    return tuple(found)


def _with_meter(
    meter: Meter, state: LoadStateKind, pairs: Sequence[tuple[Conductor, ...]], point: Point
) -> list[tuple[str, tuple[Conductor, ...]]]:
    """What a meter can read in one load state."""
    if isinstance(meter, Voltmeter):
        return [("voltage", p) for p in pairs if point != "service_panel" or p != ("N", "G")]
    if isinstance(meter, ProximityDetector):
        return [("proximity", ("N",))]
    if isinstance(meter, ClampAmmeter):
        conductors: list[Conductor] = ["N"] if state in {"running", "test_load"} else []
        return [("current", (c,)) for c in conductors]
    # An ohmmeter goes on an isolated circuit, with nothing connected that would stand in for the conductor.
    if state == "disconnected" and point != "service_panel" and ("N", "G") in pairs:
        return [("resistance", ("N", "G"))]
    return []


@lru_cache(maxsize=256)
def _askable(scene: Scene) -> tuple[Scene, tuple[SceneReading, ...], Observations]:
    """The extended scene, what could be read next, and how it would scatter: the same for every arrangement."""
    full = extended(scene)
    questions = allowed_readings(full)
    return full, questions, scatter_of(full, questions)


def rank(
    scene: Scene,
    weighed: Sequence[Fit],
    probabilities: Sequence[float],
    meter_names: Sequence[str],
    state_names: Sequence[str],
    *,
    mirrored: bool,
) -> tuple[Prospect, ...]:
    """Rank the readings that could be taken next.

    Parameters
    ----------
    scene : Scene
        Canonical, not extended.
    weighed : sequence of Weighed
        All hypotheses.
    probabilities : sequence of float
        Of the hypotheses [1].
    meter_names, state_names : sequence of str
        The request's labels of the scene's meters and states.
    mirrored : bool
        The scene's L1 is the request's L2.

    Returns
    -------
    tuple of Prospect
        Most worth taking first, in the request's conductors.
    """
    full, questions, scatter = _askable(scene)
    chosen = [(w, p) for w, p in zip(weighed, probabilities, strict=True) if p >= _LEAST_PROBABILITY and len(w.x)]
    if not questions or not chosen:
        return ()
    labels: list[tuple[str, Conductor | None]] = []
    rows, group, share, mass = [], [], [], []
    for w, p in chosen:
        label = (w.site.fault, w.site.conductor)
        if label not in labels:
            labels.append(label)
            mass.append(0.0)
        at = labels.index(label)
        mass[at] += p
        rows.append(predicted(w, some_of(w, _DRAWS), questions, full))
        group += [at] * _DRAWS
        share += [p / _DRAWS] * _DRAWS
    groups, shares = np.array(group), np.array(share)
    shares /= np.array(mass)[groups]
    probability = np.array(mass) / sum(mass)
    shown = np.concatenate(rows)
    bins = bin_shares(shown, groups, shares, scatter, bin_edges(shown, scatter.floor, scatter.kind))
    gain = [float(information(bins[q], probability)) for q in range(len(questions))]
    order = _order(full, questions, gain)
    result = []
    for q in order[:_MOST]:
        reading, state = questions[q], full.states[questions[q].state]
        known = reading.state < len(state_names)
        conductors = tuple(mirror(c) if mirrored else c for c in reading.conductors)
        result.append(
            Prospect(
                kind=reading.kind,
                conductors=tuple(sorted(conductors, key=("L1", "L2", "N", "G").index)),
                point=reading.point,
                meter=meter_names[reading.meter] if scene.meters else None,
                meter_kind=meter_kind(full.meters[reading.meter]),
                load_state=state_names[reading.state] if known else state.kind,
                load_state_kind=state.kind,
                information=gain[q],
                separates=_separated(bins[q], probability, labels, mirrored=mirrored),
            )
        )
    return tuple(result)


def _order(scene: Scene, questions: Sequence[SceneReading], gain: Sequence[float]) -> list[int]:
    """Most information first, the less hazardous first among near equals; the legs before anything else.

    The legs are the reference that the neutral is judged by, so until they have been read, readings that
    involve a leg pair come first.
    """
    proven = any(r.kind == "voltage" and r.conductors == ("L1", "L2") for r in scene.readings) or (
        {("L1", "N"), ("L2", "N")} <= {r.conductors for r in scene.readings if r.kind == "voltage"}
    )
    one_leg = scene.supply.system == "single_phase_120"

    def first(q: int) -> int:
        if proven or one_leg:
            return 0
        return 0 if questions[q].conductors == ("L1", "L2") else 1

    def hazard(q: int) -> int:
        return 10 * _HAZARD[questions[q].kind] + _STATE_HAZARD[scene.states[questions[q].state].kind]

    def step(q: int) -> int:
        return -round(math.log(max(gain[q], 1e-9)) / math.log1p(_NEAR))

    worth = [q for q in range(len(questions)) if gain[q] >= _LEAST_INFORMATION]
    return sorted(worth, key=lambda q: (first(q), step(q), hazard(q), -gain[q], q))


def _separated(
    bins: FloatArray, probability: FloatArray, labels: Sequence[tuple[str, Conductor | None]], *, mirrored: bool
) -> tuple[tuple[str, Conductor | None], tuple[str, Conductor | None]] | None:
    """The two faults that a reading tells apart best, weighed by their probabilities."""
    pair = parted(bins, probability)
    if pair[0] < 0:
        return None
    first, second = sorted(pair, key=lambda k: -probability[k])
    return _named(labels[first], mirrored=mirrored), _named(labels[second], mirrored=mirrored)


def _named(label: tuple[str, Conductor | None], *, mirrored: bool) -> tuple[str, Conductor | None]:
    fault, conductor = label
    return fault, mirror(conductor) if mirrored and conductor is not None else conductor
