"""Every state of the supply that the inference weighs, and what each does to the circuit.

A hypothesis is stated for leg L1. The same fault on L2 is weighed as a fault on L1 of the mirrored readings,
so that exchanging the legs in a request exchanges them in the answer, to the last digit.
"""

import cmath
import math
from functools import lru_cache
from typing import Literal

from msgspec import Struct, structs

from feedproof.faults.priors import BASE_RATES, PAIR_SHARE
from feedproof.readings import Conductor, Point, Presence, SystemName

Section = Literal["service", "branch", "cord"]
Severity = Literal["high", "open", "any"]
"""`any`: anything from a sound joint to an open, to ask what would have shown."""
Band = Literal["sound", "low", "high", "off"]
Phasors = tuple[complex, complex]

_DEGREES = math.pi / 180.0
_LEAST_RATE = 1e-9
_SPLIT: Phasors = (1.0 + 0j, -1.0 + 0j)
_WYE: Phasors = (1.0 + 0j, cmath.exp(-120j * _DEGREES))
_HIGH_LEG: Phasors = (math.sqrt(3.0) * cmath.exp(90j * _DEGREES), -1.0 + 0j)
_ONE_POLE: Phasors = (1.0 + 0j, 1.0 + 0j)
_ONE_LEG: Phasors = (1.0 + 0j, 0j)


class SeriesFault(Struct, frozen=True):
    """Extra resistance in series with one conductor of one section."""

    section: Section
    conductor: Conductor
    severity: Severity


class Hypothesis(Struct, frozen=True, kw_only=True, cache_hash=True):
    """One state of the supply."""

    fault: str
    conductor: Conductor | None = None
    location: str | None = None
    also: tuple[tuple[str, Conductor | None], ...] = ()
    mirrored: bool = False
    """Weighed on the readings with L1 and L2 exchanged."""
    base_rate: float
    """Before any reading; over all hypotheses they sum to 1 [1]."""
    series: tuple[SeriesFault, ...] = ()
    """In terms of the (possibly mirrored) readings."""
    band: Band = "sound"
    phasors: Phasors = _SPLIT
    landing: tuple[tuple[Conductor, Conductor], ...] = ()
    """(label at the receptacle, conductor of the run that ends there), where they differ."""
    inconsistent: bool = False


class Span(Struct, frozen=True):
    """A stretch of the path that the readings can tell apart from the others."""

    section: Section
    location: str


def spans(points: frozenset[Point]) -> tuple[Span, ...]:
    """Stretches of the path between the points that were read.

    Parameters
    ----------
    points : frozenset of str
        Points with at least one reading; the receptacle is taken where none lies downstream of the panel.

    Returns
    -------
    tuple of Span
        From the source downstream. The service stretch concerns the legs only: its neutral has faults of
        its own name.
    """
    downstream = [p for p in ("receptacle", "appliance_terminals") if p in points] or ["receptacle"]
    found = []
    if "service_panel" in points:
        found.append(Span("service", "upstream_of_service_panel"))
        found.append(Span("branch", f"between_service_panel_and_{downstream[0]}"))
    else:
        found.append(Span("branch", f"upstream_of_{downstream[0]}"))
    if len(downstream) == 2:
        found.append(Span("cord", "between_receptacle_and_appliance_terminals"))
    return tuple(found)


class Variant(Struct, frozen=True):
    """One way in which a supply system reaches the two legs."""

    phasors: Phasors
    turned: bool = False
    """The legs' phasors exchanged."""
    share: float = 1.0


_HIGH_LEG_EITHER = (Variant(_HIGH_LEG, share=0.1), Variant(_HIGH_LEG, turned=True, share=0.1))


def _sound_phasors(system: SystemName) -> tuple[Variant, ...]:
    """Leg phasors of a sound supply."""
    if system == "wye_120_208":
        return (Variant(_WYE),)
    if system == "single_phase_120":
        return (Variant(_ONE_LEG),)
    if system == "high_leg_delta_120_240":
        # Mostly between the two 120 V legs; the high leg feeds loads that take no neutral.
        return (Variant(_SPLIT, share=0.8), *_HIGH_LEG_EITHER)
    return (Variant(_SPLIT),)


