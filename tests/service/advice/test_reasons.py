"""Why an answer is what it is, in sentences that go together."""

from feedproof.assess import assess
from feedproof.readings import Point
from support.outcomes import amps, volts
from support.proof_cases import visit


def test_the_same_place_on_the_other_leg_is_no_next_most_probable() -> None:
    """Amperes on the ground of a running appliance: either leg may leak, and both are the one place of the headline."""
    point: Point = "appliance_terminals"
    found = assess(
        visit(
            volts("L1", "L2", 238.0, state="running", point=point),
            volts("L1", "N", 119.0, state="running", point=point),
            volts("L2", "N", 119.0, state="running", point=point),
            volts("N", "G", 0.1, state="running", point=point),
            amps("G", 4.2, state="running", point=point),
            amps("N", 1.1, state="running", point=point),
        )
    )
    assert found.finding.place == "leak_to_ground"
    told = [reason.text for reason in found.confidence.reasons if reason.code == "next_most_probable"]
    assert told
    assert not any("leak" in text for text in told)
