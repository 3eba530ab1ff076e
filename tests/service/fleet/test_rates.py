"""Base rates come back where readings can show the fault, and stay as published where they cannot.

Most fleets here have one reading a set: normal about 0 where the supply is sound, and somewhere else for each fault. A
layout is blind to a fault whose reading has nearly the law of a sound supply.
"""

import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet
import pytest
from scipy import stats

from feedproof.faults.priors import BASE_RATES, MODEL_VERSION
from feedproof.fleet.batches import assess_batches
from feedproof.fleet.evidence import NONE, PUBLISHED, fleet_of
from feedproof.fleet.mixture import FloatArray
from feedproof.fleet.ratebook import FaultRate, read_ratebook, write_ratebook
from feedproof.fleet.rates import estimate_file, group_rates
from feedproof.fleet.report import Report, ReportOptions, report
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from feedproof.parsing import read_request
from feedproof.readings import ReadingSet
from support.fleets import drawn, nested_row, nested_table, simulated

OPEN, LOST = FAULT_ORDER.index("open_neutral"), FAULT_ORDER.index("no_supply")
TRUTH = 0.238
Law = tuple[float, float]
SOUND: Law = (0.0, 1.0)
#: What the model takes an open neutral's reading for on an unplugged outlet: spread wider than it is.
BLIND: Mapping[int, Law] = {OPEN: (0.0, 8.0), LOST: (40.0, 1.0)}
SHOWING: Mapping[int, Law] = {OPEN: (12.0, 1.0), LOST: (40.0, 1.0)}


def sets(
    count: int, seed: int, model: Mapping[int, Law], *, rate: float = TRUTH, true: Law | None = None
) -> FloatArray:
    """Log evidences of sets of which a share has an open neutral, with the reading's law in truth and by the model."""
    rng = np.random.default_rng(seed)
    mean, spread = model[OPEN] if true is None else true
    faulty = rng.random(count) < rate
    seen = np.where(faulty, rng.normal(mean, spread, count), rng.normal(*SOUND, count))
    found = np.full((count, len(FAULT_ORDER)), -np.inf)
    found[:, NONE] = stats.norm.logpdf(seen, *SOUND)
    for fault, law in model.items():
        found[:, fault] = stats.norm.logpdf(seen, *law)
    return found


def rates(*parts: FloatArray, every_set: bool = False) -> dict[str, FaultRate]:
    layouts: list[str | None] = [f"layout {n}" for n, part in enumerate(parts) for _ in part]
    return group_rates(fleet_of(np.concatenate(parts), layouts, every_set=every_set), PUBLISHED)[0]


def test_blind_readings_under_a_slightly_wrong_model_refuse_to_give_a_rate() -> None:
    """An open neutral's readings lie close about those of a sound supply; the model expects them further out."""
    blind = sets(2000, 1, BLIND, true=SOUND)
    believed = rates(blind, every_set=True)["open_neutral"]
    assert believed.high < 0.1 * TRUTH, "without the check it would be confidently wrong"
    found = rates(blind)
    neutral = found["open_neutral"]
    assert (neutral.sets, neutral.low, neutral.high) == (0, 0.0, 1.0)
    assert "no layout of these sets can show it" in neutral.words
    ratio = BASE_RATES["open_neutral"] / BASE_RATES["none_found"]
    assert neutral.fed_back == pytest.approx(ratio * found["none_found"].fed_back, rel=1e-3)
    # What these readings can show they do: no supply is rarer than published.
    assert found["no_supply"].sets == 2000
    assert found["no_supply"].high < 0.01


def test_readings_that_show_it_give_the_rate_whatever_blind_ones_say() -> None:
    held = 0
    for seed in range(20):
        found = rates(sets(2000, seed, BLIND, true=SOUND), sets(300, 100 + seed, SHOWING))["open_neutral"]
        assert found.sets == 300
        assert found.estimate == pytest.approx(TRUTH, abs=0.1)
        assert found.high - found.low < 0.15
        held += found.low <= TRUTH <= found.high
    assert held >= stats.binom.ppf(0.001, 20, 0.9)


def test_a_slightly_wrong_model_does_no_harm_where_readings_show_it() -> None:
    found = rates(sets(1000, 3, SHOWING, true=(10.0, 1.6)))["open_neutral"]
    assert found.low <= TRUTH <= found.high


