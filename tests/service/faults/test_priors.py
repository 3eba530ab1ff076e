"""The published priors, and the digest that an answer names them by."""

import re

import msgspec
import pytest

from feedproof.faults import priors as published
from feedproof.faults.priors import BASE_RATES, PAIR_SHARE, PRIORS, Priors, priors_digest

FIELDS = Priors.__struct_fields__


def moved(value: object) -> object:
    """The value, a little larger."""
    if isinstance(value, tuple):
        return (*value[:-1], value[-1] * 1.001)
    assert isinstance(value, float)
    return value * 1.001


@pytest.mark.parametrize("field", FIELDS)
def test_the_digest_changes_with_every_prior(field: str) -> None:
    other = msgspec.structs.replace(PRIORS, **{field: moved(getattr(PRIORS, field))})
    assert other != PRIORS
    assert priors_digest(other) != priors_digest()


@pytest.mark.parametrize("fault", BASE_RATES)
def test_the_digest_changes_with_every_base_rate(fault: str) -> None:
    assert priors_digest(base_rates=BASE_RATES | {fault: BASE_RATES[fault] * 1.001}) != priors_digest()


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
    assert p.low_floor < p.supply_range[0] < 1.0 < p.supply_center < p.supply_range[1] < p.high_ceiling
    assert p.unexplained_resistance < p.open_resistance < p.open_ceiling
    assert p.breaker_open[0] < p.breaker_open[1]


def test_limits_of_the_supply_are_those_of_the_published_range() -> None:
    """114 to 126 V on a 120 V base: ANSI C84.1 range A at the service, as copied in COMAR 20.50.07.02."""
    assert [120.0 * share for share in PRIORS.supply_range] == pytest.approx([114.0, 126.0])


def test_the_shift_of_an_open_service_neutral_is_in_proportion() -> None:
    """12 ohm against 6 ohm across 240 V: 160 V and 80 V, so each leg moves by a third of 120 V (divider by hand)."""
    shift = 240.0 * 12.0 / 18.0 / 120.0 - 1.0
    assert shift == pytest.approx(1.0 / 3.0)
    assert 1.0 < shift / PRIORS.open_shift < 2.0


def test_what_holds_a_lost_service_neutral_is_the_building_and_the_electrode_in_parallel() -> None:
    """15 ohm on each leg and a 25 ohm electrode: 7.5 parallel 25 is 5.8 ohm (by hand)."""
    median, spread = PRIORS.open_return
    expected = 1.0 / (2.0 / PRIORS.house_resistance + 1.0 / PRIORS.electrode_resistance)
    assert median / expected == pytest.approx(1.0, abs=spread / 2.0)
