"""What a receptacle says of its conductors, and what contradicts it.

NEMA WD 6 by series (public tables were read): 5 is a leg, neutral and ground, 6 two legs and ground, 10 two legs and
neutral, 14 all four.
"""

from typing import Any

import pytest

from feedproof.readings import Supply
from support.requests import DMM, READING, admit, changed, faults

STATED = {"system": "split_phase_120_240", "frequency": 60, "source": "utility", "fed_from": "unknown", "run": {}}


def supply(**stated: object) -> Supply:
    return admit({"supply": STATED | stated, "readings": []}).reading_set.supply


def refused(**stated: object) -> list[tuple[str, str]]:
    return [(f.pointer, f.code) for f in faults({"supply": STATED | stated, "readings": []})]


@pytest.mark.parametrize(
    ("name", "system", "neutral", "ground"),
    [
        ("5-15R", "single_phase_120", True, "present"),
        ("5-20R", "single_phase_120", True, "present"),
        ("6-30R", "split_phase_120_240", False, "present"),
        ("L6-30R", "split_phase_120_240", False, "present"),
        ("10-30R", "split_phase_120_240", True, "absent"),
        ("10-50R", "split_phase_120_240", True, "absent"),
        ("14-30R", "split_phase_120_240", True, "present"),
        ("14-50R", "split_phase_120_240", True, "present"),
        ("L14-30R", "split_phase_120_240", True, "present"),
        ("2-30R", "split_phase_120_240", False, "absent"),
        ("hardwired", "split_phase_120_240", True, "unknown"),
    ],
)
def test_a_receptacle_decides_which_conductors_there_are(name: str, system: str, neutral: bool, ground: str) -> None:
    made = supply(receptacle=name, system=None)
    assert (made.system, made.neutral, made.equipment_ground, made.receptacle) == (system, neutral, ground, name)
    _, assumptions = admit({"supply": {"receptacle": name}, "readings": []})
    told = {a.pointer: a for a in assumptions}
    assert told["/supply/neutral"].value == ("present" if neutral else "absent")
    assert told["/supply/equipment_ground"].value == ground
    assert ("NEMA WD 6" in told["/supply/neutral"].basis) == (name != "hardwired")
    assert told["/supply/frame_bonded_to_neutral"].value == ("unknown" if neutral else False)


@pytest.mark.parametrize(
    ("stated", "pointer"),
    [
        ({"receptacle": "6-30R", "neutral": "present"}, "/supply/neutral"),
        ({"receptacle": "14-30R", "neutral": "absent"}, "/supply/neutral"),
        ({"receptacle": "10-30R", "equipment_ground": "present"}, "/supply/equipment_ground"),
        ({"receptacle": "14-50R", "equipment_ground": "absent"}, "/supply/equipment_ground"),
        ({"receptacle": "5-15R"}, "/supply/system"),
        ({"receptacle": "14-50R", "system": "single_phase_120"}, "/supply/system"),
        ({"system": "single_phase_120", "neutral": "absent"}, "/supply/neutral"),
        ({"receptacle": "6-50R", "frame_bonded_to_neutral": True}, "/supply/frame_bonded_to_neutral"),
        ({"neutral": "absent", "frame_bonded_to_neutral": True}, "/supply/frame_bonded_to_neutral"),
    ],
)
def test_what_contradicts_the_receptacle_is_one_fault(stated: dict[str, Any], pointer: str) -> None:
    assert refused(**stated) == [(pointer, "contradiction")]


@pytest.mark.parametrize(
    "stated",
    [
        {"receptacle": "10-30R", "equipment_ground": "absent"},
        {"receptacle": "10-30R", "equipment_ground": "unknown"},
        {"receptacle": "14-30R", "equipment_ground": "unknown", "neutral": "present"},
        {"receptacle": "6-20R", "neutral": "absent", "system": "wye_120_208"},
        {"receptacle": "hardwired", "neutral": "absent", "equipment_ground": "present"},
        {"receptacle": "hardwired", "neutral": "present", "equipment_ground": "absent"},
    ],
)
def test_what_agrees_with_the_receptacle_passes(stated: dict[str, Any]) -> None:
    made = supply(**stated)
    assert made.neutral == (stated.get("neutral", "present") == "present")
    assert made.equipment_ground == (
        "absent" if stated["receptacle"] == "10-30R" else stated.get("equipment_ground", "present")
    )


