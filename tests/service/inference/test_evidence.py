"""What one reading says beside the others."""

import math

import msgspec
import pytest

from feedproof.inference import ReadingEvidence, infer
from feedproof.inference.evidence import reading_evidence, without_each
from feedproof.readings import ReadingSet
from support.internals.fits import fitted
from support.outcomes import volts
from support.proof_cases import CASES, FOUR_WIRE, near, visit

PULLED = visit(
    volts("L1", "L2", 244.0),
    volts("L1", "N", 5.0, "loz"),
    volts("L2", "N", 6.0, "loz"),
    near("N", detected=True),
    supply=FOUR_WIRE,
)


def evidence(readings: ReadingSet, finding: str) -> list[ReadingEvidence]:
    """Every reading in the request's order, for a finding against a sound supply."""
    sound = fitted(readings, "none_found")
    own = sound if finding == "none_found" else fitted(readings, finding)
    return list(reading_evidence(own.canonical.scene, own.fit, sound.fit, own.canonical.order))


@pytest.mark.parametrize("fault", ["none_found", "high_resistance_neutral"])
def test_leaving_a_reading_out_is_not_having_taken_it(fault: str) -> None:
    """Three plain readings and one of the other kind: what they say of it is what it adds to their evidence."""
    taken = (volts("L1", "L2", 241.0), volts("L1", "N", 120.6), volts("L2", "N", 120.3))
    extra = volts("L1", "N", 120.1, "loz")
    whole, less = fitted(visit(*taken, extra), fault, count=1000), fitted(visit(*taken), fault, count=1000)
    number = next(k for k, r in enumerate(whole.canonical.scene.readings) if r.value == 120.1)
    found = without_each(whole.fit)[number]
    assert found.log_density == pytest.approx(whole.fit.log_mass - less.fit.log_mass, abs=0.25)
    assert found.expected == pytest.approx(120.45, abs=0.4)
    assert found.spread < 2.0


def test_a_reading_far_from_where_the_prior_would_have_it_speaks_for_what_explains_it() -> None:
    """A neutral contact wired to nothing: the leg to neutral readings carry the finding, the one between legs not."""
    readings = visit(volts("L1", "L2", 238.0), volts("L1", "N", 1.6), volts("L2", "N", 1.8))
    legs, first, second = evidence(readings, "open_neutral")
    # Misread, either would have a density of 0.005 over 300 V; explained, one over a few volts: some 13 bit.
    assert 10.0 < first.bits < 17.0
    assert 10.0 < second.bits < 17.0
    assert abs(legs.bits) < 1.0


def test_a_reading_that_alone_shows_how_bad_it_is_is_expected_over_all_that_it_may_be() -> None:
    """Under load a bad leg leaves anything from next to nothing to nearly all: 0.16 ohm to 1 kiloohm before 22 ohm."""
    heater = msgspec.structs.replace(FOUR_WIRE, neutral=False, fed_from="service_panel")
    readings = visit(
        volts("L1", "L2", 237.0),
        volts("L2", "G", 119.0),
        volts("L1", "L2", 188.0, state="heating", point="appliance_terminals"),
        supply=heater,
    )
    *_, loaded = evidence(readings, "high_resistance_leg")
    assert loaded.finding[0] < 40.0
    assert 220.0 < loaded.finding[1] < 240.0
    assert loaded.bits > 5.0
    assert infer(readings).unexplained == ()


def test_a_reading_that_contradicts_a_sound_supply_speaks_against_it() -> None:
    found = evidence(PULLED, "open_neutral")
    assert all(e.bits > 1.0 for e in found[1:3])
    assert sum(e.bits for e in found[1:3]) > 3.0


def test_what_would_be_read_if_all_were_sound() -> None:
    """Given the legs' 244 V, each leg would read about half of it."""
    low, high = evidence(PULLED, "open_neutral")[1].sound
    assert 114.0 < low < 122.0 < high < 128.0


def test_the_chance_of_a_signal() -> None:
    signal = evidence(PULLED, "open_neutral")[3]
    for low, high in (signal.finding, signal.sound):
        assert 0.0 <= low <= high <= 1.0
    assert signal.sound[1] == pytest.approx(0.05, abs=0.02)


def test_the_evidence_stands_in_the_requests_order() -> None:
    found = evidence(PULLED, "open_neutral")
    assert [e.reading for e in found] == [0, 1, 2, 3]
    assert [e.observed for e in found] == [244.0, 5.0, 6.0, 1.0]
    assert [e.unit for e in found] == ["V", "V", "V", "1"]
    # Only the 3 kohm meter draws a current worth naming: 5 V and 6 V over 3 kohm.
    assert [e.test_current for e in found] == [None, pytest.approx(5.0 / 3e3), pytest.approx(2e-3), None]
    assert all(e.sound[0] <= e.sound[1] and e.finding[0] <= e.finding[1] for e in found)


def test_a_sound_finding_has_nothing_to_be_weighed_against() -> None:
    found = evidence(CASES["low impedance, all as it should be"], "none_found")
    assert [e.bits for e in found] == [0.0] * 3
    assert all(e.sound == e.finding for e in found)
    assert all(math.isfinite(x) for e in found for x in e.sound)
