"""An ohmmeter on an isolated water heater: what a leak and sound insulation show, and what the answer makes of them.

Circuits are computed by hand beside each check. A sound leg to frame is one megohm or more (the 1 megohm rule of thumb
for low-voltage equipment), and any meter that ranges by itself shows OL above some tens of megohms: common practice, no
source.
"""

import math
from functools import cache

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.faults.priors import PRIORS
from feedproof.inference import circuits_of
from feedproof.note.html import render_html
from feedproof.note.markdown import render_markdown
from feedproof.note.text import render_text
from feedproof.readings import (
    SELF_NAMED_STATES,
    Conductor,
    LoadState,
    Observation,
    ReadingSet,
    ResistanceReading,
    Supply,
)
from support.answers import probability
from support.outcomes import METERS, ohms, volts
from support.seam import site

HEATER = Supply(neutral=False, receptacle="hardwired")
VOLTS = (
    volts("L1", "L2", 241.0, state="idle"),
    volts("L1", "G", 121.0, state="idle"),
    volts("L2", "G", 120.0, state="idle"),
)
STATES: dict[str, LoadState] = {kind: LoadState(name=kind, kind=kind) for kind in SELF_NAMED_STATES}
TRIPPED = (Observation(code="ground_fault_breaker_tripped"),)


def leg(conductor: Conductor, value: float, state: str = "idle") -> ResistanceReading:
    """Leg to frame at the terminal block."""
    return ohms(conductor, "G", value, state, "appliance_terminals")


def over(value: float, *, stated: bool) -> ResistanceReading:
    """OL from leg L1 to the frame."""
    return msgspec.structs.replace(leg("L1", value), over_range=True, range_stated=stated)


def visit(*taken: ResistanceReading, tripped: bool = False, voltages: bool = True) -> ReadingSet:
    """A water heater without neutral, its breaker off for the ohmmeter."""
    return ReadingSet(
        supply=HEATER,
        meters={name: METERS[name] for name in ("dmm", "ohms")},
        load_states=STATES,
        readings=(*(VOLTS if voltages else VOLTS[:1]), *taken),
        observations=TRIPPED if tripped else (),
        appliance="water_heater",
    )


@cache
def answer(*taken: ResistanceReading, tripped: bool = False, voltages: bool = True) -> Assessment:
    return assess(visit(*taken, tripped=tripped, voltages=voltages))


def test_a_leak_is_part_of_the_ohmmeters_circuit() -> None:
    """1200 ohm from L1 to the frame; from L2 the load between the legs is in series with it."""
    readings = visit(leg("L1", 1200.0), leg("L2", 1200.0))
    (circuit,) = circuits_of(readings, site(readings, "leak_to_ground", "L1"))
    *_, first, second = circuit.shown({("severity", "0"): math.log(1200.0)})
    across = PRIORS.idle_across_resistance + PRIORS.least_across_resistance
    # Insulation of hundreds of megohms beside it takes off less than one in a thousand.
    assert first == pytest.approx(1200.0, rel=1e-3)
    assert second == pytest.approx(1200.0 + across, rel=1e-3)


def test_insulation_of_both_legs_stands_in_parallel() -> None:
    """A load of 2 kohm joins the legs: from either to the frame, two equal resistances in parallel have half."""
    readings = visit(leg("L1", 1e8))
    circuit = next(c for c in circuits_of(readings, site(readings, "none_found")) if not c.contacts_open)
    pair = PRIORS.insulation_resistance + PRIORS.insulation_least
    assert circuit.shown({})[-1] == pytest.approx(0.5 * pair, rel=1e-3)
    driest, dampest = (circuit.shown({("insulation",): z})[-1] for z in (2.0, -60.0))
    assert driest > 1e9
    # Beside it, of the load that joins the legs, half a kilohm.
    assert dampest == pytest.approx(0.5 * PRIORS.insulation_least, rel=1e-2)
    # What counts as a leak ends where sound insulation begins.
    assert PRIORS.leak_resistance[1] == pytest.approx(0.5 * PRIORS.insulation_least)