def _other_systems(system: SystemName) -> tuple[Variant, ...]:
    """Leg phasors of the systems that may be found in place of the stated one."""
    if system == "wye_120_208":
        return (Variant(_SPLIT, share=0.8), *_HIGH_LEG_EITHER)
    if system == "high_leg_delta_120_240":
        return (Variant(_WYE),)
    return (Variant(_WYE, share=0.8), *_HIGH_LEG_EITHER)


class _Draft(Struct, frozen=True, kw_only=True):
    """A hypothesis before its base rate and the variants of its supply system are known."""

    fault: str
    share: float = 1.0
    """Of the fault's base rate [1]."""
    conductor: Conductor | None = None
    """`L1` stands for the faulted leg, whichever that is."""
    location: str | None = None
    also: tuple[tuple[str, Conductor | None], ...] = ()
    either_leg: bool = False
    """Stands for two: as stated, and mirrored, at half the share each."""
    series: tuple[SeriesFault, ...] = ()
    band: Band = "sound"
    variants: tuple[Variant, ...] = ()
    """Leg phasors in place of the stated system's."""
    landing: tuple[tuple[Conductor, Conductor], ...] = ()
    inconsistent: bool = False


def hypotheses(
    system: SystemName, points: frozenset[Point], ground: Presence, base_rates: dict[str, float] | None = None
) -> tuple[Hypothesis, ...]:
    """All states of the supply to weigh for one reading set.

    Parameters
    ----------
    system : str
        The stated supply system.
    points : frozenset of str
        Points with readings.
    ground : str
        Whether an equipment ground is there; where `absent`, its faults are left out.
    base_rates : dict of str to float, optional
        Base rate by fault in place of the published ones; scaled to sum to 1 [1].

    Returns
    -------
    tuple of Hypothesis
        Their base rates sum to 1.
    """
    rates = BASE_RATES if base_rates is None else base_rates
    return _listed(system, points, ground, tuple(rates.items()))


@lru_cache(maxsize=256)
def _listed(
    system: SystemName, points: frozenset[Point], ground: Presence, base_rates: tuple[tuple[str, float], ...]
) -> tuple[Hypothesis, ...]:
    """The states of one kind of job: the same for every reading set of that kind, and hashed once."""
    rates = dict(base_rates)
    one_leg, grounded = system == "single_phase_120", ground != "absent"
    stretches = spans(points)
    drafts = [
        _Draft(fault="none_found"),
        *_series_faults(stretches, one_leg=one_leg, grounded=grounded),
        *_service_neutral_faults(),
        _Draft(fault="no_supply", band="off"),
        _Draft(fault="voltage_low", band="low"),
        _Draft(fault="voltage_high", band="high"),
        *_wiring_faults(system, stretches, one_leg=one_leg, grounded=grounded),
        _Draft(fault="readings_inconsistent", inconsistent=True),
    ]
    # Everything is weighed against a sound supply, so that is always there, however rare it is said to be.
    rates = rates | {"none_found": max(rates.get("none_found", 0.0), _LEAST_RATE)}
    found = [h for d in drafts for h in _made(d, rates.get(d.fault, 0.0), _sound_phasors(system), one_leg=one_leg)]
    total = sum(h.base_rate for h in found)
    return tuple(structs.replace(h, base_rate=h.base_rate / total) for h in found)


def _made(draft: _Draft, rate: float, stated: tuple[Variant, ...], *, one_leg: bool) -> list[Hypothesis]:
    """Hypotheses that a draft stands for; none where its base rate is zero."""
    if rate * draft.share <= 0.0:
        return []
    turns = (False, True) if draft.either_leg and not one_leg else (False,)
    return [
        Hypothesis(
            fault=draft.fault,
            conductor="L2" if mirrored and draft.conductor == "L1" else draft.conductor,
            location=draft.location,
            also=draft.also,
            mirrored=mirrored,
            base_rate=rate * draft.share * variant.share / len(turns),
            series=draft.series,
            band=draft.band,
            phasors=_turned(variant.phasors, variant.turned != mirrored),
            landing=draft.landing,
            inconsistent=draft.inconsistent,
        )
        for mirrored in turns
        for variant in draft.variants or stated
    ]


