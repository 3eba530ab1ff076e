"""Quantities of the finding: the neutral's voltages, resistances, heat, where it is broken, what may hurt a person."""

import math
from collections.abc import Sequence
from functools import lru_cache

import msgspec
import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.faults.priors import PRIORS
from feedproof.inference.branch import HEAVY
from feedproof.inference.draws import spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.outcome import BreakPosition, EarthVoltage, Hazards, Interval, NeutralVoltage, PathResistance
from feedproof.inference.queries import ends, evenly, from_prior, interval, path_ohms, predicted, some_of
from feedproof.inference.runs import sound_run, sound_span
from feedproof.inference.scene import Canonical, Scene, SceneReading, mirror
from feedproof.instruments.typical import LOW_IMPEDANCE_BELOW
from feedproof.readings import Conductor, Point, Voltmeter

Members = Sequence[tuple[Fit, float]]

_HAZARD_DRAWS = 32
_PRIOR_DRAWS = 64
_LISTED = 1e-3
"""Places below this probability are counted by their names alone [1]."""
_LIVE_NEUTRAL = 30.0
"""[V] IEC 61010-031 takes 30 V r.m.s. as hazardous; Kuphaldt, Lessons in Electric Circuits, gives the same."""
_WARM, _HOT = 5.0, 30.0
"""[W] Heat at a joint: 5 W and 35 W were measured on glowing joints (NBSIR 76-1011)."""
_TOLD = 0.6
"""A quantity is told by readings where they leave less than this share of its prior's spread [1]."""


def point_of(scene: Scene) -> Point:
    """Where the neutral and the paths are asked for."""
    points = {r.point for r in scene.readings}
    return "appliance_terminals" if points == {"appliance_terminals"} else "receptacle"


def _states(scene: Scene, point: Point) -> list[int]:
    found = sorted({r.state for r in scene.readings if r.kind != "resistance"})
    return [s for s in found if not (point == "appliance_terminals" and scene.states[s].kind == "disconnected")]


def _pooled(members: Members, questions: Sequence[SceneReading], scene: Scene) -> tuple[FloatArray, FloatArray]:
    """Predictions of all members of a finding, with weights by their probabilities."""
    total = sum(p for _, p in members)
    values = [predicted(fit, fit.x, questions, scene) for fit, _ in members]
    weights = [fit.weights() * p / total for fit, p in members]
    return np.concatenate(values), np.concatenate(weights)


def voltages(
    members: Members, canonical: Canonical, bare: Scene
) -> tuple[tuple[NeutralVoltage, ...], tuple[EarthVoltage, ...]]:
    """Of the neutral: to the panel's ground bar, per load state read and per low-impedance reading, and to earth.

    Parameters
    ----------
    members : sequence of (Fit, float)
        The places of the finding, with draws, and their probabilities.
    canonical : Canonical
        The readings.
    bare : Scene
        Their arrangement.

    Returns
    -------
    tuple of (tuple of NeutralVoltage, tuple of EarthVoltage)
        To earth: the neutral, and all that is bonded to it, to the transformer's grounded point, per load state.
    """
    scene, point = canonical.scene, point_of(canonical.scene)
    asked: list[tuple[SceneReading, int | None]] = []
    if scene.supply.neutral:
        for state in _states(scene, point):
            question = SceneReading(kind="neutral", conductors=("N",), point=point, state=state, meter=-1)
            asked.append((question, None))
        for index, reading in sorted(enumerate(bare.readings), key=lambda pair: canonical.order[pair[0]]):
            meter = scene.meters[reading.meter]
            low_impedance = isinstance(meter, Voltmeter) and meter.input_impedance < LOW_IMPEDANCE_BELOW
            if reading.kind == "voltage" and low_impedance:
                question = msgspec.structs.replace(reading, kind="neutral_during")
                asked.append((question, canonical.order[index]))
    if scene.supply.source != "generator":
        for state in sorted({r.state for r in scene.readings if r.kind != "resistance"}):
            question = SceneReading(kind="earth", conductors=("N",), point="service_panel", state=state, meter=-1)
            asked.append((question, None))
    if not asked or not members:
        return (), ()
    questions = [question for question, _ in asked]
    values, weights = _pooled(members, questions, bare)
    told = _told_voltages(members, questions, bare, values, weights)
    read = {(r.state, r.point) for r in scene.readings if r.kind == "voltage" and set(r.conductors) == {"N", "G"}}
    to_bar: list[NeutralVoltage] = []
    to_earth: list[EarthVoltage] = []
    for q, (question, during) in enumerate(asked):
        label, found = canonical.state_names[question.state], interval(values[:, q], weights)
        if question.kind == "earth":
            to_earth.append(EarthVoltage(load_state=label, interval=found, told_by=told[q]))
        else:
            by = "readings" if (question.state, question.point) in read else told[q]
            to_bar.append(
                NeutralVoltage(
                    load_state=label, point=question.point, during_reading=during, interval=found, told_by=by
                )
            )
    return tuple(to_bar), tuple(to_earth)


