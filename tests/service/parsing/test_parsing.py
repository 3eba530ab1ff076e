"""Parsing: what passes comes out in SI units with its assumptions, and what does not comes back with all faults."""

from copy import deepcopy
from typing import Any

import msgspec.inspect
import msgspec.structs
import pytest

from feedproof.errors import MalformedRequest, RefusedRequest
from feedproof.faults.priors import BASE_RATES
from feedproof.parsing import read_request
from feedproof.readings import ClampAmmeter, Ohmmeter, ProximityDetector, ResistanceReading, VoltageReading, Voltmeter
from support.requests import DMM, READING, REQUEST, admit, changed, faults


def test_a_complete_request_leaves_nothing_to_assume() -> None:
    reading_set, assumptions = admit(REQUEST)
    assert assumptions == ()
    assert reading_set.supply.run.length == 18.0
    assert reading_set.meters["dmm"] == Voltmeter(
        name="dmm",
        input_impedance=10e6,
        input_capacitance=1e-10,
        accuracy_percent=0.8,
        accuracy_counts=3.0,
        resolution=0.1,
        proved=True,
    )
    assert reading_set.readings == (
        VoltageReading(between=("L1", "N"), value=120.0, meter="dmm", load_state="disconnected"),
    )


def test_a_label_that_is_a_kind_needs_no_entry() -> None:
    reading_set, _ = admit(REQUEST)
    assert reading_set.load_states["disconnected"].kind == "disconnected"
    assert set(reading_set.load_states) == {"heating", "disconnected"}


def test_every_default_is_an_assumption_with_its_place_and_basis() -> None:
    meters = {"v": "voltmeter", "p": "proximity_detector", "c": "clamp_ammeter", "o": "ohmmeter"}
    _, assumptions = admit({"meters": {name: {"kind": kind} for name, kind in meters.items()}, "readings": []})
    pointers = [assumption.pointer for assumption in assumptions]
    assert pointers == [
        "/supply/system",
        "/supply/frequency",
        "/supply/equipment_ground",
        "/supply/neutral",
        "/supply/frame_bonded_to_neutral",
        "/supply/fed_from",
        "/supply/source",
        "/supply/run/size",
        "/supply/run/material",
        "/supply/run/length",
        "/meters/v/input_impedance",
        "/meters/v/input_capacitance",
        "/meters/v/accuracy_percent",
        "/meters/v/accuracy_counts",
        "/meters/v/resolution",
        "/meters/v/proved/before",
        "/meters/v/proved/after",
        "/meters/p/threshold",
        "/meters/p/proved/before",
        "/meters/p/proved/after",
        "/meters/c/accuracy_percent",
        "/meters/c/accuracy_counts",
        "/meters/c/resolution",
        "/meters/o/accuracy_percent",
        "/meters/o/accuracy_counts",
        "/meters/o/resolution",
        "/appliance/kind",
    ]
    assert all(assumption.basis for assumption in assumptions)


def test_left_out_figures_take_the_typical_ones_of_the_kind() -> None:
    kinds: dict[str, dict[str, object]] = {
        "v": {"kind": "voltmeter"},
        "z": {"kind": "voltmeter", "input_impedance": 3000},
        "p": {"kind": "proximity_detector"},
        "c": {"kind": "clamp_ammeter"},
        "o": {"kind": "ohmmeter"},
    }
    meters = admit({"meters": kinds, "readings": []}).reading_set.meters
    figures: dict[str, Any] = {"input_capacitance": 1e-10, "accuracy_counts": 3.0}
    assert meters == {
        "v": Voltmeter(name="v", input_impedance=10e6, accuracy_percent=0.8, resolution=0.1, **figures),
        "z": Voltmeter(name="z", input_impedance=3e3, accuracy_percent=1.5, resolution=1.0, **figures),
        "p": ProximityDetector(name="p", threshold=50.0),
        "c": ClampAmmeter(name="c", accuracy_percent=2.0, accuracy_counts=5.0, resolution=0.01),
        "o": Ohmmeter(name="o", accuracy_percent=1.0, accuracy_counts=2.0, resolution=0.1),
    }


