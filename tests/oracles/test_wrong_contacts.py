"""Contacts on the wrong conductor, burnt-off leads, loose grounds and weak supplies.

Each list of readings is Kirchhoff's voltage law worked by hand for a 120/240 V source, in whole volts as a display
gives them; that such wiring is met, and who acts on it, is common practice, no source.
"""

import json
from typing import Any

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request

METERS = {
    "dmm": {"kind": "voltmeter", "input_impedance": "10 Mohm"},
    "clamp": {"kind": "clamp_ammeter", "resolution": "0.1 A"},
}


def volts(between: str, value: float, state: str = "disconnected", **more: Any) -> dict[str, Any]:
    pair = between.split("-")
    return {"kind": "voltage", "between": pair, "value": value, "meter": "dmm", "load_state": state, **more}


def amperes(through: str, value: float) -> dict[str, Any]:
    given = {"through": through, "value": value, "meter": "clamp", "load_state": "running", "point": "panel"}
    return {"kind": "current", **given}


def answered(receptacle: str, readings: list[dict[str, Any]], **supply: Any) -> dict[str, Any]:
    meters = {r["meter"]: METERS[r["meter"]] for r in readings}
    request = {"supply": {"receptacle": receptacle, **supply}, "meters": meters, "readings": readings}
    for r in readings:
        r["value"] = f"{r['value']} {'A' if r['kind'] == 'current' else 'V'}"
    taken = read_request(json.dumps(request).encode())
    answer: dict[str, Any] = json.loads(msgspec.json.encode(assess(taken.reading_set, taken.assumptions)))
    return answer


def shares(answer: dict[str, Any]) -> dict[str, float]:
    found: dict[str, float] = {}
    for candidate in answer["candidates"]:
        found[candidate["fault"]] = found.get(candidate["fault"], 0.0) + candidate["probability"]
    return found


@pytest.mark.parametrize(
    ("receptacle", "readings"),
    [
        ("5-15R", [volts("L1-N", 240), volts("L1-G", 120), volts("N-G", 120)]),
        ("TT-30R", [volts("L1-N", 241), volts("L1-G", 121), volts("N-G", 120)]),
    ],
    ids=["120 V outlet fed by both legs", "trailer outlet fed by both legs"],
)
def test_a_neutral_contact_on_a_leg_is_miswired_and_not_a_lost_neutral(
    receptacle: str, readings: list[dict[str, Any]]
) -> None:
    answer = answered(receptacle, readings)
    assert answer["finding"]["place"] == "transposed"
    assert answer["finding"]["fault"] == "leg_neutral_transposed"
    assert (answer["determination"], answer["disposition"]) == ("established", "stop_and_refer")
    assert answer["refer_to"] == ["electrician"]


def test_a_leg_contact_on_the_neutral_bar_is_weighed_beside_a_lost_leg() -> None:
    answer = answered("6-20R", [volts("L1-L2", 120), volts("L1-G", 120), volts("L2-G", 0)])
    found = shares(answer)
    assert found["leg_neutral_transposed"] > 0.4
    assert found["open_leg"] > 0.1
    assert answer["disposition"] == "stop_and_refer"
    assert set(answer["refer_to"]) == {"electrician", "utility"}


@pytest.mark.parametrize(
    ("more", "least"),
    [([], 0.1), ([volts("L1-G", 0), volts("L2-G", 240)], 0.97)],
    ids=["neutral to ground", "legs too"],
)
def test_a_ground_contact_on_a_leg_is_stopped_at(more: list[dict[str, Any]], least: float) -> None:
    answer = answered("14-50R", [volts("L1-L2", 240), volts("L1-N", 120), volts("N-G", 120), *more])
    assert shares(answer)["leg_ground_transposed"] > least
    assert answer["disposition"] == "stop_and_refer"
    assert "frame_as_live" in {caution["code"] for caution in answer["cautions"]}


@pytest.mark.parametrize("floating", [(2, 1), (1, 1)])
def test_a_lead_that_is_burnt_off_at_the_contact_is_a_lost_leg(floating: tuple[int, int]) -> None:
    # A bare contact has a picofarad or two: 1 to 2 V on 10 Mohm. What shows 121 V is no dead tester.
    answer = answered("14-30R", [volts("L1-L2", floating[0]), volts("L1-N", 121), volts("L2-N", floating[1])])
    found = shares(answer)
    assert found["open_leg"] > 0.85
    assert found.get("breaker_open", 0.0) + found.get("tester_dead", 0.0) + found.get("no_supply", 0.0) < 0.05
    assert (answer["finding"]["conductor"], answer["disposition"]) == ("L2", "stop_and_refer")


@pytest.mark.parametrize("to_ground", [61, 86])
def test_a_generator_with_a_short_cord_may_have_no_bond_and_no_open_ground(to_ground: int) -> None:
    # 1 to 2 m of wiring, some 50 to 150 pF to each conductor, on 10 Mohm.
    legs = [volts("L1-L2", 240), volts("L1-N", 120), volts("L2-N", 120)]
    grounds = [volts("L1-G", to_ground), volts("L2-G", to_ground), volts("N-G", 0)]
    answer = answered("L14-30R", [*legs, *grounds], source="generator")
    found = shares(answer)
    assert found["neutral_not_bonded"] > 0.5
    assert found["open_ground"] > 0.03
    assert answer["determination"] != "established"


def test_a_ground_that_carries_the_neutrals_current_at_the_panel_may_be_exchanged_at_the_outlet() -> None:
    answer = answered("14-50R", [volts("L1-L2", 240, "running"), amperes("G", 5.1), amperes("N", 0)])
    assert answer["finding"]["fault"] == "neutral_ground_transposed"
    assert answer["refer_to"] == ["electrician", "technician"]
    assert answer["disposition"] == "stop_and_refer"


def test_legs_that_sag_alike_may_be_the_supply_and_not_two_joints() -> None:
    idle = [volts("L1-L2", 242, "idle"), volts("L1-G", 121, "idle")]
    running = [volts("L1-L2", 222, "running"), volts("L1-G", 111, "running"), volts("L2-G", 111, "running")]
    answer = answered("hardwired", [*idle, *running])
    assert answer["finding"]["place"] == "leg"
    assert set(answer["refer_to"]) == {"electrician", "utility"}
    at_panel = [volts("L1-L2", 223, "running", point="panel")]
    answer = answered("hardwired", [idle[0] | {"value": 242}, *[r | {"value": 111} for r in running[1:]], *at_panel])
    assert answer["finding"]["place"] in {"leg", "service_leg", "feeder_leg"}
    assert not any(c["place"] == "branch_leg" and c["probability"] > 0.05 for c in answer["candidates"])
