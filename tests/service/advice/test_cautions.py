import re
from typing import get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.cautions import HAZARD_PROBABILITY, LIKELY, RULES, find
from feedproof.advice.texts import caution_texts
from feedproof.contract.assessment import Caution, Severity
from feedproof.inference import Candidate, Hazards, Limit
from feedproof.readings import Observation, Reading, ReadingSet, Supply
from support.outcomes import (
    METERS,
    NO_HAZARD,
    candidate,
    limits,
    near,
    ohms,
    outcome,
    prospect,
    readings,
    speaking,
    volts,
)

PROVEN = limits(1.0, 1.0, 1.0)
ALWAYS = {"licensed_work", "prove_the_tester", "live_contacts"}
SOUND = [candidate("none_found", 1.0)]
ISOLATED_FRAME = Supply(frame_bonded_to_neutral=False)

#: Which cautions each hazard sets off; one of them is enough.
GIVEN_FOR = {
    "neutral_above_30_volts": {"neutral_as_live"},
    "neutral_fault": {"never_substitute_neutral"},
    "service_neutral_fault": {"service_neutral"},
    # Where a neutral upstream is bad, no branch breaker clears the frame: what does is said there.
    "frame_live": {"frame_as_live", "service_neutral", "grounded_frames_off_earth", "feeder_neutral"},
    "heat_above_5_watts": {"heat_at_joint", "heat_at_joint_urgent"},
    "heat_above_30_watts": {"heat_at_joint_urgent"},
    "leg_live": {"live_contacts"},
    "feeder_neutral_fault": {"feeder_neutral", "service_neutral"},
    # What is only possible of frames and feeders, the caution of the service neutral says too.
    "earth_above_30_volts": {"grounded_frames_off_earth", "service_neutral"},
    "ground_open": {"frame_unprotected"},
    "ground_current": {"current_on_ground"},
    "false_ground": {"false_ground"},
}


def given_codes(
    hazards: Hazards = NO_HAZARD,
    reading_set: ReadingSet | None = None,
    candidates: list[Candidate] | None = None,
    detection: tuple[Limit, ...] = PROVEN,
    **inferred: tuple[object, ...],
) -> set[str]:
    job = readings(volts("L1", "N", 120.0), supply=ISOLATED_FRAME) if reading_set is None else reading_set
    named = SOUND if candidates is None else candidates
    whole = outcome(named, hazards=hazards, detection=detection, **inferred)  # type: ignore[arg-type]
    return {caution.code for caution in find(job, whole, named, "en")}


def with_hazard(**figures: float) -> Hazards:
    return msgspec.structs.replace(NO_HAZARD, **figures)


def test_every_hazard_has_its_caution_and_no_rule_is_idle() -> None:
    assert set(GIVEN_FOR) == set(Hazards.__struct_fields__)
    assert {text.trigger for text in caution_texts()} == set(RULES)


def test_licensed_work_proving_the_tester_and_live_contacts_are_always_given() -> None:
    assert given_codes() == ALWAYS


@pytest.mark.parametrize("taken", [volts("L1", "L2", 238.0), near("L1", detected=True), volts("L1", "L2", 0.0)])
def test_live_contacts_stay_when_the_posterior_says_that_nothing_is_live(taken: Reading) -> None:
    """Whether a reading shows voltage, or zeros of a tester that nobody has proven show none."""
    dead = [candidate("no_supply", 1.0)]
    (caution,) = [
        c for c in find(readings(taken), outcome(dead, detection=PROVEN), dead, "en") if c.code == "live_contacts"
    ]
    shown = "A reading shows voltage" in caution.because
    assert shown is (taken != volts("L1", "L2", 0.0))
    assert shown or "proven" in caution.because


@pytest.mark.parametrize("taken", [volts("N", "G", 30.0), near("N", detected=True), near("G", detected=True)])
def test_voltage_shown_on_neutral_or_ground_is_believed(taken: Reading) -> None:
    job = readings(taken, supply=Supply(frame_bonded_to_neutral=True))
    assert {"neutral_as_live", "frame_as_live"} <= given_codes(reading_set=job)


@pytest.mark.parametrize("taken", [volts("N", "G", 29.9), near("N", detected=False), volts("L1", "N", 120.0)])
def test_what_shows_no_voltage_on_the_neutral_adds_no_caution_of_it(taken: Reading) -> None:
    job = readings(taken, volts("L1", "L2", 240.0), supply=Supply(frame_bonded_to_neutral=True))
    assert not {"neutral_as_live", "frame_as_live"} & given_codes(reading_set=job)


