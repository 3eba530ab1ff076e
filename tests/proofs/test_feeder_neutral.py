"""Readings taken from OpenDSS's solutions of a sub-panel whose feeder's neutral is at fault, or sound.

The receptacle is close to the sub-panel and nothing is plugged in: what the sub-panel has is what is read. Ground comes
from the service panel and carries nothing. Readings are whole volts, as a person notes them.
"""

import itertools
from typing import Literal

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.readings import Conductor
from support.opendss_oracle import PERFECT, Feeder, Service, solve
from support.outcomes import volts
from support.proof_cases import FOUR_WIRE, visit

LOADS = {
    "one leg": {("L1", "N"): 10.0 + 0.5j},
    "unbalanced": {("L1", "N"): 12.0 + 0.5j, ("L2", "N"): 40.0 + 1.0j},
    "with a range": {("L1", "N"): 15.0 + 0.5j, ("L2", "N"): 60.0 + 2.0j, ("L1", "L2"): 12.0 + 0.0j},
}
HOUSE = {("L1", "N"): 20.0 + 0.5j, ("L2", "N"): 30.0 + 0.5j}
FedFrom = Literal["sub_panel", "unknown"]
PAIRS: tuple[tuple[Conductor, Conductor], ...] = (
    ("L1", "L2"),
    ("L1", "N"),
    ("L2", "N"),
    ("N", "G"),
    ("L1", "G"),
    ("L2", "G"),
)


def read(loads: str, fault: float, fed_from: FedFrom) -> Assessment:
    """What a meter shows at the outlet, to whole volts."""
    case = Service(loads=HOUSE, rod=25.0, feeder=Feeder(loads=LOADS[loads], neutral_fault=fault))
    at = {**solve(case, "sub"), "G": solve(case)["N"]}
    taken = [volts(a, b, float(round(abs(at[a] - at[b])))) for a, b in PAIRS]
    return assess(visit(*taken, supply=msgspec.structs.replace(FOUR_WIRE, fed_from=fed_from)))


@pytest.mark.parametrize(
    ("loads", "fault", "fed_from"), list(itertools.product(LOADS, (2.0, 20.0, 1e3, 1e9), ("sub_panel", "unknown")))
)
def test_a_bad_feeder_neutral_is_named_and_no_branch_condemned(loads: str, fault: float, fed_from: FedFrom) -> None:
    found = read(loads, fault, fed_from)
    assert found.finding.place == "feeder_neutral"
    assert found.determination == "established"
    assert found.disposition == "stop_and_refer"
    assert "electrician" in found.refer_to


@pytest.mark.parametrize("loads", LOADS)
def test_the_drop_of_a_sound_feeder_accuses_nothing(loads: str) -> None:
    for fault in (PERFECT, 0.1):
        found = read(loads, fault, "sub_panel")
        assert found.finding.place == "none" or found.determination != "established"
