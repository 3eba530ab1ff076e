"""Meters of a request, in SI units, with typical figures for what it leaves out."""

from feedproof.contract import meters as wire
from feedproof.contract import quantities as q
from feedproof.contract.structure import escape
from feedproof.instruments import typical
from feedproof.parsing.diagnostics import Diagnostics
from feedproof.readings import ClampAmmeter, Meter, Ohmmeter, ProximityDetector, Voltmeter


def _voltmeter(name: str, given: wire.Voltmeter, at: str, diagnostics: Diagnostics) -> Voltmeter:
    impedance = diagnostics.optional(given.input_impedance, q.INPUT_IMPEDANCE, f"{at}/input_impedance")
    kind = typical.typical_voltmeter(impedance)
    words = "a " + kind.name.replace("_", "-", 1).replace("_", " ")

    def take(field: str, value: float | str | None, quantity: q.Quantity | None) -> float:
        return diagnostics.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)

    return Voltmeter(
        name=name,
        input_impedance=take("input_impedance", impedance, None),
        input_capacitance=take("input_capacitance", given.input_capacitance, q.INPUT_CAPACITANCE),
        accuracy_percent=take("accuracy_percent", given.accuracy_percent, None),
        accuracy_counts=take("accuracy_counts", given.accuracy_counts, None),
        resolution=take("resolution", given.resolution, q.VOLTAGE_RESOLUTION),
        proved=_proved(given.proved, at, diagnostics),
    )


def _proved(given: wire.Proved | None, at: str, diagnostics: Diagnostics) -> bool:
    """Whether it was shown to work before and after; a proof on one side alone lets it have died between."""
    given = given or wire.Proved()
    for field, value in (("before", given.before), ("after", given.after)):
        if value is None:
            diagnostics.assume(f"{at}/proved/{field}", False, None, "not stated; taken as not shown to work")  # noqa: FBT003
    return bool(given.before and given.after)


def read_meter(name: str, given: wire.Meter, diagnostics: Diagnostics) -> Meter:
    """Make a meter; every typical figure that is taken is noted."""
    at = f"/meters/{escape(name)}"
    match given:
        case wire.Voltmeter():
            return _voltmeter(name, given, at, diagnostics)
        case wire.ProximityDetector():
            figure = typical.PROXIMITY_DETECTOR.figure("threshold")
            threshold = diagnostics.figure(
                given.threshold, q.THRESHOLD, f"{at}/threshold", figure, "a proximity detector"
            )
            return ProximityDetector(name=name, threshold=threshold, proved=_proved(given.proved, at, diagnostics))
    kind, step, words = (
        (typical.CLAMP_AMMETER, q.CURRENT_RESOLUTION, "a clamp ammeter")
        if isinstance(given, wire.ClampAmmeter)
        else (typical.OHMMETER, q.RESISTANCE_RESOLUTION, "an ohmmeter")
    )
    percent, counts, resolution = (
        diagnostics.figure(value, quantity, f"{at}/{field}", kind.figure(field), words)
        for field, value, quantity in (
            ("accuracy_percent", given.accuracy_percent, None),
            ("accuracy_counts", given.accuracy_counts, None),
            ("resolution", given.resolution, step),
        )
    )
    made = ClampAmmeter if isinstance(given, wire.ClampAmmeter) else Ohmmeter
    return made(name=name, accuracy_percent=percent, accuracy_counts=counts, resolution=resolution)
