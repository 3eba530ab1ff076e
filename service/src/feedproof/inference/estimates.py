"""Quantities of the finding: neutral to ground, resistances, heat, and what may hurt a person."""

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedproof.faults.priors import PRIORS
from feedproof.inference.forward import FloatArray
from feedproof.inference.outcome import Hazards, Interval, NeutralVoltage, PathResistance
from feedproof.inference.queries import interval, one_sided, only, path_resistance, predicted, resampled, some_of
from feedproof.inference.runs import explained_resistance, sound_run, sound_span
from feedproof.inference.scene import Canonical, SceneReading, mirror
from feedproof.inference.weigh import Weighed
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import Conductor, Point, Voltmeter

Members = Sequence[tuple[Weighed, float]]

_DRAWS = 2000
_HAZARD_DRAWS = 32
_LISTED = 1e-3
"""Hypotheses below this probability are counted by their names alone [1]."""
_LIVE_NEUTRAL = 30.0
"""[V] IEC 61010-031 takes 30 V r.m.s. as hazardous; Kuphaldt, Lessons in Electric Circuits, gives the same."""
_WARM, _HOT = 5.0, 30.0
"""[W] Heat at a joint: 5 W and 35 W were measured on glowing joints (NBSIR 76-1011)."""
_HEAVY = ("running", "test_load")


def _point(canonical: Canonical) -> Point:
    points = {r.point for r in canonical.scene.readings}
    return "appliance_terminals" if points == {"appliance_terminals"} else "receptacle"


def _pooled(members: Members, questions: Sequence[SceneReading]) -> tuple[FloatArray, FloatArray]:
    """Predictions of all members of a finding, with weights by their probabilities."""
    total = sum(p for _, p in members)
    values, weights = [], []
    for weighed, p in members:
        z, own = some_of(weighed, _DRAWS)
        values.append(predicted(weighed, z, questions))
        weights.append(own * p / total)
    return np.concatenate(values), np.concatenate(weights)


def neutral_voltages(members: Members, canonical: Canonical) -> tuple[NeutralVoltage, ...]:
    """Neutral to the grounded point, per load state read and per low-impedance reading.

    Parameters
    ----------
    members : sequence of (Weighed, float)
        The hypotheses of the finding with their probabilities.
    canonical : Canonical
        The readings.

    Returns
    -------
    tuple of NeutralVoltage
        States first, then readings in the request's order.
    """
    scene, point = canonical.scene, _point(canonical)
    questions: list[SceneReading] = []
    labels: list[tuple[str, Point, int | None]] = []
    for state in sorted({r.state for r in scene.readings if r.kind != "resistance"}):
        if point == "appliance_terminals" and scene.states[state].kind == "disconnected":
            continue
        questions.append(SceneReading(kind="neutral", conductors=("N",), point=point, state=state, meter=-1))
        labels.append((canonical.state_names[state], point, None))
    for index, reading in sorted(enumerate(scene.readings), key=lambda pair: canonical.order[pair[0]]):
        meter = scene.meters[reading.meter]
        if reading.kind == "voltage" and isinstance(meter, Voltmeter) and meter.input_impedance < LOW_IMPEDANCE_BELOW:
            questions.append(msgspec.structs.replace(reading, kind="neutral_during", value=None))
            labels.append((canonical.state_names[reading.state], reading.point, canonical.order[index]))
    if not questions or not members:
        return ()
    values, weights = _pooled(members, questions)
    return tuple(
        NeutralVoltage(load_state=state, point=place, during_reading=during, interval=interval(values[:, q], weights))
        for q, (state, place, during) in enumerate(labels)
    )


