"""Answers that are kept: the same digits as computed anew, whatever the labels, the order and the legs."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, TypeVar, cast

import msgspec
import pyarrow as pa
import pytest

from feedproof.faults.priors import BASE_RATES
from feedproof.fleet import batches
from feedproof.fleet import store as stores
from feedproof.fleet.answer import ANSWER_COLUMNS, answer
from feedproof.fleet.batches import Assessor, Unit, assess_batches
from feedproof.fleet.job import Job
from feedproof.fleet.run import run
from feedproof.fleet.store import Store, check_store, mirrored
from feedproof.inference import likeness
from feedproof.readings import Conductor, Reading, ReadingSet
from support.fleets import nested_row, nested_table, simulated
from support.outcomes import volts
from support.proof_cases import CASES, visit

S = TypeVar("S", bound=msgspec.Struct)
LEGS: dict[str, Conductor] = {"L1": "L2", "L2": "L1"}
CELLS = tuple(answer(ReadingSet()).values())


def turned(one: S) -> S:
    """The same with the other leg, or between the other two conductors."""
    cells = msgspec.structs.asdict(one)
    changed: dict[str, Any] = {n: LEGS.get(cells[n], cells[n]) for n in ("at", "through") if n in cells}
    if "between" in cells:
        changed["between"] = tuple(LEGS.get(c, c) for c in cells["between"])
    return msgspec.structs.replace(one, **changed)


def exchanged(readings: ReadingSet, order: random.Random) -> ReadingSet:
    """The same visit by someone who calls the other leg L1, and has taken and named things otherwise."""
    states = {
        f"state {name}": msgspec.structs.replace(state, loads=tuple(map(turned, state.loads)))
        for name, state in readings.load_states.items()
    }
    meters = {f"meter {n}": msgspec.structs.replace(m, name=f"meter {n}") for n, m in readings.meters.items()}
    taken: list[Reading] = [
        msgspec.structs.replace(turned(r), meter=f"meter {r.meter}", load_state=f"state {r.load_state}")
        for r in readings.readings
    ]
    order.shuffle(taken)
    return msgspec.structs.replace(readings, readings=tuple(taken), meters=meters, load_states=states)


def triples(count: int) -> list[ReadingSet]:
    """What may stand on a meter, sense or nonsense: dead, one-sided, unlike legs."""
    dice = random.Random(5)
    shown = [0.0, 0.3, 1.2, 7.0, 55.0, 88.0, 118.0, 120.0, 121.0, 130.0, 208.0, 239.0, 241.0]
    return [
        visit(*(volts(*pair, dice.choice(shown), "loz") for pair in (("L1", "L2"), ("L1", "N"), ("L2", "N"))))
        for _ in range(count)
    ]


def test_an_answer_serves_the_same_readings_with_the_legs_exchanged() -> None:
    order = random.Random(1)
    few = [case for case in CASES.values() if len(case.readings) <= 7 and case.supply.system != "single_phase_120"]
    changed = 0
    for readings in (*few[:20], *triples(40)):
        other = exchanged(readings, order)
        store = Store()
        store.keep(likeness(readings), tuple(answer(readings).values()))
        found = store.find(likeness(other))
        assert found is not None
        wanted = answer(other)
        assert dict(zip(ANSWER_COLUMNS, found, strict=True)) == wanted
        changed += wanted != answer(readings)
    assert changed > 20


def test_two_conductors_of_one_finding_keep_their_order() -> None:
    given = dict(zip(ANSWER_COLUMNS, CELLS, strict=True)) | {
        "finding": "open_leg",
        "finding_conductor": "L1",
        "finding_also": "open_leg:L2 open_equipment_ground:",
    }
    assert (
        dict(zip(ANSWER_COLUMNS, mirrored(tuple(given.values())), strict=True))["finding_also"] == given["finding_also"]
    )


def test_what_an_answer_hangs_on_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    _, readings = simulated(1, seed=4)[0]
    store = Store()
    store.keep(likeness(readings), CELLS)
    assert store.find(likeness(readings)) == CELLS
    other: list[dict[str, Any]] = [
        {"base_rates": dict(BASE_RATES)},
        {"readings": readings.readings[:2]},
        {"readings": (msgspec.structs.replace(readings.readings[0], value=0.0), *readings.readings[1:])},
        {"supply": msgspec.structs.replace(readings.supply, source="generator")},
        {
            "meters": {
                n: msgspec.structs.replace(cast("Any", m), accuracy_percent=3.0) for n, m in readings.meters.items()
            }
        },
    ]
    for change in other:
        assert store.find(likeness(msgspec.structs.replace(readings, **change))) is None, change
    for name, value in (("MODEL_VERSION", "0"), ("priors_digest", lambda: "0"), ("ANSWER_COLUMNS", ("a",))):
        with monkeypatch.context() as patch:
            patch.setattr(stores, name, value)
            stores._circumstances.cache_clear()
            assert store.find(likeness(readings)) is None
    stores._circumstances.cache_clear()


def test_what_was_damaged_is_not_believed(tmp_path: Path) -> None:
    path = tmp_path / "answers.sqlite"
    _, readings = simulated(1, seed=4)[0]
    Store(path).keep(likeness(readings), CELLS)
    assert Store(path).find(likeness(readings)) == CELLS
    with closing(sqlite3.connect(path)) as base, base:
        ((cells,),) = base.execute("SELECT cells FROM answers").fetchall()
        base.execute("UPDATE answers SET cells = ?", (cells[:-1] + bytes([cells[-1] ^ 1]),))
    assert Store(path).find(likeness(readings)) is None


def test_it_holds_no_more_than_it_may_and_the_oldest_goes_first(tmp_path: Path) -> None:
    _, readings = simulated(1, seed=4)[0]
    first = readings.readings[0]
    likes = [
        likeness(msgspec.structs.replace(readings, readings=(msgspec.structs.replace(first, value=n / 10.0),)))
        for n in range(4000)
    ]
    path = tmp_path / "answers.sqlite"
    store = Store(path, most=1_000_000)
    for like in likes:
        store.keep(like, CELLS)
    assert store.size() < 1_500_000
    assert path.stat().st_size < 2_000_000
    assert store.find(likes[0]) is None
    assert store.find(likes[-1]) == CELLS


def test_a_store_that_breaks_down_is_done_without(tmp_path: Path) -> None:
    _, readings = simulated(1, seed=4)[0]
    store = Store(tmp_path / "answers.sqlite")
    with closing(sqlite3.connect(tmp_path / "answers.sqlite")) as base, base:
        base.execute("DROP TABLE answers")
    with pytest.warns(RuntimeWarning, match="going on without it"):
        assert store.find(likeness(readings)) is None
    store.keep(likeness(readings), CELLS)
    assert store.find(likeness(readings)) == CELLS


def test_calls_share_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    table = nested_table(nested_row(name, readings) for name, readings in simulated(3, seed=9))
    first = list(assess_batches(table, store=tmp_path / "answers.sqlite"))
    monkeypatch.setattr(batches, "answer", None)
    assert list(assess_batches(table, store=tmp_path / "answers.sqlite")) == first


def test_a_store_is_a_store(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="ends in"):
        check_store(tmp_path / "visits.csv")
    other = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(other)) as base, base:
        base.execute("CREATE TABLE visits (a)")
    with pytest.raises(ValueError, match="something else"):
        check_store(other)
    with pytest.raises(ValueError, match="something else"):
        Store(other)
    with pytest.raises(ValueError, match="nowhere"):
        check_store(tmp_path / "nowhere" / "answers.sqlite")


def test_runs_share_it_and_begin_a_damaged_one_anew(tmp_path: Path) -> None:
    sets = [readings for _, readings in simulated(40, seed=21)]
    order = random.Random(2)
    rows = [nested_row(f"visit {n}", exchanged(one, order) if n % 3 else one) for n, one in enumerate(sets * 3)]
    source, path = tmp_path / "visits.parquet", tmp_path / "answers.sqlite"
    pa.parquet.write_table(nested_table(rows), source)

    def made(name: str, workers: int, store: Path | None) -> tuple[bytes, int]:
        target = tmp_path / f"{name}.parquet"
        done = run(
            Job(
                source=str(source),
                target=str(target),
                rejects=f"{target}.csv",
                workers=workers,
                store=None if store is None else str(store),
            )
        )
        return target.read_bytes(), done.computed

    plain = Assessor("nested").assess([Unit(n + 1, [row]) for n, row in enumerate(rows)])
    without, computed = made("without", 1, None)
    assert pa.parquet.read_table(tmp_path / "without.parquet").equals(pa.Table.from_batches([plain]))
    assert computed <= len(sets)
    first, computed = made("first", 2, path)
    assert computed > 0
    second, none = made("second", 1, path)
    assert none == 0
    assert without == first == second

    # Overwritten from its second page on, and no database at all.
    for head in (4096, 0):
        damaged = path.read_bytes()[:head].ljust(path.stat().st_size, b"\xff")
        path.write_bytes(damaged)
        with pytest.warns(RuntimeWarning, match="damaged"):
            anew, again = made(f"anew {head}", 1, path)
        assert anew == first
        assert again > 0
        assert path.with_name("answers.sqlite.damaged").read_bytes() == damaged
        assert made(f"after {head}", 1, path) == (first, 0)
