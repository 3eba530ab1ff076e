"""Conductor sizes, and the resistance that a sound run of them has.

Listed sizes take the published table's resistance; any other gauge or cross-section follows from the resistivity
of annealed copper and the definition of the American wire gauge. All resistances are for direct current. At the sizes
that feed an appliance the reactance adds nothing that matters (about 4 % of the resistance at 10 AWG, in quadrature).
"""

import math
import re
from typing import Final

from msgspec import Struct

from feedproof.readings import Material

COPPER_RESISTIVITY_20: Final = 1.0 / 58.0
"""International Annealed Copper Standard at 20 degC, 100 % IACS [ohm mm2/m]. NBS Handbook 100 (1966), secondary."""

ALUMINUM_CONDUCTIVITY: Final = 0.61
"""Conductivity of electrical aluminum as a share of the copper standard [1]. NBS Handbook 109, secondary."""

TEMPERATURE_COEFFICIENT_20: Final[dict[Material, float]] = {"copper": 0.00393, "aluminum": 0.00403}
"""Change of resistance per degree from 20 degC [1/K]. Copper: NBS Handbook 100; aluminum: value from memory."""

TEMPERATURE_COEFFICIENT_75: Final[dict[Material, float]] = {"copper": 0.00323, "aluminum": 0.00330}
"""Change of resistance per degree from 75 degC [1/K]. NEC chapter 9, table 8, note 2, secondary."""

LOWEST_TEMPERATURE: Final = -60.0
"""[degC]; below it the straight line of the temperature note is not to be trusted."""
HIGHEST_TEMPERATURE: Final = 150.0
"""[degC]; no wire insulation in a building lasts above it."""

_KILOFOOT = 304.8  # m
_CIRCULAR_MIL = math.pi / 4.0 * 0.0254**2  # mm2

_TABLE_8 = "NEC chapter 9, table 8, uncoated, 75 degC (read in a copy)"
_TABLE_8_MEMORY = "NEC chapter 9, table 8, uncoated, 75 degC (value from memory)"
_IEC = "IEC 60228 highest resistance at 20 degC, class 2 (read in a copy), taken to 75 degC"
_IEC_COPPER = "IEC 60228 highest resistance at 20 degC, class 2, copper (read in a copy); aluminum from resistivity"
_FORMULA = "ASTM B258 area and IACS resistivity, solid"
_AREA = "nominal area and IACS resistivity"

# Gauge or kcmil, copper and aluminum [ohm per 1000 ft] at 75 degC. Solid up to 8 AWG, stranded from 6 AWG.
_TABLE_8_ROWS: tuple[tuple[str, float, float, str], ...] = (
    ("18 AWG", 7.77, 12.8, _TABLE_8_MEMORY),
    ("16 AWG", 4.89, 8.05, _TABLE_8_MEMORY),
    ("14 AWG", 3.07, 5.06, _TABLE_8),
    ("12 AWG", 1.93, 3.18, _TABLE_8),
    ("10 AWG", 1.21, 2.00, _TABLE_8),
    ("8 AWG", 0.764, 1.26, _TABLE_8),
    ("6 AWG", 0.491, 0.808, _TABLE_8),
    ("4 AWG", 0.308, 0.508, _TABLE_8),
    ("3 AWG", 0.245, 0.403, _TABLE_8_MEMORY),
    ("2 AWG", 0.194, 0.319, _TABLE_8),
    ("1 AWG", 0.154, 0.253, _TABLE_8_MEMORY),
    ("1/0 AWG", 0.122, 0.201, _TABLE_8),
    ("2/0 AWG", 0.0967, 0.159, _TABLE_8_MEMORY),
    ("3/0 AWG", 0.0766, 0.126, _TABLE_8_MEMORY),
    ("4/0 AWG", 0.0608, 0.100, _TABLE_8),
    ("250 kcmil", 0.0515, 0.0847, _TABLE_8_MEMORY),
    ("350 kcmil", 0.0367, 0.0605, _TABLE_8_MEMORY),
    ("500 kcmil", 0.0258, 0.0424, _TABLE_8_MEMORY),
)

# Cross-section [mm2], copper and aluminum [ohm/km] at 20 degC.
_IEC_ROWS: tuple[tuple[float, float, float | None], ...] = (
    (1.5, 12.1, None),
    (2.5, 7.41, None),
    (4.0, 4.61, None),
    (6.0, 3.08, None),
    (10.0, 1.83, 3.08),
    (16.0, 1.15, 1.91),
    (25.0, 0.727, 1.20),
)