@pytest.mark.parametrize(("observed", "expected"), [(3.7, False), (0.0, False), (60.0, False), (119.0, True)])
def test_a_reading_that_the_finding_is_far_from_explaining_leaves_the_neutral_unproven(
    observed: float, expected: bool
) -> None:
    evidence = (speaking(0, 0.0, observed=observed),)  # the finding gives 1 to 40 V
    assert ("neutral_as_live" in given_codes(evidence=evidence)) is expected


def test_zeros_alone_prove_no_neutral() -> None:
    job = readings(volts("L1", "N", 0.0), volts("L2", "N", 0.0), supply=Supply(frame_bonded_to_neutral=True))
    assert {"neutral_as_live", "frame_as_live"} <= given_codes(reading_set=job)


OF_THE_GROUND = {"ground_open", "ground_current", "false_ground"}


@pytest.mark.parametrize("hazard", sorted(OF_THE_GROUND))
@pytest.mark.parametrize(("probability", "expected"), [(0.0499999, False), (0.05, True), (1.0, True)])
def test_what_concerns_the_ground_alone_needs_five_percent(hazard: str, probability: float, expected: bool) -> None:
    assert bool(given_codes(with_hazard(**{hazard: probability})) & GIVEN_FOR[hazard]) is expected


def test_a_plan_has_the_cautions_of_taking_readings_alone() -> None:
    worst = Hazards(**dict.fromkeys(Hazards.__struct_fields__, 1.0))
    assert given_codes(worst, readings()) == {"live_contacts", "prove_the_tester", "licensed_work"}


@pytest.mark.parametrize("hazard", sorted({*Hazards.__struct_fields__} - {"leg_live"} - OF_THE_GROUND))
@pytest.mark.parametrize(("probability", "expected"), [(0.0099999, False), (0.01, True), (1.0, True)])
def test_one_percent_is_enough(hazard: str, probability: float, expected: bool) -> None:
    codes = given_codes(with_hazard(**{hazard: probability}))
    assert bool(codes & GIVEN_FOR[hazard]) is expected


@given(st.fixed_dictionaries({name: st.floats(0.0, 1.0) for name in Hazards.__struct_fields__}))
def test_a_hazard_of_one_percent_or_more_always_has_its_caution(figures: dict[str, float]) -> None:
    codes = given_codes(Hazards(**figures))
    assert codes >= ALWAYS
    for hazard, probability in figures.items():
        if probability >= (0.05 if hazard in OF_THE_GROUND else HAZARD_PROBABILITY):
            assert codes & GIVEN_FOR[hazard], hazard


@given(
    st.sampled_from(
        [
            "open_neutral",
            "high_resistance_neutral",
            "open_service_neutral",
            "high_resistance_service_neutral",
            "no_supply",
            "open_leg",
            "legs_from_same_pole",
        ]
    ),
    st.floats(0.01, 1.0),
)
def test_a_named_fault_of_one_percent_has_its_caution_whatever_the_hazards_say(fault: str, probability: float) -> None:
    codes = given_codes(candidates=[candidate("none_found", 1.0 - probability), candidate(fault, probability)])
    if "neutral" in fault:
        assert "never_substitute_neutral" in codes
    if "service" in fault:
        assert "service_neutral" in codes
    if "neutral" not in fault:
        assert "absence_not_proven" in codes


def test_two_faults_of_half_a_percent_make_one_hazard() -> None:
    named = [
        candidate("none_found", 0.99),
        candidate("open_neutral", 0.005, "N"),
        candidate("open_service_neutral", 0.005, "N"),
    ]
    assert "never_substitute_neutral" in given_codes(candidates=named)


def test_no_neutral_is_put_in_place_of_where_none_belongs() -> None:
    named = [candidate("none_found", 0.9), candidate("open_service_neutral", 0.1, "N")]
    pump = readings(volts("L1", "L2", 240.0), supply=Supply(neutral=False))
    assert "never_substitute_neutral" not in given_codes(reading_set=pump, candidates=named)


@pytest.mark.parametrize("limit", [None, 1.001e3, 5.0e6])
def test_an_unproven_neutral_counts_as_live(limit: float | None) -> None:
    assert "neutral_as_live" in given_codes(detection=limits(1.0, 1.0, limit))
    assert "neutral_as_live" in given_codes(detection=())


def test_a_neutral_that_would_have_shown_but_may_be_bad_counts_as_live() -> None:
    assert "neutral_as_live" in given_codes(with_hazard(neutral_fault=0.01))
    assert "neutral_as_live" not in given_codes(with_hazard(neutral_fault=0.009), detection=limits(1.0, 1.0, 1e3))


