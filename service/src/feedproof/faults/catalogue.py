"""The names of the faults, what each means, and where its limits come from."""

from msgspec import Struct

from feedproof.faults.priors import BASE_RATES


class Fault(Struct, frozen=True, kw_only=True):
    """One entry of the published catalogue."""

    name: str
    meaning: str
    limits: str
    source: str
    conductors: tuple[str, ...] = ()
    """Conductors that it may sit on; empty where it has none."""

    @property
    def base_rate(self) -> float:
        """Share of visits, before any reading [1]."""
        return BASE_RATES[self.name]


_OPEN = "1 kΩ or more in series."
_HIGH = "More than the run's size and length can explain (0.16 Ω where they are not stated), up to 1 kΩ in series."
_OWN = "Definition of this service."
_RANGE = "ANSI C84.1 range A, service voltage; limits as copied in COMAR 20.50.07.02."

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="none_found",
        meaning="These readings show no supply fault. It says nothing beyond these readings and their "
        "detection limits, and never that the supply is free of danger.",
        limits="See `detection_limits` of the answer.",
        source=_OWN,
    ),
    Fault(
        name="open_neutral",
        meaning="The neutral of the branch circuit is interrupted.",
        limits=_OPEN,
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="high_resistance_neutral",
        meaning="The neutral of the branch circuit has a bad joint.",
        limits=_HIGH,
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="open_leg",
        meaning="One leg is interrupted: a lost leg.",
        limits=_OPEN,
        source=_OWN,
        conductors=("L1", "L2"),
    ),
    Fault(
        name="high_resistance_leg",
        meaning="One leg has a bad joint.",
        limits=_HIGH,
        source=_OWN,
        conductors=("L1", "L2"),
    ),
    Fault(
        name="open_service_neutral",
        meaning="The neutral between the transformer and the service panel is interrupted. The legs move "
        "apart with the load in the whole building.",
        limits=_OPEN,
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="high_resistance_service_neutral",
        meaning="The neutral between the transformer and the service panel has a bad joint.",
        limits="More than 0.1 Ω, up to 1 kΩ in series.",
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="no_supply",
        meaning="Neither leg is fed: breaker off or tripped, fuse blown, service lost.",
        limits="Both legs open.",
        source=_OWN,
    ),
    Fault(
        name="voltage_low",
        meaning="The supply voltage lies below its range.",
        limits="Below 114 V leg to neutral on a 120 V base, at the service.",
        source=_RANGE,
    ),
    Fault(
        name="voltage_high",
        meaning="The supply voltage lies above its range.",
        limits="Above 126 V leg to neutral on a 120 V base, at the service.",
        source=_RANGE,
    ),
    Fault(
        name="other_supply_system",
        meaning="The supply is of another system than the one stated, for example two legs of a 208Y/120 V "
        "wye in place of a 120/240 V split phase.",
        limits="Phase angle and magnitudes of the legs are those of another system of the catalogue.",
        source="ANSI C84.1 nominal systems (from memory).",
    ),
    Fault(
        name="legs_from_same_pole",
        meaning="Both legs are fed from one pole of the supply: nothing between them, each right to neutral.",
        limits="Both legs in phase.",
        source=_OWN,
    ),
    Fault(
        name="leg_neutral_transposed",
        meaning="A leg and the neutral are interchanged, or one of them stands on both contacts, between the panel and "
        "the receptacle or in the cord.",
        limits="Wiring fault; no threshold.",
        source=_OWN,
        conductors=("L1", "L2"),
    ),
    Fault(
        name="leg_ground_transposed",
        meaning="A leg and the equipment ground are interchanged, or the leg stands on both contacts: whatever is "
        "bonded to ground is live.",
        limits="Wiring fault; no threshold.",
        source=_OWN,
        conductors=("L1", "L2"),
    ),
    Fault(
        name="open_ground",
        meaning="The equipment ground is interrupted between the panel and the receptacle.",
        limits=_OPEN,
        source=_OWN,
        conductors=("G",),
    ),
    Fault(
        name="open_feeder_neutral",
        meaning="The neutral between the service panel and a sub-panel is interrupted. Behind it the legs move apart "
        "against the neutral, and not against the ground.",
        limits=_OPEN,
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="high_resistance_feeder_neutral",
        meaning="The neutral between the service panel and a sub-panel has a bad joint.",
        limits="More than 0.1 Ω, up to 1 kΩ in series.",
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="breaker_open",
        meaning="Both legs are interrupted between the panel and the receptacle: a breaker that is off or has tripped, "
        "or a pulled fuse block. A tripped breaker has a cause.",
        limits="Both legs open, the panel fed.",
        source=_OWN,
    ),
    Fault(
        name="neutral_ground_transposed",
        meaning="The neutral and the equipment ground are interchanged: load current flows on the ground.",
        limits="Wiring fault; no threshold.",
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="neutral_ground_joined",
        meaning="Neutral and ground are joined beyond the service panel: a jumper at the receptacle (with or without "
        "an equipment ground behind it), or a bonding strap left in on a four-wire cord.",
        limits="Wiring fault; no threshold.",
        source=_OWN,
        conductors=("N",),
    ),
    Fault(
        name="leak_to_ground",
        meaning="A leg leaks to the equipment ground inside the appliance, as from a heating element to its sheath.",
        limits="Less than 100 kΩ from the leg to ground.",
        source=_OWN,
        conductors=("L1", "L2"),
    ),
    Fault(
        name="intermittent_connection",
        meaning="A joint makes and breaks: readings of one state that cannot all be true of one circuit.",
        limits="Some readings with a sound joint, some with 3 Ω or more in it.",
        source=_OWN,
        conductors=("L1", "L2", "N"),
    ),
    Fault(
        name="tester_dead",
        meaning="A voltmeter shows near 0 V whatever is there: wrong function, flat battery, blown fuse, open lead.",
        limits="All voltage readings of one meter.",
        source=_OWN,
    ),
    Fault(
        name="neutral_not_bonded",
        meaning="The source's neutral is not bonded to ground, as with many generators: the legs are right against the "
        "neutral and float against the ground.",
        limits="No bond at the source or the service panel.",
        source=_OWN,
        conductors=("G",),
    ),
    Fault(
        name="readings_inconsistent",
        meaning="No single circuit gives these readings: at least one was misread or belongs to another "
        "moment, range or pair.",
        limits="Each reading counts as wrong with probability one half.",
        source=_OWN,
    ),
)

FAULT_NAMES: frozenset[str] = frozenset(fault.name for fault in FAULTS)
