"""Established, probable or undetermined: the rules in the open.

The finding is the narrowest place of the tree, with its conductor, that holds the probability asked for (`places`);
where the readings tell that a leg is bad and not which, without its conductor.
It is *established* when

1. its probability is at least 0.97, or 0.95 where no fault was found, and
2. at least one contact reading (voltage, current, resistance) speaks for it, or all together where several say the
   same; not by zeros of a tester alone that has shown nothing else and was not proven, and
3. where the finding is that no fault was found: a series resistance of 5 Ω in any conductor of the branch
   circuit, both legs and the neutral, would have shown.

It is *probable* at 0.75 under rule 2, and for `none` where an open conductor would have shown anywhere.
It is *undetermined* otherwise, and always where

4. another place of 5 % or more explains the readings nearly as well: then only the base rates separate the
   two, and base rates are no reading (where no fault was found, a ground that was not proven is set aside, and that
   readings contradict each other where each that stands out was taken again and then did not); or
5. the finding is that the readings contradict one another, or that a tester is dead: they ask for other readings; or
6. the finding calls dead what a reading shows to be live: that reading is believed (see `unexplained`); or
7. two readings or more lie far outside what the finding itself lets one expect, slips that were read again aside:
   nothing that is known fits; or
8. no fault would have been found while a reading shows by itself that there is one (see `shown`); or
9. no fault would have been found, and a joint that makes 30 W or more is not ruled out (5 %): then the most probable
   such joint is named in its place, since what may burn is not to stand under a heading of no fault.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from feedproof.advice import shown
from feedproof.advice.candidates import joint_evidence
from feedproof.advice.places import NEVER_ESTABLISHED, Place, is_at, leading, narrowest
from feedproof.advice.unexplained import against, changed, read_again, unproven
from feedproof.contract.assessment import Determination
from feedproof.inference import Candidate, Limit, Outcome, ReadingEvidence
from feedproof.readings import Conductor, ProximityReading, ReadingSet

#: This service's own choice. Of a thousand circuits of the trade in a circuit simulator 4 of the 25 that were
#: established at 0.96 to 0.97 were so wrongly; at 0.97 and above 5 of 614.
ESTABLISHED = 0.97

#: The same where no fault was found. A ground that nobody reads and leaks that nobody looks for hold some 4 % between
#: them, however well the circuit is proven.
SOUND = 0.95

#: Three to one on the finding: enough to act on as a suspicion.
PROBABLE = 0.75

#: A reading speaks for a finding from a Bayes factor of 3, "positive" evidence in Kass and Raftery, Bayes
#: Factors, JASA 90 (1995), read in a secondary copy [bit].
SPEAKS_BITS = math.log2(3.0)

#: Readings of which none speaks by itself, since others say the same, do together from a factor of 20, "strong" [nat].
_TOGETHER = math.log(20.0)
_SEVERAL = 2

#: Two findings explain the readings alike below the same factor, "not worth more than a bare mention" [nat].
ALIKE_NATS = math.log(3.0)

#: Candidates below this probability are not rivals [1].
RIVAL_PROBABILITY = 0.05

#: The smallest series resistance that must have shown before no fault can be *established* [ohm]. A test at 3 kΩ
#: draws 40 mA and cannot show it. Glowing joints lie below and above: 7.8 Ω at 0.8 A and 0.16 Ω at 15 A
#: (NBSIR 76-1011, abstract), so a smaller joint may remain; at 1 A, an appliance about to start, 5 Ω take 5 V
#: and 5 W. The limit reached is stated with every answer. This service's own choice.
SMALL_RESISTANCE = 5.0

#: The same before no fault is even *probable*: an open conductor begins here, by the contract [ohm].
OPEN_RESISTANCE = 1.0e3

_MORE = 1e-9

#: From this number on, unexplained readings are not taken for slips.
_UNEXPLAINED = 2

#: Places that are no rival of a sound supply: an unread ground does not undo what was shown of legs and neutral.
_ASIDE = frozenset({"ground", "joined", "leak_to_ground"})

#: No fault is found only where a joint of 30 W is less probable than this [1]; where such joints sit.
_HEAT = 0.05
_JOINTS = frozenset({"branch_leg", "cord_leg", "branch_neutral", "cord_neutral"})


class Ruling(Struct, frozen=True, kw_only=True):
    """The determination, and what it rests on."""

    determination: Determination
    place: Place
    """Where, with its conductor and what it holds."""
    finding: Candidate
    """The most probable fault there."""
    support: float
    """Probability of the place [1]."""
    paired: float
    """Of the place, the share where the same second fault is there too; 0 where the finding has none [1]."""
    speaking: tuple[ReadingEvidence, ...]
    """Contact readings that speak for the finding, the strongest first."""
    together: bool
    """Whether the readings speak for it together where none does by itself: each says what others say."""
    proximity_speaks: bool
    """Whether a proximity reading speaks for it."""
    alike: tuple[Candidate, ...]
    """Rivals that explain the readings nearly as well."""
    hidden: tuple[Conductor, ...]
    """Branch conductors in which an open conductor (1 kΩ) would not have shown."""
    coarse: tuple[Conductor, ...]
    """Branch conductors in which 5 Ω would not have shown; `hidden` among them."""
    against: tuple[ReadingEvidence, ...]
    """Readings that show voltage where the finding says that there is none."""
    unproven: str | None
    """A tester that has shown nothing but zeros."""
    leaders: tuple[Place, ...] = ()
    """The most probable narrow place and the next, whichever of them is the finding."""
    wrong: tuple[int, ...] = ()
    """Readings of an unplugged outlet that no sound outlet gives."""
    on_ground: tuple[int, ...] = ()
    """Readings of load current on the ground."""
    too_low: tuple[int, ...] = ()
    """Readings across what runs that are too low for it, where no fault is found that explains them."""
    dead: bool = False
    """Whether the outlet's contacts show no voltage at all, so that nothing runs there."""


