"""From a reading set to all that can be inferred of its supply."""

import math
from collections.abc import Callable, Collection, Sequence

import msgspec
import numpy as np
from msgspec import Struct

from feedproof.faults.places import Site as Place
from feedproof.faults.places import mass, neutral_rate, times
from feedproof.faults.seen import seen
from feedproof.faults.sites import sites
from feedproof.inference.draws import draw, effective
from feedproof.inference.estimates import break_position, path_resistances, voltages
from feedproof.inference.evidence import reading_evidence
from feedproof.inference.fit import Fit, blur, locate
from feedproof.inference.hazards import hazards
from feedproof.inference.likelihood import Readings
from feedproof.inference.limits import detection_limits
from feedproof.inference.observing import misread_shares, observe
from feedproof.inference.outcome import Candidate, Limit, Outcome, Part, Prospect, ReadingEvidence, Site
from feedproof.inference.program import build
from feedproof.inference.refinement import again, begin_mild, refine
from feedproof.inference.runs import explained_resistance, sound_run
from feedproof.inference.scene import Canonical, Scene, canonical_form, without_values
from feedproof.inference.worth import rank
from feedproof.interruption import go_on
from feedproof.readings import CONDUCTORS, Conductor, ReadingSet, Voltmeter

#: Places this far below the best one after location are not refined [nat].
_NO_REFINE_BELOW = 6.5
#: A trouble that can be as mild as nothing explains what a sound supply explains, to within this: below it the climb
#: has ended elsewhere, say where loads are just alike and the neutral stands still without its wire [nat].
_MOST_BELOW_SOUND = 3.5
_MILD = math.log(2.0)
"""Its least resistance is less than this [ln ohm]."""
#: A reading that is off by less needs no second look [V, A, ohm].
_GRACE = 0.5
#: Places this far below the best one on strongly blurred readings are not located further [nat].
_NO_LOCATE_BELOW = 30.0
#: Draws by a place's probability: at first, how many effective ones are enough, and how many are made for that at most.
_DRAWS = ((0.1, 96, 150.0, 960), (0.02, 48, 30.0, 192), (0.004, 24, 12.0, 48))
#: Fewer effective draws mean that one lies at a mode that no climb has found [1].
_TOO_FEW_EFFECTIVE = 3.0

#: No joint drops more [V]; a clamp shows less than this without a load [A].
_MOST_VOLTS, _LOAD_CURRENT = 254.0, 0.5

_Identity = tuple[str, Conductor | None, str | None, tuple[Part, ...], str]


class Weighing(Struct, frozen=True, kw_only=True):
    """Every place weighed against one reading set: what all parts of the answer rest on."""

    canonical: Canonical
    bare: Scene
    """The arrangement of the readings, without their values."""
    fits: tuple[Fit, ...]
    probability: tuple[float, ...]
    """Of the places; they sum to 1."""


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
    if not look_ahead(found):
        return found
    return msgspec.structs.replace(found, prospects=prospects(weighing, found))


def prospects(weighing: Weighing, found: Outcome) -> tuple[Prospect, ...]:
    """What to read next, given what was found."""
    at = weighing.canonical
    return rank(weighing.bare, weighing.fits, weighing.probability, at, found.limits, found.unexplained)


def least_fault_resistance(readings: ReadingSet) -> float:
    """Extra resistance from which on a branch conductor counts as faulty [ohm].

    Together with a usual run it is more than a sound one explains.
    """
    run = readings.supply.run
    return max(explained_resistance(run) - sound_run(run)[0], 0.02)


def places_of(readings: ReadingSet, scene: Scene) -> tuple[Place, ...]:
    """Every place to weigh for a reading set, given as a scene, with what was seen taken into its rate."""
    rates = None if readings.base_rates is None else tuple(sorted(readings.base_rates.items()))
    meters = tuple((k, m.proved) for k, m in enumerate(scene.meters) if isinstance(m, Voltmeter))
    points = frozenset(r.point for r in scene.readings)
    idle = any(state.kind == "idle" for state in scene.states)
    return sites(scene.supply, points, meters, least_fault_resistance(readings), rates, idle=idle)


