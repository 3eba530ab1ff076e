"""One instrument among several is enough for its caution, and a caution says the reason that holds for this frame."""

import pytest

from feedproof.advice.cautions import find
from feedproof.advice.texts import Reason, caution_texts, in_language
from feedproof.readings import ReadingSet, Supply
from support.outcomes import METERS, candidate, near, ohms, outcome, prospect, readings, volts

SOUND = [candidate("none_found", 1.0)]
VOLTS = volts("L1", "N", 120.0)


def given(job: ReadingSet, **inferred: object) -> dict[str, str]:
    whole = outcome(SOUND, **inferred)  # type: ignore[arg-type]
    return {caution.code: caution.because for caution in find(job, whole, SOUND, "en")}


@pytest.mark.parametrize("mixed", [(VOLTS, near("N", detected=False)), (near("N", detected=True), VOLTS)])
def test_one_proximity_reading_among_others_is_cautioned(mixed: tuple[object, ...]) -> None:
    assert "silent_proximity_detector" in given(readings(*mixed))  # type: ignore[arg-type]


def test_one_resistance_reading_among_others_is_cautioned() -> None:
    assert "resistance_isolated_only" in given(readings(VOLTS, ohms("N", "G", 0.3)))


@pytest.mark.parametrize(("name", "code"), [("pen", "silent_proximity_detector"), ("ohms", "resistance_isolated_only")])
def test_one_meter_listed_among_others_is_cautioned(name: str, code: str) -> None:
    assert code in given(readings(meters=METERS))
    assert code not in given(readings(meters={other: meter for other, meter in METERS.items() if other != name}))


def test_one_of_several_readings_ahead_is_cautioned() -> None:
    ahead = (prospect(), prospect("proximity", ("N",), meter_kind="proximity_detector"))
    assert "silent_proximity_detector" in given(readings(VOLTS), prospects=ahead)
    ahead = (prospect(), prospect("resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected"))
    assert "resistance_isolated_only" in given(readings(VOLTS), prospects=ahead)


@pytest.mark.parametrize(("bonded", "reason"), [(True, "bonded"), (None, "unknown")])
def test_a_frame_counts_as_live_for_the_reason_that_holds(bonded: bool | None, reason: Reason) -> None:
    (text,) = [text for text in caution_texts() if text.code == "frame_as_live"]
    told = given(readings(VOLTS, supply=Supply(frame_bonded_to_neutral=bonded)))["frame_as_live"]
    assert told == in_language(text.because_for[reason], "en")
    assert text.because_for["bonded"] != text.because_for["unknown"]
