"""The circuits of a site over the unit cube."""

import math

import numpy as np
import pytest

from feedproof.faults.priors import PRIORS
from feedproof.inference import Name, Site, circuits_of
from feedproof.inference.runs import sound_ohms, sound_run
from support.outcomes import amps, ohms, volts
from support.proof_cases import CASES, FOUR_WIRE, of_system, visit
from support.seam import every_circuit, site

HALF_WAY = "bad neutral under a known load"
#: 18 m of 6 AWG copper at 30 °C and its joints (NEC chapter 9, table 8: 0.491 ohm per 1000 ft at 75 °C) [ohm].
SOUND = sound_run(FOUR_WIRE.run)[0]


@pytest.mark.parametrize("name", list(CASES)[2::5])
def test_every_site_has_circuits_of_named_unknowns(name: str) -> None:
    for found, circuits in every_circuit(CASES[name]):
        assert len(set(circuits.names)) == len(circuits.names)
        middle = np.full(len(circuits.names), 0.5)
        values = circuits.values(middle)
        assert tuple(values) == circuits.names
        assert math.isfinite(circuits.log_likelihood(middle))
        # What is missing is at its median, which is the middle of the cube.
        assert circuits.shown({}) == pytest.approx(circuits.shown(values), rel=1e-9), found


def test_shares_of_several_kinds_of_circuit_sum_to_one() -> None:
    kinds = circuits_of(CASES["low all over"], site(CASES["low all over"], "other_supply_system"))
    assert len(kinds) == 3
    assert sum(c.share for c in kinds) == pytest.approx(1.0)
    assert len({c.phasors for c in kinds}) == 3


def test_a_leg_and_its_mirror_image_are_named_by_the_request() -> None:
    """Turning the readings turns the names, and leaves every figure."""
    taken = {"L1": 118.0, "L2": 122.0}
    found = []
    for leg, other in (("L1", "L2"), ("L2", "L1")):
        readings = visit(
            volts("L1", "L2", 240.0, state="running"),
            volts(leg, "N", taken["L1"], state="running"),  # type: ignore[arg-type]
            volts(other, "N", taken["L2"], state="running"),  # type: ignore[arg-type]
            supply=FOUR_WIRE,
        )
        (circuits,) = circuits_of(readings, site(readings, "high_resistance_leg", leg))
        values: dict[tuple[str, ...], float] = {
            ("severity", "0"): math.log(2.0),
            ("lean", "running"): 0.5 if leg == "L1" else -0.5,
        }
        found.append(circuits.shown(values))
        truth = circuits.truth(values)
        assert truth.parts == {("high_resistance_leg", leg)}
        assert truth.fault_resistances == pytest.approx((2.0,))
        assert truth.resistances[leg, "receptacle"] == pytest.approx(2.0 + SOUND)  # type: ignore[index]
        assert truth.resistances[other, "receptacle"] < 0.1  # type: ignore[index]
    assert found[0] == pytest.approx(found[1], rel=1e-9)
    assert found[0][1] < found[0][2]


def test_a_fault_that_is_no_resistance_has_none() -> None:
    visit_ = CASES[HALF_WAY]
    for fault, conductor in (
        ("none_found", None),
        ("leg_neutral_transposed", "L1"),
        ("voltage_low", None),
        ("no_supply", None),
    ):
        for circuits in circuits_of(visit_, site(visit_, fault, conductor)):
            assert circuits.truth({}).fault_resistances == (None,)
    (circuits,) = circuits_of(visit_, site(visit_, "breaker_open"))
    low, high = PRIORS.breaker_open
    assert circuits.truth({}).fault_resistances == pytest.approx((math.sqrt(low * high),), rel=1e-6)


def test_a_pair_has_both_its_resistances() -> None:
    pair = Site(
        fault="open_leg", conductor="L2", location="between_panel_and_receptacle", also=(("open_neutral", "N"),)
    )
    (circuits,) = circuits_of(CASES[HALF_WAY], pair)
    own: dict[Name, float] = {("severity", "0"): math.log(2e3), ("severity", "1"): math.log(3e4)}
    assert circuits.truth(own).fault_resistances == pytest.approx((2e3, 3e4), rel=1e-6)
    assert circuits.truth(own).also == (("open_neutral", "N"),)


def test_estimates_at_the_terminals_have_the_cord_in_them() -> None:
    readings = visit(
        volts("L1", "N", 118.0, state="running", point="appliance_terminals"),
        amps("L1", 9.0, state="running", point="appliance_terminals"),
        supply=of_system("single_phase_120"),
    )
    (circuits,) = circuits_of(readings, site(readings, "none_found"))
    sound, worse = circuits.truth({}), circuits.truth({("branch", "N"): 1.0, ("cord", "N"): 1.0})
    assert sound.resistances["N", "appliance_terminals"] == pytest.approx(SOUND + PRIORS.cord_resistance)
    assert worse.resistances["N", "appliance_terminals"] == pytest.approx(
        sound_ohms(FOUR_WIRE.run, np.ones(1))[0] + PRIORS.cord_resistance * math.exp(PRIORS.cord_spread)
    )
    at_the_terminals = {key for key in worse.resistances if key[1] == "appliance_terminals"}
    assert at_the_terminals == {(c, "appliance_terminals") for c in ("L1", "N", "G")}


def test_an_isolated_circuit_has_no_neutral_voltage() -> None:
    readings = visit(ohms("N", "G", 0.4), supply=FOUR_WIRE)
    (circuits,) = circuits_of(readings, site(readings, "none_found"))
    assert circuits.truth({}).neutral_voltages == {}


def test_what_a_circuit_cannot_have_is_refused() -> None:
    (circuits,) = circuits_of(CASES[HALF_WAY], site(CASES[HALF_WAY], "high_resistance_neutral"))
    with pytest.raises(ValueError, match="outside"):
        circuits.shown({("severity", "0"): math.log(1e6)})
    with pytest.raises(ValueError, match="no unknown"):
        circuits.shown({("severity", "1"): math.log(10.0)})
    with pytest.raises(ValueError, match="not weighed"):
        circuits_of(CASES[HALF_WAY], Site(fault="open_leg", conductor="N", location=None, also=()))
