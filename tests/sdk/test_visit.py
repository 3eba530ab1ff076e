"""A visit is written down in the words of the trade, and comes out as the reading set that the contract shows."""

import json
import math

import msgspec
import pint
import pytest

from feedproof_sdk import (
    ClampAmmeter,
    Client,
    Load,
    Ohmmeter,
    ProximityDetector,
    ReadingSet,
    Run,
    Supply,
    Visit,
    errors,
)
from feedproof_sdk.types.assessment import NextReading
from feedproof_sdk.types.request import LoadState, Proved, ProximityReading, VoltageReading, Voltmeter

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()


def test_every_word_of_it_comes_out_as_the_contract_writes_it() -> None:
    visit = Visit(
        "cabin-12/range",
        supply=Supply(
            system="split_phase_120_240",
            frequency=60,
            equipment_ground="present",
            frame_bonded_to_neutral=False,
            neutral="present",
            fed_from="sub_panel",
            source="utility",
            receptacle="14-50R",
            run=Run(size="6 AWG", material="copper", length="18 m", temperature="35 degC"),
        ),
        appliance="range",
        base_rates={"none_found": 60, "open_neutral": 12},
    )
    dmm = visit.meter(
        "dmm",
        Voltmeter(
            input_impedance="10 Mohm",
            input_capacitance="100 pF",
            accuracy_percent=0.8,
            accuracy_counts=3,
            resolution="0.1 V",
            proved=Proved(before=True, after=True),
        ),
    )
    pen = visit.meter("pen", ProximityDetector(threshold="50 V", proved=Proved(before=True)))
    clamp = visit.meter("clamp", ClampAmmeter(accuracy_percent=2, accuracy_counts=5, resolution="0.01 A"))
    ohms = visit.meter("ohms", Ohmmeter(accuracy_percent=1, accuracy_counts=2, resolution="0.1 ohm"))
    visit.disconnected().voltage("L1", "L2", "243 V", dmm, point="receptacle", id="first")
    visit.observed("works_when_moved").observed("lights_brighten_and_dim", where="same_panel")
    visit.idle().proximity("N", detected=True, meter=pen)
    oven = Load(between=("L1", "L2"), power="4.8 kW", voltage="240 V", tolerance_percent=5)
    visit.running("heating", loads=(oven,)).current("N", 4.2, clamp, point="appliance_terminals")
    visit.test_load("lamp", loads=(Load(between=("L1", "N"), resistance=144, reactance="1 ohm"),))
    visit.disconnected().resistance("N", "G", "0.3 ohm", ohms, supply="isolated", over_range=False)
    visit.disconnected().voltage("L1", "L2", "3 V", dmm, point="receptacle", repeats="first")

    assert json.loads(msgspec.json.encode(visit.reading_set())) == {
        "reference": "cabin-12/range",
        "supply": {
            "system": "split_phase_120_240",
            "frequency": 60.0,
            "equipment_ground": "present",
            "frame_bonded_to_neutral": False,
            "neutral": "present",
            "fed_from": "sub_panel",
            "source": "utility",
            "receptacle": "14-50R",
            "run": {"size": "6 AWG", "material": "copper", "length": "18 m", "temperature": "35 degC"},
        },
        "appliance": {"kind": "range"},
        "meters": {
            "dmm": {
                "kind": "voltmeter",
                "input_impedance": "10 Mohm",
                "input_capacitance": "100 pF",
                "accuracy_percent": 0.8,
                "accuracy_counts": 3,
                "resolution": "0.1 V",
                "proved": {"before": True, "after": True},
            },
            "pen": {"kind": "proximity_detector", "threshold": "50 V", "proved": {"before": True}},
            "clamp": {
                "kind": "clamp_ammeter",
                "accuracy_percent": 2,
                "accuracy_counts": 5,
                "resolution": "0.01 A",
            },
            "ohms": {"kind": "ohmmeter", "accuracy_percent": 1, "accuracy_counts": 2, "resolution": "0.1 ohm"},
        },
        "load_states": {
            "heating": {
                "kind": "running",
                "loads": [{"between": ["L1", "L2"], "power": "4.8 kW", "voltage": "240 V", "tolerance_percent": 5}],
            },
            "lamp": {
                "kind": "test_load",
                "loads": [{"between": ["L1", "N"], "resistance": 144.0, "reactance": "1 ohm"}],
            },
        },
        "readings": [
            {
                "kind": "voltage",
                "between": ["L1", "L2"],
                "value": "243 V",
                "meter": "dmm",
                "load_state": "disconnected",
                "point": "receptacle",
                "id": "first",
            },
            {"kind": "proximity", "at": "N", "detected": True, "meter": "pen", "load_state": "idle"},
            {
                "kind": "current",
                "through": "N",
                "value": 4.2,
                "meter": "clamp",
                "load_state": "heating",
                "point": "appliance_terminals",
            },
            {
                "kind": "resistance",
                "between": ["N", "G"],
                "value": "0.3 ohm",
                "meter": "ohms",
                "load_state": "disconnected",
                "supply": "isolated",
                "over_range": False,
            },
            {
                "kind": "voltage",
                "between": ["L1", "L2"],
                "value": "3 V",
                "meter": "dmm",
                "load_state": "disconnected",
                "point": "receptacle",
                "repeats": "first",
            },
        ],
        "observations": ["works_when_moved", {"code": "lights_brighten_and_dim", "where": "same_panel"}],
        "base_rates": {"none_found": 60, "open_neutral": 12},
    }