def test_layouts_that_disagree_widen_the_interval() -> None:
    """Three layouts that all show it, met with it at 5, 20 and 45 %: the common rate is known less well."""
    parts = [sets(300, 10 + n, SHOWING, rate=rate) for n, rate in enumerate((0.05, 0.20, 0.45))]
    apart = rates(*parts)["open_neutral"]
    alike = rates(*(sets(300, 20 + n, SHOWING, rate=0.233) for n in range(3)))["open_neutral"]
    assert apart.high - apart.low > 3.0 * (alike.high - alike.low)
    assert "interval widened" in apart.words
    assert "widened" not in alike.words or alike.high - alike.low < 0.1


def test_a_fleet_that_never_met_a_fault_keeps_a_floor_under_it() -> None:
    """A hundred sound sets refuse little; a hundred thousand refuse the published rate, and stop at a tenth of it."""
    for count, fed_back in ((20, PUBLISHED[OPEN]), (20_000, 0.1 * PUBLISHED[OPEN])):
        found = rates(sets(count, 5, SHOWING, rate=0.0))
        assert found["open_neutral"].fed_back == pytest.approx(fed_back, rel=0.01)
        assert found["open_neutral"].estimate <= fed_back
        assert "fed back no lower" in found["open_neutral"].words
        assert sum(rate.fed_back for rate in found.values()) == pytest.approx(1.0, abs=1e-3)


FIRST, SECOND = (1.0, 1.0), (8.0, 1.0)
"""Laws of an open neutral's two readings: one that hardly shows it, and one that shows it for certain."""


@pytest.mark.parametrize("seed", range(5))
def test_where_the_first_reading_settles_who_reads_on_the_interval_holds_the_rate(seed: int) -> None:
    """Three in a hundred are open. Who reads high at first reads again, and of the others one in fifty."""
    rng, count, rate = np.random.default_rng(seed), 4000, 0.03
    faulty = rng.random(count) < rate
    first, second = (np.where(faulty, rng.normal(*law, count), rng.normal(*SOUND, count)) for law in (FIRST, SECOND))
    on = (first > 1.5) | (rng.random(count) < 0.02)
    # All other faults read as a sound supply does.
    found = np.zeros((count, len(FAULT_ORDER)))
    for fault, laws in ((slice(None), (SOUND, SOUND)), (slice(OPEN, OPEN + 1), (FIRST, SECOND))):
        found[:, fault] = (stats.norm.logpdf(first, *laws[0]) + np.where(on, stats.norm.logpdf(second, *laws[1]), 0.0))[
            :, None
        ]
    layouts = ["first; second" if more else "first" for more in on]
    neutral = group_rates(fleet_of(found, layouts), PUBLISHED)[0]["open_neutral"]
    assert neutral.sets == on.sum()
    assert neutral.low <= rate <= neutral.high
    assert "settled who read on" in neutral.words
    # Of those alone that read on more are open, and nothing would tell that they are not like the others.
    alone = group_rates(fleet_of(found[on], ["first; second"] * int(on.sum())), PUBLISHED)[0]["open_neutral"]
    assert alone.low > rate
    assert "settled" not in alone.words


def test_an_estimate_lies_within_its_interval() -> None:
    """Two faults that readings hardly tell from a sound supply, each set a little in favour of one of them."""
    seen = np.full((500, len(FAULT_ORDER)), -np.inf)
    seen[:, [NONE, OPEN, LOST]] = 0.0, 0.1, 0.1
    found, _ = group_rates(fleet_of(seen, ["one"] * 500, every_set=True), PUBLISHED)
    assert all(rate.low <= rate.estimate <= rate.high for rate in found.values())


def test_readings_do_not_choose_which_sets_count() -> None:
    """Layouts that occur once are judged together: those that show the fault do not count for more than the others."""
    every = np.concatenate([sets(400, 7, SHOWING, rate=0.1), sets(1600, 8, BLIND, rate=0.1)])
    order = np.random.default_rng(9).permutation(len(every))
    found = group_rates(fleet_of(every[order], [f"layout {n}" for n in range(len(every))]), PUBLISHED)[0]
    assert found["open_neutral"].sets in {0, 2000}
    assert found["open_neutral"].low <= 0.1 <= found["open_neutral"].high


