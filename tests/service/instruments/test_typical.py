"""Typical figures: what a request may leave out, and where each figure comes from."""

import msgspec
import pytest

from feedproof.instruments.typical import (
    HIGH_IMPEDANCE_VOLTMETER,
    LOAD_TOLERANCE_FROM_POWER,
    LOAD_TOLERANCE_FROM_RESISTANCE,
    LOW_IMPEDANCE_VOLTMETER,
    TYPICAL_METERS,
    TypicalMeter,
    typical_voltmeter,
)
from feedproof.readings import LOW_IMPEDANCE_BELOW, ClampAmmeter, Ohmmeter, ProximityDetector, Voltmeter

KINDS = {
    "voltmeter": Voltmeter,
    "proximity_detector": ProximityDetector,
    "clamp_ammeter": ClampAmmeter,
    "ohmmeter": Ohmmeter,
}


@pytest.mark.parametrize("typical", TYPICAL_METERS, ids=lambda t: t.name)
def test_the_figures_are_all_that_the_kind_needs(typical: TypicalMeter) -> None:
    fields = set(KINDS[typical.kind].__struct_fields__) - {"name", "proved"}
    assert {figure.field for figure in typical.figures} == fields
    values = {figure.field: figure.value for figure in typical.figures}
    assert msgspec.convert({"type": typical.kind, "name": "any", **values}, KINDS[typical.kind])


@pytest.mark.parametrize("typical", TYPICAL_METERS, ids=lambda t: t.name)
def test_every_figure_has_a_basis_and_a_unit(typical: TypicalMeter) -> None:
    for figure in typical.figures:
        assert figure.value > 0.0
        assert figure.unit
        assert len(figure.basis) > 10
        assert typical.figure(figure.field) is figure


def test_a_figure_that_the_kind_does_not_have() -> None:
    with pytest.raises(KeyError):
        HIGH_IMPEDANCE_VOLTMETER.figure("threshold")


def test_a_modern_digital_voltmeter_has_ten_megohm() -> None:
    """T. R. Kuphaldt, Lessons in Electric Circuits, vol. I (DC), chapter 8."""
    figure = HIGH_IMPEDANCE_VOLTMETER.figure("input_impedance")
    assert (figure.value, figure.unit) == (10e6, "ohm")
    assert "Kuphaldt" in figure.basis


@pytest.mark.parametrize(
    ("impedance", "expected"),
    [
        (None, HIGH_IMPEDANCE_VOLTMETER),
        (10e6, HIGH_IMPEDANCE_VOLTMETER),
        (LOW_IMPEDANCE_BELOW, HIGH_IMPEDANCE_VOLTMETER),
        (LOW_IMPEDANCE_BELOW - 1.0, LOW_IMPEDANCE_VOLTMETER),
        (3e3, LOW_IMPEDANCE_VOLTMETER),
    ],
)
def test_the_kind_of_voltmeter_follows_its_impedance(impedance: float | None, expected: TypicalMeter) -> None:
    assert typical_voltmeter(impedance) is expected


def test_a_stated_resistance_is_trusted_further_than_a_rating_plate() -> None:
    assert LOAD_TOLERANCE_FROM_RESISTANCE.value < LOAD_TOLERANCE_FROM_POWER.value
    assert all("no source" in figure.basis for figure in (LOAD_TOLERANCE_FROM_POWER, LOAD_TOLERANCE_FROM_RESISTANCE))
