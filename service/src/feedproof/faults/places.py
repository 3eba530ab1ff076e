"""Every state of the supply that is weighed: what it changes of the circuit, and how much of it is expected.

One entry is one place with one change. How bad it is, is not part of it: an extra resistance has a severity, an
unknown with a prior in pieces, and the pieces carry the names of the faults.
"""

import cmath
import math
from functools import lru_cache
from typing import Literal

from msgspec import Struct

from feedproof.faults.priors import BASE_RATES
from feedproof.readings import Conductor, Point, Supply, SystemName

Section = Literal["service", "feeder", "branch", "cord"]
Phasors = tuple[complex, complex]

SPLIT: Phasors = (1.0 + 0j, -1.0 + 0j)
WYE: Phasors = (1.0 + 0j, cmath.exp(-2j * math.pi / 3.0))
HIGH_LEG: Phasors = (math.sqrt(3.0) * 1j, -1.0 + 0j)
HIGH_LEG_TURNED: Phasors = (1.0 + 0j, math.sqrt(3.0) * 1j)
ONE_POLE: Phasors = (1.0 + 0j, 1.0 + 0j)
ONE_LEG: Phasors = (1.0 + 0j, 0j)

SYSTEMS: dict[SystemName, tuple[tuple[Phasors, float], ...]] = {
    "split_phase_120_240": ((SPLIT, 1.0),),
    "wye_120_208": ((WYE, 1.0),),
    "single_phase_120": ((ONE_LEG, 1.0),),
    # Mostly between the two 120 V legs; the high leg feeds loads that take no neutral.
    "high_leg_delta_120_240": ((SPLIT, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
}
OTHER_SYSTEMS: dict[SystemName, tuple[tuple[Phasors, float], ...]] = {
    "split_phase_120_240": ((WYE, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
    "wye_120_208": ((SPLIT, 0.8), (HIGH_LEG, 0.1), (HIGH_LEG_TURNED, 0.1)),
    "high_leg_delta_120_240": ((WYE, 1.0),),
    "single_phase_120": (),
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
    resistance: float = 0.05


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
    rate: float = 0.0
    """Without a severity: base rate; with one: 1, the spans carry it."""
    breaks: tuple[Break, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    landing: tuple[tuple[Conductor, Conductor], ...] = ()
    phasors: Phasors = SPLIT
    level: Literal["sound", "low", "high"] = "sound"
    """`low`, `high`: the severity is the supply's level."""
    unbonded: bool = False
    idle_panel: bool = False
    """Nothing else is on behind the feeder: what floats there hangs on strays."""
    dead_meter: int = -1
    intermittent: bool = False
    inconsistent: bool = False
    saddle: tuple[str, ...] = ()
    """Unknowns that may lie to either side: (key, key) pushed apart at the start."""


#: How probable an observation is: at the places named, and (under "") anywhere else; our own judgment.
OBSERVED: dict[tuple[str, str], dict[str, float]] = {
    ("breaker_found_tripped", ""): {
        "breaker": 0.6,
        "branch_leg": 0.05,
        "leak_to_ground": 0.2,
        "joined": 0.03,
        "": 0.01,
    },
    ("lights_brighten_and_dim", ""): {"service_neutral": 0.5, "feeder_neutral": 0.5, "": 0.01},
    ("lights_brighten_and_dim", "same_panel"): {"service_neutral": 0.05, "feeder_neutral": 0.5, "": 0.005},
    ("lights_brighten_and_dim", "whole_building"): {"service_neutral": 0.5, "feeder_neutral": 0.02, "": 0.005},
    ("other_circuits_live", ""): {"supply_lost": 0.01, "service_leg": 0.5, "feeder_leg": 0.6, "": 0.95},
    ("other_circuits_dead", ""): {"supply_lost": 0.8, "service_leg": 0.4, "feeder_leg": 0.3, "": 0.02},
    ("scorched_or_discoloured", ""): {
        "branch_leg": 0.2,
        "branch_neutral": 0.2,
        "cord_leg": 0.3,
        "cord_neutral": 0.3,
        "": 0.03,
    },
    ("works_when_moved", ""): {
        "cord_leg": 0.3,
        "cord_neutral": 0.3,
        "branch_leg": 0.1,
        "branch_neutral": 0.1,
        "": 0.02,
    },
    ("ground_fault_breaker_tripped", ""): {
        "leak_to_ground": 0.5,
        "transposed": 0.1,
        "joined": 0.3,
        "breaker": 0.1,
        "": 0.02,
    },
}


def seen(place: str, observations: tuple[tuple[str, str], ...]) -> float:
    """Logarithm of how probable it was to see that [nat]."""
    return sum(math.log(OBSERVED[o].get(place, OBSERVED[o][""])) for o in observations)


#: Of a leg's base rate, the share that sits in each section; a section that no reading could see gives its to the others.
LEG_SHARES: dict[Section, float] = {"service": 0.15, "feeder": 0.08, "branch": 0.60, "cord": 0.17}
NEUTRAL_SHARES: dict[Section, float] = {"branch": 0.75, "cord": 0.25}
LOCATIONS: dict[Section, str] = {
    "service": "upstream_of_service_panel",
    "feeder": "between_service_panel_and_sub_panel",
    "branch": "between_panel_and_receptacle",
    "cord": "between_receptacle_and_appliance_terminals",
}
PAIR_SHARES: dict[str, float] = {"N+G": 0.06, "L+L": 0.08, "L+N": 0.03, "L+N high": 0.05}
OPEN, CEILING = 1.0e3, 1.0e9


def _series(high: str, open_: str, edge: float, share: float, *, high_share: float | None = None) -> tuple[Span, ...]:
    low = share if high_share is None else high_share
    return (
        Span(high, math.log(edge), math.log(OPEN), low, "high_resistance"),
        Span(open_, math.log(OPEN), math.log(CEILING), share, "open"),
    )


def _in_section(shares: dict[Section, float], sections: tuple[Section, ...]) -> dict[Section, float]:
    total = sum(shares[s] for s in shares if s in sections)
    return {s: shares[s] / total for s in shares if s in sections}


@lru_cache(maxsize=256)
def sites(
    supply: Supply,
    points: frozenset[Point],
    meters: tuple[tuple[int, bool], ...],
    edge: float,
    rates: tuple[tuple[str, float], ...] | None,
) -> tuple[Site, ...]:
    """All places to weigh for one arrangement; their masses sum to 1."""
    rate = dict(BASE_RATES if rates is None else BASE_RATES | dict(rates))
    if supply.source == "generator":
        rate["neutral_not_bonded"] *= 100.0
    one_leg, grounded, neutral = (
        supply.system == "single_phase_120",
        supply.equipment_ground != "absent",
        supply.neutral,
    )
    feeder = supply.fed_from != "service_panel"
    sections: tuple[Section, ...] = ("service", *(("feeder",) if feeder else ()), "branch")
    if "appliance_terminals" in points:
        sections += ("cord",)
    legs: tuple[Conductor, ...] = ("L1",) if one_leg else ("L1", "L2")
    found: list[Site] = [Site(place="none", fault="none_found", rate=rate["none_found"], phasors=p) for p in ()]
    for phasors, share in SYSTEMS[supply.system]:
        for site in _of_system(
            supply, rate, sections, legs, meters, edge, one_leg=one_leg, grounded=grounded, neutral=neutral
        ):
            found.append(_scaled(site, phasors, share))
    if not one_leg:
        found += [
            Site(
                place="other_supply_system",
                fault="other_supply_system",
                rate=rate["other_supply_system"] * s,
                phasors=p,
            )
            for p, s in OTHER_SYSTEMS[supply.system]
        ]
        if supply.system == "split_phase_120_240":
            # Two legs of a wye whose neutral is lost: balanced, it reads like a low supply.
            found.append(
                Site(
                    place="service_neutral",
                    fault="open_service_neutral",
                    conductor="N",
                    location=LOCATIONS["service"],
                    spans=(_series("high_resistance_service_neutral", "open_service_neutral", 0.1, 0.05),),
                    rate=1.0,
                    breaks=(Break("service", "N", 0),),
                    phasors=WYE,
                    saddle=("house L1", "house L2"),
                )
            )
        found.append(
            Site(
                place="legs_from_same_pole",
                fault="legs_from_same_pole",
                rate=rate["legs_from_same_pole"],
                phasors=ONE_POLE,
            )
        )
    scaled = [_with_rates(s, rate) for s in found]
    scaled = [s for s in scaled if mass(s) > 0.0]
    total = sum(mass(s) for s in scaled)
    return tuple(times(s, 1.0 / total) for s in scaled)


def neutral_rate(site: Site) -> Site:
    """The same place without its rate, which no program depends on."""
    return times(site, 1.0 / site.rate)


def mass(site: Site) -> float:
    """Before any reading [1]."""
    return site.rate * math.prod(sum(span.share for span in spans) for spans in site.spans)


def _scaled(site: Site, phasors: Phasors, share: float) -> Site:
    from msgspec.structs import replace

    return replace(site, phasors=phasors, rate=site.rate * share)


@lru_cache(maxsize=4096)
def times(site: Site, factor: float) -> Site:
    from msgspec.structs import replace

    return replace(site, rate=site.rate * factor)


def _with_rates(site: Site, rate: dict[str, float]) -> Site:
    """Spans' shares times their faults' base rates (of a pair, the first severity's)."""
    from msgspec.structs import replace

    if not site.spans:
        return site
    first = tuple(replace(s, share=s.share * rate[s.fault]) for s in site.spans[0])
    rest = tuple(tuple(replace(s, share=1.0 / len(spans)) for s in spans) for spans in site.spans[1:])
    return replace(site, spans=(first, *rest))


def _of_system(
    supply: Supply,
    rate: dict[str, float],
    sections: tuple[Section, ...],
    legs: tuple[Conductor, ...],
    meters: tuple[tuple[int, bool], ...],
    edge: float,
    *,
    one_leg: bool,
    grounded: bool,
    neutral: bool,
) -> list[Site]:
    found = [Site(place="none", fault="none_found", rate=rate["none_found"])]
    each = 1.0 / len(legs)
    for section, share in _in_section(LEG_SHARES, sections).items():
        for leg in legs:
            found.append(
                Site(
                    place=f"{section}_leg",
                    fault="open_leg",
                    conductor=leg,
                    location=LOCATIONS[section],
                    spans=(_series("high_resistance_leg", "open_leg", edge, share * each),),
                    rate=1.0,
                    breaks=(Break(section, leg, 0),),
                )
            )
    if neutral:
        for section, share in _in_section(NEUTRAL_SHARES, sections).items():
            found.append(
                Site(
                    place=f"{section}_neutral",
                    fault="open_neutral",
                    conductor="N",
                    location=LOCATIONS[section],
                    spans=(_series("high_resistance_neutral", "open_neutral", edge, share),),
                    rate=1.0,
                    breaks=(Break(section, "N", 0),),
                    saddle=("stray L1 N", "stray L2 N"),
                )
            )
    found.append(
        Site(
            place="service_neutral",
            fault="open_service_neutral",
            conductor="N",
            location=LOCATIONS["service"],
            spans=(_series("high_resistance_service_neutral", "open_service_neutral", 0.1, 1.0),),
            rate=1.0,
            breaks=(Break("service", "N", 0),),
            saddle=("house L1", "house L2"),
        )
    )
    if "feeder" in sections and neutral:
        known = 1.0 if supply.fed_from == "unknown" else 3.0
        for idle, part in ((False, 0.85), (True, 0.15)):
            found.append(
                Site(
                    place="feeder_neutral",
                    idle_panel=idle,
                    fault="open_feeder_neutral",
                    conductor="N",
                    location=LOCATIONS["feeder"],
                    spans=(_series("high_resistance_feeder_neutral", "open_feeder_neutral", 0.1, known * part),),
                    rate=1.0,
                    breaks=(Break("feeder", "N", 0),),
                    saddle=() if idle else ("sub L1", "sub L2"),
                )
            )
    if grounded:
        found.append(
            Site(
                place="ground",
                fault="open_ground",
                conductor="G",
                location=LOCATIONS["branch"],
                spans=((Span("open_ground", math.log(OPEN), math.log(CEILING), 1.0, "open"),),),
                rate=1.0,
                breaks=(Break("branch", "G", 0),),
            )
        )
    off = tuple(Break("branch", leg, 0) for leg in legs)
    found.append(
        Site(
            place="breaker",
            fault="breaker_open",
            location=LOCATIONS["branch"],
            spans=((Span("breaker_open", math.log(1e7), math.log(1e10), 1.0),),),
            rate=1.0,
            breaks=off,
        )
    )
    found.append(
        Site(
            place="supply_lost",
            fault="no_supply",
            location=LOCATIONS["service"],
            rate=rate["no_supply"],
            breaks=tuple(Break("service", leg, -1, 1e8) for leg in legs),
        )
    )
    for level, fault in (("low", "voltage_low"), ("high", "voltage_high")):
        far = 0.12 if level == "low" else 0.06
        most = 1.0 if level == "low" else 0.45
        found.append(
            Site(
                place="supply_voltage",
                fault=fault,
                rate=1.0,
                level=level,
                spans=(
                    (
                        Span(fault, math.log(0.002), math.log(far), 0.68, None, 1.0),
                        Span(fault, math.log(far), math.log(most), 0.32, None, -2.2),
                    ),
                ),
            )
        )
    crossed: list[tuple[str, Conductor, Conductor]] = []
    if neutral:
        crossed += [("leg_neutral_transposed", leg, "N") for leg in legs]
    if grounded:
        crossed += [("leg_ground_transposed", leg, "G") for leg in legs]
    for fault, leg, other in crossed:
        found.append(
            Site(
                place="transposed",
                fault=fault,
                conductor=leg,
                location=LOCATIONS["branch"],
                rate=rate[fault] * each,
                landing=((leg, other), (other, leg)),
            )
        )
    if grounded and neutral:
        found.append(
            Site(
                place="transposed",
                fault="neutral_ground_transposed",
                conductor="N",
                location=LOCATIONS["branch"],
                rate=rate["neutral_ground_transposed"],
                landing=(("N", "G"), ("G", "N")),
            )
        )
        joined = rate["neutral_ground_joined"]
        found += [
            Site(
                place="joined",
                fault="neutral_ground_joined",
                conductor="N",
                location=LOCATIONS["branch"],
                rate=joined * 0.35,
                bridges=(Bridge("receptacle", "N", "G"),),
            ),
            Site(
                place="joined",
                fault="neutral_ground_joined",
                conductor="N",
                location=LOCATIONS["branch"],
                rate=joined * 0.4,
                bridges=(Bridge("receptacle", "N", "G"),),
                breaks=(Break("branch", "G", -1, 1e7),),
            ),
            Site(
                place="joined",
                fault="neutral_ground_joined",
                conductor="N",
                location=LOCATIONS["cord"],
                rate=joined * 0.25,
                bridges=(Bridge("appliance_terminals", "N", "G"),),
            ),
        ]
    if grounded:
        for leg in legs:
            found.append(
                Site(
                    place="leak_to_ground",
                    fault="leak_to_ground",
                    conductor=leg,
                    location="appliance",
                    spans=((Span("leak_to_ground", math.log(3.0), math.log(1e5), each),),),
                    rate=1.0,
                    bridges=(Bridge("appliance_terminals", leg, "G", 0),),
                )
            )
    for conductor in (*legs, *(("N",) if neutral else ())):
        share = 1.0 / (len(legs) + neutral)
        found.append(
            Site(
                place="branch_neutral" if conductor == "N" else "branch_leg",
                fault="intermittent_connection",
                conductor=conductor,
                location=LOCATIONS["branch"],
                spans=((Span("intermittent_connection", math.log(3.0), math.log(CEILING), share),),),
                rate=1.0,
                breaks=(Break("branch", conductor, 0),),
                intermittent=True,
            )
        )
    if grounded:
        found.append(
            Site(
                place="neutral_not_bonded",
                fault="neutral_not_bonded",
                conductor="G",
                rate=rate["neutral_not_bonded"],
                unbonded=True,
            )
        )
    for m, proved in meters:
        share = (0.03 if proved else 1.0) / len(meters)
        found.append(Site(place="tester", fault="tester_dead", rate=rate["tester_dead"] * share, dead_meter=m))
    found.append(
        Site(place="readings", fault="readings_inconsistent", rate=rate["readings_inconsistent"], inconsistent=True)
    )
    found += _pairs(legs, edge, grounded=grounded, neutral=neutral)
    return found


def _pairs(legs: tuple[Conductor, ...], edge: float, *, grounded: bool, neutral: bool) -> list[Site]:
    found = []

    def pair(
        first: Conductor, second: Conductor, spans: tuple[tuple[Span, ...], ...], also: str, also_place: str
    ) -> Site:
        return Site(
            place="branch_neutral" if first == "N" else "branch_leg",
            fault=spans[0][0].fault,
            conductor=first,
            location=LOCATIONS["branch"],
            also=((also, second),),
            also_place=also_place,
            spans=spans,
            rate=1.0,
            breaks=(Break("branch", first, 0), Break("branch", second, 1)),
            saddle=("stray L1 N", "stray L2 N") if "N" in (first, second) else (),
        )

    low, mid, top = math.log(edge), math.log(OPEN), math.log(CEILING)
    if neutral and grounded:
        found.append(
            pair(
                "N",
                "G",
                ((Span("open_neutral", mid, top, 0.06, "open"),), (Span("open_ground", mid, top, 1.0, "open"),)),
                "open_ground",
                "ground",
            )
        )
    if len(legs) == 2:
        found.append(
            pair(
                "L1",
                "L2",
                (
                    (Span("high_resistance_leg", low, mid, 0.08, "high_resistance"),),
                    (Span("high_resistance_leg", low, mid, 1.0),),
                ),
                "high_resistance_leg",
                "branch_leg",
            )
        )
        if neutral:
            for leg in legs:
                found.append(
                    pair(
                        leg,
                        "N",
                        ((Span("open_leg", mid, top, 0.015, "open"),), (Span("open_neutral", mid, top, 1.0),)),
                        "open_neutral",
                        "branch_neutral",
                    )
                )
                found.append(
                    pair(
                        leg,
                        "N",
                        (
                            (Span("high_resistance_leg", low, mid, 0.025, "high_resistance"),),
                            (Span("high_resistance_neutral", low, mid, 1.0),),
                        ),
                        "high_resistance_neutral",
                        "branch_neutral",
                    )
                )
    return found


@lru_cache(maxsize=1024)
def pieces(spans: tuple[Span, ...]) -> tuple[tuple[float, float, float, float], ...]:
    """(low, high, a, b) of each piece: its density is exp(a + b s), its integral the span's share."""
    found = []
    for k, span in enumerate(spans):
        width = span.high - span.low
        own = math.log(max(span.share, 1e-300) / width)
        slope = span.slope
        if slope is None:
            slope = 0.0
            neighbours = [s for j, s in enumerate(spans) if abs(j - k) == 1 and s.slope is None and s.share > 0.0]
            if neighbours and span.share > 0.0:
                other = neighbours[0]
                edge = 0.5 * (own + math.log(other.share / (other.high - other.low)))
                slope = _slope_for(edge - own, width) * (1.0 if other.low >= span.high else -1.0)
        mean = math.expm1(slope * width) / (slope * width) if abs(slope * width) > 1e-9 else 1.0
        a = own - math.log(mean) - slope * span.low
        found.append((span.low, span.high, a, slope))
    return tuple(found)


@lru_cache(maxsize=1024)
def piece_array(spans: tuple[Span, ...]):
    """`pieces` as an array (P, 4)."""
    import numpy as np

    return np.array(pieces(spans))


def log_density(spans: tuple[tuple[Span, ...], ...], at) -> float:
    """Logarithm of the prior's density at severities [ln ohm], up to the site's rate."""
    total = 0.0
    for own, s in zip(spans, at, strict=True):
        total += max(
            (a + b * s for low, high, a, b in pieces(own) if low - 1e-9 <= s <= high + 1e-9), default=-math.inf
        )
    return total


@lru_cache(maxsize=1024)
def working(spans: tuple[Span, ...]) -> tuple[float, float]:
    """Middle and scale of a severity's working units [ln ohm]."""
    low, high = spans[0].low, spans[-1].high
    return 0.5 * (low + high), 0.35 * (high - low)


def _slope_for(excess: float, width: float) -> float:
    """Slope of a log-linear density whose end stands `excess` above its mean (in logarithms)."""
    low, high = -20.0 / width, 20.0 / width
    for _ in range(60):
        b = 0.5 * (low + high)
        t = b * width
        end = t - math.log(math.expm1(t) / t) if abs(t) > 1e-9 else 0.5 * t
        low, high = (b, high) if end < excess else (low, b)
    return 0.5 * (low + high)