def _told_voltages(
    members: Members, questions: Sequence[SceneReading], scene: Scene, values: FloatArray, weights: FloatArray
) -> list[str]:
    """Of each question, whether the readings narrow its answer against what the finding alone lets one expect."""
    leading = max(members, key=lambda m: m[1])[0]
    before, even = predicted(leading, from_prior(leading, _PRIOR_DRAWS), questions, scene), np.ones(_PRIOR_DRAWS)
    found = []
    for q in range(len(questions)):
        low, high = ends(values[:, q], weights)
        least, most = ends(before[:, q], even)
        found.append("readings" if high - low < _TOLD * (most - least) else "prior")
    return found


@lru_cache(maxsize=512)
def _prior_spread(median: float, spread: float, cord: float) -> float:
    reach = PRIORS.sound_reach * spread
    return math.log((median * math.exp(reach) + cord) / (median * math.exp(-reach) + cord))


def path_resistances(members: Members, canonical: Canonical, bare: Scene) -> tuple[PathResistance, ...]:
    """Series resistance of each conductor by section, and the heat in it where a load current flows.

    Parameters
    ----------
    members : sequence of (Fit, float)
        The places of the finding, with draws, and their probabilities.
    canonical : Canonical
        The readings.
    bare : Scene
        Their arrangement.

    Returns
    -------
    tuple of PathResistance
        The branch (to the terminals where only these were read), one per current-carrying conductor, in the
        request's conductors; then service and feeder where the finding sits there.
    """
    if not members:
        return ()
    scene, point = canonical.scene, point_of(canonical.scene)
    supply = scene.supply
    conductors: list[Conductor] = ["L1"] if supply.system == "single_phase_120" else ["L1", "L2"]
    if supply.neutral:
        conductors.append("N")
    heavy = [s for s in _states(scene, point) if scene.states[s].kind in HEAVY]
    total = sum(p for _, p in members)
    to_terminals = point == "appliance_terminals"
    sections = ("branch", "cord") if to_terminals else ("branch",)
    sound = sound_span(supply.run, to_terminals=to_terminals)
    weights = np.concatenate([fit.weights() * p / total for fit, p in members])
    asked = [
        SceneReading(
            kind="current", conductors=(mirror(c) if canonical.mirrored else c,), point=point, state=s, meter=-1
        )
        for c in conductors
        for s in heavy
    ]
    currents = [predicted(fit, fit.x, asked, bare) for fit, _ in members] if heavy else []
    amperes = np.concatenate(currents).reshape(len(weights), len(conductors), len(heavy)).max(axis=2) if heavy else None
    median, spread = sound_run(supply.run)
    prior = _prior_spread(median, spread, PRIORS.cord_resistance if to_terminals else 0.0)
    found = []
    for k, named in enumerate(conductors):
        own = mirror(named) if canonical.mirrored else named
        ohms = np.concatenate([path_ohms(fit, fit.x, own, sections, bare) for fit, _ in members])
        faulted = any(_severity(fit, own, sections) for fit, _ in members)
        found.append(
            PathResistance(
                conductor=named,
                point=point,
                section="branch",
                interval=_bounded(interval(ohms, weights), faulted),
                heat=interval(ohms * amperes[:, k] ** 2, weights) if amperes is not None else None,
                sound=sound,
                told_by=_told(ohms, weights, prior, faulted),
            )
        )
    for section, medians in (
        ("service", (PRIORS.service_leg_resistance, PRIORS.service_neutral_resistance)),
        ("feeder", (PRIORS.feeder_resistance,) * 2),
    ):
        for named in conductors if supply.neutral else [*conductors, "N"]:
            own = mirror(named) if canonical.mirrored else named
            if not any(_severity(fit, own, (section,)) for fit, _ in members):
                continue
            ohms = np.concatenate([path_ohms(fit, fit.x, own, (section,), bare) for fit, _ in members])
            usual = medians[own == "N"]
            found.append(
                PathResistance(
                    conductor=named,
                    point="service_panel" if section == "service" else "sub_panel",
                    section=section,
                    interval=_bounded(interval(ohms, weights), faulted=True),
                    heat=None,
                    sound=(usual / 2.5, usual * 2.5),
                    told_by="readings",
                )
            )
    return tuple(found)


