"""A visit, written down in the words of the trade and turned into a reading set.

>>> visit = Visit("cabin-12/range")
>>> loz = visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
>>> unplugged = visit.disconnected()
>>> unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz).voltage("L2", "N", 7, loz).taken
3
>>> visit.reading_set().readings[1].value
7.0
"""

from collections.abc import Mapping
from typing import Literal, Self, TypedDict, Unpack

from msgspec import convert, structs, to_builtins

from feedproof_sdk._quantities import QuantityLike, quantity
from feedproof_sdk.types.assessment import NextReading
from feedproof_sdk.types.request import (
    Appliance,
    ApplianceKind,
    ConductorName,
    CurrentReading,
    LightsWhere,
    Load,
    LoadState,
    LoadStateKind,
    Meter,
    Observation,
    ObservationCode,
    PointName,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Supply,
    TerminalName,
    VoltageReading,
    Voltmeter,
)
from feedproof_sdk.types.simulation import Asked, Simulation, SimulationRequest

_WHAT_IS_READ = {"value", "detected", "supply", "over_range", "id", "repeats"}


class Where(TypedDict, total=False):
    """What may be said of any reading."""

    point: PointName
    """Left out: `receptacle`."""
    id: str
    """The caller's own, that the answer speaks of it by."""
    repeats: str
    """Id of the reading that this one takes again."""


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
        self, first: TerminalName, second: TerminalName, value: QuantityLike, meter: str, **where: Unpack[Where]
    ) -> Self:
        """Add a voltage between two conductors, or a conductor and metalwork [V]."""
        read = quantity(value)
        return self._take(
            VoltageReading(between=(first, second), value=read, meter=meter, load_state=self.label, **where)
        )

    def proximity(self, at: ConductorName, *, detected: bool, meter: str, **where: Unpack[Where]) -> Self:
        """Add whether a proximity detector signalled at a conductor."""
        return self._take(ProximityReading(at=at, detected=detected, meter=meter, load_state=self.label, **where))

    def current(self, through: ConductorName, value: QuantityLike, meter: str, **where: Unpack[Where]) -> Self:
        """Add a current through one conductor, by a clamp [A]."""
        read = quantity(value)
        return self._take(CurrentReading(through=through, value=read, meter=meter, load_state=self.label, **where))

    def resistance(
        self,
        first: ConductorName,
        second: ConductorName,
        value: QuantityLike,
        meter: str,
        *,
        supply: Literal["isolated"],
        over_range: bool | None = None,
        **where: Unpack[Where],
    ) -> Self:
        """Add a resistance between two conductors [ohm]; `supply` states that the circuit was isolated."""
        reading = ResistanceReading(
            between=(first, second), value=quantity(value), meter=meter, load_state=self.label, supply=supply,
            over_range=over_range, **where,
        )  # fmt: skip
        return self._take(reading)

    def _take(self, reading: Reading) -> Self:
        self._readings.append(reading)
        return self


