"""The published units, and the bounds of every physical input.

A quantity is a JSON number in the unit that its schema states, or a string: a number and one unit of the list
below, with blanks around them. Nothing else is read: no expressions, no unit products, no locale. The same
list makes the patterns in the OpenAPI document and the conversion table in `feedproof.units`.

References
----------
BIPM, The International System of Units (SI Brochure), 9th edition: symbols, prefixes (table 7), degree Celsius.
NIST SP 811, appendix B: foot, inch and yard of 1959 (exact), degree Fahrenheit (B.6).
IEC 60038: 1000 V is the upper limit of low voltage for a.c. systems, hence of a reading here.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import get_type_hints

from msgspec import Meta, Struct

from feedproof.attribute_docs import attribute_docs

MAX_LENGTH = 40
"""Longest quantity string that is looked at [characters]."""

SMALLEST = 1e-9
"""Smallest magnitude other than zero that is taken, in the unit of the field. No instrument resolves less."""

SCHEMA_KEY = "x-quantity"
"""Where a field's schema names its quantity until the document is built."""

NUMBER = r"[+\-]?(?:[0-9]{1,12}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})(?:[eE][+\-]?[0-9]{1,3})?"
"""A number as a person or a program writes it."""
BLANKS = "[ \u00a0\u2009\u202f]*"
"""What may stand before a number, between it and its unit, and behind: nothing, or blanks of any width."""
OVERLOAD = r"[O0]\.?L\.?"
"""What a display shows above its range; where the point stands goes by the range."""

_MICRO = ("u", "\N{MICRO SIGN}", "\N{GREEK SMALL LETTER MU}")
_OHM = ("ohm", "\N{GREEK CAPITAL LETTER OMEGA}", "\N{OHM SIGN}")


class Scale(Struct, frozen=True):
    """How a unit becomes the SI unit: value = number · factor + offset.

    Decimal, so that "0.2431 kV" and 243.1 are the same float, and a unit never changes an answer's bytes.
    """

    factor: Decimal
    offset: Decimal = Decimal(0)


_ONE = Scale(Decimal(1))
_PREFIXES = {"": 0, "G": 9, "M": 6, "k": 3, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12}
"""Powers of ten."""
# 5/9 and 160/9, to as many digits as the decimal arithmetic has.
_FAHRENHEIT = Scale(Decimal("0.5555555555555555555555556"), Decimal("-17.7777777777777777777777778"))


def _with_prefixes(symbols: tuple[str, ...], prefixes: Iterable[str]) -> dict[str, Scale]:
    """Scale by spelling, for every prefix and symbol."""
    return {
        written + symbol: Scale(Decimal(10) ** _PREFIXES[prefix])
        for prefix in ("", *prefixes)
        for written in (_MICRO if prefix == "u" else (prefix,))
        for symbol in symbols
    }


class Dimension(Struct, frozen=True, kw_only=True):
    """A physical dimension and the spellings of its units that are accepted."""

    name: str
    article: str
    """"a voltage", "a current": for sentences."""
    unit: str
    """The unit of a bare number, as it is written in answers."""
    units: Mapping[str, Scale]
    """What each accepted spelling stands for."""
    shown: tuple[str, ...]
    """The spellings worth naming in a message."""

    @property
    def pattern(self) -> str:
        """Regular expression of every accepted string, in the common subset of ECMA-262 and Python."""
        spelled = "|".join(sorted(self.units, key=lambda text: (-len(text), text)))
        return f"^{BLANKS}{NUMBER}{BLANKS}(?:{spelled}){BLANKS}$"


def _dimension(name: str, article: str, unit: str, shown: str, units: dict[str, Scale]) -> Dimension:
    return Dimension(name=name, article=article, unit=unit, units=MappingProxyType(units), shown=tuple(shown.split()))


VOLTAGE = _dimension(
    "voltage", "a voltage", "V", "V mV kV",
    _with_prefixes(("V",), "kmu")
    | dict.fromkeys(("volt", "volts", "VAC", "Vac", "V AC", "V ac"), _ONE)
    | dict.fromkeys(("mVAC", "mV AC"), Scale(Decimal("0.001"))),
)  # fmt: skip
CURRENT = _dimension(
    "current", "a current", "A", "A mA",
    _with_prefixes(("A",), "kmu") | dict.fromkeys(("amp", "amps", "AAC", "Aac", "A AC", "A ac"), _ONE),
)  # fmt: skip
RESISTANCE = _dimension(
    "resistance", "a resistance", "ohm", "ohm mohm kohm Mohm Gohm",
    _with_prefixes(_OHM, "GMkmu") | {"ohms": _ONE},
)  # fmt: skip
CAPACITANCE = _dimension("capacitance", "a capacitance", "F", "pF nF F", _with_prefixes(("F",), "pnu"))
FREQUENCY = _dimension("frequency", "a frequency", "Hz", "Hz kHz", _with_prefixes(("Hz",), "k"))
LENGTH = _dimension(
    "length", "a length", "m", "m cm km ft in yd",
    _with_prefixes(("m",), "kcm")
    | dict.fromkeys(("ft", "feet", "foot"), Scale(Decimal("0.3048")))
    | {"in": Scale(Decimal("0.0254")), "yd": Scale(Decimal("0.9144"))},
)  # fmt: skip
POWER = _dimension(
    "power", "a power", "W", "W kW",
    _with_prefixes(("W",), "km") | dict.fromkeys(("watt", "watts"), _ONE),
)  # fmt: skip
TEMPERATURE = _dimension(
    "temperature", "a temperature", "degC", "degC degF K",
    dict.fromkeys(("degC", "\N{DEGREE SIGN}C"), _ONE)
    | dict.fromkeys(("degF", "\N{DEGREE SIGN}F"), _FAHRENHEIT)
    | {"K": Scale(Decimal(1), Decimal("-273.15"))},
)  # fmt: skip

