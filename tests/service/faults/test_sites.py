"""Every place that is weighed: together they are all there is, and one more entry is one more place."""

import itertools
from collections.abc import Iterator

import pytest
from msgspec.structs import replace

from feedproof.faults import sites as catalogue
from feedproof.faults.places import LOCATIONS, Break, Site, mass, neutral_rate
from feedproof.faults.priors import BASE_RATES
from feedproof.faults.sites import sites
from feedproof.faults.visit import Visit
from feedproof.inference import Simulation, infer, simulate
from feedproof.readings import FedFrom, Point, ReadingSet, Supply, SystemName
from support.outcomes import METERS, volts
from support.proof_cases import FOUR_WIRE, LABELS

SYSTEMS: tuple[SystemName, ...] = (
    "split_phase_120_240",
    "wye_120_208",
    "single_phase_120",
    "high_leg_delta_120_240",
)
FEEDS: tuple[FedFrom, ...] = ("service_panel", "sub_panel", "sub_panel_bonded", "unknown")
OUTLET: frozenset[Point] = frozenset({"receptacle"})


def of(supply: Supply, points: frozenset[Point] = OUTLET, **rates: float) -> tuple[Site, ...]:
    return sites(supply, points, ((0, False),), 0.1, tuple(sorted(rates.items())) or None)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_places_are_all_there_is(system: SystemName) -> None:
    for fed, ground, neutral in itertools.product(FEEDS, (True, False), (True, False)):
        supply = Supply(
            system=system, fed_from=fed, neutral=neutral, equipment_ground="present" if ground else "absent"
        )
        found = of(supply)
        assert sum(mass(site) for site in found) == pytest.approx(1.0)
        assert len(set(found)) == len(found)
        places = {site.place for site in found}
        assert places >= {"none", "breaker", "service_leg", "branch_leg", "readings"}
        assert ("feeder_neutral" in places) == (fed != "service_panel" and neutral)
        assert ("branch_neutral" in places) == neutral
        assert ("ground" in places) == ground


def test_base_rates_are_kept_whatever_the_sections() -> None:
    """A section that no reading could see gives its share to the others."""
    for points in (OUTLET, frozenset[Point]({"receptacle", "appliance_terminals"})):
        share: dict[str, float] = {}
        for site in [s for s in of(FOUR_WIRE, points) if not s.also]:
            for fault, own in [(s.fault, s.share) for s in site.spans[0]] if site.spans else [(site.fault, 1.0)]:
                share[fault] = share.get(fault, 0.0) + own * site.rate
        for fault in ("open_leg", "high_resistance_leg", "voltage_low", "leg_neutral_transposed", "tester_dead"):
            expected = BASE_RATES[fault] / BASE_RATES["none_found"]
            assert share[fault] / share["none_found"] == pytest.approx(expected)


def test_conductors_are_exchanged_in_the_cord_where_that_can_be_seen() -> None:
    """The ground's current shows it of the neutral; of a leg, a reading at the terminals alone."""

    def exchanged(*points: Point) -> set[tuple[str, str | None]]:
        found = of(FOUR_WIRE, frozenset(points))
        return {(s.fault, s.location) for s in found if s.place == "transposed"}

    branch, cord = LOCATIONS["branch"], LOCATIONS["cord"]
    faults = ("leg_neutral_transposed", "leg_ground_transposed", "neutral_ground_transposed")
    outlet = {(fault, branch) for fault in faults}
    assert exchanged("receptacle") == outlet | {("neutral_ground_transposed", cord)}
    assert exchanged("receptacle", "appliance_terminals") == outlet | {(fault, cord) for fault in faults}


def test_a_strap_that_is_said_to_stand_beside_a_ground_is_what_is_wrong() -> None:
    def joined(supply: Supply) -> float:
        shares = {s.location: mass(s) for s in of(supply) if s.place in {"joined", "none"} and not s.breaks}
        return shares[LOCATIONS["cord"]] / shares[None]

    stated = replace(FOUR_WIRE, frame_bonded_to_neutral=True)
    assert joined(stated) > 40.0
    assert joined(FOUR_WIRE) < 0.01
    # Where nobody knows of a ground the strap may be right.
    assert joined(replace(stated, equipment_ground="unknown")) < 0.01


def test_rates_of_the_caller_take_the_place_of_the_published_ones() -> None:
    assert "breaker" not in {s.place for s in of(FOUR_WIRE, breaker_open=0.0)}
    plain, more = of(FOUR_WIRE), of(FOUR_WIRE, breaker_open=10.0 * BASE_RATES["breaker_open"])

    def odds(found: tuple[Site, ...]) -> float:
        by = {s.place: mass(s) for s in found if s.place in {"breaker", "none"}}
        return by["breaker"] / by["none"]

    assert odds(more) / odds(plain) == pytest.approx(10.0)


def test_a_place_is_the_same_circuit_whatever_its_rate() -> None:
    plain = {neutral_rate(s) for s in of(FOUR_WIRE)}
    assert {neutral_rate(s) for s in of(FOUR_WIRE, none_found=0.9, open_neutral=0.2)} == plain


def both_legs(visit: Visit) -> Iterator[Site]:
    """A fault of the tests' own: both legs through two kilohms."""
    yield Site(
        place="test_place",
        fault="both_legs_weak",
        location=LOCATIONS["branch"],
        rate=visit.rate["both_legs_weak"],
        breaks=tuple(Break("branch", leg, -1, 2e3) for leg in visit.supply.legs),
    )


@pytest.fixture
def one_more(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    sites.cache_clear()
    with monkeypatch.context() as context:
        context.setattr(catalogue, "ENTRIES", [*catalogue.ENTRIES, both_legs])
        context.setitem(BASE_RATES, "both_legs_weak", 0.01)
        yield
    sites.cache_clear()


@pytest.mark.usefixtures("one_more")
def test_one_entry_more_is_weighed_found_and_simulated() -> None:
    asked = ReadingSet(
        supply=FOUR_WIRE,
        meters={"loz": METERS["loz"]},
        load_states={"disconnected": LABELS["disconnected"]},
        readings=(volts("L1", "L2", 0.0, "loz"), volts("L1", "N", 0.0, "loz"), volts("L2", "N", 0.0, "loz")),
    )
    read = simulate(Simulation(fault="both_legs_weak", readings=asked))
    # A leg's 121 V over 3 kΩ and 2 kΩ; between the legs 242 V over 3 kΩ and 4 kΩ (dividers by hand).
    assert [r.value for r in read] == pytest.approx([242.0 * 3.0 / 7.0, 121.0 * 0.6, 121.0 * 0.6], abs=2.0)  # type: ignore[union-attr]
    found = infer(ReadingSet(supply=FOUR_WIRE, meters=asked.meters, load_states=asked.load_states, readings=read))
    assert found.candidates[0].fault == "both_legs_weak"
    assert found.candidates[0].place == "test_place"
    assert found.candidates[0].probability > 0.8
    assert sum(c.base_rate for c in found.candidates) == pytest.approx(1.0)
