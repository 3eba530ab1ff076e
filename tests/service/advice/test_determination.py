import math

import msgspec
import pytest

from feedproof.advice.determination import (
    ALIKE_NATS,
    OPEN_RESISTANCE,
    SMALL_RESISTANCE,
    SPEAKS_BITS,
    Ruling,
    rule,
)
from feedproof.advice.unexplained import checks
from feedproof.contract.assessment import Determination
from feedproof.inference import Candidate, Limit, ReadingEvidence
from feedproof.readings import Reading, Supply, SystemName
from support.outcomes import NO_HAZARD, candidate, limits, near, outcome, readings, speaking, volts

LEG_TO_NEUTRAL = volts("L1", "N", 3.7, state="idle")


def ruled(
    candidates: list[Candidate],
    taken: tuple[Reading, ...] = (LEG_TO_NEUTRAL,),
    evidence: tuple[ReadingEvidence, ...] = (),
    detection: tuple[Limit, ...] = (),
    system: SystemName = "split_phase_120_240",
) -> Ruling:
    inferred = outcome(candidates, evidence=evidence, detection=detection)
    return rule(inferred, readings(*taken, supply=Supply(system=system)))


def neutral_and_rest(probability: float) -> list[Candidate]:
    return [
        candidate("open_neutral", probability, "N", log_evidence=0.0),
        candidate("none_found", 1.0 - probability, log_evidence=-20.0),
    ]


@pytest.mark.parametrize(
    ("probability", "bits", "expected"),
    [
        (0.97, SPEAKS_BITS, "established"),
        (0.9499, SPEAKS_BITS, "probable"),
        (0.97, SPEAKS_BITS - 1e-6, "undetermined"),
        (0.75, 10.0, "probable"),
        (0.7499, 10.0, "undetermined"),
        (1.0, 40.0, "established"),
    ],
)
def test_a_fault_needs_probability_and_a_contact_reading(
    probability: float, bits: float, expected: Determination
) -> None:
    ruling = ruled(neutral_and_rest(probability), evidence=(speaking(0, bits),))
    assert ruling.determination == expected


def test_readings_that_say_the_same_speak_together() -> None:
    twice = (speaking(0, 0.2), speaking(1, 0.2))
    taken = (volts("L1", "N", 96.0), volts("L1", "N", 96.0))
    assert ruled(neutral_and_rest(0.98), taken, twice).determination == "established"
    assert ruled(neutral_and_rest(0.98), taken[:1], twice[:1]).determination == "undetermined"


def test_the_bits_that_speak_are_a_bayes_factor_of_three() -> None:
    # Kass and Raftery 1995: 3 to 20 is "positive" (read in a secondary copy).
    assert math.isclose(2.0**SPEAKS_BITS, 3.0)
    assert math.isclose(math.exp(ALIKE_NATS), 3.0)


def test_proximity_alone_establishes_nothing_however_probable() -> None:
    ruling = ruled(neutral_and_rest(0.9999), (near("N", detected=True),), (speaking(0, 12.0, 1.0, "1"),))
    assert ruling.determination == "undetermined"
    assert ruling.proximity_speaks


def test_a_contact_reading_beside_the_proximity_detector_may_establish() -> None:
    ruling = ruled(
        neutral_and_rest(0.99),
        (near("N", detected=True), LEG_TO_NEUTRAL),
        (speaking(0, 4.0, 1.0, "1"), speaking(1, 9.0)),
    )
    assert ruling.determination == "established"
    assert [entry.reading for entry in ruling.speaking] == [1]


def test_base_rates_without_any_reading_determine_nothing() -> None:
    assert ruled(neutral_and_rest(0.999), ()).determination == "undetermined"


