"""What a further reading is worth, and in which order readings are asked for."""

import msgspec
import pytest

from feedproof.inference import Prospect, infer
from feedproof.readings import Load, LoadState, Meter, Observation, ReadingSet, Supply, VoltageReading
from support.outcomes import CLAMP, DMM, LOZ, PEN, amps, volts
from support.proof_cases import CASES, FOUR_WIRE, visit

HERE = msgspec.structs.replace(FOUR_WIRE, fed_from="service_panel")
BOTH: dict[str, Meter] = {"dmm": DMM, "loz": LOZ}


def taken(*readings: VoltageReading, meters: dict[str, Meter] = BOTH, supply: Supply = HERE) -> ReadingSet:
    return msgspec.structs.replace(visit(*readings, supply=supply), meters=meters)


def ahead(*readings: VoltageReading, meters: dict[str, Meter] = BOTH, supply: Supply = HERE) -> list[Prospect]:
    return [p for p in infer(taken(*readings, meters=meters, supply=supply)).prospects if p.observation is None]


SOUND = (
    volts("L1", "L2", 242.0, "loz"),
    volts("L1", "N", 121.0, "loz"),
    volts("L2", "N", 121.0, "loz"),
    volts("N", "G", 0.2, "loz"),
)


def test_the_legs_come_first_and_unplugged() -> None:
    first = ahead()[0]
    assert (first.conductors, first.load_state_kind, first.point) == (("L1", "L2"), "disconnected", "receptacle")


def test_a_reading_with_low_impedance_comes_before_one_that_strays_could_hold_up() -> None:
    assert ahead()[0].meter == "loz"


def test_after_the_legs_comes_the_neutral_then_load() -> None:
    assert "N" in ahead(SOUND[0])[0].conductors
    grounded = [*SOUND, volts("L1", "G", 121.0, "loz")]
    assert [p for p in ahead(*grounded) if p.load_state_kind in {"running", "test_load"}]


def test_what_no_joint_can_hide_in_ends_the_asking() -> None:
    """Legs, neutral and ground shown, legs and neutral under load: nothing more is worth a person's trouble."""
    heating = LoadState(name="heating", kind="running")
    proven = taken(
        *SOUND,
        volts("L1", "G", 121.0, "loz"),
        volts("L1", "L2", 240.0, state="heating", point="appliance_terminals"),
    )
    beside = [volts("L1", "N", 118.5, point="appliance_terminals"), volts("N", "G", 0.8, point="appliance_terminals")]
    more = tuple(msgspec.structs.replace(reading, load_state="test") for reading in beside)
    test = LoadState(name="test", kind="test_load", loads=infer_load())
    proven = msgspec.structs.replace(proven, load_states={**proven.load_states, "heating": heating, "test": test})
    proven = msgspec.structs.replace(proven, readings=(*proven.readings, *more))
    assert not [p for p in infer(proven).prospects if p.observation is None]
    # A clamp at hand goes round the ground before that: at the panel, where wires are not named by their terminals.
    clamped = msgspec.structs.replace(proven, meters={**proven.meters, "clamp": CLAMP})
    assert {(p.kind, p.conductors, p.point) for p in infer(clamped).prospects} == {("current", ("G",), "service_panel")}
    none = amps("G", 0.0, point="service_panel", state="heating")
    assert not infer(msgspec.structs.replace(clamped, readings=(*clamped.readings, none))).prospects


def infer_load() -> tuple[Load, ...]:
    """Give the known load that the guide itself asks for."""
    return next(p.loads for p in ahead(*SOUND) if p.load_state_kind == "test_load")


def test_nothing_is_plugged_in_while_a_neutral_upstream_is_in_doubt() -> None:
    """Legs that moved apart: every bonded frame may stand off earth."""
    found = infer(taken(volts("L1", "N", 97.0, "loz"), volts("L2", "N", 145.0, "loz")))
    doubt = sum(c.probability for c in found.candidates if c.place in {"service_neutral", "feeder_neutral"})
    assert doubt >= 0.05
    assert all(p.load_state_kind == "disconnected" for p in found.prospects)


