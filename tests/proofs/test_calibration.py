"""Of findings with probability p a share p is right, and 90 % intervals hold the truth nine times in ten.

Circuits are drawn from the model itself, faults by base rate, read as technicians read, with the model's own scatter
and misreads, and inferred again.
"""

from collections import defaultdict

import pytest

from support.calibration import (
    FLAT_RATES,
    LAYOUTS,
    Held,
    Judged,
    calibration_error,
    judge_many,
    reliability,
    sharpened,
)
from support.parallel import spread_out, write_figures

pytestmark = pytest.mark.slow

PUBLISHED, FLAT = 230, 300  # circuits of each layout
BLOCK = 45


def judged(stream: int, count: int, base_rates: dict[str, float] | None) -> list[Judged]:
    blocks = [
        (layout, stream, first, min(first + BLOCK, count), base_rates)
        for layout in LAYOUTS
        for first in range(0, count, BLOCK)
    ]
    return [one for block in spread_out(judge_many, blocks) for one in block]


@pytest.fixture(scope="module")
def by_rate() -> list[Judged]:
    """Give circuits drawn by the published base rates."""
    return judged(1, PUBLISHED, None)


@pytest.fixture(scope="module")
def by_flat_rate(by_rate: list[Judged]) -> list[Judged]:
    """Give circuits drawn by base rates under which faults are common; the published ones first, for the figures."""
    flat = judged(2, FLAT, FLAT_RATES)
    tables = {}
    for name, rows in (("published", by_rate), ("flat", flat)):
        table = reliability([r.place_probability for r in rows], [r.place_right for r in rows])
        tables[name] = {
            "circuits": len(rows),
            "expected_calibration_error": calibration_error(table),
            "expected_calibration_error_of_degrees": of_degrees(rows),
            "reliability": [b._asdict() for b in table],
            "coverage": coverage(rows),
            "layouts": {
                layout: {
                    "right": sum(r.place_right for r in rows if r.layout == layout)
                    / sum(r.layout == layout for r in rows),
                    "coverage": coverage([r for r in rows if r.layout == layout]),
                }
                for layout in LAYOUTS
            },
        }
        print(f"\n{name} base rates, {len(rows)} circuits: calibration error of places {of_places(rows):.4f}")
        print(f"  of degrees {of_degrees(rows):.4f}")
        for b in table:
            print(f"  claimed {b.claimed:6.3f}  right {b.right:6.3f}  of {b.circuits}")
        for quantity, (share, count) in coverage(rows).items():
            print(f"  90 % intervals of {quantity} hold the truth in {100 * share:.1f} % of {count}")
    write_figures("calibration", tables)
    return flat


def coverage(rows: list[Judged], *, narrowed: float = 1.0) -> dict[str, tuple[float, int]]:
    """Share of intervals that hold the truth, and how many there are, by quantity."""
    found: dict[str, list[bool]] = defaultdict(list)
    for held in (held for row in rows for held in row.held):
        middle, half = (held.low + held.high) / 2.0, (held.high - held.low) / 2.0 * narrowed
        found[held.name].append(Held(held.name, middle - half, middle + half, held.truth).inside)
    return {name: (sum(inside) / len(inside), len(inside)) for name, inside in sorted(found.items())}


def of_places(rows: list[Judged]) -> float:
    """Calibration error of the most probable place and conductor."""
    return calibration_error(reliability([r.place_probability for r in rows], [r.place_right for r in rows]))


def of_degrees(rows: list[Judged]) -> float:
    """Calibration error of the degree, where the place is right and has degrees."""
    told = [r for r in rows if r.degree_probability is not None]
    return calibration_error(reliability([r.degree_probability or 0.0 for r in told], [r.degree_right for r in told]))


def test_probabilities_of_places_are_what_they_say(by_rate: list[Judged], by_flat_rate: list[Judged]) -> None:
    assert len(by_rate) >= 2000
    assert of_places(by_rate) <= 0.03
    assert of_places(by_flat_rate) <= 0.03


def test_probabilities_of_degrees_are_what_they_say(by_rate: list[Judged], by_flat_rate: list[Judged]) -> None:
    assert of_degrees([*by_rate, *by_flat_rate]) <= 0.03


def test_each_fault_is_there_as_often_as_claimed(by_rate: list[Judged], by_flat_rate: list[Judged]) -> None:
    """Over all circuits, each fault's probabilities sum to how often it was drawn, within four standard errors."""
    expected: dict[str, float] = defaultdict(float)
    true: dict[str, float] = defaultdict(float)
    variance: dict[str, float] = defaultdict(float)
    for fault, p, there in (claim for row in (*by_rate, *by_flat_rate) for claim in row.claims):
        expected[fault] += p
        true[fault] += there
        variance[fault] += p * (1.0 - p)
    off = {f: (true[f] - expected[f]) / max(variance[f], 0.25) ** 0.5 for f in expected}
    assert all(abs(z) < 4.0 for z in off.values()), off


@pytest.mark.parametrize("quantity", ["neutral", "resistance"])
def test_intervals_hold_the_truth_nine_times_in_ten(
    by_rate: list[Judged], by_flat_rate: list[Judged], quantity: str
) -> None:
    share, count = coverage([*by_rate, *by_flat_rate])[quantity]
    assert count >= 500
    assert 0.87 <= share <= 0.93


def test_claiming_more_than_is_known_would_be_seen(by_rate: list[Judged], by_flat_rate: list[Judged]) -> None:
    """The negative control: squared odds and intervals of two thirds of the width fail the same checks."""
    rows = [*by_rate, *by_flat_rate]
    bold = [float(max(sharpened([p for _, p, _ in r.claims], 2.0))) for r in rows]
    assert calibration_error(reliability(bold, [r.right for r in rows])) > 0.03
    for share, _ in coverage(rows, narrowed=2.0 / 3.0).values():
        assert share < 0.87
