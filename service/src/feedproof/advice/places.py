"""The tree of places that a finding names, who acts on each, and what it is called.

A place holds the probability of all below it; of a pair of faults, each counts for its own place. The finding is the
narrowest place that holds what the determination asks for, so that readings which cannot part a branch from a service
still establish a lost leg.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct

from feedproof.inference import Candidate
from feedproof.readings import Conductor, Source

Party = Literal["utility", "electrician", "technician"]
PARTIES: tuple[Party, ...] = ("utility", "electrician", "technician")

#: Each narrow place and the wider one that holds it.
PARENTS: dict[str, str] = {
    "service_leg": "leg",
    "feeder_leg": "leg",
    "branch_leg": "leg",
    "cord_leg": "leg",
    "service_neutral": "neutral",
    "feeder_neutral": "neutral",
    "branch_neutral": "neutral",
    "cord_neutral": "neutral",
    "supply_lost": "both_legs",
    "breaker": "both_legs",
    "other_supply_system": "supply_system",
    "neutral_not_bonded": "supply_system",
    "transposed": "connections",
    "joined": "connections",
    "legs_from_same_pole": "connections",
    "leak_to_ground": "appliance",
}
#: Places without a wider one.
TOPS = (
    "none",
    "leg",
    "neutral",
    "both_legs",
    "ground",
    "supply_voltage",
    "supply_system",
    "connections",
    "appliance",
    "tester",
    "readings",
)
#: Places that are no fault of the supply.
NO_FAULT_PLACES = frozenset({"none", "tester", "readings"})
#: They ask for proof or for another reading, and are never established.
NEVER_ESTABLISHED = frozenset({"tester", "readings"})
#: Parts below this probability name no party [1].
LEAST_PART = 0.05
#: Parts below this are not listed [1].
_LISTED = 0.001

#: What lies in cord or appliance is the technician's own to mend.
_ALSO_IN_CORD = frozenset({"joined", "transposed"})
#: The location of what lies between receptacle and terminals.
IN_CORD = "between_receptacle_and_appliance_terminals"
_BEYOND = " beyond the panel"

#: Up to the service point the utility's, beyond it mostly the customer's: meter socket, service conductors, main.
_BOTH: tuple[Party, ...] = ("utility", "electrician")
_PARTIES: dict[str, tuple[Party, ...]] = {
    "service_leg": _BOTH,
    "service_neutral": _BOTH,
    "supply_lost": _BOTH,
    "supply_voltage": _BOTH,
    "cord_leg": ("technician",),
    "cord_neutral": ("technician",),
    "leak_to_ground": ("technician",),
    "none": (),
    "tester": (),
    "readings": (),
}

_TITLES: dict[str, str] = {
    "none": "No supply fault in these readings",
    "leg": "{leg} bad",
    "service_leg": "{leg} bad ahead of the service panel",
    "feeder_leg": "{leg} bad in the feeder",
    "branch_leg": "{leg} bad between panel and outlet",
    "cord_leg": "{leg} bad in cord, plug or terminal block",
    "neutral": "Neutral bad",
    "service_neutral": "Service neutral bad",
    "feeder_neutral": "Feeder neutral bad",
    "branch_neutral": "Branch neutral bad",
    "cord_neutral": "Neutral bad in cord, plug or terminal block",
    "both_legs": "Neither leg is fed",
    "supply_lost": "No supply at the panel",
    "breaker": "Breaker or fuse open, both legs",
    "ground": "Equipment ground open",
    "supply_voltage": "Supply voltage out of range",
    "supply_system": "Another supply system than stated or assumed",
    "other_supply_system": "Another supply system than stated or assumed",
    "neutral_not_bonded": "Source's neutral not bonded to ground",
    "connections": "Conductors miswired or joined",
    "transposed": "Conductors miswired",
    "joined": f"Neutral and ground joined{_BEYOND}",
    "legs_from_same_pole": "Both legs from one pole",
    "appliance": "Appliance leaks to ground",
    "leak_to_ground": "Appliance leaks to ground",
    "tester": "Tester may be dead",
    "readings": "Readings do not go together",
}
_EXCHANGED = {"leg_neutral_transposed": "neutral", "leg_ground_transposed": "ground"}


class Place(Struct, frozen=True, kw_only=True):
    """A node of the tree with its conductor and what it holds."""

    name: str
    conductor: Conductor | None
    probability: float
    parts: tuple[tuple[str, float], ...] = ()
    """Narrower places under it with theirs [1], most probable first."""


def wider(place: str) -> tuple[str, ...]:
    """A place and all that hold it, narrowest first."""
    return (place, PARENTS[place]) if place in PARENTS else (place,)


#: Where the readings may tell the section and not the leg: whoever acts is the same, and looks at both.
EITHER_LEG = frozenset({"leg", "service_leg", "feeder_leg", "branch_leg", "cord_leg"})


def narrow_places(candidate: Candidate) -> tuple[tuple[str, Conductor | None], ...]:
    """Narrow places of a candidate with their conductors: two of a pair of faults."""
    own = [(candidate.place, candidate.conductor)]
    if candidate.also_place is not None and candidate.also:
        own.append((candidate.also_place, candidate.also[0][1]))
    # A leak is one place, and one thing to do, whichever leg it is from.
    return tuple((place, None if place == "leak_to_ground" else conductor) for place, conductor in own)


def places(candidates: Iterable[Candidate]) -> dict[tuple[str, Conductor | None], float]:
    """Probability of every place of the tree with its conductor [1]; of a pair, the first fault's places come first.

    A leg's places have one more entry, without a conductor: that of either leg.
    """
    found: dict[tuple[str, Conductor | None], float] = {}
    for candidate in candidates:
        # Each once, in an order of its own: what is alike in probability is parted by it.
        own = dict.fromkeys((w, conductor) for narrow, conductor in narrow_places(candidate) for w in wider(narrow))
        for key in (*own, *dict.fromkeys((name, None) for name, _ in own if name in EITHER_LEG)):
            found[key] = min(found.get(key, 0.0) + candidate.probability, 1.0)
    return found


def is_at(candidate: Candidate, place: Place) -> bool:
    """Whether a candidate counts for a place."""
    return any(holds(place, narrow, at) for narrow, at in narrow_places(candidate))


def holds(place: Place, narrow: str, conductor: Conductor | None) -> bool:
    """Whether a place with its conductor is a narrow one, or holds it."""
    return place.name in wider(narrow) and (place.conductor == conductor or is_either_leg(place.name, place.conductor))


def is_either_leg(place: str, conductor: str | None) -> bool:
    """Whether a place is that of a leg, of which nobody knows which."""
    return conductor is None and place in EITHER_LEG


def narrowest(candidates: Sequence[Candidate], level: float, *, either_leg: bool = False) -> Place | None:
    """The narrowest place that holds a probability; None where there is none.

    Of two alike, which then are the two of a pair, one that is not the technician's own: what is said first is to be
    handed over, and not only repaired. Else the more probable.

    Parameters
    ----------
    candidates : sequence of Candidate
        As the inference gives them.
    level : float
        The probability [1].
    either_leg : bool
        Whether that of a leg will do, whichever it is.
    """
    found = places(candidates)
    holding = [(key, p) for key, p in found.items() if p >= level and (either_leg or not is_either_leg(*key))]
    if not holding:
        return None
    wide = set(PARENTS.values())
    key, p = max(holding, key=lambda entry: (entry[0][0] not in wide, acting(entry[0][0]) != ("technician",), entry[1]))
    return _made(key, p, found)


def leading(candidates: Sequence[Candidate], among: Sequence[Candidate] | None = None) -> Place:
    """The most probable narrow place, of all or of those of some candidates.

    Of all, a bad leg comes before another trouble that is less probable than the places of the legs together: one leg
    or the other in whatever section is one thing to say, and mostly one to act.
    """
    found = places(candidates)
    wanted = {key for c in (candidates if among is None else among) for key in narrow_places(c)}
    key, p = max(((k, p) for k, p in found.items() if k in wanted), key=lambda entry: entry[1])
    if among is None and key[0] != "none" and key[0] not in EITHER_LEG:
        which: tuple[Conductor | None, ...] = ("L1", "L2", None)
        legs = [(("leg", leg), found.get(("leg", leg), 0.0)) for leg in which]
        key, p = next((entry for entry in legs if entry[1] > p), (key, p))
    return _made(key, p, found)


def _made(key: tuple[str, Conductor | None], p: float, found: dict[tuple[str, Conductor | None], float]) -> Place:
    parts = sorted(
        ((n, q) for (n, c), q in found.items() if PARENTS.get(n) == key[0] and c == key[1]), key=lambda e: -e[1]
    )
    return Place(name=key[0], conductor=key[1], probability=p, parts=tuple((n, q) for n, q in parts if q >= _LISTED))


def acting(place: str) -> tuple[Party, ...]:
    """Who must act on a narrow place."""
    return _PARTIES.get(place, ("electrician",))


def parties(candidates: Sequence[Candidate], place: Place, source: Source) -> list[Party]:
    """Who must act on a place: from its parts of 5 % or more."""
    names = [name for name, p in place.parts if p >= LEAST_PART] or [place.name]
    wanted: set[Party] = set()
    for name in names:
        wanted |= set(acting(name))
        if name in _ALSO_IN_CORD:
            least = LEAST_PART * place.probability
            held = {c.location for c in candidates if c.place == name and c.probability >= least}
            if IN_CORD in held:
                wanted.add("technician")
            if held == {IN_CORD}:
                wanted.discard("electrician")
    if source == "generator":
        wanted -= {"utility"}
    return [party for party in PARTIES if party in wanted]


def title(
    place: str,
    conductor: str | None,
    degree: str | None = None,
    *,
    location: str | None = None,
    fault: str | None = None,
) -> str:
    """A place in words, with its degree where it is told.

    Where conductors are exchanged or joined, with which (by the fault, if that is told) and at which end of the cord.
    """
    leg = f"Leg {conductor}" if conductor in ("L1", "L2") else "One leg"
    text = _TITLES.get(place, place.replace("_", " ").capitalize()).format(leg=leg)
    if place == "transposed" and conductor is not None:
        other = _EXCHANGED.get(fault or "", "neutral or ground")
        text = "Neutral and ground exchanged" if conductor == "N" else f"{leg} and {other} miswired"
    if place in _ALSO_IN_CORD and location == IN_CORD:
        text = f"{text.removesuffix(_BEYOND)} in cord or appliance"
    return text if degree is None else f"{text}: {degree.replace('_', ' ')}"