def _alone(fault: str, *, without: str | None = None) -> float:
    """Share of a fault's base rate that comes without a second fault [1]."""
    return 1.0 - sum(share for (first, second), share in PAIR_SHARE.items() if first == fault and second != without)


def _series_faults(stretches: tuple[Span, ...], *, one_leg: bool, grounded: bool) -> list[_Draft]:
    """Opens and bad joints, single and in pairs."""
    downstream = [s for s in stretches if s.section != "service"]
    severities: tuple[tuple[Severity, str], ...] = (("open", "open"), ("high", "high_resistance"))
    found = []
    for severity, prefix in severities:
        neutral, leg = f"{prefix}_neutral", f"{prefix}_leg"
        alone = _alone(neutral, without=None if grounded else "open_ground") / len(downstream)
        found += [
            _Draft(
                fault=neutral,
                share=alone,
                conductor="N",
                location=span.location,
                series=(SeriesFault(span.section, "N", severity),),
            )
            for span in downstream
        ]
        found += [
            _Draft(
                fault=leg,
                share=(1.0 if one_leg else _alone(leg)) / len(stretches),
                conductor="L1",
                location=span.location,
                either_leg=True,
                series=(SeriesFault(span.section, "L1", severity),),
            )
            for span in stretches
        ]
    if grounded:
        found += [
            _Draft(
                fault="open_ground",
                share=1.0 / len(downstream),
                conductor="G",
                location=span.location,
                series=(SeriesFault(span.section, "G", "open"),),
            )
            for span in downstream
        ]
    return found + _pairs(downstream[0], one_leg=one_leg, grounded=grounded)


def _pairs(span: Span, *, one_leg: bool, grounded: bool) -> list[_Draft]:
    """Two faults at once, in the stretch nearest the source."""

    def pair(first: str, second: str, a: Conductor, b: Conductor, severity: Severity) -> _Draft:
        return _Draft(
            fault=first,
            share=PAIR_SHARE[first, second],
            conductor=a,
            location=span.location,
            also=((second, b),),
            either_leg=a == "L1" and b != "L2",
            series=(SeriesFault(span.section, a, severity), SeriesFault(span.section, b, severity)),
        )

    found = [pair("open_neutral", "open_ground", "N", "G", "open")] if grounded else []
    if not one_leg:
        found += [
            pair("high_resistance_leg", "high_resistance_leg", "L1", "L2", "high"),
            pair("open_leg", "open_neutral", "L1", "N", "open"),
            pair("high_resistance_leg", "high_resistance_neutral", "L1", "N", "high"),
        ]
    return found


def _service_neutral_faults() -> list[_Draft]:
    """The service neutral."""
    severities: tuple[tuple[Severity, str], ...] = (
        ("open", "open_service_neutral"),
        ("high", "high_resistance_service_neutral"),
    )
    return [
        _Draft(
            fault=fault,
            conductor="N",
            location="upstream_of_service_panel",
            series=(SeriesFault("service", "N", severity),),
        )
        for severity, fault in severities
    ]


def _wiring_faults(system: SystemName, stretches: tuple[Span, ...], *, one_leg: bool, grounded: bool) -> list[_Draft]:
    """Other connections of the same nodes."""
    place = next(s.location for s in stretches if s.section != "service")
    crossed: list[tuple[str, Conductor]] = [("leg_neutral_transposed", "N")]
    if grounded:
        crossed.append(("leg_ground_transposed", "G"))
    found = [
        _Draft(fault=fault, conductor="L1", location=place, either_leg=True, landing=(("L1", other), (other, "L1")))
        for fault, other in crossed
    ]
    if not one_leg:
        found.append(_Draft(fault="legs_from_same_pole", variants=(Variant(_ONE_POLE),)))
        found.append(_Draft(fault="other_supply_system", variants=_other_systems(system)))
    return found


def _turned(phasors: Phasors, turned: bool) -> Phasors:
    """Exchange the legs of a system whose legs differ in magnitude."""
    return (phasors[1], phasors[0]) if turned and phasors is _HIGH_LEG else phasors
