"""Guided visits over the circuits of the trade in ngspice: doing what the answers ask leads to the right end.

The technicians have some meters only, cannot reach some panels, and now and then write down a wrong figure.
"""

import json
from typing import Any

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request
from support.parallel import spread_out, write_figures
from support.trade.situations import NAMES
from support.trade.visits import Ended, ended, visits_table

pytestmark = pytest.mark.slow

SEEDS = 10
VISITS = [(name, seed, hampered) for name in NAMES for seed in range(SEEDS) for hampered in (True, False)]


def answered(request: dict[str, Any]) -> dict[str, Any]:
    """Parse and assess a request, as the service does."""
    taken = read_request(json.dumps(request).encode())
    answer: dict[str, Any] = json.loads(msgspec.json.encode(assess(taken.reading_set, taken.assumptions)))
    return answer


def walked(visit: tuple[str, int, bool]) -> Ended:
    """Walk one visit."""
    name, seed, hampered = visit
    return ended(name, seed, answered, hampered=hampered)


@pytest.fixture(scope="module")
def went() -> dict[bool, list[Ended]]:
    """Give the visits, hampered and not."""
    all_ended = spread_out(walked, VISITS)
    found = {h: [e for e, v in zip(all_ended, VISITS, strict=True) if v[2] is h] for h in (True, False)}
    for hampered, visits in found.items():
        print("\nhampered" if hampered else "\nnot hampered", visits_table(visits), sep="\n")
        write_figures(
            f"trade_visits_{'hampered' if hampered else 'free'}",
            {"visits": len(visits), "right": sum(e.right for e in visits)},
        )
    return found


@pytest.mark.parametrize("hampered", [True, False])
def test_most_visits_end_right(went: dict[bool, list[Ended]], hampered: bool) -> None:
    """Right place and referral; or nothing would tell, where all permitted readings together do not decide either."""
    visits = went[hampered]
    assert len(visits) >= 40
    assert sum(e.right for e in visits) >= 0.85 * len(visits)


@pytest.mark.parametrize("hampered", [True, False])
def test_no_faulty_supply_ends_as_sound(went: dict[bool, list[Ended]], hampered: bool) -> None:
    assert [(e.verdict.situation, e.verdict.seed) for e in went[hampered] if e.sound_though_faulty] == []


@pytest.mark.parametrize(("hampered", "most"), [(True, 5), (False, 4)])
def test_few_readings_suffice(went: dict[bool, list[Ended]], hampered: bool, most: int) -> None:
    readings = sorted(e.walk.readings for e in went[hampered])
    assert readings[len(readings) // 2] <= most


@pytest.mark.parametrize("hampered", [True, False])
def test_nobody_is_asked_for_ever_or_for_what_is_forbidden(went: dict[bool, list[Ended]], hampered: bool) -> None:
    assert [e.verdict for e in went[hampered] if e.walk.end == "asked for ever"] == []
    assert [e.walk.forbidden for e in went[hampered] if e.walk.forbidden] == []