@pytest.mark.parametrize(
    ("bonded", "neutral_limit", "expected"),
    [(True, 1.0, False), (True, None, True), (None, None, True), (None, 1.0, False), (False, None, False)],
)
def test_a_frame_on_an_unproven_neutral_counts_as_live(
    bonded: bool | None, neutral_limit: float | None, expected: bool
) -> None:
    job = readings(volts("L1", "N", 120.0), supply=Supply(frame_bonded_to_neutral=bonded))
    assert ("frame_as_live" in given_codes(reading_set=job, detection=limits(1, 1, neutral_limit))) is expected


@pytest.mark.parametrize(("mild", "urgent", "expected"), [(0.5, 0.2, False), (0.1, 0.02, False), (0.5, 0.02, True)])
def test_the_urgent_heat_caution_stands_for_the_milder_one(mild: float, urgent: float, expected: bool) -> None:
    """Not where it is only possible, and the milder one is likely: an "if" is no order."""
    codes = given_codes(with_hazard(heat_above_5_watts=mild, heat_above_30_watts=urgent))
    assert "heat_at_joint_urgent" in codes
    assert ("heat_at_joint" in codes) is expected


def test_a_proximity_detector_used_listed_or_next_is_cautioned() -> None:
    assert "silent_proximity_detector" in given_codes(reading_set=readings(near("N", detected=False)))
    assert "silent_proximity_detector" in given_codes(reading_set=readings(meters={"pen": METERS["pen"]}))
    ahead = (prospect("proximity", ("N",), meter_kind="proximity_detector"),)
    assert "silent_proximity_detector" in given_codes(prospects=ahead)
    assert "silent_proximity_detector" not in given_codes(prospects=(prospect(),))


def test_an_ohmmeter_used_listed_or_next_is_cautioned() -> None:
    assert "resistance_isolated_only" in given_codes(reading_set=readings(ohms("N", "G", 0.3)))
    assert "resistance_isolated_only" in given_codes(reading_set=readings(meters={"ohms": METERS["ohms"]}))
    ahead = (prospect("resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected"),)
    assert "resistance_isolated_only" in given_codes(prospects=ahead)
    assert "resistance_isolated_only" not in given_codes(prospects=(prospect(),))


def test_what_set_a_caution_off_is_said_with_its_figure() -> None:
    inferred = outcome(SOUND, hazards=with_hazard(neutral_above_30_volts=0.034), detection=PROVEN)
    cautions = find(readings(volts("L1", "N", 120.0)), inferred, SOUND, "en")
    (live,) = [caution for caution in cautions if caution.code == "neutral_as_live"]
    assert live.because == "The neutral may stand above 30 V to ground with a probability of 3.4 %."
    assert live.because_code == "probability"


def all_given(hazards: Hazards, *, goes_on: bool = False, supply: Supply = ISOLATED_FRAME) -> list[Caution]:
    job = readings(near("L1", detected=True), volts("L1", "N", 120.0), supply=supply)
    return find(job, outcome(SOUND, hazards=hazards, detection=PROVEN), SOUND, "en", goes_on=goes_on)


CERTAIN = Hazards(**dict.fromkeys(Hazards.__struct_fields__, 0.5))
#: The neutral itself proven: for want of that there are orders too.
POSSIBLE = Hazards(**{**dict.fromkeys(Hazards.__struct_fields__, 0.1), "neutral_fault": 0.0})


def test_ranks_count_from_one_and_say_nothing_of_severity() -> None:
    for hazards in (CERTAIN, POSSIBLE, NO_HAZARD):
        given = all_given(hazards)
        assert [caution.rank for caution in given] == [*range(1, len(given) + 1)]
        order = [caution.severity for caution in given]
        assert order != sorted(order, key=get_args(Severity).index)


@pytest.mark.parametrize("hazards", [CERTAIN, POSSIBLE, NO_HAZARD])
def test_the_proof_of_the_tester_is_among_the_first_and_licensed_work_is_last(hazards: Hazards) -> None:
    codes = [caution.code for caution in all_given(hazards)]
    assert codes.index("prove_the_tester") <= 1
    assert codes[-1] == "licensed_work"


def test_the_cases_own_hazard_stands_first() -> None:
    (first, *_) = all_given(with_hazard(frame_live=0.4))
    assert first.code == "frame_as_live"
    assert all_given(NO_HAZARD)[0].code == "prove_the_tester"


PRACTICE = {text.code for text in caution_texts() if text.about == "practice"}


