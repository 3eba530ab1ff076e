"""Quantities from the wire to SI floats.

A request meets a length check, one regular expression without nested repetition, and the table of published units
in `feedproof.contract.quantities`: no string that a caller can send is ever evaluated.
"""

import math
import re
from decimal import Decimal
from typing import NamedTuple

from feedproof.contract.quantities import DIMENSIONS, MAX_LENGTH, SMALLEST, Dimension, Quantity

__all__ = ["Refusal", "convert", "convert_number", "convert_text"]


class Refusal(NamedTuple):
    """Why a quantity was not taken, and what would be."""

    code: str
    detail: str
    accepted: tuple[str, ...]


_OWNER = {spelled: dimension for dimension in DIMENSIONS for spelled in dimension.units}
_SPLIT = re.compile(
    r"([+\-]?(?:[0-9]{1,12}(?:\.[0-9]{1,12})?|\.[0-9]{1,12})(?:[eE][+\-]?[0-9]{1,2})?)[ \u00a0\u202f]?(.*)",
    re.DOTALL,
)
_COMMA = re.compile(r"[+\-]?[0-9]{1,12},[0-9]{1,12}(?![0-9,.])")


def _spell(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _shorten(text: str, limit: int = 24) -> str:
    clean = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text[: limit + 1])
    return clean if len(text) <= limit else clean[:limit] + "..."


def _text_refusal(text: str, dimension: Dimension) -> Refusal:
    """Say what is wrong with a string that is no quantity of this dimension."""
    accepted = dimension.shown
    give = _spell(accepted)
    if len(text) > MAX_LENGTH:
        return Refusal("quantity_too_long", f"longer than {MAX_LENGTH} characters; give a number and {give}", accepted)
    if _COMMA.match(text):
        better = text.replace(",", ".", 1)
        return Refusal(
            "decimal_comma",
            f"decimal comma; write '{_shorten(better)}' with a decimal point and no thousands separator",
            accepted,
        )
    parts = _SPLIT.fullmatch(text)
    if parts is None:
        return Refusal("not_a_quantity", f"not one number and one unit; give a number and {give}", accepted)
    unit = parts[2]
    if not unit:
        return Refusal(
            "unit_missing",
            f"a string needs a unit: give {give}, or a JSON number in {dimension.unit}",
            accepted,
        )
    other = _OWNER.get(unit)
    if other is not None:
        return Refusal(
            "wrong_dimension",
            f"unit '{unit}' is {other.article}, not {dimension.article}; give {give}",
            accepted,
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
        The value in the quantity's SI unit (temperature in degC), or why not.
    """
    parts = _SPLIT.fullmatch(text) if len(text) <= MAX_LENGTH else None
    scale = kind.dimension.units.get(parts[2]) if parts is not None else None
    if parts is None or scale is None:
        return _text_refusal(text, kind.dimension)
    return convert_number(float(Decimal(parts[1]) * scale.factor + scale.offset), kind)


def convert_number(number: float, kind: Quantity) -> float | Refusal:
    """Hold a number against the quantity's bounds; see `convert_text`."""
    if kind.low <= number <= kind.high:
        if 0.0 < abs(number) < SMALLEST and kind.dimension.unit != "F":
            return Refusal(
                "out_of_bounds",
                f"below {SMALLEST:g} {kind.dimension.unit}, less than any instrument resolves; give 0",
                (kind.span,),
            )
        return float(number) + 0.0
    if not math.isfinite(number):
        return Refusal("not_finite", "not a finite number", (kind.span,))
    if number < 0.0 <= kind.low:
        detail = f"negative; {kind.dimension.article} here is {kind.span}"
    else:
        detail = f"{number:.6g} {kind.dimension.unit} is outside {kind.span}: {kind.why}"
    return Refusal("out_of_bounds", detail, (kind.span,))


def convert(value: float | str, kind: Quantity) -> float | Refusal:
    """Read a quantity, a number in the stated unit or a string with one; see `convert_text`."""
    if isinstance(value, str):
        return convert_text(value, kind)
    return convert_number(value, kind)