# Ohm's law: R = V²/P at the nominal voltage between the two conductors.
@pytest.mark.parametrize(
    ("system", "between", "resistance"),
    [
        ("split_phase_120_240", ["L1", "L2"], 240.0**2 / 4800.0),
        ("split_phase_120_240", ["N", "L2"], 120.0**2 / 4800.0),
        ("wye_120_208", ["L1", "L2"], 208.0**2 / 4800.0),
        ("single_phase_120", ["L1", "N"], 120.0**2 / 4800.0),
        ("high_leg_delta_120_240", ["L2", "L1"], 240.0**2 / 4800.0),
    ],
)
def test_power_becomes_a_resistance_at_nominal_voltage(system: str, between: list[str], resistance: float) -> None:
    document = changed(supply__system=system, load_states__heating__loads__0__between=between)
    (load,) = admit(document).reading_set.load_states["heating"].loads
    assert load.resistance == pytest.approx(resistance, rel=1e-12)
    assert load.tolerance_percent == 10.0


@pytest.mark.parametrize(
    ("system", "between", "voltage", "resistance"),
    [
        # A 240 V element on 208 V gives (208/240)² of its power, with the same resistance: Ohm's law.
        ("wye_120_208", ["L1", "L2"], "240 V", 240.0**2 / 4800.0),
        ("split_phase_120_240", ["L1", "L2"], 208, 208.0**2 / 4800.0),
        ("split_phase_120_240", ["L1", "G"], None, 120.0**2 / 4800.0),
    ],
)
def test_a_power_may_be_rated_at_another_voltage(
    system: str, between: list[str], voltage: object, resistance: float
) -> None:
    load = {"between": between, "power": 4800, "voltage": voltage, "tolerance_percent": 5}
    (made,) = (
        admit(changed(supply__system=system, load_states__heating__loads=[load]))
        .reading_set.load_states["heating"]
        .loads
    )
    assert made.resistance == pytest.approx(resistance, rel=1e-12)
    without_power = load | {"power": None, "resistance": 12, "voltage": "240 V"}
    (fault,) = faults(changed(load_states__heating__loads=[without_power]))
    assert (fault.pointer, fault.code) == ("/load_states/heating/loads/0/voltage", "one_of")


@pytest.mark.parametrize(("load", "percent"), [({"power": 4800}, 5.0), ({"resistance": 12, "reactance": "3 ohm"}, 1.0)])
def test_a_load_has_a_tolerance_even_if_none_is_stated(load: dict[str, object], percent: float) -> None:
    given = [{"between": ["L1", "L2"], **load}]
    reading_set, assumptions = admit(changed(load_states__heating__loads=given))
    assert reading_set.load_states["heating"].loads[0].tolerance_percent == percent
    assert [a.pointer for a in assumptions] == ["/load_states/heating/loads/0/tolerance_percent"]


def test_null_is_the_same_as_left_out() -> None:
    document = changed(
        reference=None, visit=None, supply=None, appliance=None, load_states=None, observations=None, base_rates=None
    )
    del document["readings"][0]["point"]
    other = deepcopy(document)
    for name in ("reference", "visit", "supply", "appliance", "load_states", "observations", "base_rates"):
        del other[name]
    other["readings"][0]["point"] = None
    one, two = (msgspec.structs.replace(admit(given).reading_set, digest=None) for given in (document, other))
    assert one == two


@pytest.mark.parametrize("stated", [{}, {"open_neutral": 0.12}, {"open_leg": 0}, dict(BASE_RATES)], ids=str)
def test_a_base_rate_left_out_keeps_its_published_value(stated: dict[str, float]) -> None:
    assert admit(changed(base_rates=stated)).reading_set.base_rates == BASE_RATES | stated