@pytest.mark.parametrize("stated", [{"receptacle": "6-30R"}, {"receptacle": "hardwired", "neutral": "absent"}])
def test_without_a_neutral_it_is_read_at_a_panel_only(stated: dict[str, Any]) -> None:
    def document(point: str) -> dict[str, Any]:
        reading = READING | {"point": point, "load_state": "idle"}
        heating = {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.5 kW"}]}
        return changed(supply=STATED | stated, load_states={"heating": heating}, readings=[reading])

    for panel in ("service_panel", "sub_panel", "panel"):
        admit(document(panel))
    for point in ("receptacle", "appliance_terminals"):
        (fault,) = faults(document(point))
        assert (fault.pointer, fault.code) == ("/readings/0/between/1", "no_such_conductor")
        assert "has no neutral contact" in fault.detail
        assert fault.accepted == ["L1", "L2", "G"]
    loaded = document("panel")
    loaded["load_states"]["heating"]["loads"][0]["between"] = ["L1", "N"]
    assert [f.pointer for f in faults(loaded)] == ["/load_states/heating/loads/0/between/1"]


READ_TO_NEUTRAL = READING | {"between": ["L1", "N"], "load_state": "idle"}
HEATING = {"heating": {"kind": "running", "loads": [{"between": ["L1", "N"], "power": "1 kW"}]}}


@pytest.mark.parametrize(
    ("kind", "more", "neutral"),
    [
        ("water_heater", {}, False),
        ("air_conditioner", {"supply": {"receptacle": "hardwired"}}, False),
        ("heat_pump", {"readings": [READ_TO_NEUTRAL | {"point": "service_panel"}]}, False),
        ("pump", {"supply": {"neutral": "present"}}, True),
        ("pump", {"readings": [READ_TO_NEUTRAL]}, True),
        ("heat_pump", {"load_states": HEATING}, True),
        ("water_heater", {"supply": {"frame_bonded_to_neutral": True}}, True),
        ("water_heater", {"supply": {"system": "single_phase_120"}}, True),
        ("air_conditioner", {"supply": {"receptacle": "14-50R"}}, True),
        ("vehicle_charger", {}, True),
        ("range", {"supply": {"receptacle": "hardwired"}}, True),
    ],
)
def test_an_appliance_usually_on_two_legs_and_ground_has_no_neutral_unless_said_or_read(
    kind: str, more: dict[str, Any], neutral: bool
) -> None:
    """Wired so as a rule; common practice, no source. A receptacle, a reading or a load knows better."""
    made, assumptions = admit({"appliance": {"kind": kind}, "meters": {"dmm": DMM}, "readings": []} | more)
    assert made.supply.neutral == neutral
    told = {a.pointer: a.value for a in assumptions}
    assert told.get("/supply/neutral") == (
        None if more.get("supply", {}).get("neutral") else "present" if neutral else "absent"
    )


def test_a_leg_that_a_receptacle_lacks_is_neither_read_nor_loaded() -> None:
    document = changed(supply={"receptacle": "5-15R"}, readings__0__between=["L2", "N"])
    assert [f.pointer for f in faults(document)] == [
        "/load_states/heating/loads/0/between/1",
        "/readings/0/between/0",
    ]


def test_a_leak_needs_a_ground_to_leak_to() -> None:
    leak = {"between": ["L1", "G"], "resistance": "900 ohm"}
    states = {"wet": {"kind": "running", "loads": [leak]}}
    (made,) = admit(changed(load_states=states)).reading_set.load_states["wet"].loads
    assert (made.between, made.resistance) == (("L1", "G"), 900.0)
    (fault,) = faults(changed(load_states=states, supply={"receptacle": "10-30R"}))
    assert (fault.pointer, fault.code) == ("/load_states/wet/loads/0/between", "no_such_conductor")
    assert "a 10-30R has no ground contact" in fault.detail


def test_metalwork_is_read_where_there_is_no_ground_and_not_at_a_panel() -> None:
    def document(ground: str, point: str) -> dict[str, Any]:
        reading = READING | {"between": ["L1", "metalwork"], "point": point, "load_state": "idle"}
        return changed(supply__equipment_ground=ground, readings=[reading])

    (reading,) = admit(document("absent", "receptacle")).reading_set.readings
    assert getattr(reading, "between") == ("L1", "metalwork")  # noqa: B009
    admit(document("absent", "appliance_terminals"))
    for ground, point in (("present", "receptacle"), ("unknown", "receptacle"), ("absent", "service_panel")):
        (fault,) = faults(document(ground, point))
        assert (fault.pointer, fault.code) == ("/readings/0/between/1", "contradiction")
        assert "read to G" in fault.detail
    both = document("absent", "receptacle")
    both["readings"][0]["between"] = ["metalwork", "metalwork"]
    assert [f.code for f in faults(both)] == ["same_conductor"]
    current = {"kind": "current", "through": "metalwork", "value": 1, "meter": "clamp", "load_state": "idle"}
    clamp = {"clamp": {"kind": "clamp_ammeter"}}
    assert [f.code for f in faults(changed(meters=clamp, readings=[current]))] == ["not_accepted"]


def test_a_sub_panel_is_read_unless_it_is_said_that_there_is_none() -> None:
    reading = READING | {"point": "sub_panel"}
    for fed_from in ("sub_panel", "sub_panel_bonded", "unknown"):
        made = admit(changed(supply__fed_from=fed_from, readings=[reading])).reading_set
        assert (made.supply.fed_from, made.readings[0].point) == (fed_from, "sub_panel")
    (fault,) = faults(changed(supply__fed_from="service_panel", readings=[reading]))
    assert (fault.pointer, fault.code, fault.accepted) == ("/readings/0/point", "contradiction", ["service_panel"])
    admit(changed(supply__fed_from="service_panel", readings=[reading | {"point": "panel"}]))


def test_source_and_appliance_are_handed_on() -> None:
    made = admit(changed(supply__source="generator", appliance={"kind": "water_heater"})).reading_set
    assert (made.supply.source, made.appliance) == ("generator", "water_heater")