DIMENSIONS: tuple[Dimension, ...] = (
    VOLTAGE, CURRENT, RESISTANCE, CAPACITANCE, FREQUENCY, LENGTH, POWER, TEMPERATURE,
)  # fmt: skip


class Quantity(Struct, frozen=True, kw_only=True):
    """One physical input: its dimension and the bounds outside which it is refused."""

    dimension: Dimension
    low: float
    high: float
    why: str
    """Where the bounds come from."""
    overload: bool = False
    """Whether a meter's "OL" is taken: above its range, no number told."""

    @property
    def pattern(self) -> str:
        """Regular expression of every accepted string."""
        pattern = self.dimension.pattern
        return f"{pattern}|^{BLANKS}{OVERLOAD}{BLANKS}$" if self.overload else pattern

    @property
    def span(self) -> str:
        """The accepted span in words: "0 to 1000 V"."""
        return f"{self.low:g} to {self.high:g} {self.dimension.unit}"


READ_VOLTAGE = Quantity(
    dimension=VOLTAGE, low=0.0, high=1000.0, why="a magnitude; low voltage ends at 1000 V (IEC 60038)"
)
READ_CURRENT = Quantity(dimension=CURRENT, low=0.0, high=1000.0, why="a magnitude; far above any branch circuit")
READ_RESISTANCE = Quantity(
    dimension=RESISTANCE, low=0.0, high=1e11, why="up to an insulation tester's range", overload=True
)
METER_RANGE = Quantity(dimension=RESISTANCE, low=0.0, high=1e11, why="up to an insulation tester's range")
LINE_FREQUENCY = Quantity(dimension=FREQUENCY, low=45.0, high=65.0, why="50 Hz and 60 Hz supplies")
RUN_LENGTH = Quantity(dimension=LENGTH, low=0.1, high=1000.0, why="one-way length of a branch circuit")
RUN_TEMPERATURE = Quantity(
    dimension=TEMPERATURE, low=-50.0, high=150.0, why="winter outdoors to above any conductor rating in use"
)
INPUT_IMPEDANCE = Quantity(
    dimension=RESISTANCE, low=100.0, high=1e11, why="solenoid testers to electrometer-like inputs"
)
INPUT_CAPACITANCE = Quantity(dimension=CAPACITANCE, low=0.0, high=1e-6, why="leads and input stage")
VOLTAGE_RESOLUTION = Quantity(dimension=VOLTAGE, low=1e-6, high=50.0, why="one count of the display")
CURRENT_RESOLUTION = Quantity(dimension=CURRENT, low=1e-6, high=10.0, why="one count of the display")
RESISTANCE_RESOLUTION = Quantity(dimension=RESISTANCE, low=1e-6, high=1e6, why="one count of the display")
THRESHOLD = Quantity(dimension=VOLTAGE, low=5.0, high=1000.0, why="sold detectors lie well within")
LOAD_POWER = Quantity(dimension=POWER, low=0.1, high=1e5, why="one appliance on one branch circuit")
LOAD_VOLTAGE = Quantity(dimension=VOLTAGE, low=50.0, high=600.0, why="rated voltages of appliances on these supplies")
LOAD_RESISTANCE = Quantity(dimension=RESISTANCE, low=0.01, high=1e7, why="one appliance on one branch circuit")
LOAD_REACTANCE = Quantity(dimension=RESISTANCE, low=-1e6, high=1e6, why="inductive positive, capacitive negative")
FAULT_RESISTANCE = Quantity(
    dimension=RESISTANCE, low=1e-3, high=1e9, why="from a poor joint to an open conductor's leakage"
)
SOURCE_VOLTAGE = Quantity(dimension=VOLTAGE, low=10.0, high=1000.0, why="a failing supply to the end of low voltage")

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {name.lower(): value for name, value in globals().copy().items() if isinstance(value, Quantity)}
)
"""Every quantity by name."""


def quantity(kind: Quantity, *examples: float | str) -> Meta:
    """Say that a field, which its docstring describes, holds a quantity.

    Parameters
    ----------
    kind : Quantity
        Dimension and bounds of the field; the published description adds them.
    *examples : float or str
        At least one value that is accepted.

    Returns
    -------
    msgspec.Meta
        For `typing.Annotated`; the document builder turns it into a reference to unit, bounds and pattern.
    """
    name = next(name for name, known in QUANTITIES.items() if known is kind)
    return Meta(examples=list(examples), extra_json_schema={SCHEMA_KEY: name})


def field_docs(kind: type[Struct]) -> dict[str, str]:
    """Describe the fields of a type by their docstrings; a quantity also by its unit and bounds.

    Parameters
    ----------
    kind : type of Struct
        A type that goes over the wire.
    """
    docs = attribute_docs(kind)
    for field, hint in get_type_hints(kind, include_extras=True).items():
        for note in getattr(hint, "__metadata__", ()):
            name = (note.extra_json_schema or {}).get(SCHEMA_KEY)
            if name is not None and field in docs:
                held = QUANTITIES[name]
                docs[field] += f" A number in {held.dimension.unit}, or a string with a unit. From {held.span}."
    return docs
