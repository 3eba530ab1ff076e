"""From readings to an outcome: what holds whatever the readings."""

import json
import math
from typing import Any

import msgspec
import pytest

from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.priors import BASE_RATES
from feedproof.inference import Outcome, Site, infer, weighing
from feedproof.inference.draws import draw, effective
from feedproof.inference.fit import Fit, locate
from feedproof.inference.weighing import outcome, weigh
from feedproof.parsing import read_request
from feedproof.readings import Reading, ReadingSet
from support.outcomes import METERS, amps, volts
from support.proof_cases import CASES, FOUR_WIRE, visit

SOME = list(CASES)[::4]
OUTCOMES: dict[str, Outcome] = {}


def inferred(name: str) -> Outcome:
    if name not in OUTCOMES:
        OUTCOMES[name] = infer(CASES[name])
    return OUTCOMES[name]


@pytest.mark.parametrize("name", SOME)
def test_probabilities_sum_to_one_in_falling_order(name: str) -> None:
    found = [c.probability for c in inferred(name).candidates]
    assert sum(found) == pytest.approx(1.0)
    assert found == sorted(found, reverse=True)
    assert {c.fault for c in inferred(name).candidates} <= FAULT_NAMES


@pytest.mark.parametrize("name", SOME)
def test_every_number_is_finite(name: str) -> None:
    for c in inferred(name).candidates:
        assert math.isfinite(c.log_evidence)
    for r in inferred(name).resistances:
        assert 0.0 < r.interval.low <= r.interval.value <= r.interval.high < math.inf


@pytest.mark.parametrize("name", SOME[:3])
def test_the_same_readings_give_the_same_bytes(name: str) -> None:
    assert msgspec.json.encode(infer(CASES[name])) == msgspec.json.encode(inferred(name))


@pytest.mark.parametrize("name", SOME[:3])
def test_order_changes_nothing_but_the_indexes(name: str) -> None:
    turned = infer(msgspec.structs.replace(CASES[name], readings=CASES[name].readings[::-1]))
    own = inferred(name)
    assert turned.candidates == own.candidates
    assert turned.resistances == own.resistances
    last = len(own.evidence) - 1
    assert [msgspec.structs.replace(e, reading=last - e.reading) for e in turned.evidence[::-1]] == list(own.evidence)


@pytest.mark.parametrize("currents", [(), (amps("L1", 20.3, "heating"), amps("N", 1.1, "heating"))])
def test_a_trouble_that_may_be_mild_explains_what_a_sound_supply_explains(currents: tuple[Reading, ...]) -> None:
    """Legs alike also fit a lost neutral between loads alike: a peak of its own, far narrower and lower."""
    state = "heating" if currents else "running"
    legs = [volts("L1", "L2", 243.0), volts("L1", "N", 121.2), volts("L2", "N", 121.8), volts("N", "G", 0.2)]
    taken = [msgspec.structs.replace(r, load_state=state) for r in legs]
    found = infer(visit(*taken, *currents, supply=FOUR_WIRE), look_ahead=lambda _: False).candidates
    sound = next(c.log_evidence for c in found if c.fault == "none_found")
    mild = {c.conductor: c.log_evidence for c in found if c.fault.startswith("high_resistance") and not c.also}
    assert mild["N"] > sound - 3.0


def test_without_readings_the_answer_is_the_priors() -> None:
    found = infer(ReadingSet(supply=FOUR_WIRE, meters={"dmm": METERS["dmm"]}))
    share: dict[str, float] = {}
    for c in found.candidates:
        share[c.fault] = share.get(c.fault, 0.0) + c.probability
    # A fault that comes with a second one as well is a little more frequent than its own rate.
    assert share == pytest.approx(BASE_RATES, abs=1e-2)
    assert found.evidence == ()
    assert found.prospects
    assert all(limit.resistance is None for limit in found.limits)


def test_base_rates_of_the_caller_are_used() -> None:
    """Odds move by the ratio of the rates; the evidences stay."""
    readings = CASES["unloaded, high impedance, all plausible"]
    # Both degrees of it: how they compare shapes the density over the resistance.
    rates = BASE_RATES | {fault: 10.0 * BASE_RATES[fault] for fault in ("open_neutral", "high_resistance_neutral")}
    plain, moved = infer(readings), infer(msgspec.structs.replace(readings, base_rates=rates))

    def odds(found: Outcome) -> float:
        by = {f: sum(c.probability for c in found.candidates if c.fault == f) for f in ("open_neutral", "none_found")}
        return by["open_neutral"] / by["none_found"]

    assert odds(moved) / odds(plain) == pytest.approx(10.0, rel=0.15)


def test_a_fault_of_rate_zero_is_not_found() -> None:
    readings = CASES["low impedance, nothing behind the neutral"]
    assert infer(readings).candidates[0].fault == "open_neutral"
    without = infer(msgspec.structs.replace(readings, base_rates=BASE_RATES | {"open_neutral": 0.0}))
    assert "open_neutral" not in {c.fault for c in without.candidates}


def test_exchanged_legs_are_exchanged_in_the_outcome() -> None:
    values = {"L1": 121.0, "L2": 96.0}
    found = {}
    for turned in (False, True):
        name = {"L1": "L2", "L2": "L1"} if turned else {"L1": "L1", "L2": "L2"}
        taken = [volts(name[leg], "N", v, "loz") for leg, v in values.items()]  # type: ignore[arg-type]
        found[turned] = infer(visit(volts("L1", "L2", 217.0), *taken, supply=FOUR_WIRE))
    swap = {"L1": "L2", "L2": "L1", "N": "N", "G": "G", None: None}
    for own, other in zip(found[False].candidates, found[True].candidates, strict=True):
        assert own.probability == other.probability
        assert own.log_evidence == other.log_evidence
    named = {(c.fault, c.conductor, c.probability) for c in found[False].candidates if not c.also}
    assert named == {(c.fault, swap[c.conductor], c.probability) for c in found[True].candidates if not c.also}