@pytest.mark.parametrize("value", [1.5e6, 5e6, 20e6, 500e6])
def test_sound_insulation_fits_a_sound_supply(value: float) -> None:
    found = answer(leg("L1", value))
    assert found.finding.fault == "none_found"
    assert "does not fit" not in found.headline
    assert found.evidence[-1].flag == "as_expected"
    assert not any(check.code == "not_explained" for check in found.checks)


LEAKS = {
    "both legs": (leg("L1", 1200.0), leg("L2", 1190.0)),
    "one leg alone": (leg("L1", 1200.0),),
    "midway along an element": (leg("L1", 60.0, "running"), leg("L2", 60.0, "running")),
    "50 kohm": (leg("L1", 5e4),),
}


@pytest.mark.parametrize("name", list(LEAKS))
def test_a_low_resistance_to_the_frame_is_a_leak_that_the_technician_mends(name: str) -> None:
    found = answer(*LEAKS[name], tripped=True)
    assert found.finding.fault == "leak_to_ground"
    assert found.finding.probability > 0.95
    assert (found.disposition, found.refer_to) == ("repair_and_retest", ["technician"])
    assert "before it is energized again" in found.next_action
    assert found.cautions[0].code == "leak_in_appliance"
    assert found.next_readings == []
    note = render_text(found)
    assert "Do not energize the appliance" in note
    assert "It stays off until it has been repaired" in " ".join(note.split())


def test_without_a_trip_a_leak_is_still_the_finding() -> None:
    for taken in LEAKS.values():
        assert answer(*taken).finding.fault == "leak_to_ground"


def test_where_a_leak_is_in_doubt_nothing_is_read_on_the_energized_appliance() -> None:
    """A ground-fault breaker that tripped: an ohmmeter first, and no running to see what happens."""
    found = assess(msgspec.structs.replace(visit(tripped=True), readings=VOLTS[:1]))
    assert probability(found, "leak_to_ground") > 0.1
    assert found.next_readings
    for reading in found.next_readings:
        asked = reading.reading
        assert asked is None or asked.kind == "resistance" or asked.load_state == "disconnected"
    assert "leak_in_appliance" in {caution.code for caution in found.cautions}


@pytest.mark.parametrize(("stated", "shown"), [(False, "OL"), (True, "OL (above 40 MΩ)")])
def test_over_range_is_no_figure(stated: bool, shown: str) -> None:
    """OL is a lower bound: on sound insulation as expected, and never the number of ohms where the range ends."""
    found = answer(over(40e6 if stated else 400.0, stated=stated))
    entry = found.evidence[-1]
    assert (entry.observed.over_range, entry.observed.display, entry.flag) == (True, shown, "as_expected")
    assert found.finding.fault == "none_found"
    assert not any(check.code == "not_explained" for check in found.checks)
    for text in (render_text(found), render_markdown(found).decode(), render_html(found).decode()):
        assert shown in text
        assert "400 Ω" not in text
    assert "400" not in " ".join((found.headline, *(reason.text for reason in found.confidence.reasons)))


def test_over_range_speaks_where_a_sound_supply_shows_ohms() -> None:
    """Neutral to ground at a sound outlet is a loop of tenths of an ohm: OL there is an open conductor."""
    taken = msgspec.structs.replace(ohms("N", "G", 400.0), over_range=True, range_stated=False)
    read = (volts("L1", "L2", 246.0), volts("L1", "N", 123.0), volts("L2", "N", 123.0), taken)
    found = assess(ReadingSet(meters=visit().meters, load_states=STATES, readings=read))
    assert found.evidence[-1].flag == "high"
    assert probability(found, "open_ground") + probability(found, "open_neutral") > 0.7
    reasons = " ".join(reason.text for reason in found.confidence.reasons)
    assert "OL neutral to ground (appliance disconnected) speaks for it" in reasons
    assert "400" not in found.headline + reasons
