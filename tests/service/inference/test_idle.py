"""An idle appliance may have nothing connected, and a usual voltmeter then reads right across an open neutral.

Common practice, no source: unloaded, a high-impedance voltmeter shows an open neutral as good; under load it does not.
"""

import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.inference import circuits_of
from feedproof.readings import Supply
from support.answers import probability
from support.outcomes import volts
from support.proof_cases import FOUR_WIRE, UNKNOWN, visit
from support.seam import site

SUPPLIES = pytest.mark.parametrize("supply", [FOUR_WIRE, UNKNOWN])


def idle(first: float, second: float, supply: Supply, meter: str = "dmm") -> Assessment:
    """Give what three readings at an idle appliance say."""
    taken = (
        volts("L1", "L2", 242.6, meter, "idle"),
        volts("L1", "N", first, meter, "idle"),
        volts("L2", "N", second, meter, "idle"),
        volts("N", "G", 0.0, meter, "idle"),
    )
    return assess(visit(*taken, supply=supply))


@SUPPLIES
def test_what_is_idle_proves_no_neutral(supply: Supply) -> None:
    found = idle(121.3, 121.3, supply)
    assert found.disposition == "take_more_readings"
    assert "may be open" in found.headline
    state = found.next_readings[0].load_state
    assert state is not None
    assert state.kind == "test_load"


@SUPPLIES
def test_a_meter_with_low_impedance_does(supply: Supply) -> None:
    found = idle(121.3, 121.3, supply, "loz")
    assert found.disposition == "no_supply_fault_found"
    assert probability(found, "open_neutral") < 0.01


@SUPPLIES
def test_legs_that_fall_short_of_the_whole_speak_of_an_open_neutral(supply: Supply) -> None:
    """The meter itself pulls what floats: 117.7 V and 117.7 V where leg to leg is 242.6 V."""
    found = idle(117.7, 117.7, supply)
    assert probability(found, "open_neutral") > 0.15
    assert found.disposition != "no_supply_fault_found"


def test_each_place_that_it_hides_is_weighed_both_ways() -> None:
    readings = visit(volts("L1", "N", 121.0, state="idle"), supply=FOUR_WIRE)
    for fault in ("none_found", "open_neutral", "open_leg", "breaker_open"):
        both = circuits_of(readings, site(readings, fault))
        assert sorted((c.contacts_open, round(c.share, 6)) for c in both) == [(False, 0.8), (True, 0.2)]
    alone = circuits_of(readings, site(readings, "open_ground"))
    assert [c.contacts_open for c in alone] == [False]
