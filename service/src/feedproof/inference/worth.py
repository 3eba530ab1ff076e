"""What a further reading is worth: expected information about what decides the action, hazard and walking beside it."""

import math
from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

import numpy as np

from feedproof.circuit.forward import PROXIMITY, FloatArray, IntArray
from feedproof.faults.places import Site as Place
from feedproof.faults.seen import OBSERVED
from feedproof.inference.fit import Fit
from feedproof.inference.information import gains, likenesses
from feedproof.inference.next_readings import Askable, askable
from feedproof.inference.outcome import NEUTRAL_IN_DOUBT, Expectation, Limit, Prospect
from feedproof.inference.queries import predicted, some_of
from feedproof.inference.scene import Canonical, Scene, mirror_load
from feedproof.readings import CONDUCTORS, PANELS, Conductor, is_low_impedance, meter_kind

#: Numbers of draws by a place's probability; none below the last.
_DRAWS = ((0.3, 20), (0.05, 12), (0.004, 6))
_MOST_PLACES = 14
#: A further reading is worth taking while it promises at least this much [bit].
WORTH_READING = 0.06
#: After so many readings each further one has to promise so many times as much as the one before.
_GROWTH_AFTER, _THRESHOLD_GROWTH = 5, 1.4
#: The same for a reading with a meter that is not at hand [bit].
WORTH_FETCHING = 0.25
#: What a series resistance has to show as before a conductor is proven [ohm]; as no fault is established from.
_PROVEN = 5.0
_MOST, _OF_ONE_SETUP, _OF_ONE_KIND, _FETCHED_AT = 8, 2, 4, 2
#: Up to this many unexplained readings may be slips, which are taken again first.
_SLIPS = 2
#: Readings whose worth differs by less count as equal: what proves a supply comes first, then the less hazardous [1].
_NEAR = 0.1
#: From this probability of a leak to ground on nothing is read with the appliance under voltage: an ohmmeter tells. The
#: lower one is after something tripped; what holds may be read on until a leak is the most probable [1].
LEAK_IN_DOUBT, LEAK_PROBABLE = 0.1, 0.5
#: Places that a person is told what the reading would show at [1].
_LEAST_NAMED = 0.02
_MOST_NAMED = 4
_TRIPPED = frozenset({("breaker_found_tripped", ""), ("ground_fault_breaker_tripped", "")})
#: Observations that are asked for, with what each may come as.
_ASKED: dict[str, tuple[str, ...]] = {
    "lights_brighten_and_dim": ("same_panel", "whole_building"),
    "other_circuits_live": ("",),
    "breaker_found_tripped": ("",),
}

Label = tuple[str, Conductor | None]


class Drawn(NamedTuple):
    """Posterior draws of the places that matter, with what every question would show of each."""

    shown: FloatArray
    """(N, Q) [V, A, ohm; of a proximity detector the probability that it signals]."""
    group: IntArray
    """Number of the label of each draw [1]."""
    share: FloatArray
    """Weight of each draw; they sum to 1 [1]."""
    labels: list[Label]
    weight: FloatArray
    """Of each label [1]."""


def label_of(place: Place, used: frozenset[int]) -> Label:
    """What a place decides: who acts, and on which leg. A tester that nothing was read with decides nothing."""
    if place.dead_meter >= 0 and place.dead_meter not in used:
        return "none", None
    return place.place, place.conductor if place.place.endswith("_leg") else None


