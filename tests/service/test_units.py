"""Quantities: what is taken, what is refused and how, and that nothing a caller sends can do harm."""

import math
import re
import subprocess
import sys
import time
import unicodedata
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pint import UnitRegistry

from feedproof.contract import quantities as q
from feedproof.units import Refusal, convert

# Exact by definition. SI prefixes: BIPM SI Brochure, 9th edition, table 7. Foot, inch, yard: international foot of
# 1959, exactly 0.3048 m (NIST SP 811, appendix B). Degree Fahrenheit: NIST SP 811, B.6.
EXACT = [
    ("247 V", q.READ_VOLTAGE, 247.0),
    ("247V", q.READ_VOLTAGE, 247.0),
    ("0.2471 kV", q.READ_VOLTAGE, 247.1),
    ("3700 mV", q.READ_VOLTAGE, 3.7),
    ("2.47e2 V", q.READ_VOLTAGE, 247.0),
    (".5 V", q.READ_VOLTAGE, 0.5),
    ("7. V", q.READ_VOLTAGE, 7.0),
    ("3  V", q.READ_VOLTAGE, 3.0),
    ("  3 V ", q.READ_VOLTAGE, 3.0),
    ("120\u2009V", q.READ_VOLTAGE, 120.0),
    ("240 VAC", q.READ_VOLTAGE, 240.0),
    ("240Vac", q.READ_VOLTAGE, 240.0),
    ("240 V AC", q.READ_VOLTAGE, 240.0),
    ("370 mVAC", q.READ_VOLTAGE, 0.37),
    ("4.2 AAC", q.READ_CURRENT, 4.2),
    ("120\u00a0V", q.READ_VOLTAGE, 120.0),
    ("120\u202fV", q.READ_VOLTAGE, 120.0),
    ("10 Mohm", q.INPUT_IMPEDANCE, 10e6),
    ("3 kohm", q.INPUT_IMPEDANCE, 3000.0),
    ("3 k\u03a9", q.INPUT_IMPEDANCE, 3000.0),
    ("3 k\u2126", q.INPUT_IMPEDANCE, 3000.0),
    ("300 m\u03a9", q.READ_RESISTANCE, 0.3),
    ("12 ohms", q.READ_RESISTANCE, 12.0),
    ("4200 uA", q.READ_CURRENT, 0.0042),
    ("4200 \u00b5A", q.READ_CURRENT, 0.0042),
    ("4200 \u03bcA", q.READ_CURRENT, 0.0042),
    ("100 pF", q.INPUT_CAPACITANCE, 1e-10),
    ("60 Hz", q.LINE_FREQUENCY, 60.0),
    ("60 ft", q.RUN_LENGTH, 18.288),
    ("720 in", q.RUN_LENGTH, 18.288),
    ("20 yd", q.RUN_LENGTH, 18.288),
    ("18 m", q.RUN_LENGTH, 18.0),
    ("4.8 kW", q.LOAD_POWER, 4800.0),
    ("95 degF", q.RUN_TEMPERATURE, 35.0),
    ("35 \u00b0C", q.RUN_TEMPERATURE, 35.0),
    ("300 K", q.RUN_TEMPERATURE, 26.85),
]


@pytest.mark.parametrize(("text", "kind", "value"), EXACT)
def test_a_published_unit_converts_to_the_last_bit(text: str, kind: q.Quantity, value: float) -> None:
    assert convert(text, kind) == value


@given(st.decimals(min_value="0.1", max_value=999, places=3))
def test_the_unit_changes_nothing(volts: object) -> None:
    number = float(str(volts))
    assert convert(number, q.READ_VOLTAGE) == convert(f"{volts} V", q.READ_VOLTAGE)
    assert convert(f"{Decimal(str(volts)) * 1000} mV", q.READ_VOLTAGE) == number
    assert convert(f"{Decimal(str(volts)) / 1000} kV", q.READ_VOLTAGE) == number


