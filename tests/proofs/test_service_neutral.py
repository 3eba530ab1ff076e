"""Readings taken from OpenDSS's solutions of a house whose service neutral is at fault, or sound.

The house is the appliance's own: a receptacle close to the panel, so that what the panel has is what is read. Loads of
the house are constant; the appliance is a range across the legs, on or off.
"""

import itertools
from typing import Any

import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.readings import VoltageReading
from support.answers import named, probability
from support.opendss_oracle import PERFECT, Service, Transformer, solve
from support.outcomes import DMM
from support.parallel import write_figures
from support.proof_cases import FOUR_WIRE, visit

pytestmark = pytest.mark.slow

SERVICE = ("open_service_neutral", "high_resistance_service_neutral")
BRANCH = ("open_neutral", "high_resistance_neutral", "open_leg", "high_resistance_leg")

UNBALANCED = {("L1", "N"): 12.0 + 0.5j, ("L2", "N"): 6.0 + 0.3j}
MOTOR = {("L1", "N"): 30.0 + 4.0j, ("L2", "N"): 4.0 + 2.0j, ("L1", "L2"): 25.0 + 8.0j}
LIGHT = {("L1", "N"): 60.0 + 2.0j, ("L2", "N"): 20.0 + 1.0j}
HOUSES = {"unbalanced": UNBALANCED, "with a motor": MOTOR, "lightly loaded": LIGHT}
RANGE = {("L1", "L2"): 12.0 + 0.0j}

FAULTY = [
    pytest.param(house, fault, rod, id=f"{house}, neutral {fault:g} ohm, rod {rod:g} ohm")
    for house, fault, rod in itertools.product(HOUSES, (2.0, 20.0, 1e3, 1e9), (25.0, 100.0, 1e9))
]
SOUND = [
    pytest.param(house, fault, id=f"{house}, neutral {fault:g} ohm")
    for house, fault in itertools.product(HOUSES, (PERFECT, 0.02))
]
FIGURES: list[dict[str, Any]] = []


def readings(house: str, fault: float, rod: float, *, with_ground: bool = True) -> Assessment:
    """What a 10 megohm meter shows at the receptacle with the range off and on."""
    taken: list[VoltageReading] = []
    for state, more in (("idle", {}), ("running", RANGE)):
        own = HOUSES[house]
        loads = {pair: 1.0 / sum(1.0 / z[pair] for z in (own, more) if pair in z) for pair in {*own, *more}}
        at = solve(Service(loads=loads, transformer=Transformer(), neutral_fault=fault, rod=rod))
        for a, b in (("L1", "L2"), ("L1", "N"), ("L2", "N")):
            value = round(abs(at[a] - at[b]) / DMM.resolution) * DMM.resolution
            taken.append(VoltageReading(between=(a, b), value=round(value, 1), meter="dmm", load_state=state))  # type: ignore[arg-type]
        if with_ground:
            # Neutral and ground are one bar at the panel; a range across the legs leaves the branch neutral idle.
            taken.append(VoltageReading(between=("N", "G"), value=0.0, meter="dmm", load_state=state))
    return assess(visit(*taken, supply=FOUR_WIRE))


def noted(found: Assessment, house: str, fault: float, rod: float) -> None:
    FIGURES.append(
        {
            "house": house,
            "neutral_ohm": fault,
            "rod_ohm": rod,
            "finding": found.finding.fault,
            "probability": found.finding.probability,
            "determination": found.determination,
            "service_neutral": probability(found, *SERVICE),
        }
    )
    write_figures("service_neutral", FIGURES)


@pytest.mark.parametrize(("house", "fault", "rod"), FAULTY)
def test_a_faulty_service_neutral_is_named(house: str, fault: float, rod: float) -> None:
    found = readings(house, fault, rod)
    noted(found, house, fault, rod)
    if found.determination == "undetermined":
        assert any((name, "N") in named(found, 0.05) for name in SERVICE)
    else:
        assert found.finding.fault in SERVICE
    assert probability(found, *BRANCH) < 0.1
    assert "service_neutral" in {caution.code for caution in found.cautions}


@pytest.mark.parametrize(("house", "fault"), SOUND)
def test_a_sound_service_neutral_is_not(house: str, fault: float) -> None:
    found = readings(house, fault, 25.0)
    noted(found, house, fault, 25.0)
    assert not (found.finding.fault in SERVICE and found.determination == "established")
    assert probability(found, "none_found", "voltage_low") > 0.5


@pytest.mark.parametrize("house", HOUSES)
def test_open_or_merely_bad_is_claimed_only_where_it_shows(house: str) -> None:
    """Beside a 25 ohm rod a joint of some hundred ohms is as good as open: neither may be established alone."""
    for fault in (100.0, 1e9):
        found = readings(house, fault, 25.0)
        wrong = "open" if fault < 1e3 else "high_resistance"
        assert found.finding.degree != wrong, (fault, found.finding)
