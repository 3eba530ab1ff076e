"""Quantities from the wire to SI floats.

A request meets a length check, one regular expression without nested repetition, and the table of published units
in `feedproof.contract.quantities`: no string that a caller can send is ever evaluated.
"""

import math
import re
from decimal import Decimal
from typing import NamedTuple

from feedproof.contract.quantities import BLANKS, DIMENSIONS, MAX_LENGTH, NUMBER, OVERLOAD, SMALLEST, Quantity


class Refusal(NamedTuple):
    """Why a quantity was not taken, and what would be."""

    code: str
    detail: str
    accepted: tuple[str, ...]


_OWNER = {spelled: dimension for dimension in DIMENSIONS for spelled in dimension.units}
_SPLIT = re.compile(f"{BLANKS}({NUMBER}){BLANKS}(.*?){BLANKS}", re.DOTALL)
_OVERLOAD = re.compile(f"{BLANKS}{OVERLOAD}{BLANKS}")
_LAST_DIGIT = re.compile(r"(.*[0-9][.,_]*)(.*)", re.DOTALL)
_DIRECT = {"VDC", "Vdc", "V DC", "V dc", "mVDC", "mV DC", "ADC", "Adc", "A DC", "A dc"}
_NUMBER = re.compile(NUMBER)
_COMMA = re.compile(r"[+\-]?[0-9]{1,12},[0-9]{1,12}(?![0-9,.])")
_THOUSANDS = re.compile(r"[+\-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
"""Of those with a comma: it may as well be a thousands separator."""


def _spell(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _shorten(text: str, limit: int = 24) -> str:
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text[: limit + 1])
    return clean if len(text) <= limit else clean[:limit] + "..."


def _split(text: str) -> tuple[str, str]:
    """Tell the number from the unit in a string that is not taken, so that the part that is wrong is blamed.

    What follows a number is a unit where it begins like one; else the number goes on to the last digit: the 9 of
    `1e9999 V` is no unit, nor is the x of `0x7 V`.
    """
    parts = _SPLIT.fullmatch(text)
    if parts is not None:
        unit = parts[2]
        if not unit or (not unit[0].isdigit() and unit[0] not in ".,_+-/" and not unit[1:2].isdigit()):
            return parts[1], unit
    parts = _LAST_DIGIT.fullmatch(text)
    return (parts[1].strip(), parts[2].strip()) if parts is not None else ("", text.strip())


def _text_refusal(text: str, kind: Quantity) -> Refusal:
    """Say what is wrong with a string that is no quantity of this kind."""
    dimension, accepted = kind.dimension, kind.dimension.shown
    give = _spell(accepted)
    if len(text) > MAX_LENGTH:
        return Refusal("quantity_too_long", f"longer than {MAX_LENGTH} characters; give a number and {give}", accepted)
    if _OVERLOAD.fullmatch(text):
        detail = f"above the meter's range, which tells no number; read again on a higher range and give {give}"
        return Refusal("over_range", detail, accepted)
    if _COMMA.match(text.strip()):
        given = text.strip()
        point = f"'{_shorten(given.replace(',', '.', 1))}'"
        detail = f"decimal comma; write {point} with a decimal point and no thousands separator"
        if _THOUSANDS.match(given):
            whole = f"'{_shorten(given.replace(',', '', 1))}'"
            detail = f"a decimal comma or one between thousands; write {whole} or {point}, whichever was read"
        return Refusal("decimal_comma", detail, accepted)
    number, unit = _split(text)
    if not any(character.isdecimal() and character.isascii() for character in number):
        return Refusal("not_a_quantity", f"not one number and one unit; give a number and {give}", accepted)
    if not _NUMBER.fullmatch(number):
        detail = f"'{_shorten(number)}' is no number; write up to 12 digits, with a decimal point where there is one"
        return Refusal("not_a_number", detail, accepted)
    if not unit:
        return Refusal(
            "unit_missing", f"a string needs a unit: give {give}, or a JSON number in {dimension.unit}", accepted
        )
    if unit in _DIRECT:
        detail = f"'{unit}' is direct; what is read here is alternating: set the meter to AC and give {give}"
        return Refusal("direct_current", detail, accepted)
    other = _OWNER.get(unit)
    if other is not None:
        return Refusal(
            "wrong_dimension", f"unit '{unit}' is {other.article}, not {dimension.article}; give {give}", accepted
        )
    folded = [spelled for spelled in dimension.units if spelled.lower() == unit.lower()]
    hint = f" (letter case counts: '{folded[0]}'?)" if folded else ""
    return Refusal("unknown_unit", f"unit '{_shorten(unit)}' is not {dimension.article}; give {give}{hint}", accepted)


def convert_text(text: str, kind: Quantity) -> float | Refusal:
    """Read a number with a unit.

    Parameters
    ----------
    text : str
        As it came over the wire.
    kind : Quantity
        What it must be.

    Returns
    -------
    float or Refusal
        The value in the quantity's SI unit (temperature in degC), or why not. Infinite: the meter showed that it is
        above its range, where the quantity allows for that.
    """
    parts = _SPLIT.fullmatch(text) if len(text) <= MAX_LENGTH else None
    scale = kind.dimension.units.get(parts[2]) if parts is not None else None
    if parts is None or scale is None:
        if kind.overload and len(text) <= MAX_LENGTH and _OVERLOAD.fullmatch(text):
            return math.inf
        return _text_refusal(text, kind)
    exact = Decimal(parts[1]) * scale.factor + scale.offset
    # A value below the smallest float must not become zero.
    number = float(exact) or (math.copysign(SMALLEST * SMALLEST, exact) if exact else 0.0)
    return _within(number, kind, f"{parts[1]} {parts[2]}")


def _within(number: float, kind: Quantity, written: str) -> float | Refusal:
    """Hold a number against the quantity's bounds; a refusal shows it as it was written."""
    if kind.low <= number <= kind.high:
        if 0.0 < abs(number) < SMALLEST and kind.dimension.unit != "F":
            return Refusal(
                "out_of_bounds",
                f"below {SMALLEST:g} {kind.dimension.unit}, less than any instrument resolves; give 0",
                (kind.span,),
            )
        return float(number) + 0.0
    if number < 0.0 <= kind.low:
        detail = f"{written} is negative; {kind.dimension.article} here is {kind.span}"
    else:
        detail = f"{written} is outside {kind.span}: {kind.why}"
    return Refusal("out_of_bounds", detail, (kind.span,))


def convert_number(number: float, kind: Quantity) -> float | Refusal:
    """Hold a number against the quantity's bounds; see `convert_text`."""
    if not math.isfinite(number):
        return Refusal("not_finite", "not a finite number", (kind.span,))
    return _within(number, kind, f"{float(number)!r} {kind.dimension.unit}".replace(".0 ", " "))


def convert(value: float | str, kind: Quantity) -> float | Refusal:
    """Read a quantity, a number in the stated unit or a string with one; see `convert_text`."""
    if isinstance(value, str):
        return convert_text(value, kind)
    return convert_number(value, kind)
