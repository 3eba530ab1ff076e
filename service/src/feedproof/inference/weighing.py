"""From a reading set to all that can be inferred of its supply."""

import math
from collections.abc import Callable, Collection, Sequence

import msgspec
import numpy as np
from msgspec import Struct

from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.estimates import hazards, neutral_voltages, path_resistances
from feedproof.inference.evidence import reading_evidence
from feedproof.inference.limits import detection_limits
from feedproof.inference.outcome import Candidate, Limit, Outcome, Prospect, Site
from feedproof.inference.prospects import rank
from feedproof.inference.scene import Canonical, Scene, canonical_form, mirror, mirror_scene, without_values
from feedproof.inference.sites import hypotheses_of, same_site, site_of
from feedproof.inference.weigh import Fit, Weighed, draw, fit, log_prior, undrawn
from feedproof.readings import Conductor, ReadingSet

#: A hypothesis this far below the best, by Laplace's approximation, is left at it [nat].
_NEGLIGIBLE = 9.5
#: One this far below is not looked at twice [nat].
_HOPELESS = 30.0
#: Probability from which on so many effective draws are wanted, and most draws made for them [1]: of the
#: leading hypotheses the quantiles are wanted, of those that are listed the evidence, of the rest a rough size.
_EFFORT = ((0.1, 500.0, 16384), (7e-4, 80.0, 2048), (0.0, 20.0, 160))


class Weighing(Struct, frozen=True, kw_only=True):
    """Every state of the supply weighed against one reading set: what all parts of the answer rest on."""

    canonical: Canonical
    bare: Scene
    """The arrangement of the readings, without their values."""
    states: tuple[Hypothesis, ...]
    weighed: tuple[Weighed, ...]
    probability: tuple[float, ...]
    """Of the states; they sum to 1."""
    groups: tuple[tuple[int, ...], ...]
    """Indexes of the states that differ in place only."""
    sound: int
    """Index of the best state without a fault; it always has draws."""


def _always(_: Outcome) -> bool:
    return True


def infer(
    readings: ReadingSet,
    *,
    among: Collection[Site] | None = None,
    look_ahead: Callable[[Outcome], bool] = _always,
) -> Outcome:
    """Weigh all states of the supply against a reading set.

    Parameters
    ----------
    readings : ReadingSet
        In SI units. No readings at all are allowed: the answer is then the priors, and what to read first.
    among : collection of Site, optional
        Weigh these alone, in place of all; `none_found` is always weighed.
    look_ahead : callable, optional
        Asked with the outcome as far as it goes without `prospects`: whether these are wanted too.

    Returns
    -------
    Outcome
        In the request's own conductors, labels and order.
    """
    weighing = weigh(readings, among)
    found = outcome(weighing)
    return msgspec.structs.replace(found, prospects=prospects(weighing)) if look_ahead(found) else found


def weigh(readings: ReadingSet, among: Collection[Site] | None = None) -> Weighing:
    """Find and draw every state that could matter.

    Parameters
    ----------
    readings : ReadingSet
        In SI units.
    among : collection of Site, optional
        See `infer`.

    Returns
    -------
    Weighing
        The dear part of the inference; the rest is read off it.
    """
    canonical = canonical_form(readings)
    scene, mirrored = canonical.scene, mirror_scene(canonical.scene)
    bare, bare_mirrored = without_values(scene), without_values(mirrored)
    states = hypotheses_of(readings, scene)
    if among is not None:
        states = _only(states, among, mirrored=canonical.mirrored)
    fits: list[Fit] = []
    top = blurred_top = faint_top = -math.inf
    for h in states:
        arrangement, values = (bare_mirrored, mirrored.readings) if h.mirrored else (bare, scene.readings)
        rate = log_prior(h)
        # Blurred readings are never taken for misread: what would explain them so looks worse there than it is.
        screens = blurred_top - rate, -math.inf if h.inconsistent else faint_top - rate
        fits.append(fit(h, arrangement, values, top - rate - _HOPELESS, *screens))
        top = max(top, fits[-1].log_evidence + rate)
        blurred_top = max(blurred_top, fits[-1].blurred + rate)
        faint_top = max(faint_top, fits[-1].faint + rate)
    weighed = _drawn(fits)
    probability = _probabilities(weighed)
    sound = _best([i for i, h in enumerate(states) if h.fault == "none_found"], weighed, probability)
    if not weighed[sound].z.size:
        weighed[sound] = draw(fits[sound], limit=_EFFORT[-1][2], enough=_EFFORT[-1][1])
        probability = _probabilities(weighed)
    return Weighing(
        canonical=canonical,
        bare=bare,
        states=states,
        weighed=tuple(weighed),
        probability=tuple(probability),
        groups=tuple(map(tuple, _grouped(states))),
        sound=sound,
    )


def outcome(weighing: Weighing) -> Outcome:
    """All that a weighing says of the supply, without what to read next.

    Parameters
    ----------
    weighing : Weighing
        Of one reading set.

    Returns
    -------
    Outcome
        Its `prospects` are empty.
    """
    canonical, weighed, probability = weighing.canonical, weighing.weighed, weighing.probability
    leading = max(weighing.groups, key=lambda g: sum(probability[i] for i in g))
    finding, sound = weighed[_best(leading, weighed, probability)], weighed[weighing.sound]
    of_finding = [(weighed[i], probability[i]) for i in leading if weighed[i].z.size]
    return Outcome(
        candidates=_candidates(weighing.states, weighed, probability, weighing.groups, canonical),
        neutral_voltages=neutral_voltages(of_finding, canonical),
        resistances=path_resistances(of_finding, canonical),
        limits=_limits(sound, canonical),
        evidence=reading_evidence(canonical.scene, finding, sound, canonical.order),
        prospects=(),
        hazards=hazards(weighed, probability, canonical),
    )