def test_two_legs_alike_are_one_finding_without_a_conductor() -> None:
    """Whoever acts is the same, and looks at both."""
    ruling = ruled(
        [
            candidate("open_leg", 0.80, "L1", log_evidence=-5.0),
            candidate("open_leg", 0.19, "L2", log_evidence=-5.0),
            candidate("none_found", 0.01, log_evidence=-20.0),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert ruling.determination == "established"
    assert (ruling.place.name, ruling.place.conductor) == ("branch_leg", None)
    assert ruling.place.probability == pytest.approx(0.99)
    assert ruling.alike == ()


def test_a_leg_that_is_told_is_named_whatever_both_hold_together() -> None:
    ruling = ruled(
        [
            candidate("open_leg", 0.80, "L1", log_evidence=-5.0),
            candidate("open_leg", 0.19, "L2", log_evidence=-9.0),
            candidate("none_found", 0.01, log_evidence=-20.0),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert (ruling.determination, ruling.place.name, ruling.place.conductor) == ("probable", "branch_leg", "L1")


@pytest.mark.parametrize(
    ("apart", "expected"), [(ALIKE_NATS - 1e-9, "undetermined"), (ALIKE_NATS, "probable"), (5.0, "probable")]
)
def test_a_rival_counts_as_alike_below_a_bayes_factor_of_three(apart: float, expected: Determination) -> None:
    ruling = ruled(
        [
            candidate("open_neutral", 0.85, "N", log_evidence=0.0),
            candidate("open_leg", 0.15, "L1", log_evidence=-apart),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert ruling.determination == expected


def test_a_rival_under_five_percent_does_not_unsettle() -> None:
    ruling = ruled(
        [
            candidate("open_neutral", 0.971, "N", log_evidence=0.0),
            candidate("open_service_neutral", 0.049, "N", log_evidence=0.0),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert ruling.determination == "established"


def test_the_same_fault_with_a_further_one_supports_the_finding() -> None:
    ruling = ruled(
        [
            candidate("open_neutral", 0.80, "N", log_evidence=0.0),
            candidate("open_neutral", 0.17, "N", log_evidence=0.0, also=(("open_ground", "G"),)),
            candidate("none_found", 0.03, log_evidence=-20.0),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert ruling.determination == "established"
    assert math.isclose(ruling.support, 0.97)


def test_a_pair_counts_for_both_of_its_places() -> None:
    ruling = ruled(
        [
            candidate("open_neutral", 0.80, "N", log_evidence=0.0, also=(("open_ground", "G"),)),
            candidate("open_neutral", 0.20, "N", log_evidence=-0.5),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert (ruling.place.name, ruling.determination) == ("branch_neutral", "established")
    assert math.isclose(ruling.support, 1.0)


def test_sections_that_readings_cannot_part_establish_the_wider_place() -> None:
    ruling = ruled(
        [
            candidate("open_neutral", 0.55, "N", log_evidence=0.0),
            candidate("open_feeder_neutral", 0.44, "N", log_evidence=0.0),
            candidate("none_found", 0.01, log_evidence=-20.0),
        ],
        evidence=(speaking(0, 12.0),),
    )
    assert (ruling.place.name, ruling.determination) == ("neutral", "established")
    assert [name for name, _ in ruling.place.parts] == ["branch_neutral", "feeder_neutral"]


def test_two_readings_that_the_finding_does_not_explain_undo_it() -> None:
    inferred = outcome(neutral_and_rest(0.999), evidence=(speaking(0, 12.0),))
    job = readings(LEG_TO_NEUTRAL, volts("L2", "N", 44.0, state="idle"))
    for count, expected in ((0, "established"), (1, "established"), (2, "undetermined")):
        unexplained = msgspec.structs.replace(inferred, unexplained=tuple(range(count)))
        assert rule(unexplained, job).determination == expected


def test_a_slip_that_was_read_again_stands_in_the_way_of_nothing() -> None:
    """A figure that no circuit gives, and the same again as it should be: the first was written down wrongly."""
    rivals = [
        candidate("none_found", 0.88, log_evidence=0.0),
        candidate("readings_inconsistent", 0.12, log_evidence=0.0),
    ]
    slip = outcome(rivals, detection=limits(1.0, 1.0, 1.0), evidence=(speaking(0, 0.0),))
    slip = msgspec.structs.replace(slip, unexplained=(0,))
    first, again = volts("L1", "L2", 632.0, state="idle"), volts("L2", "L1", 242.0, state="idle")
    elsewhere = volts("L1", "L2", 242.0, state="idle", point="appliance_terminals")
    assert rule(slip, readings(first, again)).determination == "probable"
    assert rule(slip, readings(first, elsewhere)).determination == "undetermined"
    (said,) = checks(slip, readings(first, again))
    assert "taken for a slip" in said.text
    (said,) = checks(slip, readings(first, elsewhere))
    assert "Take it again first" in said.text


def test_no_fault_is_found_where_a_joint_may_burn() -> None:
    inferred = outcome(sound(), detection=limits(1.0, 1.0, 1.0), evidence=(speaking(0, 0.0),))
    for heat, expected in ((0.049, "established"), (0.05, "undetermined")):
        hazards = msgspec.structs.replace(NO_HAZARD, heat_above_30_watts=heat)
        hot = msgspec.structs.replace(inferred, hazards=hazards)
        assert rule(hot, readings(LEG_TO_NEUTRAL)).determination == expected


def test_what_may_burn_is_named_in_place_of_no_fault() -> None:
    """A bad joint heads the answer, however improbable beside no fault, and nothing is determined."""
    named = [
        candidate("none_found", 0.80, log_evidence=0.0),
        candidate("open_ground", 0.12, "G", log_evidence=0.0),
        candidate("high_resistance_leg", 0.05, "L1", log_evidence=-1.0),
        candidate("high_resistance_neutral", 0.03, "N", log_evidence=-1.0),
    ]
    inferred = outcome(named, detection=limits(1.0, 1.0, 1.0), evidence=(speaking(0, 0.0),))
    hot = msgspec.structs.replace(inferred, hazards=msgspec.structs.replace(NO_HAZARD, heat_above_30_watts=0.06))
    ruling = rule(hot, readings(LEG_TO_NEUTRAL))
    assert (ruling.place.name, ruling.place.conductor, ruling.support) == ("branch_leg", "L1", 0.05)
    assert (ruling.finding.fault, ruling.determination) == ("high_resistance_leg", "undetermined")


def sound(probability: float = 0.97) -> list[Candidate]:
    return [
        candidate("none_found", probability, log_evidence=0.0),
        candidate("open_neutral", 1.0 - probability, "N", log_evidence=-9.0),
    ]


@pytest.mark.parametrize(
    ("detection", "expected"),
    [
        (limits(SMALL_RESISTANCE, SMALL_RESISTANCE, SMALL_RESISTANCE), "established"),
        (limits(0.4, 0.4, SMALL_RESISTANCE * 1.001), "probable"),
        (limits(5.1, 0.4, 0.4), "probable"),
        (limits(0.4, 5.1, 0.4), "probable"),
        (limits(0.4, 0.4, OPEN_RESISTANCE), "probable"),
        (limits(0.4, 0.4, OPEN_RESISTANCE * 1.001), "undetermined"),
        (limits(0.4, 0.4, None), "undetermined"),
        (limits(0.4, 0.4, 1.0)[:2], "undetermined"),
        ((), "undetermined"),
    ],
)
def test_no_fault_found_hangs_on_the_worst_detection_limit(
    detection: tuple[Limit, ...], expected: Determination
) -> None:
    assert ruled(sound(), detection=detection).determination == expected


@pytest.mark.parametrize(
    ("probability", "expected"),
    [(0.95, "established"), (0.94, "probable"), (0.75, "probable"), (0.74, "undetermined")],
)
def test_no_fault_found_needs_probability_too(probability: float, expected: Determination) -> None:
    assert ruled(sound(probability), detection=limits(1.0, 1.0, 1.0)).determination == expected


def test_a_low_impedance_pass_at_40_milliamperes_does_not_establish() -> None:
    # 120 V / 3 kΩ = 40 mA: 5 Ω would take 0.2 V from it, below any such meter's resolution of 1 V.
    ruling = ruled(
        sound(), (volts("L1", "N", 120.0, "loz"),), (speaking(0, 0.0, 120.0, test_current=0.04),), limits(240, 240, 260)
    )
    assert ruling.determination == "probable"
    assert ruling.coarse == ("L1", "L2", "N")
    assert ruling.hidden == ()


def test_contradicting_readings_determine_nothing_of_the_supply() -> None:
    ruling = ruled([candidate("readings_inconsistent", 0.99)], evidence=(speaking(0, 12.0),))
    assert ruling.determination == "undetermined"


def test_a_single_phase_supply_has_no_second_leg_to_prove() -> None:
    ruling = ruled(sound(), detection=(*limits(1.0, None, 1.0),), system="single_phase_120")
    assert ruling.determination == "established"
