"""Readings of a visit under one load state."""

from typing import Literal, Self

from msgspec import structs

from feedproof_sdk._quantities import QuantityLike, on_wire
from feedproof_sdk.types.request import (
    ConductorName,
    CurrentReading,
    PointName,
    ProximityReading,
    Reading,
    ResistanceReading,
    TerminalName,
    VoltageReading,
)


class ReadingsUnderLoad:
    """Readings under one load state: one circuit. Every method gives the object back, so that calls can be chained."""

    def __init__(self, label: str, readings: list[Reading]) -> None:
        self.label = label
        self._readings = readings

    @property
    def taken(self) -> int:
        """How many readings have been taken under it."""
        return sum(reading.load_state == self.label for reading in self._readings)

    def voltage(
        self,
        first: TerminalName,
        second: TerminalName,
        value: QuantityLike,
        meter: str,
        *,
        point: PointName | None = None,
    ) -> Self:
        """Add a voltage between two conductors, or a conductor and metalwork [V]."""
        return self._take(
            VoltageReading(
                between=(first, second),
                value=on_wire(value, "volt", f"voltage {first}-{second}"),
                meter=meter,
                load_state=self.label,
                point=point,
            )
        )

    def proximity(
        self,
        at: ConductorName,
        *,
        detected: bool,
        meter: str,
        point: PointName | None = None,
    ) -> Self:
        """Add whether a proximity detector signalled at a conductor."""
        return self._take(ProximityReading(at=at, detected=detected, meter=meter, load_state=self.label, point=point))

    def current(
        self,
        through: ConductorName,
        value: QuantityLike,
        meter: str,
        *,
        point: PointName | None = None,
    ) -> Self:
        """Add a current through one conductor, by a clamp [A]."""
        return self._take(
            CurrentReading(
                through=through,
                value=on_wire(value, "ampere", f"current {through}"),
                meter=meter,
                load_state=self.label,
                point=point,
            )
        )

    def resistance(
        self,
        first: ConductorName,
        second: ConductorName,
        value: QuantityLike,
        meter: str,
        *,
        supply: Literal["isolated"],
        point: PointName | None = None,
        over_range: bool | None = None,
    ) -> Self:
        """Add a resistance between two conductors [ohm]; `supply` states that the circuit was isolated."""
        return self._take(
            ResistanceReading(
                between=(first, second),
                value=on_wire(value, "ohm", f"resistance {first}-{second}"),
                meter=meter,
                load_state=self.label,
                supply=supply,
                point=point,
                over_range=over_range,
            )
        )

    def called(self, id: str) -> Self:  # noqa: A002 - as the contract has it
        """Give the last reading an id, that the answer speaks of it by; must follow a reading of this load state."""
        return self._change_last(id=id)

    def repeating(self, id: str) -> Self:  # noqa: A002 - as the contract has it
        """State that the last reading takes the one of that id again."""
        return self._change_last(repeats=id)

    def _change_last(self, **changes: str) -> Self:
        if not self._readings or self._readings[-1].load_state != self.label:
            raise ValueError(f"no reading under {self.label!r} was just taken")
        self._readings[-1] = structs.replace(self._readings[-1], **changes)
        return self

    def _take(self, reading: Reading) -> Self:
        self._readings.append(reading)
        return self
