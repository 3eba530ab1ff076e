"""Two runs side by side: what changed, and what is stopped no more before all else."""

from typing import Any

import pyarrow as pa
import pytest

from feedproof.fleet.compare import compare
from feedproof.fleet.report import Report
from feedproof.fleet.schema import ASSESSED

SOUND = {
    "finding": "none_found",
    "finding_place": "none",
    "determination": "probable",
    "disposition": "take_more_readings",
}
STOPPED = {
    "finding": "open_neutral",
    "finding_place": "branch_neutral",
    "determination": "established",
    "disposition": "stop_and_refer",
}


def run(model: str, *sets: tuple[str | None, dict[str, Any], float]) -> pa.Table:
    rows = [
        {"row": n, "reference": reference, "readings": 3, "model_version": model, "supply_fault_probability": fault}
        | found
        for n, (reference, found, fault) in enumerate(sets)
    ]
    return pa.Table.from_pylist(rows, schema=ASSESSED)


def test_changes_are_counted_and_listed_with_the_dangerous_first() -> None:
    live = STOPPED | {"caution_codes": "licensed_work neutral_as_live"}
    before = run(
        "1.0", ("same", SOUND, 0.1), ("now", SOUND, 0.4), ("freed", STOPPED, 0.99), ("freed, live", live, 0.97),
        ("moved", SOUND, 0.2), ("gone", SOUND, 0.1), ("refused", STOPPED, 0.9), (None, SOUND, 0.1),
        ("twice", SOUND, 0.1), ("twice", STOPPED, 0.9),
    )  # fmt: skip
    after = run(
        "2.0", ("twice", SOUND, 0.1), ("twice", STOPPED, 0.9), ("same", SOUND, 0.1), ("now", STOPPED, 0.96),
        ("freed", SOUND, 0.1), ("freed, live", SOUND, 0.2), ("moved", SOUND | {"determination": "established"}, 0.0),
        ("new", SOUND, 0.1),
    )  # fmt: skip
    counted, changed = compare(before, after)
    assert {row[2:]: row[:2] for row in counted.rows} == {
        ("none", "probable", "none", "probable", 2): ("1.0", "2.0"),
        ("branch_neutral", "established", "none", "probable", 2): ("1.0", "2.0"),
        ("none", "probable", "none", "established", 1): ("1.0", "2.0"),
        ("none", "probable", "branch_neutral", "established", 1): ("1.0", "2.0"),
        ("branch_neutral", "established", "branch_neutral", "established", 1): ("1.0", "2.0"),
        ("none", "probable", None, None, 1): ("1.0", None),
        ("branch_neutral", "established", None, None, 1): ("1.0", None),
        (None, None, "none", "probable", 1): (None, "2.0"),
    }
    assert [row[:2] for row in changed.rows] == [
        ("stopped no more", "freed, live"),
        ("stopped no more", "freed"),
        ("only before", "refused"),
        ("stopped now", "now"),
        ("other", "moved"),
        ("only before", "gone"),
        ("only after", "new"),
    ]
    assert "stopped no more" in Report((counted, changed))._repr_html_()


def test_runs_without_a_set_in_common_are_refused() -> None:
    with pytest.raises(ValueError, match="no reference is in both"):
        compare(run("1.0", ("a", SOUND, 0.1)), run("2.0", ("b", SOUND, 0.1)))
