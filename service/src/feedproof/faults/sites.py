"""Every state of the supply that is weighed on a visit.

A fault is one entry of `ENTRIES`: from the visit to its places, each with what it changes of the circuit and how much
of it is expected. Its words stand in `feedproof.faults.catalogue`, its base rate in `feedproof.faults.priors`.
"""

from collections.abc import Callable, Iterator
from functools import lru_cache

from msgspec.structs import replace

from feedproof.faults import miswired, series
from feedproof.faults.places import ONE_POLE, OTHER_SYSTEMS, SPLIT, SYSTEMS, WYE, Site, mass, times
from feedproof.faults.priors import BASE_RATES, PRIORS
from feedproof.faults.visit import Visit
from feedproof.readings import Point, Supply


def none_found(visit: Visit) -> Iterator[Site]:
    """Nothing is wrong with the supply. A strap that is said to be there and should not be is wrong."""
    share = 1.0 - PRIORS.stated_strap if visit.strapped else 1.0
    yield Site(place="none", fault="none_found", rate=visit.rate["none_found"] * share, strapped=not visit.strapped)


ENTRIES: list[Callable[[Visit], Iterator[Site]]] = [
    none_found,
    series.legs,
    series.neutrals,
    series.service_neutral,
    series.feeder_neutral,
    series.ground,
    series.breaker,
    series.supply_lost,
    miswired.supply_voltage,
    miswired.transposed,
    miswired.joined,
    miswired.leak,
    miswired.live_frame,
    series.intermittent,
    miswired.unbonded,
    miswired.testers,
    miswired.readings,
    series.pairs,
]
"""Weighed in each form of the stated supply system."""


def _other_systems(visit: Visit) -> Iterator[Site]:
    """Legs that are not those of the stated system."""
    system = visit.supply.system
    for phasors, share in OTHER_SYSTEMS[system]:
        rate = visit.rate["other_supply_system"] * share
        yield Site(place="other_supply_system", fault="other_supply_system", rate=rate, phasors=phasors)
    if visit.supply.one_leg:
        # The other leg on the neutral's contact: an outlet for 120 V that gives 240 V.
        rate = visit.rate["leg_neutral_transposed"] * PRIORS.neutral_on_other_leg
        yield replace(miswired.landed("leg_neutral_transposed", "L2", rate, (("N", "L2"),)), phasors=SPLIT)
        return
    if system == "split_phase_120_240":
        # Two legs of a wye whose neutral is lost: balanced, it reads like a low supply.
        yield replace(series.lost_service_neutral(PRIORS.wye_share), phasors=WYE)
    yield Site(
        place="legs_from_same_pole",
        fault="legs_from_same_pole",
        rate=visit.rate["legs_from_same_pole"],
        phasors=ONE_POLE,
    )


def _with_rates(site: Site, rate: dict[str, float]) -> Site:
    """Spans' shares times their faults' base rates (of a pair, the first severity's)."""
    if not site.spans:
        return site
    first = tuple(replace(s, share=s.share * rate[s.fault]) for s in site.spans[0] if rate[s.fault] > 0.0)
    rest = tuple(tuple(replace(s, share=1.0 / len(spans)) for s in spans) for spans in site.spans[1:])
    return replace(site, spans=(first, *rest))


def _by_contacts(site: Site, visit: Visit) -> tuple[Site, ...]:
    """A place with what an idle appliance has connected, and with its contacts open, where that may tell.

    Single breaks and what they are told apart from: of all others, contacts are taken to be closed.
    """
    told = site.place.endswith(("_leg", "_neutral")) or site.place in {"none", "breaker", "readings"}
    if not (visit.idle and told) or site.also or site.intermittent:
        return (site,)
    share = PRIORS.idle_open
    return times(site, 1.0 - share), replace(times(site, share), contacts_open=True)


@lru_cache(maxsize=256)
def sites(
    supply: Supply,
    points: frozenset[Point],
    meters: tuple[tuple[int, bool], ...],
    edge: float,
    rates: tuple[tuple[str, float], ...] | None,
    *,
    idle: bool = False,
) -> tuple[Site, ...]:
    """All places to weigh for one arrangement; their masses sum to 1.

    Parameters
    ----------
    supply : Supply
        What the appliance hangs on.
    points : frozenset of str
        Where something was read.
    meters : tuple of (int, bool)
        Every voltmeter by its number, and whether it was proved.
    edge : float
        Extra resistance from which on a branch conductor counts as faulty [ohm].
    rates : tuple of (str, float), optional
        Base rates that take the place of the published ones [1].
    idle : bool, optional
        Whether some load state has an appliance that is connected and not started.

    Returns
    -------
    tuple of Site
        In the order of the entries.
    """
    rate = dict(BASE_RATES if rates is None else BASE_RATES | dict(rates))
    if supply.source == "generator":
        rate["neutral_not_bonded"] *= PRIORS.generator_unbonded
    at_terminals = "appliance_terminals" in points
    visit = Visit(supply=supply, rate=rate, at_terminals=at_terminals, meters=meters, idle=idle, edge=edge)
    found = [
        replace(site, phasors=phasors, rate=site.rate * share)
        for phasors, share in SYSTEMS[supply.system]
        for entry in ENTRIES
        for every in entry(visit)
        for site in _by_contacts(every, visit)
    ]
    rated = [_with_rates(site, rate) for site in (*found, *_other_systems(visit))]
    there = [site for site in rated if mass(site) > 0.0]
    total = sum(mass(site) for site in there)
    return tuple(times(site, 1.0 / total) for site in there)