_LONGEST_NAME = 24
_GAUGE = re.compile(r"(?:AWG ?)?#?(\d{1,2})(/0)?(?: ?AWG)?", re.IGNORECASE | re.ASCII)
_KCMIL = re.compile(r"(\d{3,4}(?:\.\d{1,2})?) ?(?:kcmil|MCM)", re.IGNORECASE | re.ASCII)
_METRIC = re.compile(r"(\d{1,3}(?:\.\d{1,3})?) ?mm(?:2|²|\^2)", re.IGNORECASE | re.ASCII)


class ConductorSize(Struct, frozen=True, kw_only=True):
    """One size of conductor with its resistance."""

    name: str
    """As the trade writes it, "6 AWG", "1/0 AWG", "250 kcmil" or "16 mm2"."""
    area: float
    """Cross-section of metal [mm2]."""
    copper: float
    """Direct-current resistance of copper at 75 degC [ohm/km]."""
    aluminum: float
    """Direct-current resistance of aluminum at 75 degC [ohm/km]."""
    source: str
    """Where the resistances come from."""


def gauge_diameter(gauge: int) -> float:
    """Diameter of a solid conductor of an American wire gauge: ``0.127 mm * 92**((36 - n)/39)``.

    Parameters
    ----------
    gauge : int
        Gauge number; 0 is 1/0, -1 is 2/0, -3 is 4/0 [1].

    Returns
    -------
    float
        [mm]

    References
    ----------
    .. [1] ASTM B258, Standard Specification for Standard Nominal Diameters and Cross-Sectional Areas of AWG Sizes of
       Solid Round Wires Used as Electrical Conductors (the formula was read in a copy, the standard's number is from
       memory).
    """
    return float(0.127 * 92.0 ** ((36 - gauge) / 39.0))


def gauge_area(gauge: int) -> float:
    """Cross-section of an American wire gauge; see `gauge_diameter`.

    Parameters
    ----------
    gauge : int
        Gauge number; 0 is 1/0, -1 is 2/0, -3 is 4/0 [1].

    Returns
    -------
    float
        [mm2]

    References
    ----------
    .. [1] ASTM B258.
    """
    return math.pi / 4.0 * gauge_diameter(gauge) ** 2


def resistivity(material: Material, temperature: float = 20.0) -> float:
    """Resistivity of conductor metal: ``rho20 * (1 + alpha20 * (T - 20))``.

    Parameters
    ----------
    material : {"copper", "aluminum"}
        The metal.
    temperature : float
        Between -60 and 150 [degC].

    Returns
    -------
    float
        [ohm mm2/m]

    Raises
    ------
    ValueError
        If the temperature lies outside that range.

    References
    ----------
    .. [1] NBS Handbook 100, Copper Wire Tables (1966): 1/58 ohm mm2/m, 0.00393 1/K (read in a copy).
    .. [2] NBS Handbook 109, Aluminum Wire Tables: 61 % of the copper standard; 0.00403 1/K is from memory.
    """
    _check_temperature(temperature)
    share = 1.0 if material == "copper" else ALUMINUM_CONDUCTIVITY
    return COPPER_RESISTIVITY_20 / share * (1.0 + TEMPERATURE_COEFFICIENT_20[material] * (temperature - 20.0))


def _check_temperature(temperature: float) -> None:
    if not LOWEST_TEMPERATURE <= temperature <= HIGHEST_TEMPERATURE:
        raise ValueError(
            f"a conductor temperature must lie between {LOWEST_TEMPERATURE:g} and {HIGHEST_TEMPERATURE:g} degC"
        )


def _computed(name: str, area: float, source: str) -> ConductorSize:
    per_km = 1000.0 / area
    return ConductorSize(
        name=name,
        area=area,
        copper=resistivity("copper", 75.0) * per_km,
        aluminum=resistivity("aluminum", 75.0) * per_km,
        source=source,
    )


def _named_area(name: str) -> float:
    number, unit = name.split(" ")
    if unit == "kcmil":
        return 1000.0 * float(number) * _CIRCULAR_MIL
    return gauge_area(1 - int(number[0]) if number.endswith("/0") else int(number))


