"""The published priors, and the digest that an answer names them by."""

import math
import re

import msgspec
import pytest

from feedproof.faults import priors as published
from feedproof.faults.observations import OBSERVATIONS
from feedproof.faults.priors import BASE_RATES, PAIR_SHARE, PRIORS, Priors, priors_digest
from feedproof.faults.seen import OBSERVED, seen

FIELDS = Priors.__struct_fields__


def moved(value: object) -> object:
    """The value, a little larger."""
    if isinstance(value, tuple):
        return (*value[:-1], value[-1] * 1.001)
    assert isinstance(value, float)
    return value * 1.001


def test_the_digest_changes_with_every_prior_and_every_base_rate() -> None:
    for field in FIELDS:
        other = msgspec.structs.replace(PRIORS, **{field: moved(getattr(PRIORS, field))})
        assert other != PRIORS, field
        assert priors_digest(other) != priors_digest(), field
    for fault, rate in BASE_RATES.items():
        assert priors_digest(base_rates=BASE_RATES | {fault: rate * 1.001}) != priors_digest(), fault


def test_the_digest_changes_with_the_shares_of_pairs_and_the_version(monkeypatch: pytest.MonkeyPatch) -> None:
    before = priors_digest()
    with monkeypatch.context() as context:
        pair = next(iter(PAIR_SHARE))
        context.setitem(PAIR_SHARE, pair, PAIR_SHARE[pair] * 1.001)
        assert priors_digest() != before
    with monkeypatch.context() as context:
        context.setattr(published, "MODEL_VERSION", "1.0.0-other")
        assert priors_digest() != before
    assert priors_digest() == before


def test_the_digest_does_not_depend_on_the_order_of_the_rates() -> None:
    assert priors_digest(base_rates=dict(reversed(BASE_RATES.items()))) == priors_digest(base_rates=dict(BASE_RATES))
    assert priors_digest(base_rates=dict(BASE_RATES)) == priors_digest()


def test_the_digest_is_a_sha_256() -> None:
    assert re.fullmatch("[0-9a-f]{64}", priors_digest())


def test_base_rates_are_probabilities_that_sum_to_one() -> None:
    assert all(0.0 < rate < 1.0 for rate in BASE_RATES.values())
    assert sum(BASE_RATES.values()) == pytest.approx(1.0, abs=1e-12)


def test_pairs_are_of_known_faults_and_leave_most_cases_single() -> None:
    assert {fault for pair in PAIR_SHARE for fault in pair} <= set(BASE_RATES)
    for fault in BASE_RATES:
        assert 0.0 <= sum(share for (first, _), share in PAIR_SHARE.items() if first == fault) < 0.5


def test_ranges_stand_in_order() -> None:
    p = PRIORS
    assert p.supply_range[0] < 1.0 < p.supply_range[1]
    assert p.level_least < p.high_spread < p.high_most
    assert p.level_least < p.low_spread < p.low_most
    assert p.upstream_resistance > p.service_neutral_resistance
    assert p.branch_resistance < p.open_resistance < p.open_ceiling
    assert p.breaker_open[0] < p.breaker_open[1]
    assert p.leak_resistance[0] < p.leak_resistance[1]


def test_limits_of_the_supply_are_those_of_the_published_range() -> None:
    """114 to 126 V on a 120 V base: ANSI C84.1 range A at the service, as copied in COMAR 20.50.07.02."""
    assert [120.0 * share for share in PRIORS.supply_range] == pytest.approx([114.0, 126.0])


def test_a_sound_supply_is_a_little_above_nominal() -> None:
    """Of its logistic-normal law: the median is near 121 V, nine of ten lie within some 4 V (from its definition)."""
    center, spread = PRIORS.supply_logit
    low, high = (math.log(120.0 * share) for share in PRIORS.supply_range)
    volts = [math.exp(low + (high - low) / (1.0 + math.exp(-center - spread * z))) for z in (-1.645, 0.0, 1.645)]
    assert volts[1] == pytest.approx(121.0, abs=0.2)
    assert volts[2] - volts[0] == pytest.approx(7.0, abs=1.0)


def test_shares_of_one_thing_sum_to_one() -> None:
    p = PRIORS
    assert p.leg_in_service + p.leg_in_feeder + p.leg_in_branch + p.leg_in_cord == pytest.approx(1.0)
    assert p.neutral_in_branch + p.neutral_in_cord == pytest.approx(1.0)
    assert p.joined_at_receptacle + p.joined_without_ground + p.joined_in_appliance == pytest.approx(1.0)


def test_a_large_range_is_an_appliance() -> None:
    """12 kW at 240 V is 4.8 ohm and 50 A (Ohm's law)."""
    assert PRIORS.least_across_resistance <= 240.0**2 / 12e3
    assert 240.0 / PRIORS.least_across_resistance == pytest.approx(50.0)


def test_what_is_seen_is_probable_to_some_degree_everywhere() -> None:
    for observation, own in OBSERVED.items():
        assert "" in own, observation
        assert all(0.0 < chance < 1.0 for chance in own.values())
    assert {code for code, _ in OBSERVED} == {o.code for o in OBSERVATIONS}


def test_seeing_two_things_multiplies() -> None:
    tripped, scorched = ("breaker_found_tripped", ""), ("scorched_or_discoloured", "")
    assert seen("breaker", (tripped,)) == pytest.approx(math.log(OBSERVED[tripped]["breaker"]))
    assert seen("none", (tripped, scorched)) == pytest.approx(math.log(OBSERVED[tripped][""] * OBSERVED[scorched][""]))
