"""Meters of invented fleets: regions and outlets that differ, and technicians who keep to theirs."""

from collections.abc import Collection

import numpy as np
import pytest
from scipy import stats

from feedproof.fleet.meters import Cells, MeterOffset, judged

METERS, FLEETS = 40, 20
BIASED = {"meter 03", "meter 17"}


def fleet(
    seed: int, *, biased: Collection[str] = (), bias: float = 0.03, strangers: float = 0.15, areas: float = 0.01
) -> Cells:
    """Two thousand visits; a meter keeps to the outlets of its area, save for `strangers` of the visits.

    Voltages differ by 1.5 % from region to region, by `areas` from one meter's area to another's and by 1.2 % from
    outlet to outlet, and by 0.6 % from visit to visit, as standard deviations; meters lie within their limit of error.
    """
    rng = np.random.default_rng(seed)
    region = rng.integers(6, size=METERS)
    area = rng.normal(0.0, 0.015, 6)[region] + rng.normal(0.0, areas, METERS)
    off = rng.uniform(-0.008, 0.008, METERS)
    for name in biased:
        off[int(name[-2:])] = bias
    home = rng.integers(METERS, size=1000)
    level = area[home] + rng.normal(0.0, 0.012, home.size)
    seen: dict[tuple[int, int], list[float]] = {}
    for _ in range(2000):
        outlet = int(rng.integers(home.size))
        meter = int(rng.integers(METERS)) if rng.random() < strangers else int(home[outlet])
        seen.setdefault((meter, outlet), []).append(level[outlet] + off[meter] + rng.normal(0.0, 0.006))
    return Cells(
        meter=[f"meter {meter:02d}" for meter, _ in seen],
        outlet=[f"outlet {outlet}" for _, outlet in seen],
        region=[f"region {region[home[outlet]]}" for _, outlet in seen],
        value=np.array([float(np.median(values)) for values in seen.values()]),
        tolerance=np.full(len(seen), 0.009),
    )


def named(found: list[MeterOffset]) -> set[str]:
    return {off.meter for off in found if off.named}


@pytest.mark.parametrize("strangers", [0.0, 0.15])
def test_where_none_is_biased_at_most_one_in_twenty_is_named(strangers: float) -> None:
    judgements = [off for seed in range(FLEETS) for off in judged(fleet(seed, strangers=strangers))]
    assert len(judgements) >= 0.8 * FLEETS * METERS
    assert sum(off.named for off in judgements) <= len(judgements) / 20


def test_two_biased_of_forty_are_found_and_hardly_another() -> None:
    """Where outlets change hands now and then: both found, and false discoveries held as is claimed."""
    found = [named(judged(fleet(100 + seed, biased=BIASED))) for seed in range(FLEETS)]
    assert sum(len(names & BIASED) for names in found) >= 0.9 * 2 * FLEETS
    wrong = [len(names - BIASED) / max(len(names), 1) for names in found]
    assert float(np.mean(wrong)) <= 0.05


def test_outlets_that_never_change_hands_show_what_is_further_off_than_areas_lie_apart() -> None:
    """No outlet has two meters, so a meter can only be held against its region."""
    found = [
        named(judged(fleet(200 + seed, biased=BIASED, bias=0.06, strangers=0.0, areas=0.002))) for seed in range(5)
    ]
    assert sum(len(names & BIASED) for names in found) >= 8
    assert sum(len(names - BIASED) for names in found) == 0


def test_regions_and_areas_that_nobody_states_name_no_meter() -> None:
    for seed in range(5):
        cells = fleet(300 + seed, areas=0.03, strangers=0.0)
        unknown = Cells(
            meter=cells.meter, outlet=cells.outlet, region=["all"] * len(cells.meter), value=cells.value,
            tolerance=cells.tolerance,
        )  # fmt: skip
        assert len(named(judged(unknown))) <= 1


def test_an_interval_holds_the_bias() -> None:
    inside = 0
    for seed in range(FLEETS):
        for off in judged(fleet(400 + seed, biased=BIASED)):
            if off.meter in BIASED:
                inside += abs(off.off - 0.03) < float(stats.t.ppf(0.95, off.freedom)) * off.deviation
    assert inside >= stats.binom.ppf(0.001, 2 * FLEETS, 0.9)


def test_a_bias_within_the_limit_of_error_is_none() -> None:
    assert not named(judged(fleet(500, biased=BIASED, bias=0.008)))


def test_few_meters_and_no_readings_name_none() -> None:
    cells = fleet(600, biased=BIASED)
    few = [n for n, meter in enumerate(cells.meter) if meter in {*BIASED, "meter 00", "meter 01"}]
    four = Cells(
        meter=[cells.meter[n] for n in few],
        outlet=[cells.outlet[n] for n in few],
        region=[cells.region[n] for n in few],
        value=cells.value[few],
        tolerance=cells.tolerance[few],
    )
    assert judged(four) == []
    assert judged(Cells(meter=[], outlet=[], region=[], value=np.zeros(0), tolerance=np.zeros(0))) == []
