"""A thousand circuits of the trade's situations in ngspice, read and noted as a person would, judged by place.

Situations are common practice, no source; the netlists are written for them alone and share no code with the model.
"""

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request
from support.parallel import spread_out, write_figures
from support.trade.judge import Verdict, judge, mistakes, table
from support.trade.situations import NAMES, cases

pytestmark = pytest.mark.slow

SEEDS, BLOCK = 67, 17


def answered(request: dict[str, Any]) -> dict[str, Any]:
    """Parse and assess a request, as the service does."""
    taken = read_request(json.dumps(request).encode())
    answer: dict[str, Any] = json.loads(msgspec.json.encode(assess(taken.reading_set, taken.assumptions)))
    return answer


def judged(block: Sequence[tuple[str, int]]) -> list[Verdict]:
    """Draw, read and judge the circuits of one block."""
    return [judge(case, answered(case.request)) for case in cases(list(block))]


@pytest.fixture(scope="module")
def verdicts() -> list[Verdict]:
    """Give one verdict for each circuit."""
    blocks = [
        tuple((name, seed) for seed in range(first, min(first + BLOCK, SEEDS)))
        for name in NAMES
        for first in range(0, SEEDS, BLOCK)
    ]
    found = [verdict for block in spread_out(judged, blocks) for verdict in block]
    print("", table(found), "Established wrong:", mistakes(found), sep="\n")
    write_figures(
        "trade_situations",
        {"circuits": len(found), "by_outcome": dict(Counter(v.outcome for v in found)), "table": table(found)},
    )
    return found


def test_there_are_enough_of_each(verdicts: list[Verdict]) -> None:
    assert len(verdicts) >= 1000
    assert min(Counter(v.situation for v in verdicts).values()) >= 20


def test_what_is_established_is_so(verdicts: list[Verdict]) -> None:
    assert sum(v.outcome == "wrong" for v in verdicts) <= 0.01 * len(verdicts)


@pytest.mark.parametrize("name", NAMES)
def test_no_situation_stands_out(verdicts: list[Verdict], name: str) -> None:
    own = [v for v in verdicts if v.situation == name]
    assert sum(v.outcome == "wrong" for v in own) <= 0.05 * len(own)


def test_nothing_sound_is_established_as_faulty(verdicts: list[Verdict]) -> None:
    assert [v for v in verdicts if v.sound_as_faulty] == []


def test_every_request_is_answered(verdicts: list[Verdict]) -> None:
    assert [v for v in verdicts if v.outcome == "refused"] == []
