"""A joint of a few tenths of an ohm at a heater's current is no sound run: it makes more than a hundred watts.

What is read follows from Ohm's law, written out here: a stiff source, the run's two conductors, one joint too many, the
heater. R of a run is that of 50 ft of 10 AWG copper, 0.06 ohm (NEC chapter 9, table 8, read in a copy).
"""

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.readings import Conductor, Load, LoadState, ReadingSet, Supply
from support.outcomes import METERS, amps, volts
from support.proof_cases import FOUR_WIRE, UNKNOWN

LEG, RUN, CORD = 121.0, 0.06, 0.015
"""[V], and of each conductor [ohm]."""
HEATER = 9.9
"""Leg to leg [ohm]: 24 A."""
ONE_SIDE = 4.8
"""Leg to neutral [ohm]: 24 A too."""


def _states(across: tuple[Conductor, Conductor], ohm: float) -> dict[str, LoadState]:
    known = Load(between=across, resistance=ohm, tolerance_percent=5.0)
    return {
        "disconnected": LoadState(name="disconnected", kind="disconnected"),
        "on": LoadState(name="on", kind="test_load", loads=(known,)),
    }


def bad_leg(extra: float, supply: Supply, run: float = RUN) -> tuple[ReadingSet, float]:
    """Give a visit to a heater with too much resistance in leg L1, and the heat in that joint [W]."""
    current = 2.0 * LEG / (HEATER + 2.0 * (run + CORD) + extra)
    first, second = (round(LEG - current * (run + more), 1) for more in (extra, 0.0))
    readings = (
        volts("L1", "L2", 2.0 * LEG),
        volts("L1", "N", LEG),
        volts("L2", "N", LEG),
        volts("L1", "L2", first + second, state="on"),
        volts("L1", "N", first, state="on"),
        volts("L2", "N", second, state="on"),
        amps("L1", round(current, 1), state="on"),
    )
    states = _states(("L1", "L2"), HEATER)
    return ReadingSet(supply=supply, meters=METERS, load_states=states, readings=readings), extra * current**2


def bad_neutral(extra: float, supply: Supply) -> tuple[ReadingSet, float]:
    """Give the same in the neutral, with the load on one side."""
    current = LEG / (ONE_SIDE + 2.0 * (RUN + CORD) + extra)
    drop = current * (RUN + extra)
    readings = (
        volts("L1", "L2", 2.0 * LEG),
        volts("L1", "N", LEG),
        volts("L2", "N", LEG),
        volts("L1", "L2", round(2.0 * LEG - current * RUN, 1), state="on"),
        volts("L1", "N", round(LEG - current * RUN - drop, 1), state="on"),
        volts("L2", "N", round(LEG + drop, 1), state="on"),
        volts("N", "G", round(drop, 1), state="on"),
        amps("N", round(current, 1), state="on"),
    )
    states = _states(("L1", "N"), ONE_SIDE)
    return ReadingSet(supply=supply, meters=METERS, load_states=states, readings=readings), extra * current**2


def is_told(answer: Assessment, fault: str, conductor: str) -> bool:
    """Whether the finding is that fault, and the job stops with a caution of fire."""
    named = (answer.finding.fault, answer.finding.conductor) == (fault, conductor)
    named &= conductor == "N" or answer.finding.place in {"branch_leg", "leg"}
    urgent = any(caution.code == "heat_at_joint_urgent" for caution in answer.cautions)
    return named and urgent and answer.disposition == "stop_and_refer"


@pytest.mark.parametrize("extra", [0.3, 0.4, 0.6, 1.5])
def test_a_joint_of_some_tenths_of_an_ohm_in_a_leg_is_no_sound_run(extra: float) -> None:
    visit, watts = bad_leg(extra, UNKNOWN)
    assert watts > 150.0
    answer = assess(visit)
    assert is_told(answer, "high_resistance_leg", "L1"), answer.finding
    assert answer.determination == "established"


@pytest.mark.parametrize("extra", [0.2, 0.3, 0.4])
def test_what_may_burn_never_stands_under_a_heading_of_no_fault(extra: float) -> None:
    """Of readings that tell less: without a clamp, and under load alone."""
    visit, _ = bad_leg(extra, UNKNOWN)
    for some in (visit.readings, visit.readings[:6], visit.readings[3:6]):
        answer = assess(msgspec.structs.replace(visit, readings=some))
        assert answer.finding.place != "none"
        assert answer.disposition in {"stop_and_refer", "take_more_readings"}


@pytest.mark.parametrize("extra", [0.2, 0.3, 0.4, 0.6, 1.5])
def test_nor_is_one_in_the_neutral(extra: float) -> None:
    visit, watts = bad_neutral(extra, UNKNOWN)
    assert watts > 100.0
    answer = assess(visit)
    assert is_told(answer, "high_resistance_neutral", "N"), answer.finding
    assert answer.determination in {"established", "probable"}
    assert answer.disposition == "stop_and_refer"


def test_of_a_known_run_less_is_told() -> None:
    """18 m of 6 AWG have 0.035 ohm: 0.2 ohm more are no wire."""
    answer = assess(bad_leg(0.2, FOUR_WIRE, run=0.035)[0])
    assert is_told(answer, "high_resistance_leg", "L1")
    known = next(c.probability for c in answer.candidates if c.fault == "high_resistance_leg" and not c.also)
    unknown = assess(bad_leg(0.2, UNKNOWN)[0])
    assert known > next(c.probability for c in unknown.candidates if c.fault == "high_resistance_leg" and not c.also)


@pytest.mark.parametrize("supply", [UNKNOWN, FOUR_WIRE], ids=["unknown", "known"])
def test_a_sound_run_under_the_same_load_is_accused_of_nothing(supply: Supply) -> None:
    """The run's own drop of 1.4 V a conductor is what wire of that length takes."""
    answer = assess(bad_leg(0.0, supply, run=RUN if supply is UNKNOWN else 0.035)[0])
    assert (answer.finding.place, answer.finding.fault) == ("none", "none_found")
    assert max((c.probability for c in answer.candidates if c.fault == "high_resistance_leg"), default=0.0) < 0.02
