"""Places where a conductor is broken or has a bad joint: legs, neutrals, grounds, breakers, and pairs of them."""

import math
from collections.abc import Iterator

from feedproof.faults.places import LOCATIONS, Break, Section, Site, Span
from feedproof.faults.priors import PAIR_SHARE, PRIORS
from feedproof.faults.visit import Visit
from feedproof.readings import Conductor

_MIDDLE, _TOP = math.log(PRIORS.open_resistance), math.log(PRIORS.open_ceiling)
_UPSTREAM = PRIORS.upstream_resistance
_STRAYS = ("stray L1 N", "stray L2 N")


def joint(high: str, open_: str, edge: float, share: float) -> tuple[Span, ...]:
    """Pieces of an extra resistance in series: a bad joint, and from 1 kΩ on an open.

    Parameters
    ----------
    high, open_ : str
        What the fault is called there.
    edge : float
        Least extra resistance that counts as a fault [ohm].
    share : float
        Of both faults' base rates [1].
    """
    return (
        Span(high, math.log(edge), _MIDDLE, share, "high_resistance"),
        Span(open_, _MIDDLE, _TOP, share, "open"),
    )


def legs(visit: Visit) -> Iterator[Site]:
    """A leg that is open or has a bad joint."""
    shares: dict[Section, float] = {
        "service": PRIORS.leg_in_service,
        "feeder": PRIORS.leg_in_feeder,
        "branch": PRIORS.leg_in_branch,
        "cord": PRIORS.leg_in_cord,
    }
    for section, share in visit.in_sections(shares).items():
        for leg in visit.supply.legs:
            yield Site(
                place=f"{section}_leg",
                fault="open_leg",
                conductor=leg,
                location=LOCATIONS[section],
                spans=(joint("high_resistance_leg", "open_leg", visit.edge, share * visit.each_leg),),
                breaks=(Break(section, leg, 0),),
            )


def neutrals(visit: Visit) -> Iterator[Site]:
    """A neutral of the branch or the cord that is open or has a bad joint."""
    if not visit.supply.neutral:
        return
    shares: dict[Section, float] = {"branch": PRIORS.neutral_in_branch, "cord": PRIORS.neutral_in_cord}
    for section, share in visit.in_sections(shares).items():
        yield Site(
            place=f"{section}_neutral",
            fault="open_neutral",
            conductor="N",
            location=LOCATIONS[section],
            spans=(joint("high_resistance_neutral", "open_neutral", visit.edge, share),),
            breaks=(Break(section, "N", 0),),
            saddle=_STRAYS,
        )


def service_neutral(_: Visit) -> Iterator[Site]:
    """The service neutral: what else is on in the building pulls the legs apart."""
    yield lost_service_neutral(1.0)


def lost_service_neutral(share: float) -> Site:
    """A service neutral that is open or has a bad joint, with a share of its base rates [1]."""
    return Site(
        place="service_neutral",
        fault="open_service_neutral",
        conductor="N",
        location=LOCATIONS["service"],
        spans=(joint("high_resistance_service_neutral", "open_service_neutral", _UPSTREAM, share),),
        breaks=(Break("service", "N", 0),),
        saddle=("house L1", "house L2"),
    )


def feeder_neutral(visit: Visit) -> Iterator[Site]:
    """The neutral of a sub-panel's feeder."""
    if not (visit.feeder and visit.supply.neutral):
        return
    known = 1.0 if visit.supply.fed_from == "unknown" else PRIORS.known_feeder
    for idle, part in ((False, 1.0 - PRIORS.idle_panel_share), (True, PRIORS.idle_panel_share)):
        yield Site(
            place="feeder_neutral",
            idle_panel=idle,
            fault="open_feeder_neutral",
            conductor="N",
            location=LOCATIONS["feeder"],
            spans=(joint("high_resistance_feeder_neutral", "open_feeder_neutral", _UPSTREAM, known * part),),
            breaks=(Break("feeder", "N", 0),),
            saddle=() if idle else ("sub L1", "sub L2"),
        )


