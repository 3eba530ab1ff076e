"""An answer says nothing that it takes back elsewhere, and a further reading that agrees with it makes it no vaguer."""

from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment, Evidence, Reason
from feedproof.parsing import read_request
from feedproof.readings import Conductor, Supply
from support.assessments import CASES, nothing_found, open_neutral
from support.contradictions import PAIRS, contradictions
from support.outcomes import volts
from support.plausible import readings, requests, with_reading
from support.proof_cases import FOUR_WIRE, UNKNOWN, visit

EVERYDAY = settings(
    max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
)
AT_LENGTH = settings(EVERYDAY, max_examples=400)
CALLS = [
    msgspec.structs.replace(c, title="Main breaker off; then call the utility")
    for c in CASES["everything"]().cautions
    if c.code == "service_neutral"
]
SHOWN = msgspec.convert(
    msgspec.to_builtins(CASES["everything"]().evidence[4]) | {"observed": {"value": 1.0, "unit": "1"}},
    Evidence,
)
RANK = {"undetermined": 0, "probable": 1, "established": 2}


def answered(request: dict[str, Any]) -> Assessment:
    return assess(*read_request(msgspec.json.encode(request)))


def agreeing_keeps(request: dict[str, Any], reading: dict[str, Any]) -> None:
    """Check a reading that is at least as probable under the finding as under all rivals, and that it explains.

    Of rivals under 5 % too: what speaks for one of 4 % may lift it over 5 %, and agrees with nothing.
    """
    before, after = answered(request), answered(with_reading(request, reading))

    def evidence(answer: Assessment) -> dict[object, tuple[float, float, str, str | None]]:
        return {
            (c.fault, c.conductor, *((p.fault, p.conductor) for p in c.also)): (
                c.probability,
                c.log_evidence,
                c.place,
                c.conductor,
            )
            for c in answer.candidates
        }

    old, new = evidence(before), evidence(after)
    found = [key for key, (_, _, *at) in old.items() if at == [before.finding.place, before.finding.conductor]]
    unexplained = {index for check in after.checks if check.code == "not_explained" for index in check.readings}
    if not request["readings"] or not found or len(request["readings"]) in unexplained:
        return
    leading = max(found, key=lambda key: old[key][0])
    gain = {key: new[key][1] - old[key][1] if key in new else float("-inf") for key in old}
    gain |= {key: float("inf") for key in new if key not in old}
    if leading in new and all(gain[leading] >= gain[key] for key in gain):
        assert RANK[after.determination] >= RANK[before.determination], (before.headline, after.headline)


@EVERYDAY
@given(requests)
def test_no_two_texts_of_an_answer_contradict(request: dict[str, Any]) -> None:
    assert contradictions(answered(request)) == []


@pytest.mark.slow
@AT_LENGTH
@given(requests)
def test_no_two_texts_of_an_answer_contradict_at_length(request: dict[str, Any]) -> None:
    assert contradictions(answered(request)) == []


@EVERYDAY
@given(requests, readings)
def test_a_reading_that_agrees_never_lowers_the_determination(request: dict[str, Any], reading: dict[str, Any]) -> None:
    agreeing_keeps(request, reading)


@pytest.mark.parametrize(
    ("idle", "running"),
    [((245.3, 130.7, 114.7), 244.7), ((243.0, 128.0, 115.0), 242.4), ((243.0, 126.5, 116.5), 242.4)],
)
@pytest.mark.parametrize("supply", [UNKNOWN, FOUR_WIRE])
def test_leg_to_leg_while_running_takes_nothing_back(
    supply: Supply, idle: tuple[float, float, float], running: float
) -> None:
    """Legs apart speak of the neutral, whoever explains them; leg to leg says nothing of it."""
    pairs: tuple[tuple[Conductor, Conductor], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))
    taken = [volts(*pair, value, state="idle") for pair, value in zip(pairs, idle, strict=True)]
    before = assess(visit(*taken, supply=supply)).finding
    after = assess(visit(*taken, volts("L1", "L2", running, state="running"), supply=supply)).finding
    assert before.place == after.place == "neutral"
    assert after.probability > before.probability - 0.01


@pytest.mark.slow
@AT_LENGTH
@given(requests, readings)
def test_a_reading_that_agrees_never_lowers_the_determination_at_length(
    request: dict[str, Any], reading: dict[str, Any]
) -> None:
    agreeing_keeps(request, reading)


def test_the_table_tells_answers_apart() -> None:
    """Spoiled answers: each names its pair."""
    replace = msgspec.structs.replace
    found, sound = open_neutral(), nothing_found()
    settle = Reason(code="contradiction", text="Settle those first.", readings=[])
    spoiled = [
        replace(found, disposition="no_supply_fault_found"),
        replace(found, determination="undetermined"),
        replace(found, refer_to=[]),
        replace(found, next_readings=CASES["plan"]().next_readings),
        replace(found, next_action="Condemn no part yet. Next: Voltage L1 to neutral."),
        replace(found, confidence=replace(found.confidence, level="high", reasons=[settle])),
        replace(found, cautions=[*found.cautions, found.cautions[0]]),
        replace(found, cautions=[c for c in found.cautions if c.code != "neutral_as_live"], evidence=[SHOWN]),
        replace(sound, disposition="stop_and_refer"),
        replace(sound, headline="Not decided: 97 % for no supply fault in these readings."),
        replace(sound, cautions=[*sound.cautions, *CALLS]),
    ]
    assert contradictions(found) == contradictions(sound) == []
    named = [contradictions(answer) for answer in spoiled]
    assert all(named)
    assert len({name for names in named for name in names}) >= len(PAIRS) // 2
