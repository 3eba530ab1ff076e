"""A reading that shows voltage stands, and zeros from one tester establish nothing."""

import pytest

from feedproof.advice.candidates import merged
from feedproof.advice.confidence import judge
from feedproof.advice.determination import rule
from feedproof.advice.unexplained import against, shows_voltage, unproven
from feedproof.contract.assessment import Determination
from feedproof.inference import Candidate, ReadingEvidence
from feedproof.readings import Reading
from support.outcomes import METERS, amps, candidate, near, ohms, outcome, readings, volts

ZEROS = (volts("L1", "L2", 0.0, "loz"), volts("L1", "N", 1.0, "loz"), volts("L2", "N", 0.0, "loz"))
OTHER_ZEROS = (volts("L1", "L2", 0.1), volts("L1", "N", 0.0), volts("L2", "N", 0.2))


def seen(index: int, observed: float, low: float, high: float, bits: float = 9.0) -> ReadingEvidence:
    """Give what a reading says, and what the finding expects there."""
    return ReadingEvidence(
        reading=index, observed=observed, unit="V", sound=(118.0, 126.0), finding=(low, high), bits=bits
    )


def evidence(taken: tuple[Reading, ...]) -> list[ReadingEvidence]:
    """Give evidence under a finding that expects nothing anywhere: what shows voltage counts as misread."""
    return [seen(n, getattr(r, "value", float(getattr(r, "detected", 0))), 0.0, 0.05) for n, r in enumerate(taken)]


def determined(fault: str, taken: tuple[Reading, ...], conductor: str | None = None) -> Determination:
    """Give the determination of a fault of which the model is all but sure."""
    named = [candidate(fault, 0.999, conductor, log_evidence=0.0), candidate("none_found", 0.001, log_evidence=-9.0)]  # type: ignore[arg-type]
    return rule(outcome(named, evidence=evidence(taken)), readings(*taken)).determination


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (volts("L1", "L2", 30.0), True),
        (volts("L1", "L2", 29.9), False),
        (near("N", detected=True), True),
        (near("N", detected=False), False),
        (amps("L1", 40.0), False),
        (ohms("N", "G", 100.0), False),
    ],
)
def test_what_shows_voltage(reading: Reading, expected: bool) -> None:
    assert shows_voltage(reading) is expected


@pytest.mark.parametrize(
    ("further", "expected"),
    [
        ((), "established"),
        ((volts("L1", "L2", 238.0),), "undetermined"),
        ((volts("L1", "G", 30.0),), "undetermined"),
        ((volts("L1", "G", 29.0),), "established"),
        ((near("L2", detected=True),), "undetermined"),
        ((near("L2", detected=False),), "established"),
    ],
)
def test_nothing_is_established_as_dead_while_a_reading_shows_voltage(
    further: tuple[Reading, ...], expected: Determination
) -> None:
    assert determined("no_supply", (*ZEROS, *OTHER_ZEROS, *further)) == expected


@pytest.mark.parametrize("fault", ["no_supply", "open_neutral"])
def test_zeros_from_one_tester_that_has_shown_nothing_else_establish_nothing(fault: str) -> None:
    assert determined(fault, ZEROS) == "probable"
    assert determined(fault, (*ZEROS, *OTHER_ZEROS)) == "established"
    # The same tester has shown that it lives, on another pair.
    assert determined(fault, (*ZEROS, volts("L1", "G", 7.0, "loz"))) == "established"


def test_a_second_tester_that_speaks_for_it_establishes_it() -> None:
    assert determined("open_neutral", (volts("L1", "L2", 238.0), *ZEROS[1:])) == "established"


@pytest.mark.parametrize("leg", ["L1", "L2"])
def test_voltage_on_a_lost_leg_stands_unless_the_finding_explains_it(leg: str) -> None:
    """A connected load feeds a lost leg from the other: that is expected, and no contradiction."""
    lost: Candidate = candidate("open_leg", 0.99, leg)  # type: ignore[arg-type]
    taken = (volts("L1", "L2", 34.0), volts("L1", "N", 121.0), volts("L2", "N", 85.0))
    fed = [seen(0, 34.0, 20.0, 60.0), seen(1, 121.0, 118.0, 124.0), seen(2, 85.0, 70.0, 95.0)]
    assert not against(lost, taken, fed)
    dead = [seen(0, 34.0, 0.0, 2.0), seen(1, 121.0, 118.0, 124.0), seen(2, 85.0, 0.0, 2.0)]
    found = {entry.reading for entry in against(lost, taken, dead)}
    assert found == ({0} if leg == "L1" else {0, 2})


def test_both_legs_open_is_all_dead() -> None:
    both = candidate("open_leg", 0.99, "L1", also=(("open_leg", "L2"),))
    assert against(both, (volts("N", "G", 60.0),), [seen(0, 60.0, 0.0, 90.0)])


def test_the_reasons_name_the_reading_and_the_tester() -> None:
    taken = (*ZEROS, volts("L1", "L2", 238.0))
    named = [candidate("no_supply", 0.999), candidate("none_found", 0.001, log_evidence=-20.0)]
    inferred = outcome(named, evidence=evidence(taken))
    ruling = rule(inferred, readings(*taken))
    reasons = " ".join(r.text for r in judge(ruling, inferred, merged(named), (), readings(*taken)).reasons)
    assert "238 V L1 to L2" in reasons
    assert "nothing counts as dead" in reasons
    assert "loz has shown nothing but zeros" in reasons


def test_far_outside_is_said_of_figures_only() -> None:
    assert not seen(0, 130.0, 110.0, 120.0).far_outside()
    assert seen(0, 130.1, 110.0, 120.0).far_outside()
    assert seen(0, 99.0, 110.0, 120.0).far_outside()
    assert not seen(0, 99.0, 110.0, 120.0).far_outside(1.0)
    silent = ReadingEvidence(reading=0, observed=0.0, unit="1", sound=(0.9, 0.9), finding=(0.05, 0.05), bits=3.0)
    assert not silent.far_outside()


@pytest.mark.parametrize(
    ("observed", "over", "expected"),
    [(60.0, False, True), (2e3, False, False), (2e12, False, True), (60.0, True, False), (2e12, True, True)],
)
def test_a_resistance_is_far_outside_by_its_ratio_and_over_range_only_above(
    observed: float, over: bool, expected: bool
) -> None:
    """From 1 to 1000 Mohm is a factor of 1000: as much again reaches from 1 kohm to 1 Tohm."""
    entry = ReadingEvidence(
        reading=0, observed=observed, unit="ohm", sound=(1e6, 1e9), finding=(1e6, 1e9), bits=0.0, over_range=over
    )
    assert entry.far_outside() is expected


def test_the_one_silent_tester() -> None:
    assert unproven(ZEROS, METERS) == "loz"
    assert unproven((*ZEROS, volts("L1", "N", 4.0, "loz")), METERS) is None
    assert unproven((*ZEROS, *OTHER_ZEROS), METERS) is None
    assert unproven((near("N", detected=False), amps("L1", 0.0), ohms("N", "G", 0.0)), METERS) is None