def path_resistances(members: Members, canonical: Canonical) -> tuple[PathResistance, ...]:
    """Series resistance of each conductor from the panel, and the heat in it where a load current flows.

    Parameters
    ----------
    members : sequence of (Weighed, float)
        The hypotheses of the finding with their probabilities.
    canonical : Canonical
        The readings.

    Returns
    -------
    tuple of PathResistance
        One per current-carrying conductor, in the request's conductors.
    """
    if not members:
        return ()
    scene, point = canonical.scene, _point(canonical)
    one_leg = scene.supply.system == "single_phase_120"
    conductors: tuple[Conductor, ...] = ("L1", "N") if one_leg else ("L1", "L2", "N")
    heavy = sorted({r.state for r in scene.readings if r.kind != "resistance" and scene.states[r.state].kind in _HEAVY})
    total = sum(p for _, p in members)
    to_terminals = point == "appliance_terminals"
    sound = sound_span(scene.supply.run, to_terminals=to_terminals)
    places = [mirror(c) if canonical.mirrored else c for c in conductors]
    weight = np.concatenate([weighed.weights() * p / total for weighed, p in members])
    thinned = [some_of(weighed, _DRAWS) for weighed, _ in members] if heavy else []
    watt_weight = [own * p / total for (_, own), (_, p) in zip(thinned, members, strict=False)]
    ohms: list[list[FloatArray]] = [[] for _ in places]
    watts: list[list[FloatArray]] = [[] for _ in places]
    for m, (weighed, _) in enumerate(members):
        local = [mirror(c) if weighed.hypothesis.mirrored else c for c in places]
        for k, own in enumerate(local):
            ohms[k].append(path_resistance(weighed, own, to_terminals=to_terminals))
        if heavy:
            some = thinned[m][0]
            drawn = only(weighed, some)
            amperes = _amperes(weighed, some, places, heavy, point)
            for k, own in enumerate(local):
                watts[k].append(path_resistance(drawn, own, to_terminals=to_terminals) * amperes[:, k] ** 2)
    return tuple(
        PathResistance(
            conductor=named,
            point=point,
            interval=_bounded(members, places[k], np.concatenate(ohms[k]), weight, canonical),
            heat=interval(np.concatenate(watts[k]), np.concatenate(watt_weight)) if heavy else None,
            sound=sound,
        )
        for k, named in enumerate(conductors)
    )


def _amperes(
    weighed: Weighed, z: FloatArray, conductors: Sequence[Conductor], states: Sequence[int], point: Point
) -> FloatArray:
    """Greatest current of each conductor in any of the states, for each draw; shape (N, conductors) [A]."""
    ask = [
        [SceneReading(kind="current", conductors=(c,), point=point, state=s, meter=-1) for s in states]
        for c in conductors
    ]
    hypothesis = weighed.hypothesis
    if hypothesis.band == "off" or any(s.severity != "high" for s in hypothesis.series):
        # Something floats: strays of a conductor that nobody asks for stay at their medians.
        return np.column_stack([predicted(weighed, z, own).max(axis=1) for own in ask])
    together = predicted(weighed, z, [question for own in ask for question in own])
    most: FloatArray = together.reshape(len(z), len(ask), len(states)).max(axis=2)
    return most


def _bounded(members: Members, own: Conductor, ohms: FloatArray, weights: FloatArray, canonical: Canonical) -> Interval:
    """An interval that says on which side the readings bound it."""
    found = interval(ohms, weights)
    severities = {
        s.severity
        for weighed, _ in members
        for s in weighed.hypothesis.series
        if s.section != "service" and s.conductor == (mirror(own) if weighed.hypothesis.mirrored else own)
    }
    explained = explained_resistance(canonical.scene.supply.run)
    if "open" in severities:
        bound = one_sided(found, PRIORS.open_resistance, PRIORS.open_ceiling)
    elif "high" in severities:
        bound = one_sided(found, explained, PRIORS.open_resistance)
    else:
        # Of a sound joint the readings only ever say that it is no worse.
        bound = "at_most"
    return msgspec.structs.replace(found, bound=bound)