def rank(
    bare: Scene,
    fits: Sequence[Fit],
    probability: Sequence[float],
    canonical: Canonical,
    limits: Sequence[Limit],
    unexplained: Sequence[int] = (),
) -> tuple[Prospect, ...]:
    """Rank what could be read, or asked, next.

    Parameters
    ----------
    bare : Scene
        The arrangement, without values.
    fits : sequence of Fit
        All places.
    probability : sequence of float
        Of the places [1].
    canonical : Canonical
        The way back to the request.
    limits : sequence of Limit
        Detection limits of what was read already.
    unexplained : sequence of int
        Indexes in the request of readings that the finding does not explain: to be taken again before anything else.

    Returns
    -------
    tuple of Prospect
        Most worth taking first, in the request's conductors; only what is worth taking.
    """
    ask = askable(bare)
    chosen = sorted(((p, k) for k, p in enumerate(probability) if p >= _DRAWS[-1][0] and len(fits[k].x)), reverse=True)[
        :_MOST_PLACES
    ]
    if not chosen or not ask.questions:
        return ()
    used = frozenset(r.meter for r in bare.readings)
    labels: list[Label] = []
    rows, group, site, share = [], [], [], []
    for number, (p, k) in enumerate(chosen):
        label = label_of(fits[k].site, used)
        if label not in labels:
            labels.append(label)
        count = next(n for least, n in _DRAWS if p >= least)
        rows.append(predicted(fits[k], some_of(fits[k], count), ask.readings, ask.scene))
        group += [labels.index(label)] * count
        site += [number] * count
        share += [p / count] * count
    groups, sites, shares = np.array(group), np.array(site), np.array(share)
    shares /= shares.sum()
    shown = np.concatenate(rows)
    like = likenesses(shown, sites, ask.scatter)
    single, joint, partner = gains(like, ask.setup, groups, shares, ask.scatter.kind)
    doubt, leak = (
        sum(p for f, p in zip(fits, probability, strict=True) if {f.site.place, f.site.also_place} & names)
        for names in ({"service_neutral", "feeder_neutral"}, {"leak_to_ground"})
    )
    weight = np.asarray(np.bincount(groups, shares, len(labels)), dtype=float)
    sound = weight[labels.index(("none", None))] > 0.5 if ("none", None) in labels else False
    coarse = frozenset(x.conductor for x in limits if x.resistance is None or x.resistance > _PROVEN) - {"G"}
    coarse = frozenset(map(canonical.turned, coarse))
    order = _order(
        ask,
        bare,
        single,
        joint,
        partner,
        _proving(ask, coarse, ground=_ground_unread(bare)) if sound and _legs_read(bare) else (),
        frozenset(canonical.order.index(k) for k in unexplained),
        plug_in=doubt < NEUTRAL_IN_DOUBT,
        energize=leak < (LEAK_IN_DOUBT if _TRIPPED.intersection(bare.observations) else LEAK_PROBABLE),
    )
    for q in np.flatnonzero(ask.scatter.kind == PROXIMITY):
        # What a detector "shows" is how probably it signals.
        shown[:, q] = like[q, 0]
    drawn = Drawn(shown, groups, shares, labels, weight)
    readings = _few_of_a_kind(_prospect(ask, q, worth, drawn, canonical) for q, worth in order)
    asked = _observations(bare, labels, weight)
    return tuple(sorted((*asked, *readings), key=lambda p: p.kind != "observation" or p.information < 0.1))


def _few_of_a_kind(prospects: Iterable[Prospect]) -> list[Prospect]:
    """The first of all, and of those that tell the same two places apart no more than serve as ways round."""
    found: list[Prospect] = []
    alike: dict[object, int] = {}
    for one in prospects:
        alike[one.separates] = alike.get(one.separates, 0) + 1
        if alike[one.separates] <= _OF_ONE_KIND or all(one.point != other.point for other in found):
            found.append(one)
        if len(found) == _MOST:
            break
    return found


