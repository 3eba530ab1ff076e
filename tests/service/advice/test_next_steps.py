"""The next readings on the wire, and the end of a visit."""

import msgspec
import pytest

from feedproof.advice.determination import rule
from feedproof.advice.disposition import decide
from feedproof.advice.next_steps import end_of, permitted, to_wire, wanted, why
from feedproof.contract.assessment import NextReason
from feedproof.contract.next_reading import NextReading
from feedproof.contract.request import AssessmentRequest
from feedproof.inference import Expectation, Outcome, Prospect
from support.outcomes import NO_HAZARD, candidate, limits, ohms, outcome, prospect, readings, speaking, volts

VISIT = readings(volts("L1", "L2", 242.0, "loz"), volts("L1", "N", 7.0, "loz"))


def wired(entry: Prospect) -> NextReading:
    return to_wire([entry], outcome([candidate("none_found", 1.0)]), VISIT, "en")[0]


def ended(inferred: Outcome) -> NextReason | None:
    ruling = rule(inferred, VISIT)
    return end_of(ruling, decide(ruling, inferred, VISIT), inferred, VISIT)


def test_a_dangerous_place_that_is_probable_ends_at_once() -> None:
    inferred = outcome(
        [candidate("open_neutral", 0.8, "N", log_evidence=0.0), candidate("none_found", 0.2, log_evidence=-9.0)],
        evidence=[speaking(0, 6.0)],
        prospects=[prospect(information=0.9)],
    )
    assert ended(inferred) == "stop_first"


def test_a_lost_leg_that_is_probable_is_read_on_while_that_tells_much() -> None:
    def leg(bits: float) -> Outcome:
        return outcome(
            [
                candidate("open_leg", 0.8, "L1", log_evidence=0.0),
                candidate("none_found", 0.2, log_evidence=-9.0),
            ],
            evidence=[speaking(0, 6.0)],
            prospects=[prospect(information=bits, state="disconnected")],
        )

    assert ended(leg(0.5)) is None
    assert ended(leg(0.05)) == "enough"


def test_what_is_established_is_enough() -> None:
    inferred = outcome(
        [candidate("open_leg", 0.98, "L1"), candidate("none_found", 0.02, log_evidence=-20.0)],
        evidence=[speaking(0, 9.0)],
        prospects=[prospect(information=0.9)],
    )
    assert ended(inferred) == "enough"


def test_a_proven_supply_still_has_its_ground_looked_at_with_a_clamp_at_hand() -> None:
    """A neutral joined to the ground or exchanged with it reads right on every voltage; common practice, no source."""
    clamped = prospect(kind="current", conductors=("G",), point="service_panel", meter="clamp", information=0.01)

    def proven(*offered: Prospect) -> Outcome:
        shown = limits(0.5, 0.5, 0.5)
        return outcome([candidate("none_found", 0.99)], evidence=[speaking(0, 1.0)], detection=shown, prospects=offered)

    inferred = proven(prospect(information=0.9), clamped)
    ruling = rule(inferred, VISIT)
    assert ruling.determination == "established"
    assert wanted(ruling, inferred, VISIT) == [clamped]
    assert ended(inferred) is None
    assert ended(proven(prospect(information=0.9))) == "enough"
    borrowed = msgspec.structs.replace(clamped, meter=None)
    assert ended(proven(borrowed)) == "enough"


def test_where_nothing_is_on_offer_nothing_would_tell() -> None:
    undecided = [candidate("none_found", 0.6, log_evidence=0.0), candidate("open_leg", 0.4, "L1", log_evidence=0.0)]
    assert ended(outcome(undecided)) == "nothing_would_tell"
    assert ended(outcome(undecided, prospects=[prospect()])) is None
    passed = [candidate("none_found", 0.9, log_evidence=0.0), candidate("open_leg", 0.1, "L1", log_evidence=-9.0)]
    assert ended(outcome(passed, evidence=[speaking(0, 0.0)], detection=limits(1.0, 1.0, 300.0))) == "enough"


def test_with_a_live_frame_in_sight_only_the_unplugged_circuit_is_read() -> None:
    live = msgspec.structs.replace(NO_HAZARD, frame_live=0.6)
    unplugged, connected = prospect(state="disconnected"), prospect(state="idle")
    some = [candidate("none_found", 0.6, log_evidence=0.0), candidate("open_leg", 0.4, "L1", log_evidence=0.0)]
    both = outcome(some, evidence=[speaking(0, 0.0)], prospects=[connected, unplugged], hazards=live)
    assert permitted(rule(both, VISIT), both) == [unplugged]
    assert ended(both) is None
    only = outcome(some, evidence=[speaking(0, 0.0)], prospects=[connected], hazards=live)
    assert ended(only) == "stop_first"


UNDECIDED = [candidate("none_found", 0.6, log_evidence=0.0), candidate("open_leg", 0.4, "L1", log_evidence=0.0)]


def test_at_an_outlet_with_a_wrong_voltage_nothing_is_plugged_in() -> None:
    """120 V between neutral and ground: line voltage on every frame that is plugged in."""
    visit = readings(volts("L1", "L2", 240.0, "loz"), volts("N", "G", 119.0, "loz"))
    unplugged, connected = prospect(state="disconnected"), prospect(state="idle")
    both = outcome(UNDECIDED, evidence=[speaking(1, 0.0)], prospects=[connected, unplugged])
    assert wanted(rule(both, visit), both, visit) == [unplugged]