def _severity(fit: Fit, conductor: Conductor, sections: Sequence[str]) -> bool:
    return any(severity >= 0 and section in sections for section, _, _, severity in fit.built.series[conductor])


def _bounded(found: Interval, faulted: bool) -> Interval:
    """Of a sound joint the readings only say that it is no worse; of an open one, that it is no better."""
    if not faulted:
        return msgspec.structs.replace(found, bound="at_most")
    if found.high > 0.05 * PRIORS.open_ceiling:
        return msgspec.structs.replace(found, bound="at_least")
    return found


def _told(ohms: FloatArray, weights: FloatArray, prior: float, faulted: bool) -> str:
    if faulted:
        return "readings"
    low, high = ends(ohms, weights)
    return "readings" if math.log(max(high, 1e-12) / max(low, 1e-12)) < _TOLD * prior else "prior"


def break_position(members: Members, canonical: Canonical) -> BreakPosition | None:
    """How many metres of the run float behind an open, where readings tell."""
    run = canonical.scene.supply.run
    own = [(fit, p) for fit, p in members if fit.built.program.position >= 0 and not fit.site.intermittent]
    if not own or sum(p for _, p in own) < 0.5 * sum(p for _, p in members):
        return None
    metres, weights = [], []
    for fit, p in own:
        d, spread = fit.built.program.position, fit.built.program.position_spread
        share = 1.0 / (1.0 + np.exp(-spread * fit.x[:, d]))
        length = run.length
        common = fit.built.keys.index("strays run")
        scale = (
            np.full(len(share), length)
            if length is not None
            else PRIORS.run_length * np.exp(PRIORS.run_length_spread * fit.x[:, common])
        )
        metres.append(share * scale)
        weights.append(fit.weights() * p)
    values, share = np.concatenate(metres), np.concatenate(weights)
    fresh = spread_evenly(512, 2)[1]
    usual = (
        1.0
        / (1.0 + np.exp(-PRIORS.position_spread * fresh[:, 0]))
        * (run.length or PRIORS.run_length * np.exp(PRIORS.run_length_spread * fresh[:, 1]))
    )
    low, high = ends(values, share)
    least, most = ends(usual, np.ones(512))
    if math.log((high + 0.1) / (low + 0.1)) > _TOLD * math.log((most + 0.1) / (least + 0.1)):
        return None
    conductor = own[0][0].site.conductor
    if conductor is not None and canonical.mirrored:
        conductor = mirror(conductor)
    return BreakPosition(conductor=conductor, interval=interval(values, share))