def prospects(weighing: Weighing) -> tuple[Prospect, ...]:
    """What to read next, most worth taking first.

    Parameters
    ----------
    weighing : Weighing
        Of one reading set.

    Returns
    -------
    tuple of Prospect
        In the request's own conductors and labels.
    """
    at = weighing.canonical
    return rank(
        weighing.bare,
        weighing.weighed,
        weighing.probability,
        at.meter_names,
        at.state_names,
        mirrored=at.mirrored,
    )


def _only(states: Sequence[Hypothesis], among: Collection[Site], *, mirrored: bool) -> tuple[Hypothesis, ...]:
    """The states of some sites and those without a fault, with base rates that sum to 1."""
    kept = [
        h
        for h in states
        if h.fault == "none_found" or any(same_site(site_of(h, mirrored=mirrored), site) for site in among)
    ]
    whole = sum(h.base_rate for h in kept)
    return tuple(msgspec.structs.replace(h, base_rate=h.base_rate / whole) for h in kept)


def _drawn(fits: Sequence[Fit]) -> list[Weighed]:
    """Draws from every hypothesis that could matter, more from those that matter more."""
    weighed = [undrawn(f) for f in fits]
    rough = [w.log_evidence + log_prior(w.hypothesis) for w in weighed]
    top = max(rough)
    for i, f in enumerate(fits):
        if rough[i] > top - _NEGLIGIBLE:
            enough, limit = _effort(math.exp(min(rough[i] - top, 0.0)))
            weighed[i] = draw(f, limit=limit, enough=enough)
    # Laplace's approximation may have been low: those that turn out to matter are drawn again, further.
    for i, p in enumerate(_probabilities(weighed)):
        enough, limit = _effort(p)
        if weighed[i].z.size and weighed[i].effective < 0.6 * enough and weighed[i].z.shape[0] < limit // 2:
            weighed[i] = draw(fits[i], limit=limit, enough=enough)
    return weighed


def _effort(probability: float) -> tuple[float, int]:
    """Effective draws wanted and most draws made, by probability [1]."""
    return next((enough, limit) for least, enough, limit in _EFFORT if probability >= least)


def _probabilities(weighed: Sequence[Weighed]) -> list[float]:
    """Posterior probabilities; they sum to 1."""
    logs = np.array([w.log_evidence + log_prior(w.hypothesis) for w in weighed])
    share = np.exp(logs - logs.max())
    return [float(p) for p in share / share.sum()]


def _grouped(states: Sequence[Hypothesis]) -> list[list[int]]:
    """Hypotheses of one fault, one conductor and one second fault, wherever on the path they sit."""
    groups: dict[object, list[int]] = {}
    for i, h in enumerate(states):
        groups.setdefault((h.fault, h.conductor, h.also), []).append(i)
    return list(groups.values())


def _best(group: Sequence[int], weighed: Sequence[Weighed], probability: Sequence[float]) -> int:
    return max(group, key=lambda i: (bool(weighed[i].z.size), probability[i]))


def _candidates(
    states: Sequence[Hypothesis],
    weighed: Sequence[Weighed],
    probability: Sequence[float],
    groups: Sequence[Sequence[int]],
    canonical: Canonical,
) -> tuple[Candidate, ...]:
    """One candidate for each fault and place, in the request's conductors, most probable first."""
    found = []
    for group in groups:
        places: dict[str | None, list[int]] = {}
        for i in group:
            places.setdefault(states[i].location, []).append(i)
        for members in places.values():
            site = site_of(states[members[0]], mirrored=canonical.mirrored)
            rate = sum(states[i].base_rate for i in members)
            joint = [weighed[i].log_evidence + log_prior(states[i]) for i in members]
            log_evidence = (float(np.logaddexp.reduce(joint)) if len(joint) > 1 else joint[0]) - math.log(rate)
            found.append(
                Candidate(
                    fault=site.fault,
                    conductor=site.conductor,
                    location=site.location,
                    also=site.also,
                    base_rate=rate,
                    probability=sum(probability[i] for i in members),
                    log_evidence=log_evidence,
                )
            )
    return tuple(sorted(found, key=lambda c: (-c.probability, c.fault, c.conductor or "", c.location or "")))


def _limits(sound: Weighed, canonical: Canonical) -> tuple[Limit, ...]:
    """Detection limits of every branch conductor, in the request's conductors."""
    supply = canonical.scene.supply
    conductors: list[Conductor] = ["L1", "N"] if supply.system == "single_phase_120" else ["L1", "L2", "N"]
    if any("G" in r.conductors for r in canonical.scene.readings) and supply.equipment_ground != "absent":
        conductors.append("G")
    limits = detection_limits(sound, "branch", [mirror(c) if canonical.mirrored else c for c in conductors])
    return tuple(Limit(conductor=c, resistance=x.resistance) for c, x in zip(conductors, limits, strict=True))