REFUSED = [
    ("5 kV\u00b7A", q.READ_VOLTAGE, "unknown_unit", "unit 'kV\u00b7A' is not a voltage; give V, mV or kV"),
    ("5 A", q.READ_VOLTAGE, "wrong_dimension", "unit 'A' is a current, not a voltage; give V, mV or kV"),
    ("60 V", q.LINE_FREQUENCY, "wrong_dimension", "unit 'V' is a voltage, not a frequency; give Hz or kHz"),
    ("0,3 ohm", q.READ_RESISTANCE, "decimal_comma", "decimal comma; write '0.3 ohm'"),
    # Thousands in one country, decimals in another: only who read the meter knows (SI Brochure, 9th ed., 5.4.4, from
    # memory: point or comma before the decimals, neither of them between thousands).
    ("1,000 V", q.READ_VOLTAGE, "decimal_comma", "write '1000 V' or '1.000 V', whichever was read"),
    ("12,345 mohm", q.READ_RESISTANCE, "decimal_comma", "write '12345 mohm' or '12.345 mohm'"),
    ("0,300 ohm", q.READ_RESISTANCE, "decimal_comma", "decimal comma; write '0.300 ohm'"),
    ("1,0000 V", q.READ_VOLTAGE, "decimal_comma", "decimal comma; write '1.0000 V'"),
    ("247", q.READ_VOLTAGE, "unit_missing", "a string needs a unit"),
    ("247 v", q.READ_VOLTAGE, "unknown_unit", "letter case counts: 'V'?"),
    ("247 VDC", q.READ_VOLTAGE, "direct_current", "set the meter to AC"),
    ("", q.READ_VOLTAGE, "not_a_quantity", "not one number and one unit"),
    ("V", q.READ_VOLTAGE, "not_a_quantity", "not one number and one unit"),
    ("3 V\n", q.READ_VOLTAGE, "unknown_unit", "is not a voltage"),
    ("nan V", q.READ_VOLTAGE, "not_a_quantity", "not one number and one unit"),
    ("inf V", q.READ_VOLTAGE, "not_a_quantity", "not one number and one unit"),
    ("\u0663 V", q.READ_VOLTAGE, "not_a_quantity", "not one number and one unit"),
    ("1_000 V", q.READ_VOLTAGE, "not_a_number", "'1_000' is no number"),
    ("2_4_0 V", q.READ_VOLTAGE, "not_a_number", "'2_4_0' is no number"),
    ("2_4_0V", q.READ_VOLTAGE, "not_a_number", "'2_4_0' is no number"),
    ("0x7 V", q.READ_VOLTAGE, "not_a_number", "'0x7' is no number"),
    ("0x7V", q.READ_VOLTAGE, "not_a_number", "'0x7' is no number"),
    ("1 000 V", q.READ_VOLTAGE, "not_a_number", "'1 000' is no number"),
    ("1/0 V", q.READ_VOLTAGE, "not_a_number", "'1/0' is no number"),
    ("1.2.3 V", q.READ_VOLTAGE, "not_a_number", "'1.2.3' is no number"),
    ("~120 V", q.READ_VOLTAGE, "not_a_number", "'~120' is no number"),
    ("1e9999 V", q.READ_VOLTAGE, "not_a_number", "'1e9999' is no number"),
    ("9**9**9 V", q.READ_VOLTAGE, "unknown_unit", "is not a voltage"),
    ("2*V", q.READ_VOLTAGE, "unknown_unit", "unit '*V' is not a voltage"),
    ("1 V/s", q.READ_VOLTAGE, "unknown_unit", "unit 'V/s' is not a voltage"),
    ("1 V^2", q.READ_VOLTAGE, "unknown_unit", "unit 'V^2' is not a voltage"),
    ("120 V L1", q.READ_VOLTAGE, "unknown_unit", "unit 'V L1' is not a voltage"),
    ("1e309 V", q.READ_VOLTAGE, "out_of_bounds", "1e309 V is outside 0 to 1000 V"),
    ("1000.0001 V", q.READ_VOLTAGE, "out_of_bounds", "1000.0001 V is outside 0 to 1000 V"),
    ("1.0000001 kV", q.READ_VOLTAGE, "out_of_bounds", "1.0000001 kV is outside 0 to 1000 V"),
    ("1e-999 V", q.READ_VOLTAGE, "out_of_bounds", "less than any instrument resolves"),
    ("OL", q.READ_VOLTAGE, "over_range", "read again on a higher range"),
    ("OL", q.METER_RANGE, "over_range", "read again on a higher range"),
    ("OL ohm", q.READ_RESISTANCE, "not_a_quantity", "not one number and one unit"),
    ("-3 V", q.READ_VOLTAGE, "out_of_bounds", "negative"),
    ("2 kV", q.READ_VOLTAGE, "out_of_bounds", "outside 0 to 1000 V"),
    ("1e99 V", q.READ_VOLTAGE, "out_of_bounds", "outside 0 to 1000 V"),
    ("1e-99 V", q.READ_VOLTAGE, "out_of_bounds", "less than any instrument resolves"),
    ("0 ohm", q.INPUT_IMPEDANCE, "out_of_bounds", "outside 100 to 1e+11 ohm"),
    ("1" * 100 + " V", q.READ_VOLTAGE, "quantity_too_long", "longer than 40 characters"),
    ("-500 degC", q.RUN_TEMPERATURE, "out_of_bounds", "outside -50 to 150 degC"),
]


@pytest.mark.parametrize(("text", "kind", "code", "words"), REFUSED)
def test_a_refusal_says_what_is_wrong_and_what_is_accepted(text: str, kind: q.Quantity, code: str, words: str) -> None:
    refusal = convert(text, kind)
    assert isinstance(refusal, Refusal)
    assert refusal.code == code
    assert words in refusal.detail
    assert refusal.accepted


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf"), 5e-324, -1e-310, 1e308, -0.1, 1000.1])
def test_a_number_out_of_bounds_is_refused(number: float) -> None:
    assert isinstance(convert(number, q.READ_VOLTAGE), Refusal)


