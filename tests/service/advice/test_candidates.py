import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.candidates import (
    fault_probability,
    merged,
    probability_of,
    rivals,
    to_finding,
    to_wire,
)
from feedproof.advice.places import leading, narrowest
from support.outcomes import candidate


def test_places_of_one_fault_become_one_candidate() -> None:
    whole = merged(
        [
            candidate("open_neutral", 0.40, "N", location="upstream_of_receptacle"),
            candidate("none_found", 0.35),
            candidate("open_neutral", 0.25, "N", location="between_receptacle_and_appliance_terminals"),
        ]
    )
    assert [(c.fault, round(c.probability, 12)) for c in whole] == [("open_neutral", 0.65), ("none_found", 0.35)]
    assert whole[0].location is None


@pytest.mark.parametrize(("share", "kept"), [(0.75, True), (0.74, False)])
def test_a_place_is_named_where_it_holds_three_quarters(share: float, kept: bool) -> None:
    whole = merged(
        [
            candidate("open_neutral", share, "N", location="upstream_of_receptacle"),
            candidate("open_neutral", 1.0 - share, "N", location="upstream_of_service_panel"),
        ]
    )
    assert (whole[0].location == "upstream_of_receptacle") is kept


def test_conductors_and_pairs_stay_apart() -> None:
    pair = (("open_ground", "G"),)
    whole = merged(
        [
            candidate("open_leg", 0.3, "L1"),
            candidate("open_leg", 0.3, "L2"),
            candidate("open_neutral", 0.2, "N"),
            candidate("open_neutral", 0.2, "N", also=(("open_ground", "G"),)),
        ]
    )
    assert len(whole) == 4
    assert whole[-1].also == pair


@given(st.lists(st.tuples(st.floats(1e-6, 1.0), st.floats(-300.0, 300.0)), min_size=2, max_size=5))
def test_the_merged_evidence_is_the_priors_mean_of_the_evidences(entries: list[tuple[float, float]]) -> None:
    # By definition of marginal likelihood: Z = Σ prior·Z_i / Σ prior, with P_i ∝ prior_i·Z_i. The test starts from
    # priors, so that it does not repeat the formula under test.
    top = max(math.log(prior) + log_evidence for prior, log_evidence in entries)
    weights = [math.exp(math.log(prior) + log_evidence - top) for prior, log_evidence in entries]
    kept = [(entry, weight / sum(weights)) for entry, weight in zip(entries, weights, strict=True) if weight > 1e-30]
    whole = merged(candidate("open_leg", p, "L1", log_evidence=log_evidence) for (_, log_evidence), p in kept)
    prior = sum(prior for (prior, _), _ in kept)
    scale = max(log_evidence for (_, log_evidence), _ in kept)
    expected = scale + math.log(sum(p * math.exp(z - scale) for (p, z), _ in kept) / prior)
    assert len(whole) == 1
    assert math.isclose(whole[0].log_evidence, expected, rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(whole[0].probability, 1.0, rel_tol=1e-9)


def test_places_far_apart_in_evidence_do_not_overflow() -> None:
    whole = merged(
        [
            candidate("open_leg", 1.0 - 1e-300, "L1", log_evidence=0.0),
            candidate("open_leg", 1e-300, "L1", log_evidence=-1500.0),
            candidate("open_leg", 0.0, "L1", log_evidence=-5000.0),
        ]
    )
    assert math.isfinite(whole[0].log_evidence)


def test_rivals_and_sums() -> None:
    alone = candidate("open_neutral", 0.5, "N")
    pair = candidate("open_neutral", 0.2, "N", also=(("open_ground", "G"),))
    other = candidate("open_leg", 0.1, "L1")
    sound = candidate("none_found", 0.15)
    odd = candidate("readings_inconsistent", 0.05)
    every = [alone, pair, other, sound, odd]
    assert rivals(alone, every) == (other, sound, odd)
    assert math.isclose(fault_probability(every), 0.8)
    assert math.isclose(probability_of(frozenset({"open_ground"}), every), 0.2)


def test_the_answer_leaves_out_what_is_below_a_tenth_of_a_percent() -> None:
    given_out = to_wire([candidate("open_leg", 0.001, "L1"), candidate("open_leg", 0.000999, "L2")])
    assert [c.conductor for c in given_out] == ["L1"]


def test_the_finding_carries_place_and_second_fault() -> None:
    every = [candidate("open_neutral", 0.9, "N", location="upstream_of_receptacle", also=(("open_ground", "G"),))]
    finding = to_finding(leading(every), every[0], every)
    assert (finding.place, finding.degree, finding.title) == ("branch_neutral", "open", "Branch neutral bad: open")
    assert finding.location == "upstream_of_receptacle"
    assert [(part.fault, part.conductor) for part in finding.also] == [("open_ground", "G")]


def test_of_a_pair_the_fault_of_the_place_is_named_and_the_other_beside_it() -> None:
    """Lost leg and lost neutral, and a lost neutral alone: the neutral is what holds enough, so its fault is named."""
    every = [
        candidate("open_leg", 0.6, "L1", also=(("open_neutral", "N"),)),
        candidate("open_neutral", 0.38, "N"),
        candidate("none_found", 0.02),
    ]
    place = narrowest(every, 0.95)
    assert place is not None
    finding = to_finding(place, every[0], every)
    assert (finding.place, finding.conductor, finding.fault) == ("branch_neutral", "N", "open_neutral")
    assert [(part.fault, part.conductor) for part in finding.also] == [("open_leg", "L1")]
