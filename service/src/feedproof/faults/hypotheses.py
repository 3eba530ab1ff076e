"""Every state of the supply that the inference weighs, and what each does to the circuit.

A hypothesis is stated for leg L1. The same fault on L2 is weighed as a fault on L1 of the mirrored readings,
so that exchanging the legs in a request exchanges them in the answer, to the last digit.
"""

import cmath
import math
from typing import Literal

from msgspec import Struct

from feedproof.faults.priors import BASE_RATES, PAIR_SHARE
from feedproof.readings import Conductor, Point, Presence, SystemName

Section = Literal["service", "branch", "cord"]
Severity = Literal["high", "open", "any"]
"""`any`: anything from a sound joint to an open, to ask what would have shown."""
Band = Literal["sound", "low", "high", "off"]
Phasors = tuple[complex, complex]

_DEGREES = math.pi / 180.0
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


class Hypothesis(Struct, frozen=True, kw_only=True):
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


def _sound_phasors(system: SystemName) -> tuple[tuple[Phasors, bool, float], ...]:
    """Leg phasors of a sound supply: (phasors, mirrored, share)."""
    if system == "wye_120_208":
        return ((_WYE, False, 1.0),)
    if system == "single_phase_120":
        return ((_ONE_LEG, False, 1.0),)
    if system == "high_leg_delta_120_240":
        # Mostly between the two 120 V legs; the high leg feeds loads that take no neutral.
        return ((_SPLIT, False, 0.8), (_HIGH_LEG, False, 0.1), (_HIGH_LEG, True, 0.1))
    return ((_SPLIT, False, 1.0),)


def _other_systems(system: SystemName) -> tuple[tuple[Phasors, bool, float], ...]:
    """Leg phasors of the systems that may be found in place of the stated one."""
    if system == "wye_120_208":
        return ((_SPLIT, False, 0.8), (_HIGH_LEG, False, 0.1), (_HIGH_LEG, True, 0.1))
    if system == "single_phase_120":
        return ()
    if system == "high_leg_delta_120_240":
        return ((_WYE, False, 1.0),)
    return ((_WYE, False, 0.8), (_HIGH_LEG, False, 0.1), (_HIGH_LEG, True, 0.1))


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
    rates = dict(BASE_RATES if base_rates is None else base_rates)
    one_leg = system == "single_phase_120"
    legs = (False,) if one_leg else (False, True)
    found: list[Hypothesis] = []

    def add(fault: str, share: float, *, mirrored: bool = False, leg: bool = False, **fields: object) -> None:
        conductor = fields.pop("conductor", None)
        if leg:
            conductor = "L2" if mirrored else "L1"
        rate = rates.get(fault, 0.0) * share
        if rate <= 0.0:
            return
        for phasors, turned, weight in _sound_phasors(system):
            found.append(
                Hypothesis(
                    fault=fault,
                    conductor=conductor,  # type: ignore[arg-type]
                    mirrored=mirrored,
                    base_rate=rate * weight,
                    **{"phasors": _turned(phasors, turned != mirrored), **fields},  # type: ignore[arg-type]
                )
            )

    add("none_found", 1.0)
    stretches = spans(points)
    downstream = [s for s in stretches if s.section != "service"]
    _add_series(add, stretches, downstream, legs, ground, one_leg)
    first = downstream[0]
    for severity, fault in (("open", "open_service_neutral"), ("high", "high_resistance_service_neutral")):
        series = (SeriesFault("service", "N", severity),)  # type: ignore[arg-type]
        # Either leg of the building may carry more.
        for mirrored in legs:
            place = "upstream_of_service_panel"
            add(fault, 1.0 / len(legs), mirrored=mirrored, conductor="N", location=place, series=series)
    add("no_supply", 1.0, band="off")
    add("voltage_low", 1.0, band="low")
    add("voltage_high", 1.0, band="high")
    for phasors, mirrored, share in _other_systems(system):
        # The sound variants' loop would multiply these: state the phasors and share them out once.
        rate = rates.get("other_supply_system", 0.0) * share
        if rate > 0.0:
            found.append(Hypothesis(fault="other_supply_system", mirrored=mirrored, base_rate=rate, phasors=phasors))
    if not one_leg:
        add("legs_from_same_pole", 1.0, phasors=_ONE_POLE)
    for mirrored in legs:
        half = 1.0 / len(legs)
        swap: tuple[tuple[Conductor, Conductor], ...] = (("L1", "N"), ("N", "L1"))
        add("leg_neutral_transposed", half, mirrored=mirrored, leg=True, location=first.location, landing=swap)
        if ground != "absent":
            swap = (("L1", "G"), ("G", "L1"))
            add("leg_ground_transposed", half, mirrored=mirrored, leg=True, location=first.location, landing=swap)
    add("readings_inconsistent", 1.0, inconsistent=True)
    total = sum(h.base_rate for h in found)
    return tuple(_scaled(h, total) for h in found)


