"""Base rates come back: against another optimizer, within their intervals, and from real readings.

At the level of log evidences a fleet is drawn from a mixture of known normal laws, so that every set's evidence under
each fault is exact and the rates are the only thing unknown.
"""

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet
import pytest
from scipy import optimize, stats

from feedproof.door import read_request
from feedproof.faults.priors import BASE_RATES, MODEL_VERSION
from feedproof.fleet.batches import assess_batches
from feedproof.fleet.ratebook import read_ratebook
from feedproof.fleet.rates import FloatArray, climb, estimate, estimate_file, likelihoods, log_likelihood
from feedproof.fleet.schema import ASSESSED, FAULT_ORDER
from support.fleets import nested_row, nested_table, simulated

TRUE = np.array([BASE_RATES[fault] for fault in FAULT_ORDER])
TRUE /= TRUE.sum()
EVEN = np.full(TRUE.size, 1.0 / TRUE.size)


def fleet(count: int, seed: int, rates: FloatArray = TRUE, spread: float = 2.0) -> FloatArray:
    """Log evidences of sets whose readings are three numbers, each fault's normal about a place of its own."""
    rng = np.random.default_rng(seed)
    places = np.random.default_rng(1).normal(size=(rates.size, 3)) * spread
    seen = places[rng.choice(rates.size, size=count, p=rates)] + rng.normal(size=(count, 3))
    found: FloatArray = -0.5 * ((seen[:, None, :] - places) ** 2).sum(axis=2)
    return found


def by_scipy(evidence: FloatArray, counts: FloatArray) -> tuple[FloatArray, float]:
    """Optimum by another way: a quasi-Newton method on softmax coordinates."""

    def loss(u: FloatArray) -> tuple[float, FloatArray]:
        rates = np.exp(u - u.max())
        rates /= rates.sum()
        mixed = evidence @ rates
        slope = evidence.T @ (1.0 / mixed) + counts / rates
        return -float(np.log(mixed).sum() + counts @ np.log(rates)), -(rates * slope - rates * (slope @ rates))

    start = np.zeros(evidence.shape[1])
    found = optimize.minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 5000, "ftol": 1e-15})
    rates = np.exp(found.x - found.x.max())
    return rates / rates.sum(), -float(found.fun)


@pytest.mark.parametrize("spread", [2.0, 0.7])
def test_em_reaches_the_optimum_of_another_optimizer(spread: float) -> None:
    evidence = likelihoods(fleet(20_000, seed=2, spread=spread))
    counts = 10.0 * EVEN
    rates, height = climb(evidence, counts, EVEN, 1e-9)
    theirs, top = by_scipy(evidence, counts)
    assert height == pytest.approx(top, abs=2e-3)
    assert height == pytest.approx(log_likelihood(evidence, counts, rates), abs=1e-9)
    assert rates.sum() == pytest.approx(1.0)
    if spread > 1.0:
        assert rates == pytest.approx(theirs, abs=3e-4)


@pytest.mark.parametrize("fleets", [2, pytest.param(24, marks=pytest.mark.slow)])
def test_known_rates_lie_within_their_intervals_as_often_as_they_say(fleets: int) -> None:
    """Fleets of 20 000 sets, sixteen rates each: of 384 intervals of 90 %, 346 ± 6 should hold the truth."""
    held = 0
    for seed in range(fleets):
        rates, intervals = estimate(fleet(20_000, seed=100 + seed), EVEN, 1.0, 0.9)
        assert np.all(intervals[:, 0] <= rates)
        assert np.all(rates <= intervals[:, 1])
        held += int(((intervals[:, 0] <= TRUE) & (intervals[:, 1] >= TRUE)).sum())
    low, high = stats.binom.interval(0.999, fleets * TRUE.size, 0.9)
    assert low <= held <= high


def test_an_interval_is_what_the_profile_likelihood_says() -> None:
    """Two faults that every set tells apart: the count is binomial, with a likelihood that is known in closed form."""
    count, hits = 400, 3
    log_evidence = np.full((count, 2), -60.0)
    log_evidence[:hits, 1] = 0.0
    log_evidence[hits:, 0] = 0.0
    rates, intervals = estimate(log_evidence, np.array([0.5, 0.5]), 0.0, 0.9)
    assert rates[1] == pytest.approx(hits / count, rel=1e-6)

    def drop(rate: float) -> float:
        def height(r: float) -> float:
            return float(stats.binom.logpmf(hits, count, r))

        return height(hits / count) - height(rate) - 0.5 * float(stats.chi2.ppf(0.9, 1))

    assert intervals[1, 0] == pytest.approx(optimize.brentq(drop, 1e-6, hits / count), rel=0.03)
    assert intervals[1, 1] == pytest.approx(optimize.brentq(drop, hits / count, 0.2), rel=0.03)


def test_a_fault_never_seen_keeps_a_small_rate_and_an_upper_end() -> None:
    log_evidence = np.full((500, 2), -80.0)
    log_evidence[:, 0] = 0.0
    rates, intervals = estimate(log_evidence, np.array([0.9, 0.1]), 10.0, 0.9)
    assert rates[1] == pytest.approx(1.0 / 510.0)
    assert 0.0 < intervals[1, 0] < rates[1] < intervals[1, 1] < 0.02