def test_counts_of_visits_share_what_their_faults_have_together() -> None:
    """75 sound and 25 open neutrals: three to one between them, and a lost leg is as usual as before."""
    rates = admit(changed(base_rates={"none_found": 75, "open_neutral": 25, "open_ground": 0})).reading_set.base_rates
    assert rates is not None
    mass = BASE_RATES["none_found"] + BASE_RATES["open_neutral"]
    assert rates["none_found"] == pytest.approx(0.75 * mass)
    assert rates["open_neutral"] == pytest.approx(0.25 * mass)
    assert rates["open_leg"] == BASE_RATES["open_leg"]
    assert rates["open_ground"] == 0.0


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"colour": "red"}, "/colour", "unknown_field"),
        ({"readings__0__colour": "red"}, "/readings/0/colour", "unknown_field"),
        ({"supply__frequency": "60 V"}, "/supply/frequency", "wrong_dimension"),
        ({"supply__frequency": 400}, "/supply/frequency", "out_of_bounds"),
        ({"supply__system": "delta"}, "/supply/system", "not_accepted"),
        ({"supply__run__size": "9 horses"}, "/supply/run/size", "not_accepted"),
        ({"supply__run__length": -5}, "/supply/run/length", "out_of_bounds"),
        ({"supply__frame_bonded_to_neutral": "no"}, "/supply/frame_bonded_to_neutral", "wrong_type"),
        ({"meters__dmm__input_impedance": -10e6}, "/meters/dmm/input_impedance", "out_of_bounds"),
        ({"meters__dmm__input_impedance": "-10 Mohm"}, "/meters/dmm/input_impedance", "out_of_bounds"),
        ({"meters__dmm__accuracy_percent": "0.8"}, "/meters/dmm/accuracy_percent", "wrong_type"),
        ({"meters__dmm__accuracy_percent": 90}, "/meters/dmm/accuracy_percent", "out_of_bounds"),
        ({"meters__dmm__kind": "oscilloscope"}, "/meters/dmm/kind", "not_accepted"),
        ({"meters__pen__threshold": "1 Mohm"}, "/meters/pen/threshold", "wrong_dimension"),
        ({"load_states__heating__kind": "on"}, "/load_states/heating/kind", "not_accepted"),
        ({"load_states__heating__kind": "disconnected"}, "/load_states/heating/loads", "no_load_connected"),
        ({"load_states__idle": {"kind": "running"}}, "/load_states/idle/kind", "misleading_label"),
        ({"load_states__heating__loads__0__resistance": 12}, "/load_states/heating/loads/0", "one_of"),
        ({"load_states__heating__loads__0__reactance": 1}, "/load_states/heating/loads/0/reactance", "one_of"),
        ({"load_states__heating__loads__0__power": None}, "/load_states/heating/loads/0", "one_of"),
        (
            {"load_states__heating__loads__0__between": ["N", "G"]},
            "/load_states/heating/loads/0/between",
            "contradiction",
        ),
        ({"load_states__heating__loads__0__voltage": "12 V"}, "/load_states/heating/loads/0/voltage", "out_of_bounds"),
        ({"meters__dmm__proved": True}, "/meters/dmm/proved", "wrong_type"),
        ({"meters__dmm__proved": {"between": True}}, "/meters/dmm/proved/between", "unknown_field"),
        ({"supply__receptacle": "14-51R"}, "/supply/receptacle", "not_accepted"),
        ({"supply__fed_from": "attic"}, "/supply/fed_from", "not_accepted"),
        ({"appliance": {"kind": "toaster"}}, "/appliance/kind", "not_accepted"),
        ({"appliance": {}}, "/appliance/kind", "missing"),
        ({"readings__0__between": ["L1", "L1"]}, "/readings/0/between", "same_conductor"),
        ({"readings__0__between": ["L1"]}, "/readings/0/between", "wrong_length"),
        ({"readings__0__between": ["L1", "L3"]}, "/readings/0/between/1", "not_accepted"),
        ({"readings__0__value": "120"}, "/readings/0/value", "unit_missing"),
        ({"readings__0__value": True}, "/readings/0/value", "wrong_type"),
        ({"readings__0__value": None}, "/readings/0/value", "wrong_type"),
        ({"readings__0__meter": "loz"}, "/readings/0/meter", "undefined_meter"),
        ({"readings__0__meter": "pen"}, "/readings/0/meter", "wrong_kind_of_meter"),
        ({"readings__0__load_state": "boiling"}, "/readings/0/load_state", "undefined_load_state"),
        ({"readings__0__point": "attic"}, "/readings/0/point", "not_accepted"),
        ({"readings__0__kind": "smell"}, "/readings/0/kind", "not_accepted"),
        ({"readings": [READING] * 201}, "/readings", "wrong_length"),
        ({"readings": {}}, "/readings", "wrong_type"),
        ({"reference": "x" * 201}, "/reference", "wrong_length"),
        ({"reference": "a\nb"}, "/reference", "not_accepted"),
        ({"reference": "ab\n"}, "/reference", "not_accepted"),
        ({"reference": "\x00"}, "/reference", "not_accepted"),
        ({"visit": {"site": "x" * 121}}, "/visit/site", "wrong_length"),
        ({"visit": {"taken_by": "ab\n"}}, "/visit/taken_by", "not_accepted"),
        ({"visit": {"appliance": "\u202etxt"}}, "/visit/appliance", "not_accepted"),
        ({"visit": {"taken_at": "29.11.2026"}}, "/visit/taken_at", "not_accepted"),
        ({"visit": {"taken_at": "2026-11-29T14:30\n"}}, "/visit/taken_at", "not_accepted"),
        ({"visit": {"technician": "a"}}, "/visit/technician", "unknown_field"),
        ({"reference": "\u202etxt"}, "/reference", "not_accepted"),
        ({"meters": {"dmm": DMM, "": DMM}}, "/meters/", "wrong_length"),
        ({"meters": {"dmm": DMM, "a/b~c" * 20: DMM}}, "/meters/" + "a~1b~0c" * 20, "wrong_length"),
        ({"base_rates": {"gremlins": 1}}, "/base_rates/gremlins", "unknown_fault"),
        ({"base_rates": {"open_neutral": -1}}, "/base_rates/open_neutral", "out_of_bounds"),
        ({"base_rates": {"none_found": 0}}, "/base_rates/none_found", "out_of_bounds"),
        ({"base_rates": {"open_neutral": 5e-324}}, "/base_rates/open_neutral", "out_of_bounds"),
    ],
)
def test_one_fault_is_named_at_its_place(changes: dict[str, object], pointer: str, code: str) -> None:
    (fault,) = faults(changed(**changes))
    assert (fault.pointer, fault.code) == (pointer, code)
    assert fault.detail
    assert fault.accepted


