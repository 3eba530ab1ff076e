"""Receptacles of appliance circuits: which conductors have a contact, the rating, and what the contacts are called.

A receptacle decides whether there is a neutral or an equipment ground to be read. Where none is stated, the kind of
appliance says what is usual.

References
----------
.. [1] ANSI/NEMA WD 6, Wiring Devices: Dimensional Specifications. Not read itself; the series and their contacts from
   public tables of it: 5 is 125 V grounding, 6 is 250 V grounding without neutral, 10 is 125/250 V without ground,
   14 is 125/250 V with four wires, L is locking.
.. [2] NEC 200.10 and 250.126 (from memory): the neutral's terminal is silver or white, the equipment ground's green.
"""

from types import MappingProxyType
from typing import Final, Literal

from msgspec import Struct

from feedproof.readings import Conductor

READ = "NEMA WD 6 (public tables of it were read)"
MEMORY = "NEMA WD 6 (from memory)"


class Contact(Struct, frozen=True, kw_only=True):
    """One contact of a receptacle."""

    conductor: Conductor
    letter: Literal["X", "Y", "W", "G"]
    """Mark of its terminal: X and Y the legs, W the neutral, G the equipment ground."""
    name: str


class Receptacle(Struct, frozen=True, kw_only=True):
    """One configuration."""

    name: str
    """NEMA designation of the receptacle."""
    voltage: str
    """Rated voltage, "125/250 V"."""
    current: float
    """Rated current [A]."""
    contacts: tuple[Contact, ...]
    source: str

    @property
    def conductors(self) -> tuple[Conductor, ...]:
        """Conductors that have a contact, in the order L1, L2, N, G."""
        return tuple(contact.conductor for contact in self.contacts)

    @property
    def legs(self) -> int:
        """How many legs it has, 1 or 2."""
        return len({"L1", "L2"} & set(self.conductors))


_LETTERS: Final[dict[Conductor, Literal["X", "Y", "W", "G"]]] = {"L1": "X", "L2": "Y", "N": "W", "G": "G"}
_WORDS: Final[dict[Conductor, str]] = {
    "L1": "line contact, brass terminal X",
    "L2": "line contact, brass terminal Y",
    "N": "neutral contact, silver terminal W",
    "G": "ground contact, green terminal G",
}

# Series: rated voltage, conductors with a contact, ratings [A] with the source of each.
_SERIES: tuple[tuple[str, str, tuple[Conductor, ...], dict[int, str]], ...] = (
    ("1", "125 V", ("L1", "N"), {15: READ}),
    ("2", "250 V", ("L1", "L2"), {20: MEMORY, 30: MEMORY}),
    ("5", "125 V", ("L1", "N", "G"), {15: READ, 20: READ, 30: READ, 50: READ}),
    ("6", "250 V", ("L1", "L2", "G"), {15: READ, 20: READ, 30: READ, 50: READ}),
    ("10", "125/250 V", ("L1", "L2", "N"), {20: MEMORY, 30: READ, 50: READ}),
    ("14", "125/250 V", ("L1", "L2", "N", "G"), {15: MEMORY, 20: MEMORY, 30: READ, 50: READ, 60: MEMORY}),
    ("TT", "125 V", ("L1", "N", "G"), {30: READ}),
    ("L5", "125 V", ("L1", "N", "G"), {15: MEMORY, 20: MEMORY, 30: READ}),
    ("L6", "250 V", ("L1", "L2", "G"), {15: READ, 20: READ, 30: READ}),
    ("L10", "125/250 V", ("L1", "L2", "N"), {20: MEMORY, 30: MEMORY}),
    ("L14", "125/250 V", ("L1", "L2", "N", "G"), {20: READ, 30: READ}),
)

# What tells the neutral from the legs by its look; from public tables for 5-20 and 5-30, else from memory.
_NEUTRAL_LOOKS: Final[dict[str, str]] = {
    "1-15R": "the longer slot",
    "5-15R": "the longer slot",
    "5-20R": "the T-shaped slot",
    "5-30R": "the L-shaped slot",
    "10-30R": "the L-shaped slot",
    "10-50R": "the straight slot, between two slanting ones",
    "14-30R": "the L-shaped slot",
    "14-50R": "the straight slot opposite the ground",
}


def _contact(name: str, conductor: Conductor) -> Contact:
    looks = _NEUTRAL_LOOKS.get(name) if conductor == "N" else None
    words = f"{_WORDS[conductor]}: {looks}" if looks else _WORDS[conductor]
    return Contact(conductor=conductor, letter=_LETTERS[conductor], name=words)


RECEPTACLES: Final = MappingProxyType(
    {
        name: Receptacle(
            name=name,
            voltage=voltage,
            current=float(amperes),
            contacts=tuple(_contact(name, conductor) for conductor in conductors),
            source=source,
        )
        for series, voltage, conductors, ratings in _SERIES
        for amperes, source in ratings.items()
        for name in (f"{series}-{amperes}R",)
    }
)
"""Every configuration by its designation. Single phase up to 250 V: what an appliance of these supplies is fed by."""

HARDWIRED: Final = "hardwired"
"""Stands in a request for an appliance without a receptacle: its conductors are those that the request states."""
