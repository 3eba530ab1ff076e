"""Places where conductors are exchanged, joined or leak, where the supply is not as stated, or a reading is wrong."""

import math
from collections.abc import Iterator
from typing import Literal

from feedproof.faults.places import LOCATIONS, Break, Bridge, Section, Site, Span
from feedproof.faults.priors import PAIR_SHARE, PRIORS
from feedproof.faults.visit import Visit
from feedproof.readings import Conductor, Point

Landing = tuple[tuple[Conductor, Conductor], ...]


def supply_voltage(_: Visit) -> Iterator[Site]:
    """A supply that lies below or above its range."""
    p = PRIORS
    least, share, (rising, falling) = math.log(p.level_least), p.level_near_share, p.level_slopes
    levels: tuple[tuple[Literal["low", "high"], str, float, float], ...] = (
        ("low", "voltage_low", p.low_spread, p.low_most),
        ("high", "voltage_high", p.high_spread, p.high_most),
    )
    for level, fault, far, most in levels:
        near = Span(fault, least, math.log(far), share, None, rising)
        rest = Span(fault, math.log(far), math.log(most), 1.0 - share, None, falling)
        yield Site(place="supply_voltage", fault=fault, level=level, spans=((near, rest),))


def transposed(visit: Visit) -> Iterator[Site]:
    """Two conductors exchanged, or one conductor on both contacts, at the receptacle or in the cord.

    A contact that stands on another contact's conductor leaves its own wire unconnected: an outlet for 240 V on whose
    second leg the neutral was landed gives 120 V; a ground contact on a leg is live.
    """
    supply, p = visit.supply, PRIORS
    crossed: list[tuple[str, Conductor, Conductor]] = []
    if supply.neutral:
        crossed += [("leg_neutral_transposed", leg, "N") for leg in supply.legs]
    if visit.grounded:
        crossed += [("leg_ground_transposed", leg, "G") for leg in supply.legs]
    if visit.grounded and supply.neutral:
        crossed.append(("neutral_ground_transposed", "N", "G"))
    for fault, first, second in crossed:
        each = 1.0 if first == "N" else visit.each_leg
        # In the cord a leg is seen to be exchanged at the terminals alone; the neutral shows by the ground's current.
        in_cord = p.transposed_in_cord if first == "N" or visit.at_terminals else 0.0
        both = ((first, second), (second, first))
        ways: list[tuple[float, Landing, Literal["branch", "cord"]]] = [
            (1.0 - in_cord, both, "branch"),
            (in_cord, both, "cord"),
        ]
        if second == "G" and first != "N":
            twice = (1.0 - in_cord) * p.live_ground_contact
            ways[0] = (1.0 - in_cord - twice, both, "branch")
            ways.append((twice, ((second, first),), "branch"))
        for share, landing, section in ways:
            yield landed(fault, first, visit.rate[fault] * share * each, landing, section)
    if not supply.neutral:
        # The bar that the neutrals hang on is the grounded conductor's, whatever it is called there.
        for leg in supply.legs:
            rate = visit.rate["leg_neutral_transposed"] * visit.each_leg
            yield landed("leg_neutral_transposed", leg, rate, ((leg, "G"),))


def landed(
    fault: str, conductor: Conductor, rate: float, landing: Landing, section: Literal["branch", "cord"] = "branch"
) -> Site:
    """Conductors on contacts of other names, at the end of a section.

    Parameters
    ----------
    fault : str
        What that is called.
    conductor : str
        The one that is named with it.
    rate : float
        How often that is expected, before any reading [1].
    landing : tuple of (str, str)
        Contact, and the conductor that comes to it.
    section : str
        At whose end.
    """
    return Site(
        place="transposed",
        fault=fault,
        conductor=conductor,
        location=LOCATIONS[section],
        rate=rate,
        landing=landing,
        landing_in=section,
    )


def joined(visit: Visit) -> Iterator[Site]:
    """Neutral and ground joined beyond the panel: at the receptacle, there without a ground wire, in the appliance."""
    if not (visit.grounded and visit.supply.neutral):
        return
    p, rate = PRIORS, visit.rate["neutral_ground_joined"]
    stated = p.stated_strap * visit.rate["none_found"] if visit.strapped else 0.0
    missing = (Break("branch", "G", -1, p.missing_ground_resistance),)
    # (Section, point, rate, what else is wrong.)
    kinds: tuple[tuple[Section, Point, float, tuple[Break, ...]], ...] = (
        ("branch", "receptacle", p.joined_at_receptacle * rate, ()),
        ("branch", "receptacle", p.joined_without_ground * rate, missing),
        ("cord", "appliance_terminals", p.joined_in_appliance * rate + stated, ()),
    )
    for section, point, own, breaks in kinds:
        yield Site(
            place="joined",
            fault="neutral_ground_joined",
            conductor="N",
            location=LOCATIONS[section],
            rate=own,
            bridges=(Bridge(point, "N", "G", -1, p.bridge_resistance),),
            breaks=breaks,
        )


def leak(visit: Visit) -> Iterator[Site]:
    """A leg that leaks to ground in the appliance."""
    if visit.grounded:
        low, high = PRIORS.leak_resistance
        for leg in visit.supply.legs:
            yield Site(
                place="leak_to_ground",
                fault="leak_to_ground",
                conductor=leg,
                location="appliance",
                spans=((Span("leak_to_ground", math.log(low), math.log(high), visit.each_leg),),),
                bridges=(Bridge("appliance_terminals", leg, "G", 0),),
            )


def live_frame(visit: Visit) -> Iterator[Site]:
    """A leg that leaks to a ground which leads nowhere: nothing trips, and the frame is live."""
    if visit.grounded:
        low, high = (math.log(resistance) for resistance in PRIORS.leak_resistance)
        both = ("open_ground", "leak_to_ground")
        share = PAIR_SHARE[both] * visit.each_leg
        for leg in visit.supply.legs:
            yield Site(
                place="ground",
                fault=both[0],
                conductor="G",
                location=LOCATIONS["branch"],
                also=((both[1], leg),),
                also_place="leak_to_ground",
                spans=(
                    (Span(both[0], math.log(PRIORS.open_resistance), math.log(PRIORS.open_ceiling), share, "open"),),
                    (Span(both[1], low, high, 1.0),),
                ),
                breaks=(Break("branch", "G", 0),),
                bridges=(Bridge("appliance_terminals", leg, "G", 1),),
            )


def unbonded(visit: Visit) -> Iterator[Site]:
    """Neutral and ground not joined where they should be."""
    if visit.grounded:
        yield Site(
            place="neutral_not_bonded",
            fault="neutral_not_bonded",
            conductor="G",
            rate=visit.rate["neutral_not_bonded"],
            unbonded=True,
        )


def testers(visit: Visit) -> Iterator[Site]:
    """A voltmeter that shows nothing, whatever there is."""
    for meter, proved in visit.meters:
        share = (PRIORS.proved_share if proved else 1.0) / len(visit.meters)
        yield Site(place="tester", fault="tester_dead", rate=visit.rate["tester_dead"] * share, dead_meter=meter)


def readings(visit: Visit) -> Iterator[Site]:
    """Readings that are no readings of one circuit."""
    yield Site(
        place="readings", fault="readings_inconsistent", rate=visit.rate["readings_inconsistent"], inconsistent=True
    )