def test_a_conductor_that_the_system_lacks_is_refused() -> None:
    document = changed(supply__system="single_phase_120", readings__0__between=["L2", "N"])
    assert [(f.pointer, f.code) for f in faults(document)] == [
        ("/load_states/heating/loads/0/between/1", "no_such_conductor"),
        ("/readings/0/between/0", "no_such_conductor"),
    ]


@pytest.mark.parametrize(
    ("reading", "pointer"),
    [
        ({"kind": "voltage", "between": ["L1", "G"], "value": 120}, "/readings/0/between/1"),
        ({"kind": "proximity", "at": "G", "detected": True, "meter": "pen"}, "/readings/0/at"),
        ({"kind": "current", "through": "G", "value": 0.1, "meter": "clamp"}, "/readings/0/through"),
        (
            {"kind": "resistance", "between": ["G", "N"], "value": 0.3, "meter": "ohms", "supply": "isolated"},
            "/readings/0/between/0",
        ),
    ],
)
# NEMA WD 6, configurations 10-30 and 10-50: two legs and a neutral, no ground contact (public tables were read).
def test_a_three_wire_outlet_has_no_ground_to_read(reading: dict[str, Any], pointer: str) -> None:
    document = changed(readings=[{"meter": "dmm", "load_state": "disconnected"} | reading])
    document["meters"] |= {"clamp": {"kind": "clamp_ammeter"}, "ohms": {"kind": "ohmmeter"}}
    admit(document)
    document["supply"]["equipment_ground"] = "absent"
    (fault,) = faults(document)
    assert (fault.pointer, fault.code, fault.value) == (pointer, "no_such_conductor", "G")
    assert fault.detail.startswith("equipment_ground is absent: the outlet has no ground contact")
    assert fault.accepted == ["L1", "L2", "N"]


@pytest.mark.parametrize("point", ["service_panel", "appliance_terminals"])
def test_elsewhere_a_ground_may_be_read_although_the_outlet_has_none(point: str) -> None:
    # The panel has its ground bar, and an appliance its frame.
    document = changed(supply__equipment_ground="absent", readings__0__between=["L1", "G"], readings__0__point=point)
    document["readings"][0]["load_state"] = "idle"
    admit(document)


@pytest.mark.parametrize("label", ["disconnected", "unplugged"])
def test_the_terminals_of_a_disconnected_appliance_are_no_part_of_the_circuit(label: str) -> None:
    reading = READING | {"point": "appliance_terminals", "load_state": label}
    (fault,) = faults(changed(load_states__unplugged={"kind": "disconnected"}, readings=[reading]))
    assert (fault.pointer, fault.code) == ("/readings/0/point", "not_connected")
    assert "the appliance is disconnected" in fault.detail
    assert fault.accepted == ["receptacle", "service_panel"]
    for state in ("idle", "running", "heating", "test_load"):
        admit(changed(readings=[reading | {"load_state": state}]))


