"""The tree of places, what each fault's place is, and who must act: written from the contract, not from the code."""

from collections.abc import Mapping
from typing import Any

TREE: dict[str, tuple[str, ...]] = {
    "none": (),
    "leg": ("service_leg", "feeder_leg", "branch_leg", "cord_leg"),
    "neutral": ("service_neutral", "feeder_neutral", "branch_neutral", "cord_neutral"),
    "both_legs": ("supply_lost", "breaker"),
    "ground": (),
    "supply_voltage": (),
    "supply_system": ("other_supply_system", "neutral_not_bonded"),
    "connections": ("transposed", "joined", "legs_from_same_pole"),
    "appliance": ("leak_to_ground",),
    "tester": (),
    "readings": (),
}
_PARENT = {child: parent for parent, children in TREE.items() for child in children}

OUTSIDE = frozenset({"utility", "electrician"})
ELECTRICIAN = frozenset({"electrician"})
TECHNICIAN = frozenset({"technician"})
NOBODY: frozenset[str] = frozenset()

_REFER = {
    "service_leg": OUTSIDE,
    "service_neutral": OUTSIDE,
    "supply_lost": OUTSIDE,
    "supply_voltage": OUTSIDE,
    "other_supply_system": ELECTRICIAN,
    "neutral_not_bonded": ELECTRICIAN,
    "feeder_leg": ELECTRICIAN,
    "feeder_neutral": ELECTRICIAN,
    "branch_leg": ELECTRICIAN,
    "branch_neutral": ELECTRICIAN,
    "breaker": ELECTRICIAN,
    "ground": ELECTRICIAN,
    "transposed": ELECTRICIAN,
    "joined": ELECTRICIAN,
    "legs_from_same_pole": ELECTRICIAN,
    "cord_leg": TECHNICIAN,
    "cord_neutral": TECHNICIAN,
    "leak_to_ground": TECHNICIAN,
}


def ancestors(place: str) -> frozenset[str]:
    """The place itself and the wider one that holds it."""
    return frozenset({place, _PARENT.get(place, place)})


def holds(wider: str, place: str) -> bool:
    """Whether a place is the same as another or holds it."""
    return wider in ancestors(place)


def who_acts(place: str) -> frozenset[str]:
    """Who must act; of a wide place, all that its narrower ones need."""
    if TREE.get(place):
        return frozenset().union(*(who_acts(child) for child in TREE[place]))
    return _REFER.get(place, NOBODY)


def place_of_fault(fault: str, location: str | None) -> str:
    """Place that a fault's code and location stand for, for answers that carry no place of their own.

    Raises
    ------
    KeyError
        For a fault that the contract does not know.
    """
    at_cord = location is not None and location.startswith("between_receptacle")
    at_service = location == "upstream_of_service_panel"
    if fault in {"open_neutral", "high_resistance_neutral"}:
        return "cord_neutral" if at_cord else "branch_neutral"
    if fault in {"open_leg", "high_resistance_leg"}:
        if at_service:
            return "service_leg"
        return "cord_leg" if at_cord else "branch_leg" if location is not None and "between" in location else "leg"
    return {
        "none_found": "none",
        "open_service_neutral": "service_neutral",
        "high_resistance_service_neutral": "service_neutral",
        "open_feeder_neutral": "feeder_neutral",
        "high_resistance_feeder_neutral": "feeder_neutral",
        "no_supply": "both_legs",
        "breaker_open": "breaker",
        "voltage_low": "supply_voltage",
        "voltage_high": "supply_voltage",
        "other_supply_system": "other_supply_system",
        "neutral_not_bonded": "neutral_not_bonded",
        "legs_from_same_pole": "legs_from_same_pole",
        "leg_neutral_transposed": "transposed",
        "leg_ground_transposed": "transposed",
        "neutral_ground_transposed": "transposed",
        "neutral_ground_joined": "joined",
        "leak_to_ground": "leak_to_ground",
        "open_ground": "ground",
        "tester_dead": "tester",
        "readings_inconsistent": "readings",
        "intermittent_connection": "readings",
    }[fault]


def place_of(answer: Mapping[str, Any]) -> str:
    """Place of an assessment's finding."""
    finding = answer["finding"]
    if finding.get("place"):
        return str(finding["place"])
    return place_of_fault(finding["fault"], finding.get("location"))