def weigh(readings: ReadingSet, among: Collection[Site] | None = None) -> Weighing:
    """Fit every place, and draw from those that matter."""
    canonical = canonical_form(readings)
    scene = canonical.scene
    bare = without_values(scene)
    blurred: dict[object, Readings] = {}
    fits, top = [], -math.inf
    for every in places_of(readings, scene):
        go_on()
        place = every if among is None else _only(every, among, canonical)
        if place is None:
            continue
        built = build(neutral_rate(place), bare, bare.readings)
        key = (built.order, misread_shares(bare.readings, place))
        if key not in blurred:
            blurred[key] = blur(observe(scene, scene.readings, built, place))
        if scene.observations:
            place = times(place, math.exp(seen(place.place, scene.observations)))
        fit = locate(place, built, blurred[key], top - _NO_LOCATE_BELOW - math.log(place.rate))
        top = max(top, fit.wide)
        fits.append(fit)
    best = max(f.log_mass for f in fits)
    sound = fits[_sound(fits)]
    for f in fits:
        go_on()
        if _is_overlooked(f, sound, best):
            begin_mild(f, sound)
            refine(f)
        elif f.log_mass > best - _NO_REFINE_BELOW and not math.isinf(f.spread):
            refine(f)
    probability = _probabilities(fits)
    asked: set[tuple[int, int]] = set()
    # Where draws find more or less than was promised, other places matter than were drawn from.
    while more := _wanted(fits, probability) - asked:
        for k, tier in sorted(more):
            go_on()
            _sharpen(fits[k], *_DRAWS[tier][1:])
        asked |= more
        probability = _probabilities(fits)
    return Weighing(canonical=canonical, bare=bare, fits=tuple(fits), probability=tuple(probability))


def _sound(fits: Sequence[Fit]) -> int:
    """The most probable sound supply: number of its fit."""
    return max((k for k, f in enumerate(fits) if f.site.place == "none"), key=lambda k: fits[k].log_mass)


def _is_overlooked(fit: Fit, sound: Fit, best: float) -> bool:
    """Whether a place explains the readings far worse than the sound supply that it can be next to."""
    site = fit.site
    if not (len(site.spans) == 1 and site.breaks and site.spans[0][0].low < _MILD):
        return False
    expected = sound.log_mass + math.log(mass(site) / mass(sound.site))
    return fit.log_mass < expected - _MOST_BELOW_SOUND and expected > best - _NO_REFINE_BELOW


def _wanted(fits: Sequence[Fit], probability: Sequence[float]) -> set[tuple[int, int]]:
    """Fits to draw from, with the number of the entry of `_DRAWS` that says how many."""
    # A form with the appliance's contacts open stands beside one of four times its rate: fewer draws do.
    found = {
        (k, max(next(t for t, entry in enumerate(_DRAWS) if p >= entry[0]), int(fits[k].site.contacts_open)))
        for k, p in enumerate(probability)
        if p >= _DRAWS[-1][0]
    }
    sound = _sound(fits)
    first = max(_leading(fits, probability), key=lambda k: probability[k])
    # Places that the answer names, and those they are compared with.
    return found | {(first, 0)} | ({(sound, 1)} if probability[sound] < _DRAWS[1][0] else set())


def _sharpen(fit: Fit, count: int, enough: float, most: int) -> None:
    """Draw until so many are effective, or so many are made."""
    if not fit.modes:
        refine(fit)
    if len(fit.x) < count:
        draw(fit, count)
        if effective(fit) < _TOO_FEW_EFFECTIVE:
            again(fit)
            draw(fit, count)
    while len(fit.x) < most and (found := effective(fit)) < enough:
        # What that takes if the next draws are worth as much as these, in whole lots: evenly spread numbers are kept.
        lots = math.ceil(1.05 * enough / found * len(fit.x) / count)
        draw(fit, min(max(lots * count, len(fit.x) + count), 4 * len(fit.x), most))


def _leading(fits: Sequence[Fit], probability: Sequence[float]) -> list[int]:
    """The most probable place and conductor: numbers of all fits that it is."""
    groups: dict[tuple[str, str | None], list[int]] = {}
    for k, f in enumerate(fits):
        groups.setdefault((f.site.place, f.site.conductor), []).append(k)
    return max(groups.values(), key=lambda own: sum(probability[k] for k in own))


def _probabilities(fits: Sequence[Fit]) -> list[float]:
    logs = np.array([f.log_mass for f in fits])
    top = logs.max()
    if not math.isfinite(top):
        raise ArithmeticError("a mass is no number")
    share = np.exp(logs - top)
    return [float(p) for p in share / share.sum()]


def _only(place: Place, among: Collection[Site], at: Canonical) -> Place | None:
    """A place with those of its spans that stand for one of the sites; None where there are none."""
    wanted = {(s.fault, s.conductor, s.location, s.also) for s in among}
    if place.place == "none":
        return place
    if len(place.spans) != 1:
        return place if _identity(place, place.fault, at) in wanted else None
    spans = tuple(s for s in place.spans[0] if _identity(place, s.fault, at) in wanted)
    return msgspec.structs.replace(place, spans=(spans,)) if spans else None