def test_what_is_left_out_is_not_sent() -> None:
    assert msgspec.json.encode(Visit().reading_set()) == b'{"readings":[]}'


def test_every_shipped_request_survives_the_types(example_requests: dict[str, bytes]) -> None:
    for name, body in example_requests.items():
        read = msgspec.json.decode(body, type=ReadingSet)
        assert json.loads(msgspec.json.encode(read)) == json.loads(body), name


def test_the_service_takes_quantities_in_each_form_as_the_same(client: Client) -> None:
    def visit(value: object) -> Visit:
        visit = Visit()
        visit.disconnected().voltage("L1", "N", value, visit.meter("dmm", Voltmeter()))  # type: ignore[arg-type]
        return visit

    answers = [
        client.assess(visit(value)) for value in (119.6, "119600 mV", "119.6 V", UNITS.Quantity(0.1196, "kilovolt"))
    ]
    # They were other requests, and say so; the last two were written alike.
    assert len({answer.model.request_digest for answer in answers}) == 3
    assert len({msgspec.structs.replace(answer, model=answers[0].model) for answer in answers}) == 1


def test_a_kind_s_own_name_needs_no_entry_and_another_label_does() -> None:
    visit = Visit()
    visit.idle()
    visit.idle("after the fan stopped")
    visit.running(loads=(Load(between=("L1", "L2"), power=4800),))
    states = visit.reading_set().load_states
    assert states is not None
    assert set(states) == {"after the fan stopped", "running"}


def test_readings_go_on_under_the_same_label() -> None:
    visit = Visit()
    dmm = visit.meter("dmm", Voltmeter())
    visit.idle().voltage("L1", "N", 120, dmm)
    visit.idle().voltage("L2", "N", 120, dmm)
    assert [reading.load_state for reading in visit.reading_set().readings] == ["idle", "idle"]


def test_one_label_cannot_stand_for_two_things() -> None:
    visit = Visit()
    visit.meter("dmm", Voltmeter())
    assert visit.meter("dmm", Voltmeter()) == "dmm"
    with pytest.raises(ValueError, match="another meter 'dmm'"):
        visit.meter("dmm", Voltmeter(input_impedance="3 kohm"))
    visit.running("on")
    with pytest.raises(ValueError, match="another load state 'on'"):
        visit.idle("on")


