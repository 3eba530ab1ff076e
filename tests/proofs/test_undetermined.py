"""Readings that several faults explain alike: all are named, none is claimed, and the next reading parts them."""

import pytest

from feedproof.assess import assess
from feedproof.readings import ReadingSet
from support.answers import named, neutral, probability
from support.outcomes import volts
from support.proof_cases import FOUR_WIRE, UNKNOWN, near, visit

OPEN_LEGS = {("open_leg", "L1"), ("open_leg", "L2")}
SERVICE = ("open_service_neutral", "high_resistance_service_neutral")
FEEDER = ("open_feeder_neutral", "high_resistance_feeder_neutral")
BRANCH = ("open_neutral", "high_resistance_neutral")


def through_element(state: str) -> ReadingSet:
    """Leg to leg near 0, each leg 120 V to neutral, appliance connected."""
    return visit(
        volts("L1", "L2", 0.4, state=state), volts("L1", "N", 121.0, state=state), volts("L2", "N", 120.8, state=state)
    )


@pytest.mark.parametrize("state", ["idle", "running"])
def test_a_leg_lost_behind_a_connected_element(state: str) -> None:
    """The element carries the live leg's voltage to the dead one: which of them is lost cannot be seen."""
    found = assess(through_element(state))
    assert found.determination == "undetermined"
    assert named(found, 0.05) >= OPEN_LEGS
    legs = [probability(found, "open_leg", conductor=c) for c in ("L1", "L2")]
    assert max(legs) < 3.0 * min(legs)
    best = next(step for step in found.next_readings if step.reading is not None)
    assert best.load_state is not None
    assert best.load_state.kind in {"disconnected", "test_load"}
    assert best.information > 0.3


def test_the_named_next_reading_parts_the_legs() -> None:
    """With the appliance unplugged, the lost leg reads next to nothing through a low-impedance meter."""
    taken = through_element("idle")
    found = assess(visit(*taken.readings, volts("L1", "N", 121.0, "loz"), volts("L2", "N", 0.0, "loz")))
    assert (found.finding.fault, found.finding.conductor) == ("open_leg", "L2")
    assert found.determination == "established"


@pytest.mark.parametrize("state", ["idle", "running"])
def test_legs_apart_without_a_reading_to_ground(state: str) -> None:
    """Branch or service neutral: only ground tells, since both bars are one at the panel."""
    apart = (
        volts("L1", "L2", 241.0, state=state),
        volts("L1", "N", 133.8, state=state),
        volts("L2", "N", 107.1, state=state),
    )
    found = assess(visit(*apart, supply=UNKNOWN))
    assert (found.finding.place, found.determination) == ("neutral", "established")
    assert all(part.probability < 0.95 for part in found.finding.parts)
    assert probability(found, *SERVICE) > 0.05
    assert probability(found, *BRANCH) > 0.05
    assert probability(found, *SERVICE, *FEEDER, *BRANCH) > 0.9
    settled = assess(visit(*apart, volts("N", "G", 0.3, state=state), supply=FOUR_WIRE))
    assert probability(settled, *SERVICE) > 0.95
    lifted = assess(visit(*apart, volts("N", "G", 13.2, state=state), supply=FOUR_WIRE))
    assert probability(lifted, *BRANCH, *FEEDER) > 0.95


@pytest.mark.parametrize(
    "signals",
    [
        {"L1": True, "L2": True, "N": False},
        {"L1": True, "L2": True, "N": True},
        {"L1": True, "L2": False, "N": False},
        {"L1": False, "L2": False, "N": False},
        {"N": True},
    ],
)
def test_proximity_alone(signals: dict[str, bool]) -> None:
    found = assess(visit(*(near(c, detected=on) for c, on in signals.items())))  # type: ignore[arg-type]
    assert found.determination == "undetermined"
    assert found.disposition == "take_more_readings"
    assert len(named(found, 0.01)) >= 4


@pytest.mark.parametrize("meter", ["dmm", "loz"])
@pytest.mark.parametrize("value", [243.0, 208.0, 121.0, 0.0])
def test_leg_to_leg_alone(value: float, meter: str) -> None:
    """A single reading across the legs says nothing of the neutral."""
    found = assess(visit(volts("L1", "L2", value, meter)))
    assert found.determination == "undetermined"
    assert found.finding.fault != "open_neutral"
    if value > 230.0:
        assert probability(found, "open_neutral") > 0.04
    asked = [step.reading.between or [] for step in found.next_readings if step.reading is not None]
    assert any("N" in pair for pair in asked)


def test_what_is_undetermined_is_not_called_sound() -> None:
    """The control: with low-impedance readings of all three, the same legs are no longer undetermined."""
    found = assess(
        visit(
            volts("L1", "L2", 242.0, "loz"),
            volts("L1", "N", 121.0, "loz"),
            volts("L2", "N", 121.0, "loz"),
            volts("N", "G", 0.1, state="running"),
            volts("L1", "N", 119.5, state="running"),
            volts("L2", "N", 120.6, state="running"),
            supply=FOUR_WIRE,
        )
    )
    assert found.finding.fault == "none_found"
    assert found.determination in {"probable", "established"}
    assert neutral(found, load_state="running").high < 5.0