def ground(visit: Visit) -> Iterator[Site]:
    """An equipment ground that does not lead to the panel."""
    if visit.grounded:
        yield Site(
            place="ground",
            fault="open_ground",
            conductor="G",
            location=LOCATIONS["branch"],
            spans=((Span("open_ground", _MIDDLE, _TOP, 1.0, "open"),),),
            breaks=(Break("branch", "G", 0),),
        )


def breaker(visit: Visit) -> Iterator[Site]:
    """A breaker that is off or tripped: all legs at once."""
    low, high = PRIORS.breaker_open
    yield Site(
        place="breaker",
        fault="breaker_open",
        location=LOCATIONS["branch"],
        spans=((Span("breaker_open", math.log(low), math.log(high), 1.0),),),
        breaks=tuple(Break("branch", leg, 0) for leg in visit.supply.legs),
    )


def supply_lost(visit: Visit) -> Iterator[Site]:
    """Nothing comes from the service."""
    yield Site(
        place="supply_lost",
        fault="no_supply",
        location=LOCATIONS["service"],
        rate=visit.rate["no_supply"],
        breaks=tuple(Break("service", leg, -1, PRIORS.lost_leg_resistance) for leg in visit.supply.legs),
    )


def intermittent(visit: Visit) -> Iterator[Site]:
    """A joint that was open for some readings and closed for others."""
    conductors: tuple[Conductor, ...] = visit.supply.carrying
    for conductor in conductors:
        yield Site(
            place="branch_neutral" if conductor == "N" else "branch_leg",
            fault="intermittent_connection",
            conductor=conductor,
            location=LOCATIONS["branch"],
            spans=(
                (
                    Span(
                        "intermittent_connection",
                        math.log(PRIORS.intermittent_resistance),
                        _TOP,
                        1.0 / len(conductors),
                    ),
                ),
            ),
            breaks=(Break("branch", conductor, 0),),
            intermittent=True,
        )


def _pair(first: Conductor, second: Conductor, names: tuple[str, str], share: float, edge: float) -> Site:
    """Two faults at once; both are open or both have a bad joint."""
    found = []
    for name, own in zip(names, (share, 1.0), strict=True):
        bad = name.startswith("high")
        low, high = (math.log(edge), _MIDDLE) if bad else (_MIDDLE, _TOP)
        found.append((Span(name, low, high, own, "high_resistance" if bad else "open"),))
    places: dict[Conductor, str] = {"N": "branch_neutral", "G": "ground"}
    return Site(
        place=places.get(first, "branch_leg"),
        fault=names[0],
        conductor=first,
        location=LOCATIONS["branch"],
        also=((names[1], second),),
        also_place=places.get(second, "branch_leg"),
        spans=tuple(found),
        breaks=(Break("branch", first, 0), Break("branch", second, 1)),
        saddle=_STRAYS if "N" in {first, second} else (),
    )


def pairs(visit: Visit) -> Iterator[Site]:
    """Two faults of the branch at once."""
    neutral = visit.supply.neutral
    if neutral and visit.grounded:
        yield _pair("N", "G", both := ("open_neutral", "open_ground"), PAIR_SHARE[both], visit.edge)
    if len(visit.supply.legs) == 2:
        yield _pair("L1", "L2", both := ("high_resistance_leg",) * 2, PAIR_SHARE[both], visit.edge)
        yield from _weak_supply(visit)
        if neutral:
            for leg in visit.supply.legs:
                for both in (("open_leg", "open_neutral"), ("high_resistance_leg", "high_resistance_neutral")):
                    yield _pair(leg, "N", both, PAIR_SHARE[both] * visit.each_leg, visit.edge)


def _weak_supply(visit: Visit) -> Iterator[Site]:
    """More resistance in both legs alike, ahead of the panel: a long or small service or feeder."""
    fault, least = "high_resistance_leg", math.log(PRIORS.weak_supply_resistance)
    sections: tuple[Section, ...] = ("service", "feeder") if visit.feeder else ("service",)
    for section in sections:
        yield Site(
            place=f"{section}_leg",
            fault=fault,
            conductor="L1",
            location=LOCATIONS[section],
            also=((fault, "L2"),),
            also_place=f"{section}_leg",
            spans=((Span(fault, least, _MIDDLE, PRIORS.weak_supply / len(sections), "high_resistance"),),),
            breaks=(Break(section, "L1", 0), Break(section, "L2", 0)),
        )
