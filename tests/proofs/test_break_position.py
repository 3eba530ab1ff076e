"""One open neutral, wherever along the run it sits: at the panel, in the middle, or at the outlet's own contact.

What is read follows from a nodal equation written out here. The neutral beyond the break has a capacitance C to each of
the two legs and to ground, and the meter's admittance Y_m to what it is read against, V_a; with V_1 = -V_2 the nodal
equation is V_n (3 jωC + Y_m) = Y_m V_a, and the meter shows |V_a - V_n| = |V_a| · |3 jωC / (3 jωC + Y_m)|.
"""

import math

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.inference import Simulation, simulate
from feedproof.readings import Conductor, Supply, VoltageReading, Voltmeter
from support.calibration import LAYOUTS
from support.outcomes import DMM, LOZ, volts
from support.proof_cases import FOUR_WIRE, THREE_WIRE, UNKNOWN, near, visit

LEG = 119.0
"""[V]"""
PER_METRE = 69.0e-12
"""Measured on NM 14-2 cable, 5.26 nF in 250 ft (as in the model; read in a trade magazine) [F/m]."""
CONTACT = 1.5e-12
"""Of a bare contact to each of the others [F]: a few picofarads in all, common practice, no source."""

#: Length of what floats [m]; of a bare contact none.
PLACES = {"panel": 15.0, "middle": 7.0, "contact": 0.0}
SUPPLIES = {"unknown": UNKNOWN, "four wires": FOUR_WIRE, "three wires": THREE_WIRE}
PAIRS: list[tuple[Conductor, Conductor]] = [("L1", "L2"), ("L1", "N"), ("L2", "N")]
METERS = {"high": (DMM,), "low": (LOZ,), "both": (DMM, LOZ)}


def shown(meter: Voltmeter, length: float, contact: float = CONTACT) -> float:
    """Give what a meter shows from a leg to a neutral that floats [V]."""
    omega = 2.0 * math.pi * 60.0
    strays = 3.0j * omega * (PER_METRE * length + contact)
    own = 1.0 / meter.input_impedance + 1.0j * omega * meter.input_capacitance
    volt = LEG * abs(strays / (strays + own))
    return round(volt / meter.resolution) * meter.resolution


def taken(place: str, meters: tuple[Voltmeter, ...]) -> list[VoltageReading]:
    """Give the three voltages with each of the meters, nothing connected."""
    return [
        reading
        for meter in meters
        for reading in (
            volts("L1", "L2", 2.0 * LEG, meter.name),
            volts("L1", "N", shown(meter, PLACES[place]), meter.name),
            volts("L2", "N", shown(meter, PLACES[place]), meter.name),
        )
    ]


@pytest.mark.parametrize(("length", "volt"), [(1.0, 61.0), (5.0, 107.0), (15.0, 116.0)])
def test_the_equation_gives_what_the_strays_of_a_run_are_known_to_give(length: float, volt: float) -> None:
    """On 10 Mohm and 100 pF and legs of 120 V: 61, 107, 116 V with 1, 5, 15 m floating, worked by hand."""
    assert shown(DMM, length, 0.0) * 120.0 / LEG == pytest.approx(volt, abs=1.0)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("meters", METERS)
@pytest.mark.parametrize("supply", SUPPLIES)
def test_it_is_an_open_neutral_wherever_it_sits(place: str, meters: str, supply: str) -> None:
    answer: Assessment = assess(visit(*taken(place, METERS[meters]), supply=SUPPLIES[supply]))
    assert answer.finding.fault == "open_neutral"
    assert answer.disposition == "stop_and_refer"
    if place == "contact" or meters != "high":
        # Of a whole run of strays a high-impedance meter shows nearly what it shows of a sound neutral.
        assert answer.determination == "established"