def test_a_number_out_of_bounds_is_shown_as_it_was_written() -> None:
    for number, words in ((1000.0001, "1000.0001 V is"), (2000, "2000 V is"), (-0.1, "-0.1 V is")):
        refusal = convert(number, q.READ_VOLTAGE)
        assert isinstance(refusal, Refusal)
        assert refusal.detail.startswith(words)


@pytest.mark.parametrize("shown", ["OL", "O.L", "0L", "0.L", "OL.", " OL "])
def test_what_a_display_shows_above_its_range_is_taken_of_a_resistance(shown: str) -> None:
    assert convert(shown, q.READ_RESISTANCE) == math.inf


def test_minus_zero_is_zero() -> None:
    assert str(convert(-0.0, q.READ_VOLTAGE)) == "0.0"
    assert str(convert("-0 V", q.READ_VOLTAGE)) == "0.0"


@pytest.mark.parametrize("name", sorted(q.QUANTITIES))
@given(text=st.text(max_size=60) | st.from_regex(r"[+-]?[0-9.,eE]{0,20} ?[a-zA-Z°µΩ*/^()]{0,20}", fullmatch=True))
@example(text=" OL. ")
@example(text="1e309 V AC ")
def test_the_published_pattern_tells_exactly_what_is_read(name: str, text: str) -> None:
    kind = q.QUANTITIES[name]
    # ECMA's `$` is the very end; Python's also matches before a last line end.
    matches = len(text) <= q.MAX_LENGTH and re.search(kind.pattern.replace("$", r"\Z"), text) is not None
    result = convert(text, kind)
    if isinstance(result, Refusal):
        assert (result.code == "out_of_bounds") == matches
    else:
        assert matches
        assert kind.low <= result <= kind.high or (kind.overload and result == math.inf)


@pytest.mark.parametrize("name", sorted(q.QUANTITIES))
@given(data=st.data())
def test_whatever_the_pattern_gives_is_read_or_out_of_bounds(name: str, data: st.DataObject) -> None:
    kind = q.QUANTITIES[name]
    text = data.draw(st.from_regex(kind.pattern.replace("$", r"\Z")).filter(lambda t: len(t) <= q.MAX_LENGTH))
    result = convert(text, kind)
    assert isinstance(result, float) or result.code == "out_of_bounds"


HOSTILE = [
    "1" * 10_000_000,
    "(" * 1_000_000,
    "1 " + "m" * 1_000_000,
    "0." + "0" * 1_000_000 + "1 V",
    "1e999999999 V",
    "9" * 12 + "e99 V",
    "1" + ",1" * 500_000,
    "1 V" * 300_000,
    "__import__('os') V",
    "1 V; import os",
    "\x00" * 1000,
]


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_no_string_makes_it_work_hard(text: str) -> None:
    begin = time.perf_counter()
    refusal = convert(text, q.READ_VOLTAGE)
    assert isinstance(refusal, Refusal)
    assert len(refusal.detail) < 200
    # Generous: the work is bounded by the length check, so it is microseconds.
    assert time.perf_counter() - begin < 0.5


def test_every_published_unit_is_what_a_unit_library_says() -> None:
    # pint: a general-purpose library, whose definitions follow the SI Brochure and NIST SP 811.
    registry: UnitRegistry[Decimal] = UnitRegistry(non_int_type=Decimal, autoconvert_offset_to_baseunit=True)
    # To the library, "amps" is attometre per second.
    registry.define("@alias ampere = amps")
    for dimension in q.DIMENSIONS:
        for spelled, scale in dimension.units.items():
            # Of look-alikes the library knows one: the Greek letters. That a voltage alternates it does not know.
            name = re.sub(" ?(?:AC|ac)$", "", unicodedata.normalize("NFKC", spelled))
            zero, one = (registry.Quantity(Decimal(x), name).to(dimension.unit).magnitude for x in (0, 1))
            assert (scale.factor, scale.offset) == (one - zero, zero), spelled


def test_no_unit_library_is_needed() -> None:
    script = (
        "import sys\n"
        "sys.modules['pint'] = None\n"
        "from feedproof import units\n"
        "from feedproof.contract import quantities as q\n"
        "assert units.convert('247 V', q.READ_VOLTAGE) == 247.0\n"
        "assert not isinstance(units.convert('2*V', q.READ_VOLTAGE), float)\n"
    )
    result = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert result.returncode == 0, result.stderr


def test_what_a_message_names_is_taken() -> None:
    for dimension in q.DIMENSIONS:
        assert set(dimension.shown) <= set(dimension.units)


def test_no_spelling_means_two_things_in_one_dimension_and_none_is_shared() -> None:
    spellings = [spelled for dimension in q.DIMENSIONS for spelled in dimension.units]
    assert len(spellings) == len(set(spellings))
