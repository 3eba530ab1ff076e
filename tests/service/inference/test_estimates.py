"""Neutral and resistances read off the draws."""

import msgspec
import pytest

from feedproof.inference import NeutralVoltage, PathResistance, infer
from feedproof.inference.estimates import path_resistances, voltages
from feedproof.readings import Conductor, ReadingSet
from support.internals.fits import fitted
from support.outcomes import ohms, volts
from support.proof_cases import CASES, FOUR_WIRE, LOADED, PULLED, of_system, visit


def neutral(readings: ReadingSet, fault: str) -> dict[int | None, NeutralVoltage]:
    own = fitted(readings, fault)
    return {n.during_reading: n for n in voltages([(own.fit, 1.0)], own.canonical, own.bare)[0]}


def resistances(readings: ReadingSet, fault: str, conductor: Conductor | None = None) -> dict[str, PathResistance]:
    own = fitted(readings, fault, conductor)
    return {str(r.conductor): r for r in path_resistances([(own.fit, 1.0)], own.canonical, own.bare)}


def test_a_sound_neutral_stands_at_ground() -> None:
    taken = CASES["low impedance, all as it should be"].readings
    for fed, highest in (("service_panel", 0.1), ("unknown", 1.0), ("sub_panel", 4.0)):
        supply = msgspec.structs.replace(FOUR_WIRE, fed_from=fed)
        found = neutral(visit(*taken, supply=supply), "none_found")
        # 3 kohm on 121 V draws 40 mA through a sound neutral's hundredths of an ohm; behind a feeder other loads put
        # some volts on its neutral.
        assert set(found) == {None, 1, 2}
        assert 0.1 * highest < max(n.interval.high for n in found.values()) < highest or fed == "service_panel"
        assert all(n.interval.high < highest for n in found.values())


def test_a_low_impedance_meter_pulls_an_open_neutral_to_its_leg() -> None:
    """Half of 244 V less the 4 V that were read: 118 V while connected."""
    found = neutral(PULLED, "open_neutral")
    for during in (1, 2):
        assert found[during].interval.value == pytest.approx(118.0, abs=2.0)
        assert found[during].load_state == "disconnected"


def test_the_intervals_hold_their_middle() -> None:
    for n in neutral(PULLED, "open_neutral").values():
        assert 0.0 <= n.interval.low <= n.interval.value <= n.interval.high


def test_at_the_terminals_an_unplugged_appliance_has_no_neutral() -> None:
    readings = visit(volts("L1", "L2", 240.0, state="idle", point="appliance_terminals"), supply=FOUR_WIRE)
    own = fitted(readings, "none_found")
    found = voltages([(own.fit, 1.0)], own.canonical, own.bare)[0]
    assert {n.load_state for n in found} == {"idle"}


def test_no_member_no_estimate() -> None:
    own = fitted(PULLED, "none_found")
    assert voltages([], own.canonical, own.bare) == ((), ())
    assert path_resistances([], own.canonical, own.bare) == ()


def test_a_bad_neutral_under_a_known_load() -> None:
    """24 V lost over 9.6 A: 2.5 ohm (Ohm's law), and 230 W of heat in it."""
    found = resistances(LOADED, "high_resistance_neutral")
    assert found["N"].interval.value == pytest.approx(2.5, rel=0.1)
    assert found["N"].interval.bound == "two_sided"
    assert found["N"].heat is not None
    assert found["N"].heat.value == pytest.approx(24.0 * 9.6, rel=0.1)
    assert found["L1"].interval.bound == "at_most"
    assert found["L1"].interval.high < 0.3


def test_an_ohmmeter_bounds_both_sides() -> None:
    readings = visit(ohms("N", "G", 6.4), volts("L1", "L2", 242.0), supply=FOUR_WIRE)
    found = resistances(readings, "high_resistance_neutral")["N"]
    assert found.interval.low < 6.4 - 0.03 < found.interval.high
    assert found.interval.high - found.interval.low < 2.0
    assert found.heat is None


def test_nothing_behind_the_neutral_is_at_least_something() -> None:
    readings = visit(
        volts("L1", "L2", 244.0), volts("L1", "N", 0.5, "loz"), volts("L2", "N", 0.5, "loz"), supply=FOUR_WIRE
    )
    found = resistances(readings, "open_neutral")["N"].interval
    assert found.bound == "at_least"
    assert found.low > 1e5


def test_the_path_is_told_beside_what_a_sound_one_has() -> None:
    found = resistances(PULLED, "open_neutral")
    assert set(found) == {"L1", "L2", "N"}
    for r in found.values():
        assert r.sound is not None
        assert 0.02 < r.sound[0] < 0.0348 < r.sound[1] < 0.06
    single = visit(volts("L1", "N", 120.0), supply=of_system("single_phase_120"))
    assert set(resistances(single, "none_found")) == {"L1", "N"}


@pytest.mark.parametrize(("conductor", "place"), [("L1", 0), ("L2", 1)])
def test_a_leg_is_named_as_the_request_has_it(conductor: str, place: int) -> None:
    values = [121.0, 121.0]
    values[place] = 108.0
    readings = visit(
        volts("L1", "L2", 229.0, state="heating"),
        volts("L1", "N", values[0], state="heating"),
        volts("L2", "N", values[1], state="heating"),
        supply=FOUR_WIRE,
    )
    found = {r.conductor: r.interval.value for r in infer(readings).resistances}
    # 13 V lost at 229 V over 12 ohm, 19 A: 0.68 ohm.
    assert found[conductor] == pytest.approx(0.68, abs=0.1)  # type: ignore[index]
    assert found["L2" if conductor == "L1" else "L1"] < 0.2


@pytest.mark.parametrize(
    ("name", "told", "earth"),
    [
        ("connected, neutral pulled to a leg", "readings", "prior"),  # legs against N, nothing against the house
        ("lost leg on an empty outlet", "prior", "prior"),  # a lost leg, N seen by a meter's current alone
        ("legs apart, ground read", "readings", "readings"),  # legs apart under load, N to G read
    ],
)
def test_a_voltage_that_no_reading_narrows_is_the_priors(name: str, told: str, earth: str) -> None:
    found = infer(CASES[name], look_ahead=lambda _: False)
    assert {v.told_by for v in found.neutral_voltages} == {told}
    assert {v.told_by for v in found.earth_voltages} == {earth}
