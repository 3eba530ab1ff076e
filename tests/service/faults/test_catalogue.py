"""The catalogue names every fault of the model, and no other."""

import itertools
import math

import pytest

from feedproof.faults.catalogue import FAULT_NAMES, FAULTS, Fault
from feedproof.faults.priors import BASE_RATES, PRIORS
from feedproof.faults.sites import sites
from feedproof.readings import Supply, SystemName

# The names that callers depend on.
PUBLISHED = [
    "none_found",
    "open_neutral",
    "high_resistance_neutral",
    "open_leg",
    "high_resistance_leg",
    "open_service_neutral",
    "high_resistance_service_neutral",
    "no_supply",
    "voltage_low",
    "voltage_high",
    "other_supply_system",
    "legs_from_same_pole",
    "leg_neutral_transposed",
    "leg_ground_transposed",
    "open_ground",
    "open_feeder_neutral",
    "high_resistance_feeder_neutral",
    "breaker_open",
    "neutral_ground_transposed",
    "neutral_ground_joined",
    "leak_to_ground",
    "intermittent_connection",
    "tester_dead",
    "neutral_not_bonded",
    "readings_inconsistent",
]

SYSTEMS: tuple[SystemName, ...] = (
    "split_phase_120_240",
    "wye_120_208",
    "single_phase_120",
    "high_leg_delta_120_240",
)


def everything() -> set[tuple[str, str | None]]:
    """(fault, conductor) of every place, first and second faults, on any supply."""
    found: set[tuple[str, str | None]] = set()
    for system, grounded in itertools.product(SYSTEMS, (True, False)):
        supply = Supply(system=system, equipment_ground="present" if grounded else "absent")
        for site in sites(supply, frozenset({"receptacle"}), ((0, False),), 0.1, None):
            faults = {span.fault for spans in site.spans[:1] for span in spans} or {site.fault}
            found |= {*((fault, site.conductor) for fault in faults), *site.also}
    return found


def test_the_catalogue_holds_the_published_names() -> None:
    assert [fault.name for fault in FAULTS] == PUBLISHED
    assert sorted(PUBLISHED) == sorted(FAULT_NAMES)


def test_every_fault_has_a_base_rate_and_no_other_has() -> None:
    assert set(BASE_RATES) == set(FAULT_NAMES)
    assert all(fault.base_rate == BASE_RATES[fault.name] for fault in FAULTS)


def test_every_fault_is_weighed_and_no_other_is() -> None:
    assert {fault for fault, _ in everything()} == set(FAULT_NAMES)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_the_conductors_are_those_that_the_model_puts_it_on(fault: Fault) -> None:
    on = {conductor for name, conductor in everything() if name == fault.name and conductor is not None}
    assert on == set(fault.conductors)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_each_says_what_it_means_and_where_its_limits_come_from(fault: Fault) -> None:
    for text in (fault.meaning, fault.limits, fault.source):
        assert text.endswith(".")
        assert len(text) > 10


def test_the_limits_say_what_the_priors_have() -> None:
    limits = {fault.name: fault.limits for fault in FAULTS}
    assert PRIORS.open_resistance == 1e3
    assert all("1 kΩ or more" in limits[name] for name in ("open_neutral", "open_leg", "open_ground"))
    most = PRIORS.branch_resistance * math.exp(PRIORS.sound_reach * PRIORS.branch_spread)
    assert f"{most:.2f}" == "0.16"
    assert all("0.16 Ω" in limits[name] for name in ("high_resistance_neutral", "high_resistance_leg"))
    low, high = (120.0 * share for share in PRIORS.supply_range)
    assert f"{low:.0f} V" in limits["voltage_low"]
    assert f"{high:.0f} V" in limits["voltage_high"]


def test_no_fault_found_never_reads_as_safe() -> None:
    sound = FAULTS[0]
    assert sound.name == "none_found"
    assert "never that the supply is free of danger" in sound.meaning