def test_what_a_faulty_point_or_state_would_have_led_to_is_not_told_as_well() -> None:
    broken = READING | {"point": "attic", "between": ["L1", "G"]}
    assert [f.pointer for f in faults(changed(supply__equipment_ground="absent", readings=[broken]))] == [
        "/readings/0/point"
    ]
    unknown = READING | {"point": "appliance_terminals", "load_state": "x"}
    assert [f.pointer for f in faults(changed(load_states__x={"kind": "off"}, readings=[unknown]))] == [
        "/load_states/x/kind"
    ]


def test_a_resistance_needs_an_isolated_supply_and_an_ohmmeter() -> None:
    reading = READING | {"kind": "resistance", "between": ["N", "G"], "value": "0.3 ohm"}
    assert {(f.pointer, f.code) for f in faults(changed(readings=[reading]))} == {
        ("/readings/0/supply", "missing"),
        ("/readings/0/meter", "wrong_kind_of_meter"),
    }
    sound = changed(readings=[reading | {"supply": "isolated", "meter": "ohms", "over_range": True}])
    sound["meters"]["ohms"] = {"kind": "ohmmeter"}
    (made,) = admit(sound).reading_set.readings
    assert made.__class__.__name__ == "ResistanceReading"
    assert getattr(made, "over_range")  # noqa: B009


def test_an_ohmmeter_without_end_is_over_range_of_its_shortest_range() -> None:
    reading = READING | {"kind": "resistance", "between": ["L1", "N"], "meter": "ohms", "supply": "isolated"}
    document = changed(readings=[reading | {"value": "OL"}], meters__ohms={"kind": "ohmmeter"})
    made, assumptions = admit(document)
    (read,) = made.readings
    assert isinstance(read, ResistanceReading)
    assert read.over_range
    # A continuity function may end at 400 ohm: less is not claimed (from memory, and so it is said).
    assert read.value == 400.0
    (noted,) = (a for a in assumptions if a.pointer == "/readings/0/value")
    assert (noted.value, noted.unit) == (400.0, "ohm")
    assert "from memory" in noted.basis
    document["readings"][0]["over_range"] = False
    assert [(f.pointer, f.code) for f in faults(document)] == [("/readings/0/value", "contradiction")]
    live = changed(readings__0__value="OL")
    assert [(f.pointer, f.code) for f in faults(live)] == [("/readings/0/value", "over_range")]


def test_all_faults_of_a_request_come_at_once() -> None:
    document = changed(
        colour="red",
        supply__frequency="60 V",
        meters__dmm__input_impedance=-5,
        meters__x={"kind": "thermometer"},
        readings=[
            READING
            | {"between": ["L1", "L1"], "value": "5 kV\u00b7A", "meter": "nope", "load_state": "boiling", "hue": 1},
            READING | {"meter": "x"},
            7,
            READING | {"value": "0,3 V", "between": ["L1", "L9"]},
            {"kind": "voltage"},
        ],
        base_rates={"gremlins": 1},
    )
    assert [fault.pointer for fault in faults(document)] == [
        "/supply/frequency",
        "/meters/dmm/input_impedance",
        "/meters/x/kind",
        "/readings/0/between",
        "/readings/0/hue",
        "/readings/0/load_state",
        "/readings/0/meter",
        "/readings/0/value",
        "/readings/2",
        "/readings/3/between/1",
        "/readings/3/value",
        "/readings/4/between",
        "/readings/4/load_state",
        "/readings/4/meter",
        "/readings/4/value",
        "/base_rates/gremlins",
        "/colour",
    ]