class Visit:
    """What a technician writes down at one appliance: the supply, the meters, and readings by load state.

    Nothing is checked but what would be lost on the way; the service tells every fault of a reading set at once.

    Parameters
    ----------
    reference : str, optional
        The caller's own; comes back in the answer.
    supply : Supply, optional
        What is known of it: system, receptacle, cable; left out: a 120/240 V split phase.
    appliance : str, optional
        What it is: `range`, `water_heater` and so on.
    base_rates : mapping of str to float, optional
        Base rate by fault, to stand in for the model's own; a fault left out keeps its published rate.
    """

    def __init__(
        self,
        reference: str | None = None,
        *,
        supply: Supply | None = None,
        appliance: ApplianceKind | None = None,
        base_rates: Mapping[str, float] | None = None,
    ) -> None:
        self._head = ReadingSet(
            reference=reference,
            supply=supply,
            appliance=None if appliance is None else Appliance(kind=appliance),
            readings=(),
            base_rates=None if base_rates is None else dict(base_rates),
        )
        self._observations: list[ObservationCode | Observation] = []
        self._meters: dict[str, Meter] = {}
        self._states: dict[str, LoadState] = {}
        self._readings: list[Reading] = []

    def meter(self, label: str, meter: Meter) -> str:
        """Add a meter and give its label."""
        if self._meters.setdefault(label, meter) != meter:
            raise ValueError(f"there is another meter {label!r} on this visit")
        return label

    def disconnected(self, label: str = "disconnected") -> ReadingsUnderLoad:
        """Readings with the appliance not plugged in."""
        return self._state(label, "disconnected", ())

    def idle(self, label: str = "idle", *, loads: tuple[Load, ...] = ()) -> ReadingsUnderLoad:
        """Readings with the appliance connected and not started."""
        return self._state(label, "idle", loads)

    def running(self, label: str = "running", *, loads: tuple[Load, ...] = ()) -> ReadingsUnderLoad:
        """Readings with the appliance running; its loads, where they are known."""
        return self._state(label, "running", loads)

    def test_load(self, label: str = "test_load", *, loads: tuple[Load, ...]) -> ReadingsUnderLoad:
        """Readings with a known load in the appliance's place."""
        return self._state(label, "test_load", loads)

    def observed(self, code: ObservationCode, *, where: LightsWhere | None = None) -> Self:
        """State what was seen or told; of `lights_brighten_and_dim` also where."""
        self._observations.append(code if where is None else Observation(code=code, where=where))
        return self

    def take(self, following: NextReading, value: QuantityLike, *, reading_id: str | None = None) -> Self:
        """Add a reading that an answer asked for, with its load state and, where it is a new one, its meter.

        Parameters
        ----------
        following : NextReading
            One of `Assessment.next_readings`. Something to look or ask for is added where `value` is True.
        value : number, str, quantity or bool
            What was read [V, A, ohm]; of a proximity detector whether it signalled.
        reading_id : str, optional
            The caller's own name of the reading, for `repeat`.

        Raises
        ------
        BadQuantity
            If a truth value stands for a quantity.
        msgspec.ValidationError
            If it is of a kind that this version does not know.
        """
        reading = following.reading
        if reading is None:
            if value is True and following.observation is not None:
                self._observations.append(convert(following.observation, ObservationCode))
            return self
        read = {"detected": value} if reading.kind == "proximity" else {"value": quantity(value)}
        taken: Reading = convert(to_builtins(reading) | read | ({"id": reading_id} if reading_id else {}), Reading)
        if following.meter is not None:
            self.meter(reading.meter, convert(to_builtins(following.meter), Meter))
        if following.load_state is not None and reading.load_state not in self._states:
            state: LoadState = convert(to_builtins(following.load_state), LoadState)
            if state != LoadState(kind=state.kind) or reading.load_state != state.kind:
                self._states[reading.load_state] = state
        self._readings.append(taken)
        return self

    def repeat(self, reading_id: str, value: QuantityLike) -> Self:
        """Add a reading that takes an earlier one of this visit again: the same meter, contacts and load state.

        Parameters
        ----------
        reading_id : str
            Id of the earlier reading.
        value : number, str, quantity or bool
            What was read this time [V, A, ohm]; of a proximity detector whether it signalled.

        Raises
        ------
        ValueError
            If no reading of the visit has that id, or a truth value stands for a quantity.
        """
        first = next((reading for reading in self._readings if reading.id == reading_id), None)
        if first is None:
            raise ValueError(f"no reading of this visit has the id {reading_id!r}")
        proximity = isinstance(first, ProximityReading)
        read = {"detected": bool(value)} if proximity else {"value": quantity(value)}
        self._readings.append(structs.replace(first, id=None, repeats=reading_id, **read))
        return self

    def reading_set(self) -> ReadingSet:
        """Give what has been written down so far, as it is sent."""
        return structs.replace(
            self._head,
            meters=dict(self._meters) or None,
            load_states=dict(self._states) or None,
            readings=tuple(self._readings),
            observations=tuple(self._observations) or None,
        )

    def simulation(
        self,
        fault: str,
        *,
        conductor: ConductorName | None = None,
        location: str | None = None,
        resistance: QuantityLike | None = None,
        supply_voltage: QuantityLike | None = None,
        seed: int | None = None,
    ) -> SimulationRequest:
        """Ask what the readings of this visit would have shown with a stated fault; their values are left aside.

        Parameters
        ----------
        fault : str
            One of `names.Fault`; `none_found` is a sound supply.
        conductor : str, optional
            Left out: the first that it can sit on.
        location : str, optional
            As findings write it.
        resistance : number, str or quantity, optional
            Series resistance of the fault [ohm]; left out: the middle of what its name covers.
        supply_voltage : number, str or quantity, optional
            Leg to grounded point at the source [V]; left out: the usual one.
        seed : int, optional
            With a seed, what is unknown is drawn; left out: everything at its median.
        """
        written = self.reading_set()
        asked = [{k: v for k, v in to_builtins(one).items() if k not in _WHAT_IS_READ} for one in written.readings]
        return SimulationRequest(
            fault=fault,
            conductor=conductor,
            location=location,
            resistance=None if resistance is None else quantity(resistance),
            supply_voltage=None if supply_voltage is None else quantity(supply_voltage),
            supply=written.supply,
            appliance=written.appliance,
            meters=written.meters,
            load_states=written.load_states,
            readings=convert(asked, tuple[Asked, ...]),
            seed=seed,
        )

    def _state(self, label: str, kind: LoadStateKind, loads: tuple[Load, ...]) -> ReadingsUnderLoad:
        state = LoadState(kind=kind, loads=loads or None)
        if (label != kind or loads) and self._states.setdefault(label, state) != state:
            raise ValueError(f"there is another load state {label!r} on this visit")
        return ReadingsUnderLoad(label, self._readings)


def simulated(asked: SimulationRequest, answer: Simulation) -> ReadingSet:
    """Put the readings of a simulation with the circuit and meters that they were asked for with, to be assessed.

    Parameters
    ----------
    asked : SimulationRequest
        What was sent.
    answer : Simulation
        What came back.
    """
    return ReadingSet(
        supply=asked.supply,
        appliance=asked.appliance,
        meters=asked.meters,
        load_states=asked.load_states,
        readings=answer.readings,
    )


__all__ = ["ReadingsUnderLoad", "Visit", "Voltmeter", "Where", "simulated"]
