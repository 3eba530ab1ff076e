"""Base rates of visits that no model of the service drew: houses of the trade, read in ngspice.

`support.trade` shares nothing with the service; its strays, loads, meters and typing are others than those of the
model, so to the estimate this is what a field is: a model that is a little wrong. One outlet in four has its neutral
open in the branch.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pytest

from feedproof.faults.priors import BASE_RATES
from feedproof.fleet.batches import Assessor, Unit
from feedproof.fleet.rates import estimate_file
from feedproof.fleet.report import ReportOptions, report
from support.trade.house import OPEN, Joint
from support.trade.parts import broken, kit, pairs_at
from support.trade.scene import Scene, Truth, taken, volts
from support.trade.world import site

VISITS = 160
TRUE = 0.25

pytestmark = pytest.mark.slow


class Fleet(NamedTuple):
    """Assessments, and which visits had an open neutral."""

    assessed: pa.Table
    open_neutral: list[bool]


def scenes(meter: str) -> Iterator[tuple[str, int, Scene]]:
    for seed in range(VISITS):
        rng = np.random.default_rng([seed, len(meter)])
        here = site(rng, receptacle="14-50R", fed="service_panel", kind="range")
        faulty = seed % round(1.0 / TRUE) == 0
        truth = Truth("branch_neutral", "N", "open") if faulty else Truth("none", stop=False)
        if faulty:
            here = broken(here, Joint("branch", "N", OPEN, 0.0))
        steps = tuple(volts(meter, *pairs_at(here)))
        yield "fleet", seed, Scene(here, steps, kit(rng, meter), truth, meter)


def fleet(meter: str) -> Fleet:
    cases = taken(scenes(meter))
    units = [Unit(n, [case.request | {"reference": f"INVENTED {meter} {n}"}]) for n, case in enumerate(cases, start=1)]
    batch = Assessor("nested").assess(units)
    assert batch.column("refused").null_count == VISITS
    return Fleet(pa.Table.from_batches([batch]), [case.truth.place != "none" for case in cases])


@pytest.fixture(scope="module")
def blind() -> Fleet:
    """Unplugged outlets, read with a high-impedance meter."""
    return fleet("dmm")


@pytest.fixture(scope="module")
def telling() -> Fleet:
    """The same with a low-impedance meter."""
    return fleet("loz")


def test_visits_that_could_not_show_it_give_no_rate_and_lower_none(blind: Fleet) -> None:
    (found,) = estimate_file(blind.assessed).groups
    neutral = found.found["open_neutral"]
    assert neutral.sets == 0
    assert (neutral.low, neutral.high) == (0.0, 1.0)
    published = BASE_RATES["open_neutral"] / sum(BASE_RATES.values())
    assert neutral.fed_back >= 0.95 * published


def test_visits_that_show_it_give_the_true_rate(blind: Fleet, telling: Fleet) -> None:
    for table in (telling.assessed, pa.concat_tables([blind.assessed, telling.assessed])):
        (found,) = estimate_file(table).groups
        neutral = found.found["open_neutral"]
        assert neutral.sets == VISITS
        assert neutral.low <= TRUE <= neutral.high
        assert neutral.high - neutral.low < 0.25


def test_parts_ordered_on_either_kind_of_visit_are_told_apart(blind: Fleet, telling: Fleet) -> None:
    part = pa.field("part", pa.string())
    tables = [
        fleet.assessed.append_column(part, pa.array([name] * VISITS, pa.string()))
        for name, fleet in (("touch panel", blind), ("relay board", telling))
    ]
    made = report(pa.concat_tables(tables), ReportOptions(part="part"))["parts"]
    rows = {row[0]: dict(zip(made.columns, row, strict=True)) for row in made.rows}
    assert rows["touch panel"]["blind"] == VISITS
    assert (rows["touch panel"]["open_neutral_low"], rows["touch panel"]["open_neutral_high"]) == (0.0, 1.0)
    low, high = (float(rows["relay board"][f"open_neutral_{end}"] or 0.0) for end in ("low", "high"))
    assert low <= TRUE <= high < low + 0.25
