import re

import msgspec
import pytest

from feedproof.advice.compose import compose
from feedproof.contract.assessment import Assessment
from feedproof.note.text import WIDTH, bar, render_text
from support.outcomes import ASSUMPTION, MODEL, candidate, limits, open_neutral_case, outcome, prospect, readings, volts


def open_neutral() -> Assessment:
    return compose(*open_neutral_case(), (ASSUMPTION,), MODEL)


def nothing_found() -> Assessment:
    inferred = outcome(
        [candidate("none_found", 0.97), candidate("open_neutral", 0.03, "N")], detection=limits(0.5, 0.5, 0.5)
    )
    return compose(readings(volts("L1", "N", 120.0)), inferred, (), MODEL)


def plan() -> Assessment:
    inferred = outcome([candidate("none_found", 0.6), candidate("open_neutral", 0.4, "N")], prospects=[prospect()])
    return compose(readings(), inferred, (), MODEL)


CASES = {"open_neutral": open_neutral, "nothing_found": nothing_found, "plan": plan}


@pytest.mark.parametrize("name", CASES)
def test_every_caution_stands_in_the_text(name: str) -> None:
    answer = CASES[name]()
    flat = " ".join(render_text(answer).split())
    for caution in answer.cautions:
        assert caution.text in flat
        assert caution.basis in flat
        assert caution.because in flat
        assert caution.severity != "danger" or f"DANGER: {caution.title}" in flat


@pytest.mark.parametrize("name", CASES)
def test_lines_fit_and_nothing_is_called_safe(name: str) -> None:
    text = render_text(CASES[name]())
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert not re.search(r"\bsafe(ly|ty)?\b", text, re.IGNORECASE)
    assert text.endswith("\n")
    assert not text.endswith("\n\n")


def test_what_to_do_comes_before_the_finding_and_cautions_are_not_last() -> None:
    text = render_text(open_neutral())
    order = [
        "STOP AND HAND OVER",
        "FIRST",
        "WHY",
        "FOR THE CUSTOMER",
        "PROBABILITY OF EACH FAULT",
        "READINGS AGAINST THEIR SOUND RANGE",
        "IN FIGURES",
        "WHAT THESE READINGS COULD NOT SHOW",
        "CAUTIONS",
        "ASSUMED",
        "MODEL",
    ]
    places = [text.index(title) for title in order]
    assert places == sorted(places)


def test_the_finding_reads_as_a_person_would_say_it() -> None:
    text = render_text(open_neutral())
    assert "Branch neutral bad: 99.3 %, open" in text
    assert "Established, with high confidence." in text
    flat = " ".join(text.split())
    assert (
        "Neutral to ground, appliance connected, not started, no meter connected: 119.7 V (117 to 122 V), toward L1"
        in flat
    )
    assert "In series: Neutral, panel to receptacle: at least 9 kΩ" in flat
    assert "In series: L1, panel to receptacle: not measured, usually at most 200 mΩ" in flat
    # A dangerous place that is established ends the readings.
    assert "NEXT READINGS" not in text


def test_nothing_found_is_no_clearance() -> None:
    text = " ".join(render_text(nothing_found()).split())
    assert "No supply fault found in these readings" in text
    assert "Every conductor still counts as live" in text


def test_a_plan_says_what_to_read_first() -> None:
    text = render_text(plan())
    assert "Nothing read yet" in text
    assert "First: Voltage L1 to neutral" in " ".join(text.split())
    assert "READINGS AGAINST THEIR SOUND RANGE" not in text


def test_escape_codes_in_names_do_not_reach_the_terminal() -> None:
    answer = msgspec.structs.replace(open_neutral(), reference="cabin\x1b[2J\x1b]0;x\x07\n\nFIRST: ALL IS WELL")
    text = render_text(answer)
    assert "\x1b" not in text
    assert "\x07" not in text
    assert "\nFIRST: ALL" not in text
    assert "<U+001B>[2J" in text


def test_a_state_named_by_the_caller_is_inert_in_every_line() -> None:
    answer = open_neutral()
    neutral = [msgspec.structs.replace(answer.neutral_to_ground[0], title="a\x1b[1mb\u202e")]
    text = render_text(msgspec.structs.replace(answer, neutral_to_ground=neutral))
    assert "\x1b" not in text
    assert "\u202e" not in text


@pytest.mark.parametrize("width", [10, 40, 57, 80, 400])
@pytest.mark.parametrize("name", CASES)
def test_lines_follow_the_width_and_the_finding_stands_in_the_second(name: str, width: int) -> None:
    answer = CASES[name]()
    lines = render_text(answer, width).splitlines()
    assert max(len(line) for line in lines) <= min(max(width, 40), 120)
    told = " ".join(" ".join(lines[1:5]).split())
    assert answer.headline in told
    assert lines[1].split(":")[0].isupper()


def test_bars_of_unlike_shares_are_unlike() -> None:
    # 0.26 % and 2.9 %: a bar of whole columns would show both as one.
    assert bar(0.0026) != bar(0.029)
    assert bar(0.0) == ""
    assert bar(1.0) == "█" * 20


def test_nothing_of_the_inside_is_shown() -> None:
    text = render_text(open_neutral())
    assert not re.search(r"\bbits?\b|[0-9a-f]{64}|/meters/|/readings/", text)
