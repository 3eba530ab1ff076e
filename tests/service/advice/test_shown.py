"""What readings show of danger by themselves, however probable a sound supply is by the others."""

import msgspec
import pytest

from feedproof.advice import cautions, checks
from feedproof.advice.candidates import to_finding
from feedproof.advice.confidence import judge
from feedproof.advice.determination import rule
from feedproof.advice.disposition import decide, headline, next_action, refer
from feedproof.advice.shown import agreements, at_outlet, dead, on_ground, system
from feedproof.advice.unexplained import checks as unexplained_checks
from feedproof.advice.unexplained import flag, read_again
from feedproof.readings import Meter, Observation, Reading, ReadingSet, Supply
from support.outcomes import DMM, LOZ, NO_HAZARD, amps, candidate, limits, outcome, readings, speaking, volts

SOUND = [candidate("none_found", 0.96, log_evidence=0.0), candidate("open_leg", 0.04, "L1", log_evidence=-9.0)]
PROVEN = limits(1.0, 1.0, 1.0)
MOVES = Observation(code="works_when_moved")


@pytest.mark.parametrize(
    ("taken", "wrong"),
    [
        # Neutral and ground of a sound outlet differ by a few volts: common practice, no source. 30 V is hazardous for
        # hand-held probes (IEC 61010-031, read in a secondary copy).
        ([volts("N", "G", 119.0, "loz")], (0,)),
        ([volts("N", "G", 119.0)], (0,)),
        ([volts("N", "G", 3.0)], ()),
        ([volts("N", "G", 119.0, state="idle")], ()),
        # 208 V and 240 V on a 120 V contact: the high leg of a delta, both legs of a split phase.
        ([volts("L1", "N", 208.0)], (0,)),
        ([volts("L1", "N", 241.0)], (0,)),
        ([volts("L1", "N", 127.0)], ()),
        ([volts("L1", "L2", 241.0)], ()),
        # Read again and right: a slip where one digit makes it so, and else a joint that makes and breaks. Not where a
        # meter that loads it less was the second.
        ([volts("N", "G", 34.0), volts("N", "G", 3.4)], ()),
        ([volts("L1", "N", 220.0), volts("L1", "N", 120.0)], ()),
        ([volts("N", "G", 119.0), volts("N", "G", 0.2)], (0,)),
        ([volts("N", "G", 60.0), volts("N", "G", 0.0, "loz")], ()),
        # Strays on an open ground: 121 = 61 + 60, and a low-impedance meter pulls them down.
        ([volts("N", "G", 60.0), volts("L1", "N", 121.0), volts("L1", "G", 61.0), volts("N", "G", 0.0, "loz")], ()),
        ([volts("N", "G", 60.0, "loz"), volts("N", "G", 0.2)], (0,)),
    ],
)
def test_voltages_that_no_sound_outlet_gives(taken: list[Reading], wrong: tuple[int, ...]) -> None:
    assert at_outlet(readings(*taken)) == wrong


def test_a_later_wrong_voltage_is_not_undone_by_an_earlier_right_one() -> None:
    right = msgspec.structs.replace(volts("N", "G", 0.2), id="a")
    wrong = msgspec.structs.replace(volts("N", "G", 119.0), id="b", repeats="a")
    slip = msgspec.structs.replace(volts("N", "G", 34.0), id="b", repeats="a")
    small = msgspec.structs.replace(volts("N", "G", 3.4), id="a")
    assert at_outlet(readings(right, wrong)) == (1,)
    assert at_outlet(readings(small, slip)) == (1,)
    first, again = msgspec.structs.replace(slip, repeats=None), msgspec.structs.replace(small, repeats="b")
    assert at_outlet(readings(first, again)) == ()


def test_what_comes_and_goes_is_undone_by_nothing() -> None:
    job = readings(volts("N", "G", 119.0), volts("N", "G", 0.2))
    assert at_outlet(msgspec.structs.replace(job, observations=(MOVES,))) == (0,)


def test_a_generators_floating_neutral_is_strays_to_a_high_impedance_meter() -> None:
    generator = Supply(source="generator")
    assert at_outlet(readings(volts("N", "G", 60.0), supply=generator)) == ()
    assert at_outlet(readings(volts("N", "G", 60.0, "loz"), supply=generator)) == (0,)
    assert at_outlet(readings(volts("L1", "N", 240.0), supply=generator)) == (0,)


#: Kirchhoff's voltage law on one line: 241 = 121 + 120.
AGREEING = (volts("L1", "N", 241.0), volts("N", "G", 120.0), volts("L1", "G", 121.0))


