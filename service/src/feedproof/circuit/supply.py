"""The four supply systems: phasors of their legs, nominal voltages, and the published limits of voltage.

Phasors are root mean square against the grounded point, with the first leg as the reference of angle. Limits follow
ANSI C84.1 and name the edition, since the lower utilization limits differ between editions. The standard's text was not
read: each figure says whether it was read in a copy or a regulation, or comes from memory.
"""

import cmath
import math
from typing import Final, Literal

from msgspec import Struct

from feedproof.readings import SystemName

Edition = Literal["1995-2006", "2011-2020"]
"""Editions of ANSI C84.1 that share their figures."""
RangeName = Literal["A", "B"]
Place = Literal["service", "utilization"]
Quantity = Literal["leg_to_neutral", "leg_to_leg"]
Class = Literal["A", "B", "outside"]

EDITIONS: Final[tuple[Edition, ...]] = ("1995-2006", "2011-2020")

_COMAR: Final = "Maryland COMAR 20.50.07.02"
_COPY: Final = "ANSI C84.1, read in a secondary copy"
_MEMORY: Final = "ANSI C84.1, value from memory"


class Leg(Struct, frozen=True, kw_only=True):
    """One ungrounded conductor of a system."""

    name: str
    """As the appliance has them, "L1" or "L2"; the high leg of a delta is "high"."""
    magnitude: float
    """Against the grounded point, root mean square [V]."""
    angle: float
    """Against the first leg [deg]."""

    @property
    def phasor(self) -> complex:
        """Complex voltage against the grounded point [V]."""
        # Quarter turns are exact: a split phase must have a neutral of exactly zero.
        quarter, rest = divmod(self.angle, 90.0)
        if rest == 0.0:
            return complex(self.magnitude * (1, 1j, -1, -1j)[int(quarter) % 4])
        return cmath.rect(self.magnitude, math.radians(self.angle))


class SupplySystem(Struct, frozen=True, kw_only=True):
    """A system of supply as it reaches the service panel."""

    name: SystemName
    title: str
    legs: tuple[Leg, ...]
    """The legs that an appliance's outlet can be fed from; the high leg of a delta comes last and belongs to no
    120/240 V outlet."""
    leg_to_neutral: float
    """Nominal [V]."""
    leg_to_leg: float | None
    """Nominal between L1 and L2; none where there is one leg [V]."""
    source: str


class Limit(Struct, frozen=True):
    """One figure of a table with where it was read."""

    value: float
    """[V]"""
    source: str

    @property
    def from_memory(self) -> bool:
        """Whether no copy of the figure was read."""
        return self.source == _MEMORY


class VoltageRange(Struct, frozen=True, kw_only=True):
    """The limits of one voltage range."""

    edition: Edition
    range: RangeName
    place: Place
    """At the service point, or at the appliance (utilization)."""
    systems: tuple[SystemName, ...]
    quantity: Quantity
    minimum: Limit
    maximum: Limit


SYSTEMS: Final[dict[SystemName, SupplySystem]] = {
    system.name: system
    for system in (
        SupplySystem(
            name="split_phase_120_240",
            title="120/240 V single-phase, three-wire (split phase)",
            legs=(Leg(name="L1", magnitude=120.0, angle=0.0), Leg(name="L2", magnitude=120.0, angle=180.0)),
            leg_to_neutral=120.0,
            leg_to_leg=240.0,
            source="ANSI C84.1 nominal system voltage 120/240",
        ),
        SupplySystem(
            name="wye_120_208",
            title="Two phases of a 208Y/120 V three-phase, four-wire system",
            legs=(Leg(name="L1", magnitude=120.0, angle=0.0), Leg(name="L2", magnitude=120.0, angle=-120.0)),
            leg_to_neutral=120.0,
            leg_to_leg=208.0,
            source="ANSI C84.1 nominal system voltage 208Y/120",
        ),
        SupplySystem(
            name="single_phase_120",
            title="120 V single-phase, two-wire",
            legs=(Leg(name="L1", magnitude=120.0, angle=0.0),),
            leg_to_neutral=120.0,
            leg_to_leg=None,
            source="ANSI C84.1 nominal system voltage 120",
        ),
        SupplySystem(
            name="high_leg_delta_120_240",
            title="240/120 V three-phase, four-wire delta with a high leg",
            legs=(
                Leg(name="L1", magnitude=120.0, angle=0.0),
                Leg(name="L2", magnitude=120.0, angle=180.0),
                Leg(name="high", magnitude=120.0 * math.sqrt(3.0), angle=90.0),
            ),
            leg_to_neutral=120.0,
            leg_to_leg=240.0,
            source="ANSI C84.1 nominal system voltage 240/120 (high leg to neutral 208 V)",
        ),
    )
}
"""Every supply system by its name."""

_THREE_WIRE: Final[tuple[SystemName, ...]] = ("split_phase_120_240", "high_leg_delta_120_240")
_ALL: Final[tuple[SystemName, ...]] = tuple(SYSTEMS)
_WYE: Final[tuple[SystemName, ...]] = ("wye_120_208",)


def _both_editions(
    name: RangeName, systems: tuple[SystemName, ...], quantity: Quantity, minimum: Limit, maximum: Limit
) -> list[VoltageRange]:
    return [
        VoltageRange(
            edition=edition,
            range=name,
            place="service",
            systems=systems,
            quantity=quantity,
            minimum=minimum,
            maximum=maximum,
        )
        for edition in EDITIONS
    ]