def beyond(limits: Sequence[Limit], conductors: Sequence[Conductor], resistance: float) -> tuple[Conductor, ...]:
    """Conductors in which a series resistance would not have shown.

    Parameters
    ----------
    limits : sequence of Limit
        Detection limits; a conductor without one counts as unread.
    conductors : sequence of Conductor
        The conductors to judge.
    resistance : float
        The resistance that should have shown [ohm].

    Returns
    -------
    tuple of Conductor
        Those whose limit lies above it or that have none.
    """
    shown = {limit.conductor for limit in limits if limit.resistance is not None and limit.resistance <= resistance}
    return tuple(conductor for conductor in conductors if conductor not in shown)


def rule(outcome: Outcome, reading_set: ReadingSet) -> Ruling:
    """Find the place that the readings establish, or the most probable one, and judge it.

    Parameters
    ----------
    outcome : Outcome
        What was inferred; its candidates, evidence and detection limits count here.
    reading_set : ReadingSet
        The readings, in the order that the evidence refers to, their meters and the supply system.

    Returns
    -------
    Ruling
        The determination with its grounds.
    """
    candidates, readings = outcome.candidates, reading_set.readings
    conductors = reading_set.supply.carrying
    for_it = [entry for entry in outcome.evidence if entry.bits >= SPEAKS_BITS]
    speaking = [entry for entry in for_it if not isinstance(readings[entry.reading], ProximityReading)]
    hidden = beyond(outcome.limits, conductors, OPEN_RESISTANCE)
    coarse = beyond(outcome.limits, conductors, SMALL_RESISTANCE)
    silent = unproven(readings, reading_set.meters)
    sure = narrowest(candidates, ESTABLISHED) or _held(candidates, PROBABLE)
    place = sure or leading(candidates)
    if place.name == "none" and outcome.hazards.heat_above_30_watts >= _HEAT:
        joints = [c for c in candidates if c.place in _JOINTS and c.degree == "high_resistance"]
        sure, place = None, leading(candidates, joints or candidates)
    again = read_again(outcome, reading_set)
    aside = _ASIDE | {"readings"} if again and again.issuperset(outcome.unexplained) else _ASIDE
    alike = _alike(place, candidates, aside)
    while sure is not None and alike and (wider := _held(candidates, place.probability + _MORE)):
        # Where sections, or legs, cannot be parted, the place that holds them is the finding.
        sure = place = wider
        alike = _alike(place, candidates, aside)
    finding = next(c for c in candidates if is_at(c, place))
    live = against(finding, readings, outcome.evidence)
    wrong, on_ground = shown.at_outlet(reading_set), shown.on_ground(reading_set)
    several = sum(not isinstance(readings[entry.reading], ProximityReading) for entry in outcome.evidence) >= _SEVERAL
    together = several and not for_it and silent is None and _exceeds_sound(place, candidates) >= _TOGETHER
    if place.name == "none":
        certain, likely = not coarse, not hidden
    else:
        certain = together or any(readings[entry.reading].meter != silent for entry in speaking)
        likely = together or bool(speaking)
    undecided = (
        sure is None
        or place.name in NEVER_ESTABLISHED
        or bool(alike)
        or bool(live)
        or (place.name == "none" and bool(wrong or on_ground or changed(outcome, reading_set)))
        or len(outcome.unexplained) - len(again) >= _UNEXPLAINED
    )
    return Ruling(
        determination="undetermined" if undecided else _determination(place, certain=certain, likely=likely),
        place=place,
        finding=finding,
        support=place.probability,
        paired=_paired(place, finding, candidates),
        speaking=tuple(sorted(speaking, key=lambda entry: -entry.bits)),
        together=together,
        proximity_speaks=len(for_it) > len(speaking),
        alike=alike,
        hidden=hidden,
        coarse=coarse,
        against=live,
        unproven=silent,
        leaders=_leaders(candidates),
        wrong=wrong,
        on_ground=on_ground,
        too_low=_too_low(place, outcome, reading_set),
        dead=shown.dead(reading_set),
    )