def test_readings_that_agree_with_one_another_are_not_dismissed() -> None:
    job = readings(*AGREEING)
    assert [*agreements(job)] == [(0, 2, 1)]
    assert [*agreements(readings(*AGREEING[:2], volts("L1", "G", 60.0)))] == []
    # N on L2: 240 = 240 + 0.
    swapped = readings(volts("L1", "L2", 240.0), volts("L1", "N", 240.0), volts("L2", "N", 0.0))
    assert [{*three} for three in agreements(swapped)] == [{0, 1, 2}]
    # A sound outlet is nothing that has to be confirmed.
    assert [*agreements(readings(volts("L1", "L2", 240.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0)))] == []
    odd = [candidate("readings_inconsistent", 1.0, log_evidence=0.0)]
    inferred = msgspec.structs.replace(outcome(odd, evidence=[speaking(0, 9.0)]), unexplained=(0, 1))
    ruling = rule(inferred, job)
    told = " ".join(reason.text for reason in judge(ruling, inferred, odd, [], job).reasons)
    assert "241 V L1 to neutral is 121 V L1 to ground and 120 V neutral to ground together" in told
    assert "at least one is wrong" not in told
    assert all("it is believed" in check.text for check in unexplained_checks(inferred, job, {0, 1, 2}))


def test_a_wrong_voltage_at_the_outlet_stops_the_job_whatever_is_probable() -> None:
    job = readings(volts("L1", "L2", 240.0), volts("N", "G", 119.0, "loz"))
    inferred = outcome(SOUND, evidence=[speaking(0, 1.0)], detection=PROVEN)
    ruling = rule(inferred, job)
    assert ruling.determination == "undetermined"
    assert decide(ruling, inferred, job) == "stop_and_refer"
    assert refer(ruling, "stop_and_refer", inferred, job) == ["electrician"]
    told = {caution.code: caution for caution in cautions.find(job, inferred, SOUND, "en")}
    assert told["outlet_voltage_wrong"].severity == "danger"
    for part in ("line voltage on the frame", "120 V parts", "119 V neutral to ground"):
        assert part in told["outlet_voltage_wrong"].text
    assert "119 V" in told["neutral_as_live"].text
    assert "near 0 V" not in told["neutral_as_live"].text


def test_a_wrong_voltage_that_was_right_when_read_again_leaves_an_if() -> None:
    job = readings(volts("N", "G", 34.0), volts("N", "G", 3.4))
    (told,) = (c for c in cautions.find(job, outcome(SOUND), SOUND, "en") if c.code == "outlet_voltage_wrong")
    assert (told.severity, told.title[:3]) == ("warning", "If ")


def test_load_current_on_the_ground_stays_whatever_is_read_in_another_state() -> None:
    """Sound appliances leak milliamperes; amperes are a leak, a strap, exchanged wires or a lost neutral."""
    job = readings(volts("L1", "L2", 240.0), amps("G", 1.4), amps("G", 0.0, state="idle"))
    assert on_ground(job) == (1,)
    assert on_ground(readings(amps("G", 0.04))) == ()
    inferred = outcome(SOUND, evidence=[speaking(0, 1.0)], detection=PROVEN)
    ruling = rule(inferred, job)
    assert ruling.determination == "undetermined"
    assert decide(ruling, inferred, job) == "take_more_readings"
    assert [check.code for check in checks.shown_alone(ruling, job)] == ["current_on_ground"]
    (told,) = (c for c in cautions.find(job, inferred, SOUND, "en") if c.code == "current_on_ground")
    assert (told.severity, told.because_code) == ("danger", "shown")
    found = to_finding(ruling.place, ruling.finding, SOUND)
    assert "no sound supply gives that" in headline(found, ruling, [], ["1.4 A current through ground"], read=True)


def test_a_danger_stands_before_the_next_reading_and_a_neutral_upstream_is_the_utilitys() -> None:
    hazards = msgspec.structs.replace(NO_HAZARD, service_neutral_fault=0.3)
    shares = [
        candidate("none_found", 0.6, log_evidence=0.0),
        candidate("high_resistance_service_neutral", 0.3, log_evidence=0.0),
        candidate("open_leg", 0.1, "L2", log_evidence=0.0),
    ]
    job = readings(volts("L1", "L2", 241.0, state="idle"))
    inferred = outcome(shares, evidence=[speaking(0, 0.0)], detection=limits(1.0, 9e3, 1.0), hazards=hazards)
    ruling = rule(inferred, job)
    assert refer(ruling, "take_more_readings", inferred, job) == ["utility", "electrician"]
    generator = msgspec.structs.replace(job, supply=Supply(source="generator"))
    assert refer(ruling, "take_more_readings", inferred, generator) == ["electrician"]
    found = to_finding(ruling.place, ruling.finding, shares)
    told = headline(found, ruling, [], [], read=True)
    assert "service neutral bad 30 %" in told
    assert "L2" not in told
    warned = [c for c in cautions.find(job, inferred, shares, "en") if c.code == "service_neutral"]
    action = next_action("take_more_readings", ["utility"], found, "Voltage L1 to neutral", warned, read=True)
    assert action == "Touch no grounded metal. Next: Voltage L1 to neutral."
    action = next_action("take_more_readings", ["utility"], found, None, warned, read=True)
    assert action.startswith("Main breaker off, if without hazard. Touch no grounded metal.")
    action = next_action("stop_and_refer", ["utility"], found, None, warned, read=True)
    assert action.startswith("Stop. Main breaker off, if without hazard, and condemn no part")