def _order(
    ask: Askable,
    bare: Scene,
    single: FloatArray,
    joint: FloatArray,
    partner: IntArray,
    proving: Collection[int],
    against: frozenset[int],
    *,
    plug_in: bool,
    energize: bool,
) -> list[tuple[int, float]]:
    """Numbers of the questions worth taking with their information, the best first.

    Whatever is left to tell, no supply is passed without what proves it (`proving`): that comes first where it tells as
    much as others, and last where it tells nothing.
    """
    connected = {s for s, state in enumerate(ask.scene.states) if state.kind != "disconnected"}
    wired = bare.supply.receptacle == "hardwired"
    # States that need no plugging in: nobody has unplugged yet, or there is no plug.
    there = {s for s in connected if wired and ask.scene.states[s].kind == "idle"}
    if all(r.state in connected for r in bare.readings):
        there |= {r.state for r in bare.readings}
    # The legs first, unplugged: they are the reference of all else, and nothing is opened beside an unproven supply.
    legs_first = not _legs_read(bare)
    score: dict[int, tuple[float, float]] = {}

    def allowed(q: int) -> bool:
        state, dead = ask.readings[q].state, ask.readings[q].kind == "resistance"
        return state not in connected or ((plug_in or state in there) and (energize or dead))

    for q, question in enumerate(ask.questions):
        if not allowed(q):
            continue
        best = (single[q] / question.effort, single[q])
        b = int(partner[q])
        if b >= 0 and single[b] > 0.0:
            # Only the better of the two is listed first.
            together = joint[q] / (ask.questions[b].effort + 1.0)
            if together > score.get(b, (0.0, 0.0))[0]:
                score[b] = (together, max(single[b], 0.5 * joint[q]))
        if best[0] > score.get(q, (0.0, 0.0))[0]:
            score[q] = best

    def key(q: int) -> tuple[bool, bool, int, bool, int, bool, float, int]:
        question = ask.questions[q]
        # What all else is held against comes from a meter that no stray holds up, if it tells as much.
        held_up = legs_first and not is_low_impedance(ask.scene.meters[question.reading.meter])
        at_ease = wired or question.reading.state not in connected
        legs = legs_first and not (set(question.reading.conductors) <= _references(ask.scene) and at_ease)
        step = -round(math.log(max(score[q][0], 1e-9)) / math.log1p(_NEAR))
        last = (q not in proving, question.hazard, held_up, -score[q][0], q)
        return (legs, bool(bare.meters) and not question.at_hand, step, *last)

    # After many readings each further one has to promise more information.
    growth = _THRESHOLD_GROWTH ** max(0, len(bare.readings) - _GROWTH_AFTER)

    def wanted(q: int) -> float:
        """The least that makes a question worth its while [bit]."""
        return growth * (WORTH_READING if ask.questions[q].at_hand or not bare.meters else WORTH_FETCHING)

    slips = (
        [q for q, x in enumerate(ask.questions) if x.repeats in against and allowed(q)]
        if len(against) <= _SLIPS
        else []
    )
    worth = sorted((q for q in score if score[q][1] >= wanted(q)), key=key)
    chosen = [*slips, *worth, *(q for q in proving if allowed(q))]
    found = _spread(ask, dict.fromkeys(chosen))
    borrowed = [q for q in worth if not ask.questions[q].at_hand and ask.readings[q].kind == "voltage"]
    # What a borrowed meter would tell is to be seen, even where much can be read with those at hand; and where nothing
    # may be plugged in, too.
    unplugged = [q for q in borrowed if ask.readings[q].state not in connected]
    for q in dict.fromkeys([*unplugged[:1], *borrowed[:1]]):
        if q not in found[:_FETCHED_AT]:
            found = [k for k in found if k != q]
            found.insert(_FETCHED_AT, q)
    return [(q, score.get(q, (0.0, 0.0))[1]) for q in found]


def _spread(ask: Askable, chosen: Iterable[int]) -> list[int]:
    """The first of each setup, a few: whoever cannot get at one place is to find another in the list."""
    taken: dict[int, int] = {}
    found = []
    for q in chosen:
        setup = int(ask.setup[q])
        taken[setup] = taken.get(setup, 0) + 1
        if taken[setup] <= _OF_ONE_SETUP:
            found.append(q)
    return found


def _ground_unread(scene: Scene) -> bool:
    """Whether a load's current on the ground would not have shown; a cord's wires are named by their terminals."""
    return scene.supply.equipment_ground != "absent" and not any(
        r.kind == "current"
        and r.conductors == ("G",)
        and r.point != "appliance_terminals"
        and scene.states[r.state].loaded
        for r in scene.readings
    )


def _proving(ask: Askable, coarse: frozenset[Conductor], *, ground: bool) -> list[int]:
    """What is read under load, with meters at hand, before a supply is passed.

    The voltages of conductors that a joint of some ohms could hide in (`coarse`), the most at once first. Then the
    current on the ground (`ground`), which alone shows a neutral that is joined to it or exchanged with it.
    """
    found = []
    for q, question in enumerate(ask.questions):
        r = question.reading
        state = ask.scene.states[r.state]
        if not question.at_hand or question.repeats >= 0 or not state.loaded:
            continue
        if ground and r.kind == "current" and r.conductors == ("G",) and r.point in PANELS:
            found.append((0, question.effort, question.hazard, q))
        if r.kind != "voltage" or r.point in PANELS:
            continue
        fed = {c for load in state.loads for c in load.between} or {"L1", "L2"}
        shown = coarse & set(r.conductors) & fed
        if shown:
            found.append((-len(shown), question.effort, question.hazard, q))
    return [entry[-1] for entry in sorted(found)]


def _references(scene: Scene) -> set[str]:
    """Conductors whose voltages are the reference of all else."""
    return set(scene.supply.conductors if scene.supply.one_leg else scene.supply.legs)


def _legs_read(scene: Scene) -> bool:
    """Whether the legs have been read at the outlet: against each other, or each against one conductor."""
    pairs = {r.conductors for r in scene.readings if r.kind == "voltage" and r.point not in PANELS}
    if ("L1", "L2") in pairs or scene.supply.one_leg:
        return True
    return any({("L1", c), ("L2", c)} <= pairs for c in ("N", "G"))


