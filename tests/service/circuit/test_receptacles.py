"""The table of receptacles: designations, contacts and ratings.

NEMA WD 6 by series (public tables were read): 5 is a leg, neutral and ground, 6 two legs and ground, 10 two legs and
neutral, 14 all four; an L before it is locking with the same contacts.
"""

from typing import get_args

import pytest

from feedproof.circuit.receptacles import HARDWIRED, RECEPTACLES
from feedproof.contract.words import ReceptacleName


def test_every_designation_that_a_request_may_name_is_in_the_table_and_no_other() -> None:
    assert set(get_args(ReceptacleName)) == {*RECEPTACLES, HARDWIRED}


@pytest.mark.parametrize(
    ("series", "conductors", "poles", "wires"),
    # Poles and wires as the tables give them: a pole carries current, the ground is a wire and no pole.
    [("5", "L1 N G", 2, 3), ("6", "L1 L2 G", 2, 3), ("10", "L1 L2 N", 3, 3), ("14", "L1 L2 N G", 3, 4)],
)
def test_a_series_has_the_contacts_that_its_poles_and_wires_ask_for(
    series: str, conductors: str, poles: int, wires: int
) -> None:
    found = [r for name, r in RECEPTACLES.items() if name.removeprefix("L").partition("-")[0] == series]
    assert len(found) >= 2
    for receptacle in found:
        assert receptacle.conductors == tuple(conductors.split())
        assert len(receptacle.contacts) == wires
        assert len([c for c in receptacle.conductors if c != "G"]) == poles


def test_the_number_behind_the_dash_is_the_rated_current() -> None:
    for name, receptacle in RECEPTACLES.items():
        assert f"-{receptacle.current:g}R" in name


def test_each_contact_has_a_letter_and_a_name_of_its_own() -> None:
    for receptacle in RECEPTACLES.values():
        for field in ("letter", "name", "conductor"):
            assert len({getattr(contact, field) for contact in receptacle.contacts}) == len(receptacle.contacts)
        assert receptacle.source.startswith("NEMA WD 6")


def test_a_neutral_of_a_dryer_outlet_is_known_by_its_shape() -> None:
    # Public tables and manuals: the neutral of 10-30 and 14-30 is L-shaped, of 14-50 straight.
    looks = {
        name: contact.name for name, r in RECEPTACLES.items() for contact in r.contacts if contact.conductor == "N"
    }
    assert "L-shaped" in looks["10-30R"]
    assert "L-shaped" in looks["14-30R"]
    assert "straight" in looks["14-50R"]