def test_the_types_of_a_request_are_described_once(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(RefusedRequest):
        read_request(b'{"readings": 5}')
    # Describing them takes longer than all else that a refusal needs.
    monkeypatch.setattr(msgspec.inspect, "type_info", None)
    with pytest.raises(RefusedRequest):
        read_request(b'{"readings": 5}')


def test_the_number_of_faults_told_is_bounded() -> None:
    told = faults(changed(readings=[READING | {"hue": 1, "value": "x"}] * 10_000))
    assert len(told) == 100
    assert told[0].pointer == "/readings"
    assert "10000 items" in told[0].detail


def test_all_faults_are_counted_also_those_that_are_not_told() -> None:
    with pytest.raises(RefusedRequest) as refused:
        admit(changed(readings=[READING | {"hue": 1}] * 150))
    assert (refused.value.count, len(refused.value.faults)) == (150, 100)
    assert str(refused.value) == "150 faults in the request, of which the first 100 are told"


def test_a_meter_of_another_kind_is_named_in_proper_words() -> None:
    meters = {"dmm": DMM, "ohms": {"kind": "ohmmeter"}}
    (fault,) = faults(changed(meters=meters, readings__0__meter="ohms"))
    assert fault.detail == "an ohmmeter cannot take a voltage; name a voltmeter"
    assert fault.accepted == ["dmm"]


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\xff\xfe",
        "{}".encode("utf-16"),
        b'{"reference": "caf\xe9", "readings": []}',
        b'{"readings": []',
        b'{"readings": [], }',
        b'{"readings": NaN}',
        b'{"readings": -Infinity}',
        b'{"readings": [], "x": ' + b"[" * 200_000,
        b"[" * 200_000 + b"]" * 200_000,
        b'{"a":' * 100_000,
    ],
    ids=range(11),
)
def test_what_is_no_json_document_is_malformed(raw: bytes) -> None:
    with pytest.raises(MalformedRequest) as malformed:
        read_request(raw)
    assert len(str(malformed.value)) < 100


@pytest.mark.parametrize("constant", ["NaN", "Infinity", "-Infinity"])
def test_a_constant_that_json_does_not_have_is_told_with_its_byte(constant: str) -> None:
    raw = f'{{"reference": "NaN \\" caf\u00e9", "": "", "readings": [{{"value": {constant}}}, NaN]}}'.encode()
    with pytest.raises(MalformedRequest) as malformed:
        read_request(raw)
    place = raw.index(b'"value": ') + len(b'"value": ')
    assert str(malformed.value) == f"the body is not a JSON document: {constant} at byte {place} is no number"


def test_where_a_document_breaks_off_is_told_in_bytes() -> None:
    raw = '{"reference": "caf\u00e9" "readings": []}'.encode()
    with pytest.raises(MalformedRequest) as malformed:
        read_request(raw)
    assert str(malformed.value).endswith(f"at byte {raw.index(b'readings') - 1}")
    with pytest.raises(MalformedRequest, match="not UTF-8 at byte 18"):
        read_request(b'{"reference": "caf\xe9"}')


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (b'{"readings": [], "readings": []}', "readings"),
        (b'{"readings": [], "supply": {"frequency": 60, "frequency": 50}}', "frequency"),
        (b'{"readings": [], "meters": {"a": {"kind": "ohmmeter"}, "\\u0061": {"kind": "voltmeter"}}}', "a"),
        (b'{"readings": [{"kind": "smell", "kind": "taste"}], "colour": "red"}', "kind"),
        (b'{"readings": [], "' + b"x" * 5000 + b'": 1, "' + b"x" * 5000 + b'": 2}', "x" * 80 + "..."),
    ],
)
def test_a_name_that_is_there_twice_is_malformed(raw: bytes, name: str) -> None:
    with pytest.raises(MalformedRequest) as malformed:
        read_request(raw)
    assert str(malformed.value) == f"the name '{name}' is there twice in one object"


@pytest.mark.parametrize("number", [b"1e400", b"-1e400", b"9" * 5000, b"1" * 400])
def test_a_number_beyond_all_bounds_is_a_fault_and_no_failure(number: bytes) -> None:
    with pytest.raises(RefusedRequest) as refused:
        read_request(b'{"supply": {"frequency": ' + number + b'}, "readings": []}')
    assert [fault.pointer for fault in refused.value.faults] == ["/supply/frequency"]


def test_half_a_surrogate_pair_is_a_fault_and_no_failure() -> None:
    with pytest.raises(RefusedRequest) as refused:
        read_request(b'{"reference": "\\ud800", "readings": []}')
    assert [fault.pointer for fault in refused.value.faults] == ["/reference"]


@pytest.mark.parametrize("document", [None, True, 7, "x", []])
def test_a_document_that_is_no_object_is_one_fault(document: object) -> None:
    assert [(f.pointer, f.code) for f in faults(document)] == [("", "wrong_type")]


def test_the_shipped_examples_pass(example_requests: dict[str, bytes]) -> None:
    assert example_requests
    for raw in example_requests.values():
        read_request(raw)