def test_what_is_dead_is_not_started() -> None:
    """An element without voltage does not heat: no reading under load at an outlet that was read dead."""
    dead = readings(volts("L1", "L2", 0.0), volts("L1", "N", 0.0), volts("L2", "N", 0.0))
    unplugged, running = prospect(state="disconnected"), prospect(state="heating")
    both = outcome(UNDECIDED, evidence=[speaking(0, 0.0)], prospects=[running, unplugged])
    assert wanted(rule(both, dead), both, dead) == [unplugged]
    assert wanted(rule(both, VISIT), both, VISIT) == [running, unplugged]


def test_what_a_check_says_to_take_again_stands_first() -> None:
    """24 V leg to leg with 120 V to neutral on both: a digit may be missing; common practice, no source."""
    visit = readings(volts("L1", "L2", 24.0, state="idle"), volts("L1", "N", 120.0, state="idle"))
    slip = outcome(UNDECIDED, evidence=[speaking(0, 0.0)], prospects=[prospect(state="heating")])
    slip = msgspec.structs.replace(slip, unexplained=(0,))
    first, *others = wanted(rule(slip, visit), slip, visit)
    assert (first.repeats, first.conductors, first.load_state, first.meter) == (0, ("L1", "L2"), "idle", "dmm")
    assert others == [*slip.prospects]
    assert ended(msgspec.structs.replace(slip, prospects=())) is None
    # An ohmmeter belongs on an isolated circuit only; common practice, no source.
    running = readings(ohms("L1", "G", 60.0, state="heating"), visit.readings[1])
    assert wanted(rule(slip, running), slip, running) == [*slip.prospects]


def test_what_the_unplugged_outlet_tells_is_asked_before_a_load_is_brought() -> None:
    """A plug is pulled in a moment, a load has to be fetched and connected; common practice, no source."""
    loaded = prospect(state="heating", point="appliance_terminals", information=1.0)
    loaded = msgspec.structs.replace(loaded, load_state="load", load_state_kind="test_load")
    for information, order in ((0.95, [1, 0]), (0.8, [0, 1])):
        plain = prospect(state="disconnected", meter="loz", information=information)
        inferred = outcome(UNDECIDED, evidence=[speaking(0, 0.0)], prospects=[loaded, plain])
        asked = wanted(rule(inferred, VISIT), inferred, VISIT)
        assert asked == [(loaded, plain)[index] for index in order]


@pytest.mark.parametrize(
    ("entry", "value"),
    [
        (prospect(meter="loz", state="disconnected"), {"value": 3.0}),
        (prospect("current", ("G",), meter_kind="clamp_ammeter", state="heating"), {"value": 3.0}),
        (prospect("proximity", ("N",), meter_kind="proximity_detector", state="disconnected"), {"detected": True}),
        (prospect("resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected"), {"value": 3.0}),
    ],
    ids=lambda x: x.kind if isinstance(x, Prospect) else "",
)
def test_the_reading_is_the_requests_own_shape(entry: Prospect, value: dict[str, object]) -> None:
    """With what was read added, and meter and state where they are new, it is a request."""
    step = wired(entry)
    assert step.reading is not None
    body = {
        "meters": {step.reading.meter: msgspec.to_builtins(step.meter) or {"kind": "voltmeter"}},
        "load_states": {step.reading.load_state: msgspec.to_builtins(step.load_state)},
        "readings": [msgspec.to_builtins(step.reading) | value],
    }
    read = msgspec.convert(body, AssessmentRequest)
    assert read.readings[0].meter == step.reading.meter


def test_a_new_state_takes_no_name_that_is_in_use() -> None:
    taken = readings(volts("L1", "N", 120.0, state="idle"))
    step = msgspec.structs.replace(prospect(state="idle"), state_is_new=True)
    made = to_wire([step], outcome([candidate("none_found", 1.0)]), taken, "en")[0]
    assert made.reading is not None
    assert made.reading.load_state == "idle_2"


def test_a_repeat_names_the_reading_that_it_takes_again() -> None:
    first = msgspec.structs.replace(VISIT.readings[1], id="r2")
    visit = msgspec.structs.replace(VISIT, readings=(VISIT.readings[0], first))
    again = prospect(meter="loz", state="disconnected", repeats=1)
    step = to_wire([again], outcome([candidate("none_found", 1.0)]), visit, "en")[0]
    assert step.reading is not None
    assert step.reading.repeats == "r2"
    assert "again" in step.title


def test_what_each_place_would_show_is_told_in_words() -> None:
    shown = Expectation(place="branch_neutral", conductor=None, low=0.0, high=4.2)
    step = wired(prospect(expected=(shown,)))
    assert [(e.place, e.title, e.unit) for e in step.expect] == [("branch_neutral", "Branch neutral bad", "V")]
    assert step.expect[0].display.endswith("4.2 V")


def test_what_is_to_be_asked_is_no_reading() -> None:
    asked = msgspec.structs.replace(prospect("observation", ()), observation="lights_brighten_and_dim")
    step = wired(asked)
    assert (step.reading, step.observation) == (None, "lights_brighten_and_dim")
    assert step.title == step.steps[0]


def test_why_names_what_it_parts_and_how() -> None:
    assert why(prospect()) == (
        'Tells a sound supply from "branch neutral bad". Its test current pulls down what only strays hold up.'
    )
    assert why(prospect(meter_kind="high_impedance_voltmeter", state="disconnected", separates=None)) == (
        "Narrows down the fault."
    )
    same = prospect(separates=(("branch_leg", None), ("branch_leg", None)))
    assert "from" not in why(same)
    assert "slip" in why(prospect(repeats=0))