def hazards(weighed: Sequence[Weighed], probability: Sequence[float], canonical: Canonical) -> Hazards:
    """Posterior probabilities of what can hurt a person, over all faults.

    Parameters
    ----------
    weighed : sequence of Weighed
        All hypotheses.
    probability : sequence of float
        Theirs [1].
    canonical : Canonical
        The readings.

    Returns
    -------
    Hazards
        Each errs toward more where the readings do not say.
    """
    supply, scene = canonical.scene.supply, canonical.scene
    states = sorted({r.state for r in scene.readings if r.kind != "resistance"})
    point = _point(canonical)
    if point == "appliance_terminals":
        states = [s for s in states if scene.states[s].kind != "disconnected"]
    heavy = [s for s in states if scene.states[s].kind in _HEAVY]
    ask = [SceneReading(kind="neutral", conductors=("N",), point=point, state=s, meter=-1) for s in states]
    legs: tuple[Conductor, ...] = ("L1",) if supply.system == "single_phase_120" else ("L1", "L2")
    ask += [
        SceneReading(kind="current", conductors=(c,), point=point, state=s, meter=-1)
        for s in heavy
        for c in (*legs, "N")
    ]
    usual, most = sound_run(supply.run)[0], sound_span(supply.run, to_terminals=True)[1]
    live_neutral = frame = warm = hot = leg_live = neutral = service = 0.0
    for w, p in zip(weighed, probability, strict=True):
        h = w.hypothesis
        names = {h.fault, *(fault for fault, _ in h.also)}
        neutral += p * bool(names & {"open_neutral", "high_resistance_neutral", "leg_neutral_transposed"})
        service += p * bool(names & {"open_service_neutral", "high_resistance_service_neutral"})
        leg_live += p * (h.fault != "no_supply")
        if p < _LISTED or not w.z.size or not ask:
            up = float(bool(names & {"open_neutral", "leg_neutral_transposed", "open_service_neutral"}))
            live_neutral += p * up
            frame += p * float("leg_ground_transposed" in names)
            continue
        z = resampled(w, _HAZARD_DRAWS)
        values = predicted(w, z, ask)
        up = float((values[:, : len(states)].max(axis=1) > _LIVE_NEUTRAL).mean()) if states else 0.0
        if "open_neutral" in names:
            # Whatever it read just now: connect an appliance and an open neutral follows a leg.
            up = 1.0
        live_neutral += p * up
        bonded = supply.frame_bonded_to_neutral
        through_frame = up if bonded or (bonded is None and supply.equipment_ground == "absent") else 0.0
        if "leg_ground_transposed" in names:
            through_frame = 1.0
        elif "open_ground" in names and names & {"open_neutral"}:
            through_frame = max(through_frame, up if bonded is None else through_frame)
        frame += p * through_frame
        if heavy:
            currents = values[:, len(states) :]
            ohms, faulted = _paths(w, z, (*legs, "N"))
            warm += p * float((_heat(ohms, faulted, currents, usual) > _WARM).mean())
            # A long sound run is above the usual too: urgent is only what no sound run explains.
            hot += p * float((_heat(ohms, faulted, currents, most) > _HOT).mean())
    return Hazards(
        neutral_above_30_volts=min(live_neutral, 1.0),
        neutral_fault=min(neutral, 1.0),
        service_neutral_fault=min(service, 1.0),
        frame_live=min(frame, 1.0),
        heat_above_5_watts=min(warm, 1.0),
        heat_above_30_watts=min(hot, 1.0),
        leg_live=min(leg_live, 1.0),
    )


def _paths(weighed: Weighed, z: FloatArray, conductors: Sequence[Conductor]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Resistances from the panel to the terminals, shape (N, conductors) [ohm], and which of them are faulted."""
    local = [mirror(c) if weighed.hypothesis.mirrored else c for c in conductors]
    drawn = only(weighed, z)
    ohms = np.column_stack([path_resistance(drawn, c, to_terminals=True) for c in local])
    bad = {s.conductor for s in weighed.hypothesis.series if s.section != "service"}
    return ohms, np.array([c in bad for c in local])


def _heat(ohms: FloatArray, faulted: NDArray[np.bool_], currents: FloatArray, sound: float) -> FloatArray:
    """Most heat at one place in any of the conductors in any loaded state, for each draw; shape (N,) [W].

    Of a path that passes as sound, what it has beyond `sound` [ohm] may all sit in one joint.
    """
    placed = np.where(faulted, ohms, np.maximum(ohms - sound, 0.0))
    most: FloatArray = (placed[:, None] * currents.reshape(ohms.shape[0], -1, ohms.shape[1]) ** 2).max(axis=(1, 2))
    return most