def _prospect(ask: Askable, q: int, worth: float, drawn: Drawn, canonical: Canonical) -> Prospect:
    question, reading = ask.questions[q], ask.questions[q].reading
    state = ask.scene.states[reading.state]
    known = reading.state < len(canonical.state_names)
    conductors = map(canonical.turned, reading.conductors)
    return Prospect(
        kind=reading.kind,
        conductors=tuple(sorted(conductors, key=CONDUCTORS.index)),
        point=reading.point,
        meter=canonical.meter_names[reading.meter] if question.at_hand else None,
        meter_kind=meter_kind(ask.scene.meters[reading.meter]),
        load_state=canonical.state_names[reading.state] if known else state.kind,
        load_state_kind=state.kind,
        loads=tuple(mirror_load(x) if canonical.mirrored else x for x in state.loads),
        state_is_new=not known,
        information=float(worth),
        separates=_separated(drawn, q, canonical),
        repeats=canonical.order[question.repeats] if question.repeats >= 0 else None,
        expected=_expected(drawn, q, 0.0 if reading.kind == "proximity" else 0.5 * ask.scatter.floor[q], canonical),
    )


def _named(label: Label, canonical: Canonical) -> Label:
    return label[0], canonical.turned(label[1])


def _expected(drawn: Drawn, q: int, least: float, canonical: Canonical) -> tuple[Expectation, ...]:
    """What the reading would show at each of the leading places: the middle 80 % of its draws."""
    groups, labels, weight = drawn.group, drawn.labels, drawn.weight
    values = np.where(drawn.shown[:, q] < least, 0.0, drawn.shown[:, q])
    found = []
    for g in np.argsort(-weight)[:_MOST_NAMED]:
        if weight[g] < _LEAST_NAMED or labels[g][0] == "readings":
            continue
        own = groups == g
        order = np.argsort(values[own])
        v, w = values[own][order], drawn.share[own][order]
        low, high = np.interp((0.1 * w.sum(), 0.9 * w.sum()), np.cumsum(w) - 0.5 * w, v)
        place, conductor = _named(labels[g], canonical)
        found.append(Expectation(place=place, conductor=conductor, low=float(low), high=float(high)))
    return tuple(found)


def _separated(drawn: Drawn, q: int, canonical: Canonical) -> tuple[Label, Label] | None:
    """The two groups that a reading tells apart best, weighed by their probabilities; by mean and spread."""
    groups, shares, labels, weight = drawn.group, drawn.share, drawn.labels, drawn.weight
    stretched = np.arcsinh(drawn.shown[:, q])
    mass = np.maximum(weight, 1e-12)
    mean = np.bincount(groups, shares * stretched, len(labels)) / mass
    var = np.bincount(groups, shares * stretched**2, len(labels)) / mass - mean**2
    var = np.maximum(var, 0.0) + 1e-3
    apart = 0.25 * (mean[:, None] - mean) ** 2 / (var[:, None] + var)
    apart += 0.5 * np.log(0.5 * (var[:, None] + var) / np.sqrt(var[:, None] * var))
    worth = np.sqrt(weight[:, None] * weight) * -np.expm1(-apart)
    i, j = np.unravel_index(int(np.argmax(worth)), worth.shape)
    if i == j or worth[i, j] <= 0.0:
        return None
    first, second = sorted((int(i), int(j)), key=lambda k: (-weight[k], k))
    return _named(labels[first], canonical), _named(labels[second], canonical)


def _observations(bare: Scene, labels: Sequence[Label], weight: FloatArray) -> list[Prospect]:
    """What is worth asking for; only a yes is sent back, so only a yes counts."""
    told = {code for code, _ in bare.observations}
    found = []
    for code, kinds in _ASKED.items():
        if code in told or (code == "other_circuits_live" and "other_circuits_dead" in told):
            continue
        gain = 0.0
        for where in kinds:
            law = OBSERVED[code, where]
            yes = np.array([law.get(place, law[""]) for place, _ in labels])
            whole = float(weight @ yes)
            after = weight * yes / whole
            gain += whole * float(np.sum(after * np.log2(np.maximum(after, 1e-300) / weight)))
        if gain >= WORTH_READING:
            found.append(
                Prospect(
                    kind="observation",
                    conductors=(),
                    point="receptacle",
                    meter=None,
                    meter_kind="",
                    load_state="",
                    load_state_kind="disconnected",
                    information=gain,
                    separates=None,
                    observation=code,
                )
            )
    return sorted(found, key=lambda p: -p.information)