def _too_low(place: Place, outcome: Outcome, reading_set: ReadingSet) -> tuple[int, ...]:
    """What is not as the finding has it is taken again first."""
    low = shown.too_low_to_run(reading_set) if place.name == "none" else ()
    return tuple(index for index in low if index not in outcome.unexplained)


def _leaders(candidates: Sequence[Candidate]) -> tuple[Place, ...]:
    first = leading(candidates)
    others = [c for c in candidates if not is_at(c, first)]
    return (first, leading(candidates, others)) if others else (first,)


def _held(candidates: Sequence[Candidate], level: float) -> Place | None:
    """The narrowest place that holds a probability; else a leg, whichever it is: enough to hand over."""
    return narrowest(candidates, level) or narrowest(candidates, level, either_leg=True)


def _paired(place: Place, finding: Candidate, candidates: Sequence[Candidate]) -> float:
    if not finding.also:
        return 0.0
    own = [c for c in candidates if is_at(c, place)]
    both = sum(c.probability for c in own if {f for f, _ in c.parts} == {f for f, _ in finding.parts})
    return both / sum(c.probability for c in own)


def _alike(place: Place, candidates: Sequence[Candidate], aside: frozenset[str]) -> tuple[Candidate, ...]:
    """Of each other place of 5 % or more that explains the readings nearly as well, its most probable fault.

    Some are set aside where no fault was found.
    """
    ours = joint_evidence([c for c in candidates if is_at(c, place)])
    others: dict[tuple[str, Conductor | None], list[Candidate]] = {}
    for c in candidates:
        if not is_at(c, place):
            others.setdefault((c.place, c.conductor), []).append(c)
    found = []
    for (name, _), own in others.items():
        if place.name == "none" and name in aside:
            continue
        if sum(c.probability for c in own) >= RIVAL_PROBABILITY and ours - joint_evidence(own) < ALIKE_NATS:
            found.append(own[0])
    return tuple(found)


def _exceeds_sound(place: Place, candidates: Sequence[Candidate]) -> float:
    """Logarithm of the Bayes factor of a place against a sound supply [nat]."""
    own = [c for c in candidates if is_at(c, place)]
    return joint_evidence(own) - joint_evidence([c for c in candidates if c.place == "none"])


def _determination(place: Place, *, certain: bool, likely: bool) -> Determination:
    if place.probability >= (SOUND if place.name == "none" else ESTABLISHED) and certain:
        return "established"
    return "probable" if place.probability >= PROBABLE and likely else "undetermined"
