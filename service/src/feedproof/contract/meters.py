"""The meters of a request."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.quantities import (
    CURRENT_RESOLUTION,
    INPUT_CAPACITANCE,
    INPUT_IMPEDANCE,
    RESISTANCE_RESOLUTION,
    THRESHOLD,
    VOLTAGE_RESOLUTION,
    quantity,
)

Percent = Annotated[
    Annotated[float, Meta(ge=0.0, le=50.0)] | None,
    Meta(
        description="Limit of error as a share of the reading, in percent, 0 to 50. Left out: typical of the kind.",
        examples=[0.8],
    ),
]
Counts = Annotated[
    Annotated[float, Meta(ge=0.0, le=1000.0)] | None,
    Meta(
        description=(
            "Limit of error in counts of the resolution, 0 to 1000, added to the share of the reading."
            " Left out: typical of the kind."
        ),
        examples=[3],
    ),
]


class Proved(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """When a tester was shown to work, on a source known to be live."""

    before: Annotated[bool | None, Meta(examples=[True])] = None
    """Before the readings. Left out: not known."""
    after: Annotated[bool | None, Meta(examples=[True])] = None
    """After them. Left out: not known."""


MeterProof = Annotated[
    Proved | None,
    Meta(
        description=(
            "When it was shown to work. Both before and after: zeros from it are then hardly a dead tester's."
            " Left out: not known, and taken as not proved."
        ),
        examples=[{"before": True, "after": True}],
    ),
]


class Voltmeter(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="voltmeter"):
    """A voltmeter. Its input impedance decides what it can prove."""

    input_impedance: Annotated[float | str | None, quantity(INPUT_IMPEDANCE, "10 Mohm", 3000)] = None
    """Resistance of the input in the mode used. Left out: 10 Mohm, the typical digital voltmeter."""
    input_capacitance: Annotated[float | str | None, quantity(INPUT_CAPACITANCE, "100 pF")] = None
    """Capacitance in parallel with it. Left out: 100 pF."""
    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[float | str | None, quantity(VOLTAGE_RESOLUTION, "0.1 V", 0.1)] = None
    """Smallest step shown. Left out: typical of the kind."""
    proved: MeterProof = None


class ProximityDetector(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="proximity_detector"
):
    """A detector that signals near a conductor with voltage to earth. It alone establishes nothing."""

    threshold: Annotated[float | str | None, quantity(THRESHOLD, "50 V", 50)] = None
    """Voltage to earth at which it signals half the time. Left out: 50 V."""
    proved: MeterProof = None


class ClampAmmeter(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="clamp_ammeter"
):
    """A clamp round one conductor."""

    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[float | str | None, quantity(CURRENT_RESOLUTION, "0.01 A", 0.01)] = None
    """Smallest step shown. Left out: 0.01 A."""


class Ohmmeter(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="ohmmeter"):
    """An ohmmeter. For an isolated circuit only."""

    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[float | str | None, quantity(RESISTANCE_RESOLUTION, "0.1 ohm", 0.1)] = None
    """Smallest step shown. Left out: 0.1 ohm."""


Meter = Voltmeter | ProximityDetector | ClampAmmeter | Ohmmeter