def hazards(fits: Sequence[Fit], probability: Sequence[float], canonical: Canonical, bare: Scene) -> Hazards:
    """Posterior probabilities of what can hurt a person, over all places; each errs toward more.

    Parameters
    ----------
    fits : sequence of Fit
        Every place; those that matter with draws.
    probability : sequence of float
        Of the places [1].
    canonical : Canonical
        The readings.
    bare : Scene
        Their arrangement.

    Returns
    -------
    Hazards
        Probabilities.
    """
    scene, supply = canonical.scene, canonical.scene.supply
    point = point_of(scene)
    states = _states(scene, point)
    heavy = [s for s in states if scene.states[s].kind in HEAVY]
    legs: tuple[Conductor, ...] = ("L1",) if supply.system == "single_phase_120" else ("L1", "L2")
    carrying: tuple[Conductor, ...] = (*legs, "N") if supply.neutral else legs
    ask = (
        [SceneReading(kind="neutral", conductors=("N",), point=point, state=s, meter=-1) for s in states]
        if supply.neutral
        else []
    )
    ask += [SceneReading(kind="earth", conductors=("N",), point="service_panel", state=s, meter=-1) for s in states]
    ask += [
        SceneReading(kind="current", conductors=(c,), point=point, state=s, meter=-1) for c in carrying for s in heavy
    ]
    usual, most = sound_run(supply.run)[0], sound_span(supply.run, to_terminals=True)[1]
    total = dict.fromkeys(Hazards.__struct_fields__, 0.0)
    for fit, p in zip(fits, probability, strict=True):
        site = fit.site
        places = {site.place, site.also_place}
        faults = {site.fault, *(fault for fault, _ in site.also)}
        branch = bool(places & {"branch_neutral", "cord_neutral"}) or "leg_neutral_transposed" in faults
        total["neutral_fault"] += p * branch
        total["service_neutral_fault"] += p * ("service_neutral" in places)
        total["feeder_neutral_fault"] += p * ("feeder_neutral" in places)
        total["ground_open"] += p * ("ground" in places or "neutral_not_bonded" in places)
        total["ground_current"] += p * bool(
            places & {"leak_to_ground", "joined"} or faults & {"neutral_ground_transposed"}
        )
        total["false_ground"] += p * ("joined" in places)
        total["leg_live"] += p * (site.place not in {"supply_lost", "breaker"})
        up, crossed = float(branch), "leg_ground_transposed" in faults
        earth = float("service_neutral" in places)
        if p >= _LISTED and len(fit.x) and ask:
            x = some_of(fit, _HAZARD_DRAWS)
            values = predicted(fit, x, ask, bare)
            n, count = len(states) if supply.neutral else 0, len(states)
            if n:
                up = float((values[:, :n].max(axis=1) > _LIVE_NEUTRAL).mean())
            if "branch_neutral" in places or "cord_neutral" in places:
                # Whatever it read just now: connect an appliance and an open neutral follows a leg.
                opened = (
                    float(
                        (
                            fit.severities()[evenly(fit.weights(), _HAZARD_DRAWS), 0] > math.log(PRIORS.open_resistance)
                        ).mean()
                    )
                    if site.spans and site.conductor == "N"
                    else 1.0
                )
                up = max(up, opened)
            if count:
                earth = float((values[:, n : n + count].max(axis=1) > _LIVE_NEUTRAL).mean())
            if heavy:
                currents = values[:, n + count :].reshape(len(x), len(carrying), len(heavy)).max(axis=2)
                ohms = np.column_stack([path_ohms(fit, x, c, ("branch", "cord"), bare) for c in carrying])
                bad = np.array([_severity(fit, c, ("branch", "cord")) for c in carrying])
                for name, level, sound in (("heat_above_5_watts", _WARM, usual), ("heat_above_30_watts", _HOT, most)):
                    # A long sound run is above the usual too: urgent is only what no sound run explains.
                    placed = np.where(bad, ohms, np.maximum(ohms - sound, 0.0))
                    total[name] += p * float(((placed * currents**2).max(axis=1) > level).mean())
        total["neutral_above_30_volts"] += p * up
        total["earth_above_30_volts"] += p * earth
        bonded = supply.frame_bonded_to_neutral
        through = up if bonded or (bonded is None and supply.equipment_ground == "absent") else 0.0
        if crossed:
            through = 1.0
        elif "ground" in places and branch:
            through = max(through, up if bonded is None else through)
        elif site.place == "leak_to_ground":
            through = max(through, 0.0)
        total["frame_live"] += p * through
    return Hazards(**{name: min(value, 1.0) for name, value in total.items()})