def _add_series(
    add: object,
    stretches: tuple[Span, ...],
    downstream: list[Span],
    legs: tuple[bool, ...],
    ground: Presence,
    one_leg: bool,
) -> None:
    """Opens and bad joints in series, single and in pairs."""
    call = add  # typed loosely: a closure with keyword fields
    grounded = ground != "absent"
    for severity, prefix in (("open", "open"), ("high", "high_resistance")):
        for span in downstream:
            fault = f"{prefix}_neutral"
            single = 1.0 - sum(s for (a, b), s in PAIR_SHARE.items() if a == fault and (b != "open_ground" or grounded))
            series = (SeriesFault(span.section, "N", severity),)  # type: ignore[arg-type]
            call(  # type: ignore[operator]
                fault, single / len(downstream), conductor="N", location=span.location, series=series
            )
        for span in stretches:
            fault = f"{prefix}_leg"
            single = 1.0 - sum(s for (a, _), s in PAIR_SHARE.items() if a == fault)
            if one_leg:
                single = 1.0
            for mirrored in legs:
                series = (SeriesFault(span.section, "L1", severity),)  # type: ignore[arg-type]
                call(  # type: ignore[operator]
                    fault,
                    single / len(stretches) / len(legs),
                    mirrored=mirrored,
                    leg=True,
                    location=span.location,
                    series=series,
                )
    first = downstream[0]
    if grounded:
        for span in downstream:
            series = (SeriesFault(span.section, "G", "open"),)
            call(  # type: ignore[operator]
                "open_ground", 1.0 / len(downstream), conductor="G", location=span.location, series=series
            )
        call(  # type: ignore[operator]
            "open_neutral",
            PAIR_SHARE["open_neutral", "open_ground"],
            conductor="N",
            location=first.location,
            also=(("open_ground", "G"),),
            series=(SeriesFault(first.section, "N", "open"), SeriesFault(first.section, "G", "open")),
        )
    if one_leg:
        return
    call(  # type: ignore[operator]
        "high_resistance_leg",
        PAIR_SHARE["high_resistance_leg", "high_resistance_leg"],
        conductor="L1",
        location=first.location,
        also=(("high_resistance_leg", "L2"),),
        series=(SeriesFault(first.section, "L1", "high"), SeriesFault(first.section, "L2", "high")),
    )
    for mirrored in legs:
        for fault, other, severity in (
            ("open_leg", "open_neutral", "open"),
            ("high_resistance_leg", "high_resistance_neutral", "high"),
        ):
            call(  # type: ignore[operator]
                fault,
                PAIR_SHARE[fault, other] / len(legs),
                mirrored=mirrored,
                leg=True,
                location=first.location,
                also=((other, "N"),),
                series=(
                    SeriesFault(first.section, "L1", severity),  # type: ignore[arg-type]
                    SeriesFault(first.section, "N", severity),  # type: ignore[arg-type]
                ),
            )


def _turned(phasors: Phasors, turned: bool) -> Phasors:
    """Exchange the legs of a system whose legs differ in magnitude."""
    return (phasors[1], phasors[0]) if turned and phasors is _HIGH_LEG else phasors


def _scaled(hypothesis: Hypothesis, total: float) -> Hypothesis:
    fields = {name: getattr(hypothesis, name) for name in hypothesis.__struct_fields__}
    fields["base_rate"] = hypothesis.base_rate / total
    return Hypothesis(**fields)
