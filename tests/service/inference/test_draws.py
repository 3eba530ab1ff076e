"""Circuits and readings drawn from the model."""

from collections import Counter

import msgspec
import numpy as np
import pytest

from feedproof.faults.priors import BASE_RATES, PAIR_SHARE
from feedproof.inference import draw, infer
from feedproof.readings import ProximityReading, Reading, ReadingSet, ResistanceReading, VoltageReading
from support.outcomes import METERS, amps, near, ohms, volts
from support.proof_cases import FOUR_WIRE, LABELS, visit

LEGS = (volts("L1", "L2", 0.0, state="idle"), volts("L1", "N", 0.0, state="idle"), volts("L2", "N", 0.0, state="idle"))


def arranged(*taken: Reading) -> ReadingSet:
    """Everything that could be used, and what is read."""
    return ReadingSet(supply=FOUR_WIRE, meters=METERS, load_states=LABELS, readings=taken)


def test_the_same_seed_gives_the_same() -> None:
    assert draw(arranged(*LEGS), (1, 2)) == draw(arranged(*LEGS), (1, 2))
    assert draw(arranged(*LEGS), (1, 2)) != draw(arranged(*LEGS), (1, 3))


@pytest.mark.parametrize("seed", range(25))
def test_reading_on_leaves_the_circuit_and_what_was_read(seed: int) -> None:
    truth, noted = draw(arranged(*LEGS), (3, seed))
    # What else is on in the building changes from one load state to the next, by 12 % on either leg, and so does a
    # neutral that is bad upstream: some ten volts.
    state = "idle" if truth.location is not None and truth.location.startswith("upstream") else None
    more = (
        near("N", detected=False, state=state or "disconnected"),
        amps("L1", 0.0, state=state or "heating"),
        volts("L1", "N", 0.0, "loz", state=state or "disconnected"),
    )
    same, further = draw(arranged(*LEGS, *more), (3, seed))
    # But for what is at its median as long as no reading hangs on it, a few tenths of a volt.
    near_enough = 0.5
    for before, after in zip(noted.readings, further.readings, strict=False):
        assert isinstance(before, VoltageReading)
        assert isinstance(after, VoltageReading)
        assert after.value == pytest.approx(before.value, abs=near_enough)
    assert same.parts == truth.parts
    assert same.fault_resistances == pytest.approx(truth.fault_resistances)
    for at, value in truth.neutral_voltages.items():
        assert same.neutral_voltages[at] == pytest.approx(value, abs=near_enough)


def test_values_that_stand_there_are_no_matter() -> None:
    read = tuple(msgspec.structs.replace(r, value=99.0) for r in LEGS)
    assert draw(arranged(*LEGS), (4,)) == draw(arranged(*read), (4,))


def test_faults_come_by_base_rate_pairs_and_both_legs_included() -> None:
    drawn = [draw(arranged(), (5, seed))[0] for seed in range(3000)]
    faults = Counter(truth.fault for truth in drawn)
    for fault, rate in BASE_RATES.items():
        assert abs(faults[fault] - 3000 * rate) < 4.0 * (3000 * rate) ** 0.5, fault
    pairs = Counter((truth.fault, truth.also[0][0]) for truth in drawn if truth.also)
    assert set(pairs) <= set(PAIR_SHARE)
    assert len(pairs) >= 2
    legs = Counter(truth.conductor for truth in drawn if truth.fault == "open_leg")
    assert min(legs["L1"], legs["L2"]) > 0.35 * sum(legs.values())


def test_places_are_those_that_the_points_tell_apart() -> None:
    taken = (
        volts("L1", "N", 0.0, point="service_panel"),
        volts("L1", "N", 0.0, state="idle", point="appliance_terminals"),
    )
    rates = {fault: float(fault == "open_leg") for fault in BASE_RATES}
    places = {draw(msgspec.structs.replace(arranged(*taken), base_rates=rates), (6, k))[0].location for k in range(40)}
    assert places == {
        "upstream_of_service_panel",
        "between_service_panel_and_sub_panel",
        "between_panel_and_receptacle",
        "between_receptacle_and_appliance_terminals",
    }


def test_a_truth_says_what_the_fault_is() -> None:
    rates = {fault: float(fault == "high_resistance_neutral") for fault in BASE_RATES}
    for seed in range(10):
        truth, _ = draw(msgspec.structs.replace(arranged(*LEGS), base_rates=rates), (7, seed))
        (ohm,) = truth.fault_resistances
        assert ohm is not None
        assert 0.03 < ohm < 1e3
        assert truth.resistances["N", "receptacle"] == pytest.approx(ohm + truth.resistances["L1", "receptacle"])
        assert truth.resistances["L1", "receptacle"] < 0.2
        assert set(truth.neutral_voltages) == {("idle", "receptacle", during) for during in (None, 0, 1, 2)}


@pytest.mark.parametrize("fault", ["high_resistance_service_neutral", "open_service_neutral"])
def test_no_leg_has_more_than_both(fault: str) -> None:
    """A lost service neutral stands between the legs: other loads of a sub-panel push it no further."""
    rates = {name: float(name == fault) for name in BASE_RATES}
    for seed in range(60):
        _, noted = draw(msgspec.structs.replace(arranged(*LEGS), base_rates=rates), (9, seed))
        both, *each = (r.value for r in noted.readings if isinstance(r, VoltageReading))
        assert max(each) < 1.1 * both


def test_an_ohmmeter_shows_no_end_of_its_range_across_what_is_open() -> None:
    taken = arranged(ohms("L1", "N", 0.0), ohms("L1", "N", 50.0))
    noted = [draw(taken, (8, seed))[1].readings for seed in range(60)]
    beyond = [[isinstance(r, ResistanceReading) and r.over_range for r in own] for own in noted]
    # Of the second the arrangement says that it ends at 50 Ω. The first goes to tens of megohms, which half of sound
    # insulation is above: a leg to neutral, ground and other leg, of a hundred megohms to each, has 100/(2 + 1/1.5).
    assert sum(own[1] for own in beyond) > 50
    assert 15 < sum(own[0] for own in beyond) < 45
    ends = {r.value for own in noted for r in own[1:] if isinstance(r, ResistanceReading) and r.over_range}
    assert ends == {50.0}


def test_a_detector_signals_at_a_leg_and_seldom_at_a_sound_neutral() -> None:
    taken = arranged(near("L1", detected=False), near("N", detected=False))
    rates = {fault: float(fault == "none_found") for fault in BASE_RATES}
    signals = np.zeros(2)
    for seed in range(100):
        _, noted = draw(msgspec.structs.replace(taken, base_rates=rates), (9, seed))
        signals += [isinstance(r, ProximityReading) and r.detected for r in noted.readings]
    assert signals[0] > 80
    assert signals[1] < 20


def test_contradicting_readings_are_often_misread() -> None:
    readings = msgspec.structs.replace(
        visit(*LEGS, supply=FOUR_WIRE), base_rates={f: float(f == "readings_inconsistent") for f in BASE_RATES}
    )
    noted = [draw(readings, (10, seed))[1].readings for seed in range(200)]
    far = [abs(r.value - 240.0) > 30.0 for own in noted for r in own[:1] if not isinstance(r, ProximityReading)]
    assert 0.25 < np.mean(far) < 0.75


def test_what_was_drawn_can_be_inferred() -> None:
    truth, noted = draw(arranged(*LEGS), (11,))
    assert any(c.parts == truth.parts for c in infer(noted).candidates)