def _identity(place: Place, fault: str, at: Canonical) -> tuple[str, Conductor | None, str | None, tuple[Part, ...]]:
    own, also = at.turned(place.conductor), tuple((f, at.turned(c)) for f, c in place.also)
    if also and also[0][0] == fault and also[0][1] is not None and own is not None:
        first, second = sorted((own, also[0][1]), key=CONDUCTORS.index)
        own, also = first, ((fault, second),)
    return fault, own, place.location, also


def outcome(weighing: Weighing) -> Outcome:
    """All that a weighing says of the supply, without what to read next."""
    at, fits, probability, bare = weighing.canonical, weighing.fits, weighing.probability, weighing.bare
    members = [(fits[k], probability[k]) for k in _leading(fits, probability) if len(fits[k].x)]
    finding = max(members, key=lambda m: m[1])[0]
    sound = fits[_sound(fits)]
    sounds = [(f, math.exp(f.log_mass - sound.log_mass)) for f in fits if f.site.place == "none" and len(f.x)]
    evidence = reading_evidence(at.scene, finding, sound, at.order)
    to_bar, to_earth = voltages(members, at, bare)
    return Outcome(
        candidates=_candidates(fits, at),
        neutral_voltages=to_bar,
        earth_voltages=to_earth,
        resistances=path_resistances(members, at, bare),
        break_position=break_position(members, at),
        limits=_limits(sounds, at, bare),
        evidence=evidence,
        prospects=(),
        hazards=hazards(fits, probability, at, bare),
        unexplained=_unexplained(evidence),
    )


def _unexplained(evidence: Sequence[ReadingEvidence]) -> tuple[int, ...]:
    """Readings far outside what the finding lets one expect."""
    return tuple(e.reading for e in evidence if e.far_outside(_GRACE))


def _candidates(fits: Sequence[Fit], at: Canonical) -> tuple[Candidate, ...]:
    """One candidate for each fault and place, in the request's conductors, most probable first."""
    found: dict[_Identity, list[tuple[float, float, float, Place, str | None]]] = {}
    total = max(f.log_mass for f in fits)
    whole = sum(math.exp(f.log_mass - total) for f in fits)
    for f in fits:
        degrees = {s.fault: s.degree for spans in f.site.spans[:1] for s in spans}
        for fault, log_mass in f.degrees.items():
            rate = f.site.rate * (sum(s.share for s in f.site.spans[0] if s.fault == fault) if f.site.spans else 1.0)
            if rate <= 0.0:
                # Excluded by the caller's base rates, while another degree of the place is not.
                continue
            identity = (*_identity(f.site, fault, at), f.site.place)
            p = math.exp(log_mass - total) / whole
            found.setdefault(identity, []).append((p, log_mass, rate, f.site, degrees.get(fault)))
    rates = sum(entry[2] for own in found.values() for entry in own)
    made = []
    for (fault, conductor, location, also, place), own in found.items():
        top = max(e[1] for e in own)
        rate = sum(e[2] for e in own)
        log_evidence = (
            top + math.log(sum(math.exp(e[1] - top) for e in own)) - math.log(rate) if top > -math.inf else -1e9
        )
        made.append(
            Candidate(
                fault=fault,
                conductor=conductor,
                location=location,
                also=also,
                base_rate=rate / rates,
                probability=sum(e[0] for e in own),
                place=place,
                also_place=own[0][3].also_place,
                degree=own[0][4],
                log_evidence=log_evidence,
            )
        )
    return tuple(sorted(made, key=lambda c: (-c.probability, c.fault, c.conductor or "", c.location or "", c.place)))


def _limits(sounds: Sequence[tuple[Fit, float]], at: Canonical, bare: Scene) -> tuple[Limit, ...]:
    """Detection limits of every branch conductor, in the request's conductors."""
    supply = at.scene.supply
    read = any("G" in r.conductors for r in at.scene.readings) and supply.equipment_ground != "absent"
    conductors: tuple[Conductor, ...] = (*supply.carrying, "G") if read else supply.carrying
    limits = detection_limits(sounds, bare, [at.turned(c) for c in conductors])
    return tuple(
        Limit(conductor=c, resistance=_least(x.resistance, _carried(at.scene, x.conductor)))
        for c, x in zip(conductors, limits, strict=True)
    )


def _least(*ohms: float | None) -> float | None:
    return min((x for x in ohms if x is not None), default=None)


def _carried(scene: Scene, conductor: Conductor) -> float | None:
    """What no joint in a conductor has more of, given the current read in it: by Ohm's law, the legs' voltage over it.

    None where no such current was read [ohm].
    """
    amperes = max(
        (r.value or 0.0 for r in scene.readings if r.kind == "current" and r.conductors == (conductor,)), default=0.0
    )
    return _MOST_VOLTS / amperes if amperes >= _LOAD_CURRENT else None
