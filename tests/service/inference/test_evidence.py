"""What one reading says beside the others."""

import math

import pytest

from feedproof.inference.evidence import evidence_without, expected_spans, reading_bits, reading_evidence
from support.internals.engine import posed
from support.internals.posteriors import weighed
from support.outcomes import volts
from support.proof_cases import CASES, FOUR_WIRE, near, visit

PULLED = visit(
    volts("L1", "L2", 244.0),
    volts("L1", "N", 5.0, "loz"),
    volts("L2", "N", 6.0, "loz"),
    near("N", detected=True),
    supply=FOUR_WIRE,
)


@pytest.mark.parametrize("fault", ["none_found", "voltage_low", "high_resistance_neutral"])
def test_leaving_a_reading_out_is_not_having_taken_it(fault: str) -> None:
    """Three plain readings and one of the other kind: without it, the evidence is that of the three."""
    taken = (volts("L1", "L2", 241.0), volts("L1", "N", 120.6), volts("L2", "N", 120.3))
    extra = volts("L1", "N", 120.1, "loz")
    whole, less = weighed(visit(*taken, extra), fault), weighed(visit(*taken), fault).fit
    row = next(r for r in range(4) if whole.fit.observations.value[r] == 120.1)
    assert evidence_without(whole)[row] == pytest.approx(float(max(less.log_mass)), abs=0.05)
    assert evidence_without(whole)[-1] == pytest.approx(float(max(whole.fit.log_mass)), abs=0.05)


def test_a_reading_far_from_where_the_prior_would_have_it_speaks_for_what_explains_it() -> None:
    """A neutral contact wired to nothing: the leg to neutral readings carry the finding, the one between legs not."""
    readings = visit(volts("L1", "L2", 238.0), volts("L1", "N", 1.6), volts("L2", "N", 1.8))
    bits = reading_bits(weighed(readings, "open_neutral"), weighed(readings, "none_found"))
    by_value = {r.value: b for r, b in zip(posed(readings).canonical.scene.readings, bits, strict=True)}
    # Misread, either would have a density of 0.005 over 300 V; explained, one over a few volts: some 13 bit.
    assert 10.0 < by_value[1.6] < 17.0
    assert 10.0 < by_value[1.8] < 17.0
    assert abs(by_value[238.0]) < 1.0


def test_a_reading_that_contradicts_a_sound_supply_speaks_against_it() -> None:
    finding, sound = weighed(PULLED, "open_neutral"), weighed(PULLED, "none_found")
    bits = reading_bits(finding, sound)
    pulled = [k for k, r in enumerate(posed(PULLED).canonical.scene.readings) if r.value in {5.0, 6.0}]
    assert len(pulled) == 2
    assert all(bits[k] > 1.0 for k in pulled)
    assert reading_bits(sound, finding) == pytest.approx([-x for x in bits])


def test_what_would_be_read_if_all_were_sound() -> None:
    """Given the legs' 244 V, each leg would read about half of it."""
    sound = weighed(PULLED, "none_found")
    number = next(k for k, r in enumerate(posed(PULLED).canonical.scene.readings) if r.value == 5.0)
    low, high = expected_spans(sound)[number]
    assert 114.0 < low < 122.0 < high < 128.0


def test_the_chance_of_a_signal() -> None:
    finding, sound = weighed(PULLED, "open_neutral"), weighed(PULLED, "none_found")
    number = next(k for k, r in enumerate(posed(PULLED).canonical.scene.readings) if r.kind == "proximity")
    for found, expected in ((finding, 0.9), (sound, 0.05)):
        low, high = expected_spans(found)[number]
        assert 0.0 <= low <= high <= 1.0
        if expected < 0.5:
            assert high == pytest.approx(expected, abs=0.02)


def test_the_evidence_stands_in_the_requests_order() -> None:
    finding, sound = weighed(PULLED, "open_neutral"), weighed(PULLED, "none_found")
    canonical = posed(PULLED).canonical
    found = reading_evidence(canonical.scene, finding, sound, canonical.order)
    assert [e.reading for e in found] == [0, 1, 2, 3]
    assert [e.observed for e in found] == [244.0, 5.0, 6.0, 1.0]
    assert [e.unit for e in found] == ["V", "V", "V", "1"]
    # Only the 3 kohm meter draws a current worth naming: 5 V and 6 V over 3 kohm.
    assert [e.test_current for e in found] == [None, pytest.approx(5.0 / 3e3), pytest.approx(2e-3), None]
    assert all(e.sound[0] <= e.sound[1] and e.finding[0] <= e.finding[1] for e in found)
    assert sum(e.bits for e in found[1:3]) > 3.0


def test_a_sound_finding_has_nothing_to_be_weighed_against() -> None:
    readings = CASES["low impedance, all as it should be"]
    sound, canonical = weighed(readings, "none_found"), posed(readings).canonical
    found = reading_evidence(canonical.scene, sound, sound, canonical.order)
    assert [e.bits for e in found] == [0.0] * 3
    assert all(e.sound == e.finding for e in found)
    assert all(math.isfinite(x) for e in found for x in e.sound)
