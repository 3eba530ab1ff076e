"""What a place is: one stretch or connection with one change of the circuit, and how much of it is expected.

How bad it is, is not part of a place: an extra resistance has a severity, an unknown with a prior in pieces, and the
pieces carry the names of the faults.
"""

import cmath
import math
from functools import lru_cache
from typing import Literal

import msgspec
from msgspec import Struct

from feedproof.readings import Conductor, Point, SystemName

Section = Literal["service", "feeder", "branch", "cord"]
Phasors = tuple[complex, complex]
"""Of L1 and L2 against the grounded point, relative to the nominal leg voltage [1]."""

SPLIT: Phasors = (1.0 + 0j, -1.0 + 0j)
WYE: Phasors = (1.0 + 0j, cmath.exp(-2j * math.pi / 3.0))
HIGH_LEG: Phasors = (math.sqrt(3.0) * 1j, -1.0 + 0j)
HIGH_LEG_ALONE: Phasors = (math.sqrt(3.0) * 1j, 0j)
HIGH_LEG_TURNED: Phasors = (1.0 + 0j, math.sqrt(3.0) * 1j)
ONE_POLE: Phasors = (1.0 + 0j, 1.0 + 0j)
ONE_LEG: Phasors = (1.0 + 0j, 0j)

#: A system's legs, and how often they are those; our own judgment. Mostly an appliance on a high-leg delta hangs
#: between the two 120 V legs: the high leg feeds loads that take no neutral.
SYSTEMS: dict[SystemName, tuple[tuple[Phasors, float], ...]] = {
    "split_phase_120_240": ((SPLIT, 1.0),),
    "wye_120_208": ((WYE, 1.0),),
    "single_phase_120": ((ONE_LEG, 1.0),),
    "high_leg_delta_120_240": ((SPLIT, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
}
#: What it is instead, where it is not the stated one. A single leg shows it only as the high leg of a delta: half of
#: those that are no wye; our own judgment.
OTHER_SYSTEMS: dict[SystemName, tuple[tuple[Phasors, float], ...]] = {
    "split_phase_120_240": ((WYE, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
    "wye_120_208": ((SPLIT, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
    "high_leg_delta_120_240": ((WYE, 1.0),),
    "single_phase_120": ((HIGH_LEG_ALONE, 0.1),),
}
LOCATIONS: dict[Section, str] = {
    "service": "upstream_of_service_panel",
    "feeder": "between_service_panel_and_sub_panel",
    "branch": "between_panel_and_receptacle",
    "cord": "between_receptacle_and_appliance_terminals",
}


class Span(Struct, frozen=True):
    """A piece of a severity's prior: a range of the extra resistance, and the fault it is called."""

    fault: str
    low: float
    """ln of the resistance [ln ohm] (of a supply level: ln of the logarithmic distance from its range)."""
    high: float
    share: float
    """Of the fault's base rate [1]."""
    degree: str | None = None
    slope: float | None = None
    """Of the logarithm of the density; None: so that the density is continuous from piece to piece."""


class Break(Struct, frozen=True):
    """Extra resistance in series with one conductor of one section."""

    section: Section
    conductor: Conductor
    severity: int = -1
    """Which severity; -1: as `resistance` says."""
    resistance: float = 0.0


class Bridge(Struct, frozen=True):
    """A connection that should not be there."""

    point: Point
    first: Conductor
    second: Conductor
    severity: int = -1
    resistance: float = 0.0


class Site(Struct, frozen=True, kw_only=True, cache_hash=True):
    """One place with one change of the circuit."""

    place: str
    fault: str
    """Of the place as a whole; where it has a severity its spans say."""
    conductor: Conductor | None = None
    location: str | None = None
    also: tuple[tuple[str, Conductor | None], ...] = ()
    also_place: str | None = None
    spans: tuple[tuple[Span, ...], ...] = ()
    """One tuple of pieces for each severity."""
    rate: float = 1.0
    """Without a severity: base rate; with one: 1, the spans carry it."""
    breaks: tuple[Break, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    landing: tuple[tuple[Conductor, Conductor], ...] = ()
    """Which conductor comes to a contact of another name: at the receptacle, or at the terminals alone."""
    landing_in: Literal["branch", "cord"] = "branch"
    """The section at whose end that is."""
    phasors: Phasors = SPLIT
    level: Literal["sound", "low", "high"] = "sound"
    """`low`, `high`: the severity is the supply's level."""
    unbonded: bool = False
    strapped: bool = True
    """The frame is bonded to the neutral where that is said; False: it is not, whatever is said."""
    idle_panel: bool = False
    """Nothing else is on behind the feeder: what floats there hangs on strays."""
    contacts_open: bool = False
    """While idle the appliance has nothing connected: a switch, timer or relay has opened it all."""
    dead_meter: int = -1
    intermittent: bool = False
    inconsistent: bool = False
    saddle: tuple[str, ...] = ()
    """Unknowns that may lie to either side: (key, key) pushed apart at the start."""


def mass(site: Site) -> float:
    """Before any reading [1]."""
    return site.rate * math.prod(sum(span.share for span in spans) for spans in site.spans)


@lru_cache(maxsize=4096)
def times(site: Site, factor: float) -> Site:
    """The same place, more or less probable before any reading.

    Parameters
    ----------
    site : Site
        The place.
    factor : float
        Of its rate [1].

    Returns
    -------
    Site
        With that rate.
    """
    return msgspec.structs.replace(site, rate=site.rate * factor)


@lru_cache(maxsize=4096)
def neutral_rate(site: Site) -> Site:
    """The same place without its rates, which no program depends on."""
    spans = tuple(tuple(msgspec.structs.replace(s, share=1.0) for s in own) for own in site.spans)
    return msgspec.structs.replace(site, rate=1.0, spans=spans)
