"""Typical figures of the common kinds of meter, for what a request leaves out.

Every figure that is taken from here is named in the answer's `assumptions`, with the basis given here.

References
----------
.. [1] T. R. Kuphaldt, Lessons in Electric Circuits, vol. I (DC), chapter 8: 10 Mohm is common for a modern
   digital voltmeter.
"""

from msgspec import Struct

from feedproof.readings import LOW_IMPEDANCE_BELOW

MEMORY = "from memory: typical of data sheets of this kind of meter, no single source"
PRACTICE = "common practice, no source"


class Figure(Struct, frozen=True, kw_only=True):
    """One typical figure."""

    field: str
    """Its name in a request."""
    value: float
    unit: str
    basis: str


class TypicalMeter(Struct, frozen=True, kw_only=True):
    """One common kind of meter."""

    name: str
    kind: str
    """Its `kind` in a request."""
    meaning: str
    figures: tuple[Figure, ...]

    def figure(self, field: str) -> Figure:
        """Give the typical figure for a field of a request; KeyError where the kind has none."""
        for candidate in self.figures:
            if candidate.field == field:
                return candidate
        raise KeyError(field)


def _figures(*rows: tuple[str, float, str, str]) -> tuple[Figure, ...]:
    return tuple(Figure(field=f, value=v, unit=u, basis=b) for f, v, u, b in rows)


HIGH_IMPEDANCE_VOLTMETER = TypicalMeter(
    name="high_impedance_voltmeter",
    kind="voltmeter",
    meaning="A digital voltmeter. It hardly loads the circuit, so a floating conductor can look right to it.",
    figures=_figures(
        (
            "input_impedance",
            10e6,
            "ohm",
            "Kuphaldt, Lessons in Electric Circuits, vol. I, ch. 8: common for a modern digital voltmeter",
        ),
        ("input_capacitance", 100e-12, "F", MEMORY),
        ("accuracy_percent", 0.8, "%", MEMORY),
        ("accuracy_counts", 3.0, "counts", MEMORY),
        ("resolution", 0.1, "V", MEMORY),
    ),
)
LOW_IMPEDANCE_VOLTMETER = TypicalMeter(
    name="low_impedance_voltmeter",
    kind="voltmeter",
    meaning=(
        "A voltmeter below 100 kohm: it draws enough current to pull down a floating conductor, and still too"
        " little to show a joint of some ohms."
    ),
    figures=_figures(
        ("input_impedance", 3e3, "ohm", MEMORY),
        ("input_capacitance", 100e-12, "F", MEMORY),
        ("accuracy_percent", 1.5, "%", MEMORY),
        ("accuracy_counts", 3.0, "counts", MEMORY),
        ("resolution", 1.0, "V", MEMORY),
    ),
)
PROXIMITY_DETECTOR = TypicalMeter(
    name="proximity_detector",
    kind="proximity_detector",
    meaning="Signals near a conductor with voltage to earth. It can miss and can be fooled.",
    figures=_figures(("threshold", 50.0, "V", MEMORY)),
)
CLAMP_AMMETER = TypicalMeter(
    name="clamp_ammeter",
    kind="clamp_ammeter",
    meaning="A clamp round one conductor.",
    figures=_figures(
        ("accuracy_percent", 2.0, "%", MEMORY),
        ("accuracy_counts", 5.0, "counts", MEMORY),
        ("resolution", 0.01, "A", MEMORY),
    ),
)
OHMMETER = TypicalMeter(
    name="ohmmeter",
    kind="ohmmeter",
    meaning="For an isolated and locked-out circuit only.",
    figures=_figures(
        ("accuracy_percent", 1.0, "%", MEMORY),
        ("accuracy_counts", 2.0, "counts", MEMORY),
        ("resolution", 0.1, "ohm", MEMORY),
    ),
)

TYPICAL_METERS: tuple[TypicalMeter, ...] = (
    HIGH_IMPEDANCE_VOLTMETER,
    LOW_IMPEDANCE_VOLTMETER,
    PROXIMITY_DETECTOR,
    CLAMP_AMMETER,
    OHMMETER,
)

LOAD_TOLERANCE_FROM_POWER = Figure(
    field="tolerance_percent",
    value=5.0,
    unit="%",
    basis=f"{PRACTICE}: a rating plate's power against the element's true resistance",
)
LOAD_TOLERANCE_FROM_RESISTANCE = Figure(
    field="tolerance_percent", value=1.0, unit="%", basis=f"{PRACTICE}: a load of stated resistance"
)

OHMMETER_SHORTEST_RANGE = Figure(
    field="value",
    value=400.0,
    unit="ohm",
    basis=(
        "the range is not stated, and the shortest range of a continuity function ends there"
        f" ({MEMORY}); a meter that ranges by itself shows OL above some tens of megohms ({PRACTICE}): state the end of"
        " the range with over_range to say more"
    ),
)


def typical_voltmeter(input_impedance: float | None) -> TypicalMeter:
    """Kind of voltmeter by its input impedance.

    Parameters
    ----------
    input_impedance : float or None
        Resistive input impedance [ohm]; None where it was left out.

    Returns
    -------
    TypicalMeter
        The digital voltmeter where it was left out.
    """
    if input_impedance is not None and input_impedance < LOW_IMPEDANCE_BELOW:
        return LOW_IMPEDANCE_VOLTMETER
    return HIGH_IMPEDANCE_VOLTMETER