@pytest.mark.parametrize("supply", SUPPLIES)
def test_a_neutral_contact_wired_to_nothing_is_no_lost_supply(supply: str) -> None:
    """238 V between the legs is not a misread because next to nothing stands between each of them and the neutral."""
    circuit: Supply = SUPPLIES[supply]
    near_zero = [volts("L1", "L2", 238.0), volts("L1", "N", 1.6), volts("L2", "N", 1.8)]
    if circuit.equipment_ground != "absent":
        near_zero.append(volts("N", "G", 0.1))
    zeros = [volts("L1", "N", 0.0, "loz"), volts("L2", "N", 0.0, "loz")]
    for readings in (near_zero, [*near_zero, *zeros]):
        answer = assess(visit(*readings, supply=circuit))
        assert answer.finding.fault == "open_neutral"
        assert answer.determination in {"established", "probable"}
        assert answer.disposition == "stop_and_refer"
        assert max((c.probability for c in answer.candidates if c.fault == "no_supply"), default=0.0) < 0.05


#: Faults that call a conductor, or everything, dead.
DEAD = {"no_supply", "breaker_open", "open_leg"}
LIVE = {"live_contacts", "neutral_as_live"}


def is_safe(answer: Assessment) -> bool:
    """Whether nothing is established as dead, and no caution of live parts is missing."""
    codes = {caution.code for caution in answer.cautions}
    return codes >= LIVE and not (answer.determination == "established" and answer.finding.fault in DEAD)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("meters", METERS)
@pytest.mark.parametrize("pair", PAIRS)
def test_a_zero_that_contradicts_makes_nothing_dead(place: str, meters: str, pair: tuple[Conductor, Conductor]) -> None:
    """One reading more, a zero: whatever the posterior makes of it, the voltage that was shown stands."""
    readings = taken(place, METERS[meters])
    for meter in ("dmm", "loz"):
        for supply in SUPPLIES.values():
            assert is_safe(assess(visit(*readings, volts(*pair, 0.0, meter), supply=supply)))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_an_open_neutral_is_never_called_dead_whatever_was_read(layout: str) -> None:
    """Circuits drawn with the break anywhere, read as the layout says, with and without a zero that contradicts."""
    arrangement = LAYOUTS[layout]
    for seed in range(4):
        drawn = simulate(Simulation(fault="open_neutral", readings=arrangement, seed=seed))
        if not any(isinstance(r, VoltageReading) and r.value >= 30.0 for r in drawn):
            continue
        for more in ((), (volts("L1", "L2", 0.0, "loz"),), (volts("L1", "L2", 0.0, "dmm"),)):
            answer = assess(msgspec.structs.replace(arrangement, readings=(*drawn, *more)))
            assert is_safe(answer), (seed, more, answer.finding)


@pytest.mark.parametrize("supply", SUPPLIES)
@pytest.mark.parametrize("at", ["L1", "L2", "N"])
@pytest.mark.parametrize("meters", [("loz",), ("dmm",), ("loz", "dmm")])
def test_zeros_beside_a_live_detector_establish_nothing(supply: str, at: Conductor, meters: tuple[str, ...]) -> None:
    """A dead tester reads zero everywhere; a detector that signals says that something is live."""
    zeros = [volts(*pair, 0.0, meter) for meter in meters for pair in PAIRS]
    signal = near(at, detected=True, state="disconnected")
    answer = assess(visit(*zeros, signal, supply=SUPPLIES[supply]))
    assert answer.determination != "established"
    assert is_safe(answer)


def test_zeros_of_one_tester_make_no_outlet_dead() -> None:
    """Breaker, lost supply or dead tester: the tester's proof parts them, so nothing is established without it."""
    zeros = [volts("L1", "L2", 0.0, "loz"), volts("L1", "N", 0.0, "loz"), volts("L2", "N", 0.0, "loz")]
    answer = assess(visit(*zeros))
    assert answer.finding.place == "both_legs"
    assert answer.determination != "established"
    assert answer.disposition == "stop_and_refer"
    assert is_safe(answer)
    both = assess(visit(*zeros, volts("L1", "L2", 0.0), volts("L1", "N", 0.0), volts("L2", "N", 0.0)))
    assert (both.finding.place, both.determination) == ("both_legs", "established")