def test_an_outlet_that_is_dead_leads_to_the_panel() -> None:
    found = ahead(volts("L1", "L2", 0.0, "loz"), volts("L1", "G", 0.0, "loz"))
    assert any(p.point == "service_panel" for p in found)


def test_legs_that_are_good_at_the_panel_lead_to_the_outlet() -> None:
    found = ahead(volts("L1", "L2", 242.0, point="service_panel"), volts("L1", "N", 121.0, point="service_panel"))
    assert found[0].point == "receptacle"


def test_a_reading_that_stands_against_the_others_is_asked_for_again() -> None:
    """242 from leg to leg and 121 on each, but 12 from leg to neutral with the other meter: a slip, or a joint."""
    found = ahead(*SOUND[:3], volts("L1", "N", 12.0))
    assert found[0].repeats == 3


def test_the_clamp_goes_round_the_ground_too() -> None:
    found = infer(taken(*SOUND, meters=BOTH | {"clamp": CLAMP})).prospects
    assert {p.conductors for p in found if p.kind == "current"} <= {("L1",), ("L2",), ("N",), ("G",)}
    assert all(p.load_state_kind in {"running", "test_load"} for p in found if p.kind == "current")


def test_a_tester_that_nothing_was_read_with_is_nothing_to_decide() -> None:
    alone = ahead(*SOUND)
    more = ahead(*SOUND, meters=BOTH | {"second": msgspec.structs.replace(DMM, name="second")})
    assert max(p.information for p in more) < max(p.information for p in alone) + 0.05


def test_what_can_be_asked_is_not_asked_twice() -> None:
    readings = taken()
    first = {p.observation for p in infer(readings).prospects}
    assert {"lights_brighten_and_dim", "breaker_found_tripped"} <= first
    told = msgspec.structs.replace(readings, observations=(Observation(code="breaker_found_tripped"),))
    assert "breaker_found_tripped" not in {p.observation for p in infer(told).prospects}


def test_what_each_place_would_show_stands_beside() -> None:
    second = next(p for p in ahead(SOUND[0]) if p.conductors in {("L1", "N"), ("L2", "N")})
    by_place = {e.place: e for e in second.expected}
    assert 115.0 < by_place["none"].low < by_place["none"].high < 127.0
    assert by_place["branch_neutral"].high - by_place["branch_neutral"].low > 60.0


def test_the_callers_labels_and_legs_are_used() -> None:
    """A mirrored visit is asked for the mirrored readings, known loads included."""
    renamed: dict[str, Meter] = {
        "a": msgspec.structs.replace(DMM, name="a"),
        "b": msgspec.structs.replace(LOZ, name="b"),
    }
    found = ahead(meters=renamed)
    assert {p.meter for p in found} <= {"a", "b", None}
    upright = ahead(volts("L1", "N", 121.0, "loz"), volts("L1", "L2", 242.0, "loz"))
    turned = ahead(volts("L2", "N", 121.0, "loz"), volts("L1", "L2", 242.0, "loz"))
    other = {"L1": "L2", "L2": "L1"}
    assert [sorted(other.get(c, c) for c in p.conductors) for p in upright] == [sorted(p.conductors) for p in turned]
    loads = [[sorted(other.get(c, c) for c in x.between) for x in p.loads] for p in upright]
    assert loads == [[sorted(x.between) for x in p.loads] for p in turned]


@pytest.mark.parametrize("name", list(CASES))
def test_whatever_is_asked_for_can_be_taken(name: str) -> None:
    found = infer(CASES[name]).prospects
    readings = [p for p in found if p.observation is None]
    assert len({(p.kind, p.conductors, p.point, p.meter_kind, p.meter, p.load_state) for p in readings}) == len(
        readings
    )
    for p in readings:
        assert p.meter is None or p.meter in CASES[name].meters
        assert p.information >= 0.0
        assert p.separates is None or p.separates[0] != p.separates[1]


def test_nothing_is_asked_for_that_tells_next_to_nothing() -> None:
    found = ahead(meters=BOTH | {"pen": PEN})
    assert all(p.information >= 0.06 for p in found)
