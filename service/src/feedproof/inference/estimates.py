"""Quantities of the finding: the neutral's voltages, resistances, heat, where it is broken."""

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache

import msgspec
import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.faults.priors import PRIORS
from feedproof.inference.draws import spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.outcome import BreakPosition, EarthVoltage, Interval, NeutralVoltage, PathResistance
from feedproof.inference.queries import ends, from_prior, interval, path_ohms, predicted
from feedproof.inference.runs import sound_run, sound_span
from feedproof.inference.scene import Canonical, Scene, SceneReading, undisturbed
from feedproof.readings import Conductor, Point, is_low_impedance

Members = Sequence[tuple[Fit, float]]

_PRIOR_DRAWS = 64
_NARROWED_SHARE = 0.6
"""A quantity is told by readings where they leave less than this share of its prior's spread [1]."""


def point_of(scene: Scene) -> Point:
    """Where the neutral and the paths are asked for."""
    points = {r.point for r in scene.readings}
    return "appliance_terminals" if points == {"appliance_terminals"} else "receptacle"


def live_states(scene: Scene) -> list[int]:
    """Load states in which that point is live."""
    at_terminals = point_of(scene) == "appliance_terminals"
    found = sorted({r.state for r in scene.readings if r.kind != "resistance"})
    return [s for s in found if not (at_terminals and scene.states[s].kind == "disconnected")]


def _weights(members: Members) -> FloatArray:
    """Weights of the draws of all members of a finding, by their probabilities."""
    total = sum(p for _, p in members)
    return np.concatenate([fit.weights() * p / total for fit, p in members])


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
        asked += [(undisturbed("neutral", "N", point, state), None) for state in live_states(scene)]
        for index, reading in sorted(enumerate(bare.readings), key=lambda pair: canonical.order[pair[0]]):
            if reading.kind == "voltage" and is_low_impedance(scene.meters[reading.meter]):
                question = msgspec.structs.replace(reading, kind="neutral_during")
                asked.append((question, canonical.order[index]))
    if scene.supply.source != "generator":
        live = sorted({r.state for r in scene.readings if r.kind != "resistance"})
        asked += [(undisturbed("earth", "N", "service_panel", state), None) for state in live]
    if not asked or not members:
        return (), ()
    questions = [question for question, _ in asked]
    values = np.concatenate([predicted(fit, fit.x, questions, bare) for fit, _ in members])
    weights = _weights(members)
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
        found.append("readings" if high - low < _NARROWED_SHARE * (most - least) else "prior")
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
    p = PRIORS
    return (
        *_of_branch(members, canonical, bare),
        *_upstream("service", p.service_leg_resistance, p.service_neutral_resistance, members, canonical, bare),
        *_upstream("feeder", p.feeder_resistance, p.feeder_resistance, members, canonical, bare),
    )


def _currents(members: Members, canonical: Canonical, bare: Scene) -> FloatArray | None:
    """Largest current of each conductor that carries it, draw by draw [A]; None where no load state takes any."""
    scene = canonical.scene
    point, loaded = point_of(scene), [s for s in live_states(scene) if scene.states[s].loaded]
    if not loaded:
        return None
    conductors = [canonical.turned(c) for c in scene.supply.carrying]
    asked = [undisturbed("current", c, point, s) for c in conductors for s in loaded]
    shown = np.concatenate([predicted(fit, fit.x, asked, bare) for fit, _ in members])
    return np.asarray(shown.reshape(len(shown), len(conductors), len(loaded)).max(axis=2))


def _of_branch(members: Members, canonical: Canonical, bare: Scene) -> Iterator[PathResistance]:
    """Of each conductor from the panel to the point: a sound one too."""
    supply, point = canonical.scene.supply, point_of(canonical.scene)
    to_terminals = point == "appliance_terminals"
    sections = ("branch", "cord") if to_terminals else ("branch",)
    prior = _prior_spread(*sound_run(supply.run), PRIORS.cord_resistance if to_terminals else 0.0)
    weights, amperes = _weights(members), _currents(members, canonical, bare)
    for k, named in enumerate(supply.carrying):
        own = canonical.turned(named)
        ohms = np.concatenate([path_ohms(fit, fit.x, own, sections, bare) for fit, _ in members])
        faulted = any(is_faulted(fit, own, sections) for fit, _ in members)
        yield PathResistance(
            conductor=named,
            point=point,
            section="branch",
            interval=_bounded(interval(ohms, weights), faulted),
            heat=interval(ohms * amperes[:, k] ** 2, weights) if amperes is not None else None,
            sound=sound_span(supply.run, to_terminals=to_terminals),
            told_by=_told(ohms, weights, prior, faulted),
        )


def _upstream(
    section: str, leg: float, neutral: float, members: Members, canonical: Canonical, bare: Scene
) -> Iterator[PathResistance]:
    """Of the conductors of service or feeder that the finding sits on; what they usually have is given [ohm]."""
    for named in (*canonical.scene.supply.legs, "N"):
        own = canonical.turned(named)
        if not any(is_faulted(fit, own, (section,)) for fit, _ in members):
            continue
        ohms = np.concatenate([path_ohms(fit, fit.x, own, (section,), bare) for fit, _ in members])
        usual = neutral if own == "N" else leg
        yield PathResistance(
            conductor=named,
            point="service_panel" if section == "service" else "sub_panel",
            section=section,
            interval=_bounded(interval(ohms, _weights(members)), faulted=True),
            heat=None,
            sound=(usual / 2.5, usual * 2.5),
            told_by="readings",
        )


def is_faulted(fit: Fit, conductor: Conductor, sections: Sequence[str]) -> bool:
    """Whether the place has an unknown severity in one of some sections of a conductor, as the scene calls it."""
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
    return "readings" if math.log(max(high, 1e-12) / max(low, 1e-12)) < _NARROWED_SHARE * prior else "prior"


def break_position(members: Members, canonical: Canonical) -> BreakPosition | None:
    """How many metres of the run float behind an open, where readings tell."""
    run = canonical.scene.supply.run
    own = [
        (fit, p)
        for fit, p in members
        if fit.built.program.position >= 0 and fit.site.breaks and not fit.site.intermittent
    ]
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
    if math.log((high + 0.1) / (low + 0.1)) > _NARROWED_SHARE * math.log((most + 0.1) / (least + 0.1)):
        return None
    return BreakPosition(conductor=canonical.turned(own[0][0].site.conductor), interval=interval(values, share))