def assessed(
    log_evidence: FloatArray, region: Sequence[str | None], path: Path, model: str | None = MODEL_VERSION
) -> Path:
    columns: dict[str, Any] = {f"log_evidence_{f}": log_evidence[:, n] for n, f in enumerate(FAULT_ORDER)}
    columns["model_version"] = pa.array([model] * len(region), pa.string())
    rest = {field.name: pa.nulls(len(region), field.type) for field in ASSESSED if field.name not in columns}
    table = pa.table(columns | rest | {"region": pa.array(region, pa.string())})
    pyarrow.parquet.write_table(table, path)
    return path


def test_groups_have_their_own_rates_in_the_form_of_a_request(tmp_path: Path) -> None:
    hill = TRUE * np.where(np.array(FAULT_ORDER) == "open_neutral", 6.0, 1.0)
    hill /= hill.sum()
    parts = [fleet(6000, seed=5), fleet(6000, seed=6, rates=hill), fleet(3, seed=7)]
    region: list[str | None] = ["lake"] * 6000 + ["hill"] * 6000 + [None] * 3
    path = assessed(np.concatenate(parts), region, tmp_path / "out.parquet")
    book = read_ratebook(estimate_file(path, by=["region"], prior_sets=10.0))
    groups = {group.group.get("region", "all"): group for group in book.groups}
    assert [group.sets for group in book.groups] == [12_003, 6000, 6000, 3]
    at = FAULT_ORDER.index("open_neutral")
    for name, true in (("lake", TRUE), ("hill", hill)):
        low, high = groups[name].intervals["open_neutral"]
        assert low * 0.9 < true[at] < high * 1.1
        assert high < 3.0 * low
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
    path = assessed(fleet(200, seed=8), ["lake"] * 200, tmp_path / "out.parquet")
    made = json.loads(estimate_file(path))
    assert made["model_version"] == MODEL_VERSION
    assert read_ratebook(json.dumps(made).encode()).groups[0].sets == 200
    named = {} if version is None else {"model_version": version}
    old = {name: value for name, value in made.items() if name != "model_version"} | named
    with pytest.raises(ValueError, match="model"):
        read_ratebook(json.dumps(old).encode())


def test_assessments_of_another_model_give_no_rates(tmp_path: Path) -> None:
    path = assessed(fleet(200, seed=8), ["lake"] * 200, tmp_path / "out.parquet", model="1.1.1")
    with pytest.raises(ValueError, match=r"1\.1\.1"):
        estimate_file(path)


def test_no_rate_that_is_found_is_refused_by_a_request(tmp_path: Path) -> None:
    """Without any sets beforehand a rate may fall to nothing: nothing is 0, save for a sound supply."""
    seen = np.full((300, len(FAULT_ORDER)), -90.0)
    seen[:, FAULT_ORDER.index("open_leg")] = 0.0
    path = assessed(seen, ["lake"] * 300, tmp_path / "out.parquet")
    (every,) = read_ratebook(estimate_file(path, prior_sets=0.0)).groups
    assert every.base_rates["open_neutral"] == 0.0
    assert 0.0 < every.base_rates["none_found"] < 1e-6
    admitted = read_request(json.dumps({"readings": [], "base_rates": every.base_rates}).encode())
    assert admitted.reading_set.base_rates == every.base_rates


def test_rates_come_back_from_readings_and_go_into_a_run(tmp_path: Path) -> None:
    """Visits simulated from rates far from the model's own, assessed with the model's own, give those rates back."""
    rates = {"none_found": 0.5, "open_neutral": 0.3, "no_supply": 0.1, "other_supply_system": 0.1}
    sets = simulated(250, seed=21, rates=rates)
    table = nested_table(nested_row(f"visit {n}", readings) for n, (_, readings) in enumerate(sets))
    path = tmp_path / "out.parquet"
    pyarrow.parquet.write_table(pa.Table.from_batches(list(assess_batches(table.to_batches()))), path)
    out = tmp_path / "rates.json"
    done = subprocess.run(
        [sys.executable, "-m", "feedproof", "fleet-rates", str(path), str(out), "--level", "0.99"],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    (every,) = read_ratebook(out.read_bytes()).groups
    drawn = {fault: sum(f == fault for f, _ in sets) / len(sets) for fault in rates}
    for fault, rate in rates.items():
        low, high = every.intervals[fault]
        assert low <= rate <= high, (fault, every.base_rates[fault], drawn[fault])
        assert every.base_rates[fault] == pytest.approx(drawn[fault], abs=0.08)
    few = tmp_path / "few.parquet"
    pyarrow.parquet.write_table(table.slice(0, 2), few)
    again = subprocess.run(
        [sys.executable, "-m", "feedproof", "fleet", few, tmp_path / "again.ndjson", "--base-rates", out],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert again.returncode == 0, again.stderr
    first = json.loads((tmp_path / "again.ndjson").read_text(encoding="utf-8").splitlines()[0])
    assert first["priors_digest"] != pyarrow.parquet.read_table(path)["priors_digest"][0].as_py()
