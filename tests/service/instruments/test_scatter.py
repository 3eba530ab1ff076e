"""Uncertainties of meters, worked by hand from their stated limits.

JCGM 100:2008 (GUM): limits ±a give a/√3 (4.3.7, clause from memory); a step d of the display gives d/√12 (F.2.2.1).
"""

import math

import msgspec
import pytest

from feedproof.faults.priors import PRIORS
from feedproof.instruments.scatter import gain_spread, meter_admittance, scatter_floor, scatter_relative
from feedproof.readings import ClampAmmeter, Ohmmeter, Voltmeter
from support.outcomes import CLAMP, DMM, LOZ, OHMS


@pytest.mark.parametrize("meter", [DMM, LOZ, CLAMP, OHMS], ids=lambda m: m.name)
def test_the_gain_is_rectangular_in_the_percentage(meter: Voltmeter | ClampAmmeter | Ohmmeter) -> None:
    assert gain_spread(meter) == pytest.approx(meter.accuracy_percent / 100.0 / math.sqrt(3.0))


def test_a_perfect_meter_still_has_a_finite_gain_error() -> None:
    assert gain_spread(msgspec.structs.replace(DMM, accuracy_percent=0.0)) == 1e-6


def test_the_floor_of_a_voltmeter() -> None:
    """3 counts of 0.1 V: 0.1732; step 0.1 V: 0.0289; a person who rounds to whole volts: 1/√12 = 0.29."""
    assert PRIORS.person_rounding_volts == pytest.approx(1.0 / math.sqrt(12.0), abs=0.02)
    expected = math.sqrt(0.1732**2 + 0.0289**2 + PRIORS.person_rounding_volts**2)
    assert scatter_floor(DMM) == pytest.approx(expected, rel=1e-4)


def test_the_floor_of_a_clamp_has_no_person_in_it() -> None:
    """3 counts of 0.01 A: 0.01732; step: 0.00289."""
    assert scatter_floor(CLAMP) == pytest.approx(math.hypot(0.01732, 0.00289), rel=1e-3)


def test_the_floor_of_an_ohmmeter_has_its_leads() -> None:
    assert scatter_floor(OHMS) == pytest.approx(math.sqrt(0.1732**2 + 0.0289**2 + PRIORS.lead_resistance**2), rel=1e-3)


@pytest.mark.parametrize("field", ["accuracy_counts", "resolution"])
@pytest.mark.parametrize("meter", [DMM, LOZ, CLAMP, OHMS], ids=lambda m: m.name)
def test_a_better_meter_scatters_less(meter: Voltmeter | ClampAmmeter | Ohmmeter, field: str) -> None:
    better = msgspec.structs.replace(meter, **{field: getattr(meter, field) / 2.0})
    assert scatter_floor(better) < scatter_floor(meter)


def test_the_relative_part() -> None:
    assert scatter_relative(DMM) == PRIORS.supply_drift
    assert scatter_relative(OHMS) == PRIORS.person_rounding_relative
    assert scatter_relative(CLAMP) == pytest.approx(math.hypot(PRIORS.supply_drift, PRIORS.person_rounding_relative))


def test_ten_megohm_and_a_hundred_picofarad_at_sixty_hertz() -> None:
    """1/10 Mohm = 0.1 uS; 2 pi 60 Hz 100 pF = 0.0377 uS."""
    assert meter_admittance(DMM, 60.0) == pytest.approx(complex(1e-7, 3.7699e-8), rel=1e-4)
    assert meter_admittance(LOZ, 60.0) == pytest.approx(complex(1.0 / 3000.0))
    assert meter_admittance(DMM, 50.0).imag == pytest.approx(meter_admittance(DMM, 60.0).imag * 5.0 / 6.0)
