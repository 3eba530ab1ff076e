import math
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.circuit.conductors import (
    CONDUCTOR_SIZES,
    conductor_size,
    gauge_area,
    resistance_per_metre,
    resistivity,
)
from feedproof.readings import Material

MATERIALS: tuple[Material, ...] = ("copper", "aluminum")


@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        ("6 AWG", "6 AWG"),
        ("6awg", "6 AWG"),
        ("#6", "6 AWG"),
        ("#6 AWG", "6 AWG"),
        ("AWG 6", "6 AWG"),
        (" 10  AWG ", "10 AWG"),
        ("1/0 AWG", "1/0 AWG"),
        ("4/0", "4/0 AWG"),
        ("5 AWG", "5 AWG"),
        ("250 kcmil", "250 kcmil"),
        ("250 MCM", "250 kcmil"),
        ("16 mm2", "16 mm2"),
        ("16 mm²", "16 mm2"),
        ("16mm^2", "16 mm2"),
        ("2.50 MM2", "2.5 mm2"),
        ("3.31 mm2", "3.31 mm2"),
    ],
)
def test_names_as_people_write_them(written: str, canonical: str) -> None:
    assert conductor_size(written).name == canonical


@pytest.mark.parametrize(
    "written",
    [
        "",
        "6",
        "16",
        "21 AWG",
        "0 AWG",
        "0/0",
        "5/0",
        "1/1",
        "-6 AWG",
        "6 mm",
        "0.4 mm2",
        "501 mm2",
        "100 kcmil",
        "٦ AWG",
    ],
)
def test_what_is_no_size_is_refused_with_the_accepted_ones(written: str) -> None:
    with pytest.raises(ValueError, match=r"accepted are 18 AWG, .*, 25 mm2"):
        conductor_size(written)


def test_a_hostile_string_is_refused_at_once() -> None:
    started = time.process_time()
    for hostile in ("9" * 200_000 + " AWG", "# " * 100_000, "1" * 24, "1." * 12, " " * 200_000):
        with pytest.raises(ValueError, match="not a conductor size"):
            conductor_size(hostile)
    assert time.process_time() - started < 5.0  # a parser that backtracks would need hours


@given(st.text(max_size=40))
def test_any_text_gives_a_size_or_a_value_error(text: str) -> None:
    try:
        found = conductor_size(text)
    except ValueError:
        return
    assert found.area > 0.0
    assert 0.0 < found.copper < found.aluminum


def test_every_listed_size_reads_back_as_itself() -> None:
    for size in CONDUCTOR_SIZES:
        assert conductor_size(size.name) is size


def test_thicker_is_lower_in_resistance() -> None:
    for unit in ("AWG", "mm2"):
        sizes = [size for size in CONDUCTOR_SIZES if size.name.endswith(unit)]
        assert len(sizes) > 5
        assert [s.area for s in sizes] == sorted(s.area for s in sizes)
        assert [s.copper for s in sizes] == sorted((s.copper for s in sizes), reverse=True)
        assert [s.aluminum for s in sizes] == sorted((s.aluminum for s in sizes), reverse=True)


def test_every_listed_size_has_a_source() -> None:
    assert all(size.source for size in CONDUCTOR_SIZES)


@pytest.mark.parametrize("material", MATERIALS)
def test_an_unlisted_gauge_lies_between_its_neighbors(material: Material) -> None:
    thin, between, thick = (resistance_per_metre(f"{gauge} AWG", material) for gauge in (6, 5, 4))
    assert thin > between > thick


@pytest.mark.parametrize("material", MATERIALS)
def test_resistance_rises_with_temperature(material: Material) -> None:
    cold, warm = (resistance_per_metre("10 AWG", material, t) for t in (0.0, 60.0))
    assert cold < warm


def test_the_table_note_and_the_resistivity_agree_on_temperature() -> None:
    """Two coefficients, at 20 and at 75 degC, describe the same straight line to 0.1 %."""
    for material in MATERIALS:
        by_note = resistance_per_metre("12 AWG", material, 20.0) / resistance_per_metre("12 AWG", material, 75.0)
        by_metal = resistivity(material, 20.0) / resistivity(material, 75.0)
        assert by_note == pytest.approx(by_metal, rel=1e-3)


@pytest.mark.parametrize("temperature", [-61.0, 151.0, math.nan])
def test_a_temperature_outside_the_straight_line_is_refused(temperature: float) -> None:
    with pytest.raises(ValueError, match="temperature"):
        resistance_per_metre("12 AWG", "copper", temperature)


def test_the_gauge_is_geometric() -> None:
    assert gauge_area(36) == pytest.approx(math.pi / 4.0 * 0.127**2)  # its definition: 0.005 in
    assert gauge_area(-3) == pytest.approx(math.pi / 4.0 * 11.684**2)  # and 4/0: 0.46 in