def test_the_parts_are_the_whole() -> None:
    weighing = weigh(CASES["lost leg on an empty outlet"])
    own = inferred("lost leg on an empty outlet")
    assert outcome(weighing) == msgspec.structs.replace(own, prospects=())
    assert sum(weighing.probability) == pytest.approx(1.0)
    for fit, probability in zip(weighing.fits, weighing.probability, strict=True):
        # Whatever an estimate may rest on has draws.
        assert len(fit.x) or (probability < 0.01 and fit.site.place != "none")


def test_base_rates_and_evidences_make_the_probabilities() -> None:
    candidates = inferred("low all over").candidates
    assert sum(c.base_rate for c in candidates) == pytest.approx(1.0)
    joint = [math.exp(c.log_evidence) * c.base_rate for c in candidates]
    assert [j / sum(joint) for j in joint] == pytest.approx([c.probability for c in candidates], abs=1e-8)


def test_what_is_next_is_given_where_it_is_wanted() -> None:
    whole = inferred(SOME[1])
    asked: list[Outcome] = []

    def refuse(found: Outcome) -> bool:
        asked.append(found)
        return False

    found = infer(CASES[SOME[1]], look_ahead=refuse)
    assert asked == [found] == [msgspec.structs.replace(whole, prospects=())]


def test_some_sites_alone_are_weighed_as_among_all() -> None:
    """Each alone has the evidence that it has among all, and is the finding, with its own estimates."""
    whole = inferred("lost leg seen through an element")
    for c in whole.candidates[:3]:
        found = infer(CASES["lost leg seen through an element"], among=[c])
        own = Site(fault=c.fault, conductor=c.conductor, location=c.location, also=c.also)
        assert found.candidates[0].parts == own.parts
        assert found.candidates[0].log_evidence == pytest.approx(c.log_evidence, abs=0.1)
        assert {c.fault for c in found.candidates} == {own.fault, "none_found"}
        assert sum(c.base_rate for c in found.candidates) == pytest.approx(1.0)


def test_where_draws_find_far_less_than_was_promised_what_leads_is_drawn_from(monkeypatch: pytest.MonkeyPatch) -> None:
    def disappointing(fit: Fit, count: int) -> None:
        draw(fit, count)
        if count >= 96 and fit.log_mass > -1e5:
            fit.log_mass -= 40.0

    monkeypatch.setattr(weighing, "draw", disappointing)
    weighed = weighing.weigh(CASES[SOME[0]])
    assert len(weighed.fits[max(range(len(weighed.fits)), key=lambda k: weighed.probability[k])].x)
    assert weighing.outcome(weighed).resistances


def test_a_mass_that_is_no_number_is_an_error_and_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*given: Any) -> Fit:
        fit = locate(*given)
        fit.log_mass = math.nan
        return fit

    monkeypatch.setattr(weighing, "locate", broken)
    with pytest.raises(ArithmeticError, match="no number"):
        weighing.weigh(CASES[SOME[0]])


#: Where far fewer are, with how many were: two conductors between strays, loads on either side.
HARD = {"neutral floating between strays": 29, "panel and terminals, heating": 58}


@pytest.mark.parametrize("name", CASES)
def test_draws_stand_for_what_leads(name: str) -> None:
    """So many are effective that an end of an interval lies within some percent of probability."""
    weighed = weigh(CASES[name])
    leads = weighed.fits[max(range(len(weighed.fits)), key=lambda k: weighed.probability[k])]
    assert effective(leads) > (HARD[name] / 2 if name in HARD else 140)


def test_evidence_of_a_load_with_many_ways_agrees_with_forty_times_as_many_draws() -> None:
    """A dryer whose neutral's current is all on the ground: what of it is on, and on which side, is open."""
    read = {
        ("disconnected", "receptacle"): [("L1", "L2", 242), ("L1", "N", 120), ("L2", "N", 122), ("N", "G", 0.4)],
        ("running", "appliance_terminals"): [("L1", "L2", 238), ("L1", "N", 118), ("L2", "N", 120), ("N", "G", 0.2)],
    }
    taken: list[dict[str, Any]] = [
        {"kind": "voltage", "meter": "dmm", "load_state": state, "point": at, "between": [a, b], "value": value}
        for (state, at), values in read.items()
        for a, b, value in values
    ]
    taken += [
        {"kind": "current", "meter": "clamp", "load_state": "running", "through": c, "value": value}
        for c, value in (("G", 3.45), ("N", 0.0), ("L1", 23.6))
    ]
    request = {
        "supply": {"fed_from": "sub_panel", "equipment_ground": "present", "run": {"size": "6 AWG", "length": "11 m"}},
        "meters": {
            "dmm": {"kind": "voltmeter", "input_impedance": "10 Mohm", "accuracy_percent": 0.8, "accuracy_counts": 3},
            "clamp": {"kind": "clamp_ammeter", "accuracy_percent": 2.0, "accuracy_counts": 5, "resolution": "0.01 A"},
        },
        "load_states": {"running": {"kind": "running"}},
        "readings": taken,
    }
    fits = weigh(read_request(json.dumps(request).encode()).reading_set).fits
    (cord,) = (
        f
        for f in fits
        if f.site.fault == "neutral_ground_transposed"
        and f.site.location == "between_receptacle_and_appliance_terminals"
    )
    found = cord.log_mass
    assert effective(cord) > 100
    draw(cord, 16000)
    assert found == pytest.approx(cord.log_mass, abs=0.3)