def test_a_finding_that_is_not_the_most_probable_is_not_called_so() -> None:
    shares = [candidate("none_found", 0.52, log_evidence=0.0), candidate("high_resistance_leg", 0.08, "L2")]
    hot = msgspec.structs.replace(NO_HAZARD, heat_above_30_watts=0.06)
    inferred = outcome(shares, evidence=[speaking(0, 0.0)], hazards=hot)
    ruling = rule(inferred, readings(volts("L1", "L2", 240.0)))
    found = to_finding(ruling.place, ruling.finding, shares)
    told = headline(found, ruling, [], [], read=True)
    assert told == "Not decided: no supply fault in these readings 52 %, leg L2 bad between panel and outlet 8 %."


def test_the_later_of_two_readings_is_no_slip() -> None:
    first = msgspec.structs.replace(volts("L1", "L2", 240.0), id="a")
    later = msgspec.structs.replace(volts("L1", "L2", 124.0), id="b", repeats="a")
    inferred = msgspec.structs.replace(outcome(SOUND, evidence=[speaking(0, 0.0), speaking(1, 0.0)]), unexplained=(1,))
    job = readings(first, later)
    assert read_again(inferred, job) == frozenset()
    assert "later of two" in unexplained_checks(inferred, job)[0].text
    (check,) = checks.find(job)
    assert "was read as 240 V and later as 124 V" in check.text
    # 124 V first, and 240 V when it was taken again: no slip of one digit, but a joint that makes and breaks.
    inferred = msgspec.structs.replace(inferred, unexplained=(0,))
    again = msgspec.structs.replace(first, repeats="b")
    broken = readings(msgspec.structs.replace(later, repeats=None), again)
    assert read_again(inferred, broken) == frozenset()
    assert "makes and breaks" in unexplained_checks(inferred, broken)[0].text
    assert rule(inferred, broken).determination == "undetermined"
    # 24 V for 240 V: a digit lost.
    mended = readings(msgspec.structs.replace(later, value=24.0, repeats=None), again)
    assert read_again(inferred, mended) == {0}
    moving = msgspec.structs.replace(mended, observations=(MOVES,))
    assert read_again(inferred, moving) == frozenset()
    assert "no slip" in unexplained_checks(inferred, moving)[0].text


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ([volts("L1", "L2", 0.0), volts("L1", "N", 0.0)], True),
        ([volts("L1", "L2", 0.0), volts("L1", "N", 120.0)], False),
        ([volts("L1", "L2", 0.0)], False),
        ([volts("L1", "N", 0.0), volts("L2", "N", 0.0)], False),
        ([volts("L1", "L2", 0.0), volts("L1", "N", 0.0), volts("L1", "L2", 240.0, point="service_panel")], True),
    ],
)
def test_a_dead_outlet(taken: list[Reading], *, expected: bool) -> None:
    """Both legs from one pole read 0 V leg to leg, an open neutral 0 V to neutral: neither is dead."""
    assert dead(readings(*taken)) is expected


@pytest.mark.parametrize(
    ("job", "expected"),
    [
        # ANSI C84.1 nominal systems, from memory.
        (readings(volts("L1", "L2", 207.0)), "wye_120_208"),
        (readings(volts("L1", "L2", 207.0), supply=Supply(system="wye_120_208")), None),
        (readings(volts("L1", "L2", 240.0), supply=Supply(system="wye_120_208")), "split_phase_120_240"),
        (readings(volts("L1", "L2", 240.0), volts("L2", "N", 208.0)), "high_leg_delta_120_240"),
        (readings(volts("L1", "L2", 223.0)), None),
        (readings(volts("L1", "N", 120.0)), None),
    ],
)
def test_the_system_that_was_found_is_named(job: ReadingSet, expected: str | None) -> None:
    assert system(job) == expected


def test_what_rounds_into_the_range_is_as_expected() -> None:
    """0 V on a display with steps of 1 V stands for up to 0.5 V: resolution of a digital display."""
    entry = msgspec.structs.replace(speaking(0, 0.0, observed=0.0), sound=(0.06, 0.97))
    assert flag(entry, LOZ) == "as_expected"
    assert flag(entry, DMM) == "low"
    assert flag(msgspec.structs.replace(entry, observed=2.0), LOZ) == "high"


def test_zeros_of_a_proven_tester_are_not_called_unproven() -> None:
    proved: dict[str, Meter] = {"loz": msgspec.structs.replace(LOZ, proved=True)}
    for meters, code in ((None, "unproven"), (proved, "proven")):
        job = readings(volts("L1", "L2", 0.0, "loz"), meters=meters)
        (told,) = (c for c in cautions.find(job, outcome(SOUND), SOUND, "en") if c.code == "live_contacts")
        assert told.because_code == code
        assert ("nothing says" in told.because) == (code == "unproven")