def test_a_reading_set_once_given_is_not_changed_by_what_is_written_down_later(unplugged: Visit) -> None:
    before = unplugged.reading_set()
    count = len(before.readings)
    visit = Visit()
    dmm = visit.meter("dmm", Voltmeter())
    early = visit.reading_set()
    visit.idle().voltage("L1", "N", 120, dmm)
    assert (len(early.readings), len(visit.reading_set().readings), len(before.readings)) == (0, 1, count)


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_a_number_that_would_go_out_as_null_is_refused_wherever_it_stands(number: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        VoltageReading(between=("L1", "N"), value=number, meter="dmm", load_state="idle")
    with pytest.raises(ValueError, match="finite"):
        Voltmeter(input_impedance=number)
    with pytest.raises(ValueError, match="finite"):
        Supply(frequency=number)
    with pytest.raises(ValueError, match="finite"):
        ReadingSet(readings=(), base_rates={"none_found": number})
    assert LoadState(kind="idle").loads is None


def following(**fields: object) -> NextReading:
    """Give a next reading as a service answers it."""
    asked = {
        "id": "a", "title": "Voltage L1 to neutral", "steps": [], "expect": [], "information": 0.5,
        "why": "", "why_code": "tells_apart",
        "hazards": [],
        "reading": {
            "kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected",
            "point": "receptacle",
        },
        "load_state": {"kind": "disconnected"}, "observation": None, "meter": None, "meter_kind": None,
    }  # fmt: skip
    return msgspec.convert(asked | fields, NextReading)


def test_what_was_asked_for_is_taken() -> None:
    visit = Visit()
    visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
    visit.take(following(), "121 V")
    (reading,) = visit.reading_set().readings
    assert isinstance(reading, VoltageReading)
    assert (reading.between, reading.value, reading.point) == (("L1", "N"), "121 V", "receptacle")
    assert visit.reading_set().load_states is None


def test_a_new_state_and_a_meter_that_had_to_be_fetched_come_with_the_reading() -> None:
    loads = [{"between": ["L1", "N"], "resistance": 9.6, "tolerance_percent": 10.0}]
    asked = {
        "kind": "current", "through": "G", "meter": "clamp_ammeter", "load_state": "test_load",
        "point": "appliance_terminals",
    }  # fmt: skip
    step = following(reading=asked, load_state={"kind": "test_load", "loads": loads}, meter={"kind": "clamp_ammeter"})
    sent = Visit().take(step, 0.2).take(step, 0.3).reading_set()
    assert sent.load_states is not None
    assert sent.meters is not None
    assert sent.load_states["test_load"].loads is not None
    assert [*sent.meters] == ["clamp_ammeter"]
    assert len(sent.readings) == 2


def test_a_detector_signals_or_not_and_an_observation_is_so_or_not() -> None:
    asked = {"kind": "proximity", "at": "N", "meter": "pen", "load_state": "disconnected", "point": "receptacle"}
    visit = Visit()
    visit.meter("pen", ProximityDetector())
    visit.take(following(reading=asked), True)
    seen = following(reading=None, observation="breaker_found_tripped", load_state=None)
    visit.take(seen, False).take(seen, True)
    sent = visit.reading_set()
    assert isinstance(sent.readings[0], ProximityReading)
    assert sent.readings[0].detected is True
    assert list(sent.observations or ()) == ["breaker_found_tripped"]


def test_a_truth_value_is_no_quantity() -> None:
    with pytest.raises(errors.BadQuantity, match="True is no quantity"):
        Visit().take(following(), True)


def test_a_reading_is_taken_again_by_its_id() -> None:
    visit = Visit()
    visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
    visit.take(following(), 12, reading_id="r1")
    visit.repeat("r1", 121)
    again = visit.reading_set().readings[1]
    assert isinstance(again, VoltageReading)
    assert (again.repeats, again.id, again.value, again.between) == ("r1", None, 121.0, ("L1", "N"))
    with pytest.raises(ValueError, match="r9"):
        visit.repeat("r9", 121)