@pytest.mark.parametrize("hazard", sorted({*Hazards.__struct_fields__} - {"leg_live"}))
def test_below_likely_a_caution_says_what_to_look_for_and_is_no_danger(hazard: str) -> None:
    for probability, expected in ((LIKELY - 1e-4, True), (LIKELY, False)):
        own = [c for c in all_given(with_hazard(**{hazard: probability})) if c.code in GIVEN_FOR[hazard]]
        for caution in own:
            assert caution.text.startswith("If ") is expected
            assert caution.title.startswith("If ") is expected
            assert not expected or caution.severity == "warning"
    assert all(
        (c.text.startswith("If ") and c.severity != "danger") for c in all_given(POSSIBLE) if c.code not in PRACTICE
    )


def test_a_sound_proven_outlet_has_one_danger_at_most_beside_what_a_person_can_see() -> None:
    assert [c.code for c in all_given(POSSIBLE) if c.severity == "danger"] == ["live_contacts"]
    assert len([c for c in all_given(NO_HAZARD) if c.severity == "danger"]) <= 2


def test_a_hazard_for_want_of_proof_is_an_order_but_no_danger() -> None:
    job = readings(volts("L1", "N", 120.0), supply=Supply(frame_bonded_to_neutral=True))
    given = {c.code: c for c in find(job, outcome(SOUND, detection=()), SOUND, "en")}
    for code in ("neutral_as_live", "frame_as_live"):
        assert given[code].severity == "warning"
        assert given[code].text.startswith("Treat the ")


HAZARD_OF = {
    "service_neutral": "service_neutral_fault",
    "feeder_neutral": "feeder_neutral_fault",
    "heat_at_joint_urgent": "heat_above_30_watts",
}


@pytest.mark.parametrize("code", HAZARD_OF)
def test_what_would_end_the_readings_does_not_while_one_is_named(code: str) -> None:
    sure = with_hazard(**{HAZARD_OF[code]: 0.5})
    ended, going_on = (next(c for c in all_given(sure, goes_on=goes) if c.code == code) for goes in (False, True))
    assert re.search(r"\boff\b", ended.title)
    assert not re.search(r"\boff\b", going_on.title)
    assert "reading" in going_on.title
    assert ended.severity == going_on.severity == "danger"


@pytest.mark.parametrize("upstream", ["service_neutral_fault", "earth_above_30_volts", "feeder_neutral_fault"])
def test_no_branch_breaker_is_said_to_clear_a_frame_that_it_does_not_clear(upstream: str) -> None:
    given = all_given(with_hazard(frame_live=0.9, **{upstream: 0.2}))
    assert not any("at the breaker" in words for c in given for words in (c.title, c.text))


@pytest.mark.parametrize(("probability", "code"), [(0.5, "grounded_frames_off_earth"), (0.02, "service_neutral")])
def test_with_a_service_neutral_in_doubt_every_grounded_frame_is_treated_as_live(probability: float, code: str) -> None:
    """Whatever it reads now."""
    (caution,) = [c for c in all_given(with_hazard(service_neutral_fault=probability)) if c.code == code]
    assert "treat every grounded frame" in caution.text.lower()


def test_no_utility_is_called_behind_a_generator() -> None:
    for hazards in (CERTAIN, POSSIBLE):
        given = all_given(hazards, supply=Supply(source="generator"))
        assert not any("utility" in words for c in given for words in (c.title, c.text))
        assert any("the utility" in c.text for c in all_given(hazards))


@pytest.mark.parametrize("code", ["breaker_found_tripped", "ground_fault_breaker_tripped", None])
def test_a_breaker_found_tripped_is_not_just_reset(code: str | None) -> None:
    job = readings(volts("L1", "N", 120.0), supply=ISOLATED_FRAME)
    seen = () if code is None else (Observation(code=code),)
    job = msgspec.structs.replace(job, observations=seen)
    assert ("tripped_breaker" in given_codes(reading_set=job)) is (code is not None)
    assert "tripped_breaker" in given_codes(candidates=[candidate("none_found", 0.9), candidate("breaker_open", 0.1)])


def test_every_caution_of_the_answer_has_text_basis_and_reason() -> None:
    hazards = Hazards(**dict.fromkeys(Hazards.__struct_fields__, 0.5))
    for caution in find(
        readings(near("N", detected=True), ohms("N", "G", 1.0)), outcome(SOUND, hazards=hazards), SOUND, "en"
    ):
        assert caution.text.strip()
        assert caution.basis.strip()
        assert caution.because.strip()
        assert "{" not in caution.because
