"""Supply systems and the range of a sound supply against published figures.

Sources: Maryland COMAR 20.50.07.02, an open regulation whose service voltages are those of ANSI C84.1 range A: 114 to
126 V, 114/228 to 126/252 V, 114/197 to 126/219 V. The standard's text was not read. Nominal voltages are from memory.
"""

from typing import get_args

import numpy as np
import pytest

from feedproof.inference import Circuits, circuits_of, infer
from feedproof.readings import NOMINAL_BETWEEN_LEGS, NOMINAL_TO_NEUTRAL, ReadingSet, Supply, SystemName
from support.outcomes import DMM, volts
from support.proof_cases import visit

LOW, HIGH = 114.0, 126.0
#: Leg to leg at both ends. COMAR rounds the upper end of a wye, 126·√3 = 218.2 V, to 219.
ACROSS: dict[SystemName, tuple[float, float]] = {
    "split_phase_120_240": (228.0, 252.0),
    "wye_120_208": (197.0, 219.0),
    "high_leg_delta_120_240": (228.0, 252.0),
}
EDGE = 1e-7


def at_panel(system: SystemName) -> ReadingSet:
    """Legs to neutral and, where there are two, to each other, unloaded at the panel."""
    taken = [volts("L1", "N", 0.0, point="service_panel")]
    if system in ACROSS:
        taken += [volts("L2", "N", 0.0, point="service_panel"), volts("L1", "L2", 0.0, point="service_panel")]
    return visit(*taken, supply=Supply(system=system), meters={"dmm": DMM})


def kinds(system: SystemName, fault: str = "none_found") -> tuple[Circuits, ...]:
    """The circuits of a fault, by their share."""
    readings = at_panel(system)
    site = next(c for c in infer(readings).candidates if c.fault == fault)
    return tuple(sorted(circuits_of(readings, site), key=lambda c: -c.share))


def shown(circuits: Circuits, end: float) -> tuple[float, ...]:
    """What is read with the supply's own unknown so many standard deviations out, all else at its median [V]."""
    return circuits.shown({("supply",): end})


def reach(circuits: Circuits) -> tuple[float, ...]:
    """Leg to neutral at both ends of a supply that lies outside its range [V]."""
    ends = [circuits.values(np.full(len(circuits.names), at))["severity", "0"] for at in (EDGE, 1.0 - EDGE)]
    return tuple(circuits.shown({("severity", "0"): end})[0] for end in ends)


def test_low_and_high_begin_where_it_ends() -> None:
    """But for a quarter of a volt, which no meter tells from the end itself."""
    assert max(reach(kinds("split_phase_120_240", "voltage_low")[0])) == pytest.approx(LOW, abs=0.3)
    assert min(reach(kinds("split_phase_120_240", "voltage_high")[0])) == pytest.approx(HIGH, abs=0.3)


@pytest.mark.parametrize("system", get_args(SystemName))
def test_meters_at_the_panel_show_the_ends_of_the_range(system: SystemName) -> None:
    for circuits in kinds(system):
        sizes = [abs(z) for z in circuits.phasors]
        for end, volts_to_neutral in enumerate((LOW, HIGH)):
            found = shown(circuits, (-60.0, 60.0)[end])
            assert found[0] == pytest.approx(volts_to_neutral * sizes[0], rel=1e-3)
            if system in ACROSS and sizes == pytest.approx([1.0, 1.0]):
                assert found[1] == pytest.approx(volts_to_neutral, rel=1e-3)
                assert found[2] == pytest.approx(ACROSS[system][end], abs=1.0)


@pytest.mark.parametrize("system", ACROSS)
def test_legs_stand_to_each_other_as_the_system_says(system: SystemName) -> None:
    first, second = kinds(system)[0].phasors
    assert [abs(first), abs(second)] == pytest.approx([1.0, 1.0])
    # 208 is how the trade rounds 207.8.
    assert NOMINAL_TO_NEUTRAL * abs(first - second) == pytest.approx(NOMINAL_BETWEEN_LEGS[system], rel=1e-3)
    if system != "wye_120_208":
        assert first + second == 0.0  # exact: a balanced house has no neutral current


def test_the_high_leg_is_208_volts_from_neutral_and_240_from_both_others() -> None:
    either = kinds("high_leg_delta_120_240")[1:]
    assert [circuits.share for circuits in either] == pytest.approx([0.1, 0.1])
    for circuits in either:
        sizes = sorted(NOMINAL_TO_NEUTRAL * abs(z) for z in circuits.phasors)
        assert sizes == pytest.approx([120.0, 207.85], abs=0.01)
        assert NOMINAL_TO_NEUTRAL * abs(circuits.phasors[0] - circuits.phasors[1]) == pytest.approx(240.0)
