import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assumption
from feedproof.note.words import assumptions, caution_words, dangers, for_customer, heads, more_dangers, warned_first
from feedproof.parsing import read_request
from support.assessments import CASES, everything, open_neutral


def filled(*items: tuple[str, float | str | bool, str | None]) -> list[str]:
    given = [Assumption(pointer=pointer, value=value, unit=unit, basis="usual.") for pointer, value, unit in items]
    return assumptions(msgspec.structs.replace(open_neutral(), assumptions=given))


@pytest.mark.parametrize(
    ("items", "told"),
    [
        ([("/meters/dmm/input_capacitance", 1e-10, "F")], ["dmm: input capacitance 100 pF. Usual."]),
        ([("/meters/dmm/proved/before", False, None)], ["dmm: proved before no. Usual."]),
        ([("/supply/fed_from", "sub_panel", None)], ["Supply: what feeds the circuit sub panel. Usual."]),
        ([("/supply/system", "wye_120_208", None)], ["Supply: system 208Y/120 V wye. Usual."]),
        (
            [(f"/readings/{index}/point", "receptacle", None) for index in (0, 1, 2, 6)],
            ["Readings 1 to 3, 7: point receptacle. Usual."],
        ),
        (
            [("/meters/a/resolution", 0.1, "V"), ("/meters/b/resolution", 0.1, "V")],
            ["a and b: resolution 0.1 V. Usual."],
        ),
        ([("/meters/a~1b/resolution", 1.0, "V")], ["a/b: resolution 1 V. Usual."]),
    ],
)
def test_assumptions_are_in_words(items: list[tuple[str, float | str | bool, str | None]], told: list[str]) -> None:
    assert filled(*items) == told


@pytest.mark.parametrize(
    "disposition", ["stop_and_refer", "repair_and_retest", "take_more_readings", "no_supply_fault_found"]
)
def test_the_customer_is_told_what_holds_and_nothing_is_cleared(disposition: str) -> None:
    """With a danger, the circuit stays off also where the readings do not decide."""
    answer = msgspec.structs.replace(open_neutral(), disposition=disposition)
    for cautions in (answer.cautions, []):
        told = for_customer(msgspec.structs.replace(answer, cautions=cautions))
        assert "does not replace an inspection" in told
        off = disposition == "stop_and_refer" or (bool(cautions) and disposition != "repair_and_retest")
        assert ("Leave the circuit off" in told) == off
        assert ("It stays off" in told) == (disposition == "repair_and_retest")
        assert "safe" not in told


def test_another_supply_system_is_told_to_the_customer_as_found() -> None:
    """What was established is not called undecided."""
    answer = open_neutral()
    found = msgspec.structs.replace(answer.finding, place="other_supply_system", title="Another supply system")
    told = for_customer(msgspec.structs.replace(answer, finding=found, disposition="take_more_readings"))
    assert "another kind of supply" in told
    assert "do not decide" not in told


def test_the_customer_is_told_of_metal_that_may_be_live() -> None:
    own = open_neutral()
    assert "Metal frames" not in for_customer(own)
    live = msgspec.structs.replace(own.cautions[0], code="grounded_frames_off_earth", severity="danger")
    assert "Metal frames" in for_customer(msgspec.structs.replace(own, cautions=[live, *own.cautions]))
    panel = msgspec.structs.replace(own.cautions[0], code="feeder_neutral", severity="danger")
    told = for_customer(msgspec.structs.replace(own, cautions=[panel, *own.cautions]))
    assert "Metal frames on the circuits of the same panel may be live" in told


def test_who_must_act_is_named_to_the_customer() -> None:
    told = for_customer(msgspec.structs.replace(open_neutral(), refer_to=["utility", "electrician"]))
    assert "the utility and a licensed electrician" in told


def test_what_an_answer_does_not_hold_is_a_line_to_write_on() -> None:
    given = dict(heads(open_neutral()))
    assert given["Meters"] == "dmm"
    assert given["Site"] == given["Taken by"] == given["Taken when"] == given["Proved before and after"] == ""


def test_what_the_request_states_of_the_visit_heads_the_note() -> None:
    request = {
        "reference": "job 7",
        "visit": {
            "site": "S",
            "appliance": "plate P",
            "taken_by": "T",
            "taken_at": "2031-05-17",
            "calibration": "C",
        },
        "appliance": {"kind": "water_heater"},
        "supply": {"receptacle": "14-50R", "run": {"size": "6 AWG", "length": "18 m", "temperature": "35 degC"}},
        "meters": {
            "one": {"kind": "voltmeter", "proved": {"before": True, "after": True}},
            "two": {"kind": "voltmeter", "proved": {"before": True}},
            "clamp": {"kind": "clamp_ammeter"},
        },
        "readings": [],
    }
    answer = assess(*read_request(msgspec.json.encode(request)))
    assert dict(heads(answer)) == {
        "Site": "S",
        "Appliance": "Water heater, plate P",
        "Receptacle and run": "14-50R, 6 AWG, 18 m, at 35 °C",
        "Supply taken to be": "120/240 V split phase",
        "Taken by": "T",
        "Taken when": "2031-05-17",
        "Meters": "one, two, clamp",
        "Proved before and after": "one",
        "Calibration": "C",
    }


@pytest.mark.parametrize("name", CASES)
def test_no_title_of_a_danger_is_lost(name: str) -> None:
    answer = CASES[name]()
    top = warned_first(answer)
    rest = [caution for caution in dangers(answer) if caution not in top]
    assert all(caution.title in caution_words(answer, caution) for caution in rest)
    assert bool(more_dangers(answer)) == bool(rest)
    assert 1 <= len(top) <= 3


@pytest.mark.parametrize("name", CASES)
def test_proving_the_tester_stands_among_the_first_though_it_is_a_warning(name: str) -> None:
    answer = CASES[name]()
    ranked = {caution.rank: caution for caution in answer.cautions}
    assert [caution.rank for caution in warned_first(answer)][:1] == [min(ranked)]
    assert ranked[2] in warned_first(answer)
    assert everything().cautions
