"""The tree of places, who acts on each, and what it is called; the tree is common practice, no source."""

import pytest

from feedproof.advice.places import PARENTS, TOPS, leading, narrowest, parties, places, title, wider
from feedproof.faults.catalogue import FAULTS
from support.outcomes import PLACES, candidate


def test_the_tree_is_two_deep_and_closed() -> None:
    assert set(PARENTS.values()) <= set(TOPS)
    assert not set(PARENTS) & set(TOPS)


def test_every_place_has_words() -> None:
    for place in (*PARENTS, *TOPS):
        assert "_" not in title(place, None)
        assert "safe" not in title(place, None).lower()


def test_a_pair_counts_for_both_of_its_places_and_once_for_what_holds_both() -> None:
    both = [candidate("open_leg", 0.4, "L1", also=(("open_neutral", "N"),)), candidate("none_found", 0.6)]
    found = places(both)
    assert found["branch_leg", "L1"] == found["leg", "L1"] == 0.4
    assert found["branch_neutral", "N"] == 0.4
    assert sum(found[key] for key in found if key[0] == "none") == 0.6


def test_the_narrowest_place_that_holds_enough_is_named() -> None:
    legs = [
        candidate("open_leg", 0.6, "L1"),
        candidate("high_resistance_leg", 0.36, "L1"),
        candidate("none_found", 0.04),
    ]
    found = narrowest(legs, 0.95)
    assert found is not None
    assert (found.name, found.conductor) == ("branch_leg", "L1")
    assert narrowest(legs, 0.97) is None
    assert leading(legs).name == "branch_leg"


@pytest.mark.parametrize(
    ("fault", "source", "expected"),
    [
        ("open_service_neutral", "utility", ["utility", "electrician"]),
        ("open_service_neutral", "generator", ["electrician"]),
        ("no_supply", "utility", ["utility", "electrician"]),
        ("voltage_low", "utility", ["utility", "electrician"]),
        ("open_feeder_neutral", "utility", ["electrician"]),
        ("open_neutral", "utility", ["electrician"]),
        ("leak_to_ground", "utility", ["technician"]),
        ("tester_dead", "utility", []),
        ("none_found", "utility", []),
    ],
)
def test_who_acts_goes_by_the_place(fault: str, source: str, expected: list[str]) -> None:
    every = [candidate(fault, 1.0, "N")]
    assert parties(every, leading(every), source) == expected  # type: ignore[arg-type]


@pytest.mark.parametrize("fault", ["neutral_ground_joined", "neutral_ground_transposed"])
def test_what_is_wrong_in_the_cord_alone_is_the_technicians_own(fault: str) -> None:
    cord = candidate(fault, 0.9, "N", location="between_receptacle_and_appliance_terminals")
    outlet = candidate(fault, 0.08, "N", location="between_panel_and_receptacle")
    assert parties([cord], leading([cord]), "utility") == ["technician"]
    assert parties([cord, outlet], leading([cord, outlet]), "utility") == ["electrician", "technician"]


def test_parts_of_five_percent_call_whom_they_need() -> None:
    every = [candidate("open_neutral", 0.93, "N"), candidate("open_service_neutral", 0.07, "N")]
    found = narrowest(every, 0.95)
    assert found is not None
    assert found.name == "neutral"
    assert parties(every, found, "utility") == ["utility", "electrician"]


def test_every_fault_of_the_catalogue_has_a_place_in_the_tree() -> None:
    for fault in FAULTS:
        place = PLACES.get(fault.name, fault.name)
        assert wider(place)[-1] in TOPS


def test_places_alike_in_probability_are_parted_by_their_order_alone() -> None:
    """Of a pair the first fault's place leads, in every process: nothing hangs on how a name happens to hash."""
    pair = [candidate("open_neutral", 0.97, "N", also=(("open_ground", "G"),)), candidate("none_found", 0.03)]
    assert [key for key in places(pair) if key[0] != "none"] == [
        ("branch_neutral", "N"),
        ("neutral", "N"),
        ("ground", "G"),
    ]
    assert (leading(pair).name, narrowest(pair, 0.95)) == ("branch_neutral", leading(pair))