def _table_8() -> list[ConductorSize]:
    return [
        ConductorSize(
            name=name,
            area=_named_area(name),
            copper=1000.0 / _KILOFOOT * copper,
            aluminum=1000.0 / _KILOFOOT * aluminum,
            source=source,
        )
        for name, copper, aluminum, source in _TABLE_8_ROWS
    ]


def _iec_60228() -> list[ConductorSize]:
    def warm(material: Material, at_20: float) -> float:
        return at_20 * (1.0 + TEMPERATURE_COEFFICIENT_20[material] * 55.0)

    return [
        ConductorSize(
            name=f"{area:g} mm2",
            area=area,
            copper=warm("copper", copper),
            aluminum=resistivity("aluminum", 75.0) * 1000.0 / area if aluminum is None else warm("aluminum", aluminum),
            source=_IEC_COPPER if aluminum is None else _IEC,
        )
        for area, copper, aluminum in _IEC_ROWS
    ]


CONDUCTOR_SIZES: Final[tuple[ConductorSize, ...]] = (*_table_8(), *_iec_60228())
"""The sizes that the catalogue lists, thin to thick, gauges before square millimetres."""

_LISTED = {size.name: size for size in CONDUCTOR_SIZES}


def conductor_size(size: str) -> ConductorSize:
    """Read the name of a conductor size.

    Parameters
    ----------
    size : str
        "6 AWG", "1/0 AWG", "4/0", "250 kcmil", "16 mm2" or "16 mm²"; letter case and the space before the unit do not
        matter. Gauges from 20 to 4/0, 250 to 1000 kcmil, 0.5 to 500 mm2. A bare number is refused: it could be either.

    Returns
    -------
    ConductorSize
        The listed size where there is one, otherwise one computed from its area.

    Raises
    ------
    ValueError
        If the name cannot be read or lies outside these ranges; the message lists what is accepted.

    References
    ----------
    .. [1] NFPA 70, National Electrical Code, chapter 9, table 8 (conductor properties).
    .. [2] IEC 60228, Conductors of insulated cables.
    .. [3] ASTM B258.
    """
    name = " ".join(size.split()) if len(size) <= _LONGEST_NAME else ""
    if (found := _GAUGE.fullmatch(name)) and (found[2] or "awg" in name.lower() or "#" in name):
        number = int(found[1])
        gauge = 1 - number if found[2] else number
        if (found[2] and 1 <= number <= 4) or (not found[2] and 1 <= number <= 20):
            canonical = f"{number}{found[2] or ''} AWG"
            return _LISTED.get(canonical) or _computed(canonical, gauge_area(gauge), _FORMULA)
    elif found := _KCMIL.fullmatch(name):
        if 250.0 <= float(found[1]) <= 1000.0:
            canonical = f"{float(found[1]):g} kcmil"
            return _LISTED.get(canonical) or _computed(canonical, _named_area(canonical), _AREA)
    elif (found := _METRIC.fullmatch(name)) and 0.5 <= float(found[1]) <= 500.0:
        canonical = f"{float(found[1]):g} mm2"
        return _LISTED.get(canonical) or _computed(canonical, float(found[1]), _AREA)
    listed = ", ".join(_LISTED)
    raise ValueError(
        f"not a conductor size; accepted are {listed}, and any gauge from 20 AWG to 4/0 AWG, "
        "250 to 1000 kcmil, or 0.5 to 500 mm2"
    )


def resistance_per_metre(size: str, material: Material, temperature: float = 30.0) -> float:
    """Direct-current resistance of one metre of a sound conductor: ``R75 * (1 + alpha75 * (T - 75))``.

    Parameters
    ----------
    size : str
        See `conductor_size`.
    material : {"copper", "aluminum"}
        The metal.
    temperature : float
        Of the conductor, between -60 and 150 [degC].

    Returns
    -------
    float
        [ohm/m]

    Raises
    ------
    ValueError
        If the size cannot be read or the temperature lies outside that range.

    References
    ----------
    .. [1] NFPA 70, National Electrical Code, chapter 9, table 8 and its note 2 (read in copies).
    """
    _check_temperature(temperature)
    found = conductor_size(size)
    at_75 = found.copper if material == "copper" else found.aluminum
    return at_75 / 1000.0 * (1.0 + TEMPERATURE_COEFFICIENT_75[material] * (temperature - 75.0))