def _utilization(
    edition: Edition,
    name: RangeName,
    systems: tuple[SystemName, ...],
    quantity: Quantity,
    minimum: Limit,
    maximum: Limit,
) -> VoltageRange:
    return VoltageRange(
        edition=edition,
        range=name,
        place="utilization",
        systems=systems,
        quantity=quantity,
        minimum=minimum,
        maximum=maximum,
    )


_A_TOP = Limit(126.0, _COMAR)
_B_TOP = Limit(127.0, _COPY)
_A_TOP_240 = Limit(252.0, _COMAR)
_B_TOP_240 = Limit(254.0, _MEMORY)
_A_TOP_208 = Limit(218.0, _MEMORY)  # COMAR rounds it to 219
_B_TOP_208 = Limit(220.0, _MEMORY)

VOLTAGE_RANGES: Final[tuple[VoltageRange, ...]] = (
    *_both_editions("A", _ALL, "leg_to_neutral", Limit(114.0, _COMAR), _A_TOP),
    *_both_editions("B", _ALL, "leg_to_neutral", Limit(110.0, _COPY), _B_TOP),
    *_both_editions("A", _THREE_WIRE, "leg_to_leg", Limit(228.0, _COMAR), _A_TOP_240),
    *_both_editions("B", _THREE_WIRE, "leg_to_leg", Limit(220.0, _MEMORY), _B_TOP_240),
    *_both_editions("A", _WYE, "leg_to_leg", Limit(197.0, _COMAR), _A_TOP_208),
    *_both_editions("B", _WYE, "leg_to_leg", Limit(191.0, _MEMORY), _B_TOP_208),
    _utilization("1995-2006", "A", _ALL, "leg_to_neutral", Limit(110.0, _MEMORY), _A_TOP),
    _utilization("1995-2006", "B", _ALL, "leg_to_neutral", Limit(106.0, _MEMORY), _B_TOP),
    _utilization("1995-2006", "A", _THREE_WIRE, "leg_to_leg", Limit(220.0, _MEMORY), _A_TOP_240),
    _utilization("1995-2006", "B", _THREE_WIRE, "leg_to_leg", Limit(212.0, _MEMORY), _B_TOP_240),
    _utilization("1995-2006", "A", _WYE, "leg_to_leg", Limit(191.0, _MEMORY), _A_TOP_208),
    _utilization("1995-2006", "B", _WYE, "leg_to_leg", Limit(184.0, _MEMORY), _B_TOP_208),
    _utilization("2011-2020", "A", _ALL, "leg_to_neutral", Limit(108.0, _MEMORY), _A_TOP),
    _utilization("2011-2020", "B", _ALL, "leg_to_neutral", Limit(104.0, _COPY), _B_TOP),
    _utilization("2011-2020", "A", _THREE_WIRE, "leg_to_leg", Limit(216.0, _MEMORY), _A_TOP_240),
    _utilization("2011-2020", "B", _THREE_WIRE, "leg_to_leg", Limit(208.0, _MEMORY), _B_TOP_240),
    _utilization("2011-2020", "A", _WYE, "leg_to_leg", Limit(187.0, _MEMORY), _A_TOP_208),
    _utilization("2011-2020", "B", _WYE, "leg_to_leg", Limit(180.0, _MEMORY), _B_TOP_208),
)
"""Limits of voltage. The 1995-2006 utilization minima are those of circuits that may supply lighting."""


def voltage_range(
    system: SystemName,
    quantity: Quantity,
    place: Place = "utilization",
    range_name: RangeName = "A",
    edition: Edition = "2011-2020",
) -> VoltageRange:
    """The published limits of one voltage of a system.

    Parameters
    ----------
    system : SystemName
        The supply system.
    quantity : {"leg_to_neutral", "leg_to_leg"}
        Which voltage.
    place : {"service", "utilization"}
        Where it is read: at the service panel, or at the outlet and the appliance.
    range_name : {"A", "B"}
        "A" is where voltages belong; "B" is where they may stray for a limited time.
    edition : {"1995-2006", "2011-2020"}
        Editions of the standard.

    Returns
    -------
    VoltageRange
        Minimum and maximum [V], each with its source.

    Raises
    ------
    ValueError
        If the system has no such voltage: leg to leg of a system of one leg.

    References
    ----------
    .. [1] ANSI C84.1, Electric Power Systems and Equipment, Voltage Ratings (60 Hertz). Not read; see each figure.
    .. [2] Code of Maryland Regulations (COMAR) 20.50.07.02, service voltage: 114 to 126, 114/228 to 126/252,
       114/197 to 126/219 V.
    """
    for found in VOLTAGE_RANGES:
        key = (found.quantity, found.place, found.range, found.edition)
        if key == (quantity, place, range_name, edition) and system in found.systems:
            return found
    raise ValueError(f"{system} has no {quantity.replace('_', ' ')} voltage")


def classify(
    voltage: float,
    system: SystemName,
    quantity: Quantity,
    place: Place = "utilization",
    edition: Edition = "2011-2020",
) -> Class:
    """The range that a voltage lies in, both limits included.

    Parameters
    ----------
    voltage : float
        Magnitude [V].
    system : SystemName
        The supply system.
    quantity : {"leg_to_neutral", "leg_to_leg"}
        Which voltage.
    place : {"service", "utilization"}
        Where it was read.
    edition : {"1995-2006", "2011-2020"}
        Editions of the standard.

    Returns
    -------
    {"A", "B", "outside"}
        The narrowest range that holds it.

    Raises
    ------
    ValueError
        If the system has no such voltage.

    References
    ----------
    .. [1] ANSI C84.1; see `voltage_range`.
    """
    for name in ("A", "B"):
        limits = voltage_range(system, quantity, place, name, edition)
        if limits.minimum.value <= voltage <= limits.maximum.value:
            return name
    return "outside"
