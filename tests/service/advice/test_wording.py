from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice import wording
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.readings import CONDUCTORS, Point


def test_every_fault_has_a_name_in_words() -> None:
    for fault in FAULT_NAMES:
        assert fault in wording._FAULTS
        assert "_" not in wording.fault_name(fault, "L1")


def test_a_fault_of_a_later_version_still_reads() -> None:
    assert wording.fault_name("loose_lug") == "loose lug"


def test_conductors_are_named_where_they_matter() -> None:
    assert wording.fault_name("open_leg", "L2") == "open leg L2"
    assert wording.fault_name("open_leg") == "open leg"
    assert wording.fault_name("open_neutral", "N") == "open neutral"
    pair: tuple[tuple[str, str | None], ...] = (("open_ground", "G"),)
    assert wording.faults_name("open_neutral", "N", pair) == "open neutral with open equipment ground"


def test_places() -> None:
    assert {wording.point_name(point) for point in get_args(Point)} == {
        "service panel",
        "sub-panel",
        "panel",
        "receptacle",
        "appliance terminals",
    }
    assert wording.pair_name(CONDUCTORS) == "L1 to L2 to neutral to ground"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (247.0, "V", "247 V"),
        (3.7, "V", "3.7 V"),
        (118.44, "V", "118.4 V"),
        (0.0, "V", "0 V"),
        (0.004, "V", "0 V"),
        (-0.31, "V", "-0.31 V"),
        (0.04, "A", "40 mA"),
        (4.2, "A", "4.2 A"),
        (0.3, "ohm", "300 mΩ"),
        (260.0, "ohm", "260 Ω"),
        (999.9, "ohm", "1 kΩ"),
        (2.2e6, "ohm", "2.2 MΩ"),
        (9.3e9, "ohm", "9.3 GΩ"),
        (0.0, "ohm", "0 Ω"),
        (35.0, "W", "35 W"),
        (4800.0, "W", "4.8 kW"),
        (22.2e-6, "W", "22.2 µW"),
        (1e-10, "F", "100 pF"),
        (60.0, "Hz", "60 Hz"),
        (120.0, "deg", "120 °"),
    ],
)
def test_quantities(value: float, unit: str, expected: str) -> None:
    assert wording.quantity(value, unit) == expected


@pytest.mark.parametrize(
    ("probability", "expected"),
    [
        (0.0, "under 0.1 %"),
        (0.0009, "under 0.1 %"),
        (0.001, "0.1 %"),
        (0.034, "3.4 %"),
        (0.5, "50 %"),
        (0.993, "99.3 %"),
        (0.9991, "over 99.9 %"),
        (1.0, "over 99.9 %"),
    ],
)
def test_a_probability_never_reads_as_certain(probability: float, expected: str) -> None:
    assert wording.percent(probability) == expected


def test_spans_write_a_shared_unit_once() -> None:
    assert wording.span(118.0, 126.0, "V") == "118 to 126 V"
    assert wording.span(0.5, 2.0e3, "ohm") == "500 mΩ to 2 kΩ"
    assert wording.span(120.0, 120.001, "V") == "120 V"


def test_lists() -> None:
    assert [wording.joined(list("abc")[:count]) for count in range(4)] == ["", "a", "a and b", "a, b and c"]


def test_states_keep_the_callers_label() -> None:
    assert wording.state_name("idle", "idle") == "appliance connected, not started"
    assert wording.state_name("heating", "running") == "appliance running (heating)"
    assert wording.state_name("oven_on", "oven_on") == "oven_on"


@given(st.floats(1e-12, 1e12), st.integers(2, 5))
def test_a_figure_is_the_number_at_that_many_digits(value: float, digits: int) -> None:
    written = wording.figure(value, digits)
    assert "e" not in written
    assert float(written) == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))
