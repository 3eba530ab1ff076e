"""What a person sees first in thirty situations: recorded, read one by one, and short.

After a change that is meant: `python tests/support/first_screens.py --write`, and read what has changed.
"""

from statistics import mean

import pytest

from support.contradictions import contradictions
from support.first_screens import TARGET, Screen, screens, written


@pytest.fixture(scope="module")
def shown() -> list[Screen]:
    return screens()


def test_the_screens_are_those_that_were_read(shown: list[Screen]) -> None:
    assert len(shown) >= 30
    assert written(shown) == TARGET.read_text(encoding="utf-8")


def test_nobody_has_to_read_more_than_the_case_needs(shown: list[Screen]) -> None:
    """Before the cautions were ranked: 81 words and 3.1 dangers in the mean, 198 and 8 at the most."""
    assert mean(screen.words for screen in shown) < 65
    assert max(screen.words for screen in shown) <= 110
    assert mean(screen.dangers for screen in shown) < 2.2
    sound = [screen for screen in shown if screen.answer.disposition == "no_supply_fault_found"]
    assert sound
    assert all(screen.dangers <= 2 for screen in sound)


def test_no_two_texts_contradict(shown: list[Screen]) -> None:
    assert {screen.name: contradictions(screen.answer) for screen in shown if contradictions(screen.answer)} == {}


def test_the_proof_of_the_tester_stands_on_every_first_screen(shown: list[Screen]) -> None:
    for screen in shown:
        assert any("rove the tester" in line for line in screen.lines), screen.name
