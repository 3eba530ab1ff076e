"""How much series resistance could hide: it shrinks as the readings draw more current."""

import math
from pathlib import Path

import msgspec
import pytest

from feedproof.inference import infer
from feedproof.inference.limits import detection_limits
from feedproof.parsing import read_request
from feedproof.readings import Conductor, Load, LoadState, Meter, ReadingSet
from support.internals.fits import fitted
from support.outcomes import DMM, LOZ, METERS, amps, volts
from support.proof_cases import FOUR_WIRE, near, visit


def limits(readings: ReadingSet, *conductors: Conductor) -> list[float]:
    """Detection limits [ohm]; infinite where nothing would have shown."""
    sound = fitted(readings, "none_found")
    found = detection_limits([(sound.fit, 1.0)], sound.bare, conductors)
    assert [x.conductor for x in found] == list(conductors)
    return [math.inf if x.resistance is None else x.resistance for x in found]


def three(impedance: float, count: int = 1) -> ReadingSet:
    meters: dict[str, Meter] = METERS | {"loz": msgspec.structs.replace(LOZ, input_impedance=impedance)}
    taken = (volts("L1", "L2", 242.0, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 121.0, "loz"))
    return visit(*taken * count, supply=FOUR_WIRE, meters=meters)


def test_the_limit_follows_the_meters_impedance() -> None:
    """What shows is a share of the meter's own impedance, so the limit scales with it."""
    found = [limits(three(ohms), "N")[0] for ohms in (300.0, 1e3, 3e3, 1e4, 3e4, 1e5)]
    assert found == sorted(found)
    assert found[-1] > 30.0 * found[0]
    assert 0.01 < found[2] / 3e3 < 0.3


def test_a_load_shows_ohms_that_no_meter_does() -> None:
    """At 12 A a volt is 0.08 ohm; at 40 mA it is 25 ohm."""
    states = {
        "one_side": LoadState(
            name="one_side",
            kind="test_load",
            loads=(Load(between=("L1", "N"), resistance=10.0, tolerance_percent=1.0),),
        )
    }
    taken = (
        volts("L1", "L2", 242.0, state="one_side"),
        volts("L1", "N", 120.5, state="one_side"),
        volts("L2", "N", 121.4, state="one_side"),
        amps("N", 12.0, state="one_side"),
    )
    loaded = ReadingSet(
        supply=FOUR_WIRE, meters={r.meter: METERS[r.meter] for r in taken}, load_states=states, readings=taken
    )
    assert max(limits(loaded, "L1", "N")) < 2.0
    assert min(limits(three(3e3), "L1", "N")) > 20.0


def test_unloaded_high_impedance_readings_hide_kilohms() -> None:
    meters: dict[str, Meter] = {"loz": msgspec.structs.replace(DMM, name="loz")}
    taken = (volts("L1", "L2", 242.0, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 121.0, "loz"))
    assert min(limits(visit(*taken, supply=FOUR_WIRE, meters=meters), "L1", "L2", "N")) > 1e4


def test_both_legs_are_alike() -> None:
    first, second = limits(three(3e3), "L1", "L2")
    # From 96 draws each.
    assert first == pytest.approx(second, rel=0.01)


@pytest.mark.parametrize("taken", [(), (near("N", detected=False),)])
def test_without_a_contact_reading_nothing_would_have_shown(taken: tuple[object, ...]) -> None:
    readings = visit(*taken, supply=FOUR_WIRE)  # type: ignore[arg-type]
    assert limits(readings, "L1", "N") == [math.inf, math.inf]


def test_a_conductor_that_was_not_read_has_no_limit() -> None:
    readings = visit(volts("L1", "L2", 242.0, "loz"), supply=FOUR_WIRE)
    leg, neutral = limits(readings, "L1", "N")
    assert math.isfinite(leg)
    assert math.isinf(neutral)


@pytest.mark.parametrize(
    "name", ["connected_high_impedance", "dryer_heating", "lost_leg_through_element", "mobile_home_feeder"]
)
def test_sixteen_times_as_many_draws_move_no_limit_by_a_quarter(
    name: str, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an appliance draws is known by decades only, and few draws of it would hide a neutral of 1.7 kohm."""
    readings = read_request((root / "examples" / "requests" / f"{name}.json").read_bytes()).reading_set
    found = {x.conductor: x.resistance or math.inf for x in infer(readings).limits}
    monkeypatch.setattr("feedproof.inference.limits._FINE_DRAWS", 16 * 96)
    for limit in infer(readings).limits:
        assert found[limit.conductor] == pytest.approx(limit.resistance or math.inf, rel=0.25)


def test_a_conductor_that_carries_current_is_not_open() -> None:
    """Ohm's law: where 18 A flow, no joint holds more than the legs' voltage over 18 A."""
    taken = (amps("L1", 18.0, state="running"), amps("L2", 18.0, state="heating"))
    found = {x.conductor: x.resistance for x in infer(visit(*taken, supply=FOUR_WIRE)).limits}
    assert (found["L1"] or math.inf) <= 254.0 / 18.0
    assert (found["L2"] or math.inf) <= 254.0 / 18.0