def assessed(log_evidence: FloatArray, region: Sequence[str | None], path: Path, model: str = MODEL_VERSION) -> Path:
    columns: dict[str, Any] = {f"log_evidence_{f}": log_evidence[:, n] for n, f in enumerate(FAULT_ORDER)}
    columns |= {"readings": pa.array([3] * len(region), pa.int32()), "row": pa.array(range(len(region)), pa.int64())}
    columns["model_version"] = pa.array([model] * len(region), pa.string())
    rest = {field.name: pa.nulls(len(region), field.type) for field in ASSESSED if field.name not in columns}
    table = pa.table(columns | rest | {"region": pa.array(region, pa.string())})
    pyarrow.parquet.write_table(table, path)
    return path


def test_groups_have_their_own_rates_in_the_form_of_a_request(tmp_path: Path) -> None:
    parts = [sets(3000, 5, SHOWING, rate=0.05), sets(3000, 6, SHOWING, rate=0.3), sets(3, 7, SHOWING, rate=0.0)]
    region: list[str | None] = ["lake"] * 3000 + ["hill"] * 3000 + [None] * 3
    path = assessed(np.concatenate(parts), region, tmp_path / "out.parquet")
    made = estimate_file(path, by=["region"])
    book = read_ratebook(write_ratebook(made))
    assert book == made
    groups = {group.group.get("region", "all"): group for group in book.groups}
    assert [group.sets for group in book.groups] == [6003, 3000, 3000, 3]
    for name, true in (("lake", 0.05), ("hill", 0.3)):
        found = groups[name].found["open_neutral"]
        assert 0.9 * found.low < true < 1.1 * found.high
        assert found.high < 1.6 * found.low
    # Three sets say little: their rates stay near those of all.
    few, every = groups[None].base_rates, groups["all"].base_rates
    assert few["none_found"] == pytest.approx(every["none_found"], abs=0.2)
    assert min(few.values()) > 0.0
    assert book.of({"region": "hill"}) == groups["hill"].base_rates
    assert book.of({"region": "elsewhere"}) == every
    request = {"readings": [], "base_rates": groups["hill"].base_rates}
    assert read_request(json.dumps(request).encode()).reading_set.base_rates == groups["hill"].base_rates


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"[]",
        b'{"gremlins": 1}',
        b'{"none_found": -1}',
        b'{"none_found": 0}',
        b'{"groups": []}',
        b'{"groups": [], "model_version": "%b"}' % MODEL_VERSION.encode(),
    ],
)
def test_what_is_no_table_of_rates_is_refused(raw: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        read_ratebook(raw)


@pytest.mark.parametrize("version", [None, "1.1.1"])
def test_rates_of_another_model_are_refused(version: str | None, tmp_path: Path) -> None:
    """What a fault's readings look like is another question to another model, and so are the rates it finds."""
    path = assessed(sets(200, 8, SHOWING), ["lake"] * 200, tmp_path / "out.parquet")
    made = json.loads(write_ratebook(estimate_file(path)))
    assert made["model_version"] == MODEL_VERSION
    assert read_ratebook(json.dumps(made).encode()).groups[0].sets == 200
    named = {} if version is None else {"model_version": version}
    old = {name: value for name, value in made.items() if name != "model_version"} | named
    with pytest.raises(ValueError, match="model"):
        read_ratebook(json.dumps(old).encode())


def test_assessments_of_another_model_give_no_rates(tmp_path: Path) -> None:
    path = assessed(sets(200, 8, SHOWING), ["lake"] * 200, tmp_path / "out.parquet", model="1.1.1")
    with pytest.raises(ValueError, match=r"1\.1\.1"):
        estimate_file(path)


def test_no_rate_that_is_found_is_refused_by_a_request(tmp_path: Path) -> None:
    """Without any sets beforehand a rate may fall to nothing: none is fed back as 0, which would rule a fault out."""
    seen = np.full((300, len(FAULT_ORDER)), -90.0)
    seen[:, LOST] = 0.0
    path = assessed(seen, ["lake"] * 300, tmp_path / "out.parquet")
    (every,) = estimate_file(path, prior_sets=0.0).groups
    assert 0.0 < every.base_rates["none_found"] < 0.1
    assert min(every.base_rates.values()) > 0.0
    admitted = read_request(json.dumps({"readings": [], "base_rates": every.base_rates}).encode())
    assert admitted.reading_set.base_rates is not None
    assert admitted.reading_set.base_rates["open_neutral"] >= 0.09 * PUBLISHED[OPEN]


# --- from readings, through the engine ------------------------------------------------------------------------

RATES = {"none_found": 0.6, "open_neutral": 0.3, "no_supply": 0.05, "other_supply_system": 0.05}
SEEN, UNSEEN = 160, 120


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """Visits with a low-impedance meter to outlets with many open neutrals; sound ones unplugged, read without."""
    seen = simulated(SEEN, seed=21, rates=RATES)
    unseen = simulated(UNSEEN, seed=22, rates={"none_found": 1.0}, meter="dmm")
    rows = [nested_row(f"visit {n}", readings) | {"part": "relay board"} for n, (_, readings) in enumerate(seen)]
    rows += [nested_row(f"sound {n}", readings) | {"part": "touch panel"} for n, (_, readings) in enumerate(unseen)]
    rows.append(nested_row("empty", ReadingSet()) | {"part": "touch panel"})
    rows.append(rows[3])
    part = pa.field("part", pa.string())
    path = tmp_path_factory.mktemp("fleet") / "out.parquet"
    answers = list(assess_batches(nested_table(rows, part).to_batches(), keep=pa.schema([part])))
    pyarrow.parquet.write_table(pa.Table.from_batches(answers), path)
    return path, [fault for fault, _ in seen]


def test_rates_come_back_from_readings_and_go_into_a_run(fleet: tuple[Path, list[str]], tmp_path: Path) -> None:
    """Faults far more frequent than published, assessed with the published rates, are given back."""
    path, faults = fleet
    out = tmp_path / "rates.json"
    command = [sys.executable, "-m", "feedproof", "fleet-rates", str(path), str(out), "--level", "0.99"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    (every,) = read_ratebook(out.read_bytes()).groups
    assert every.sets == SEEN + UNSEEN
    neutral = every.found["open_neutral"]
    assert neutral.sets == SEEN
    assert neutral.low <= drawn(faults, "open_neutral") <= neutral.high
    assert neutral.fed_back > 2.0 * BASE_RATES["open_neutral"]
    assert "open_neutral" in done.stdout
    assert "can show it" in done.stdout
    again = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert again.returncode == 2
    assert "already there" in again.stderr
    assert subprocess.run([*command, "--overwrite"], capture_output=True, timeout=300, check=False).returncode == 0


def lines(made: Report, name: str) -> dict[str, dict[str, Any]]:
    table = made[name]
    return {str(row[0]): dict(zip(table.columns, row, strict=True)) for row in table.rows}


def test_what_a_manufacturer_reads_of_parts(fleet: tuple[Path, list[str]]) -> None:
    """Sound visits that could show nothing leave every share open, and are told apart from those that could."""
    path, faults = fleet
    made = report(path, ReportOptions(part="part"))
    parts = lines(made, "parts")
    blind, told = parts["touch panel"], parts["relay board"]
    assert (blind["orders"], blind["blind"], blind["established"]) == (UNSEEN, UNSEEN, 0)
    assert blind["open_neutral_low"] == blind["fault_low"] == 0.0
    assert blind["open_neutral_high"] == blind["fault_high"] == 1.0
    assert told["blind"] == 0
    assert told["open_neutral_low"] <= drawn(faults, "open_neutral") <= told["open_neutral_high"]
    assert told["open_neutral_high"] - told["open_neutral_low"] < 0.2
    counted = lines(made, "sets")
    assert counted["assessed"]["number"] == SEEN + UNSEEN
    assert counted["without any reading"]["number"] == 1
    assert counted["the same visit again, counted once"]["number"] == 1


def test_blind_sets_alone_lower_no_open_neutral(fleet: tuple[Path, list[str]]) -> None:
    """Fed back, the rates of a fleet that could not have seen an open neutral must not hide the next one."""
    path, _ = fleet
    table = pyarrow.parquet.read_table(path)
    blind = table.slice(SEEN, UNSEEN)
    assert set(blind["part"].to_pylist()) == {"touch panel"}
    (every,) = estimate_file(blind).groups
    assert every.base_rates["open_neutral"] >= BASE_RATES["open_neutral"] / sum(BASE_RATES.values())
    assert every.found["open_neutral"].sets == 0
