"""A visit, written down in the words of the trade and turned into a reading set.

>>> from feedproof_sdk import Voltmeter
>>> visit = Visit("cabin-12/range")
>>> loz = visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
>>> unplugged = visit.disconnected()
>>> _ = unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz).voltage("L2", "N", 7, loz)
>>> visit.reading_set().readings[1].value
7.0
"""

from collections.abc import Mapping
from typing import Literal, Self, TypedDict, Unpack

from msgspec import convert, structs, to_builtins

from feedproof_sdk._quantities import QuantityLike, quantity
from feedproof_sdk.types import request
from feedproof_sdk.types.assessment import NextReading
from feedproof_sdk.types.simulation import Simulation, SimulationRequest

_WHAT_IS_READ = {"value", "detected", "supply", "over_range", "id", "repeats"}
_CIRCUIT = ("supply", "appliance", "meters", "load_states")


class Where(TypedDict, total=False):
    """What may be said of any reading."""

    point: request.PointName
    """Left out: `receptacle`."""
    id: str
    """The caller's own, that the answer speaks of it by."""
    repeats: str
    """Id of the reading that this one takes again."""


class Stated(TypedDict, total=False):
    """What may be stated of a fault that is simulated."""

    conductor: request.ConductorName
    """Left out: the first that it can sit on."""
    location: str
    """As findings write it."""
    resistance: float | str
    """Series resistance of the fault [ohm]; left out: the middle of what its name covers."""
    supply_voltage: float | str
    """Leg to grounded point at the source [V]; left out: the usual one."""
    seed: int
    """With a seed, what is unknown is drawn; left out: everything at its median."""


class ReadingsUnderLoad:
    """Readings under one load state: one circuit. Every method gives the object back, so that calls can be chained."""

    def __init__(self, label: str, readings: list[request.Reading]) -> None:
        self.label = label
        self._readings = readings

    def voltage(
        self,
        first: request.TerminalName,
        second: request.TerminalName,
        value: QuantityLike,
        meter: str,
        **where: Unpack[Where],
    ) -> Self:
        """Add a voltage between two conductors, or a conductor and metalwork [V]."""
        read = quantity(value)
        return self._take(
            request.VoltageReading(between=(first, second), value=read, meter=meter, load_state=self.label, **where)
        )

    def proximity(self, at: request.ConductorName, *, detected: bool, meter: str, **where: Unpack[Where]) -> Self:
        """Add whether a proximity detector signalled at a conductor."""
        return self._take(
            request.ProximityReading(at=at, detected=detected, meter=meter, load_state=self.label, **where)
        )

    def current(self, through: request.ConductorName, value: QuantityLike, meter: str, **where: Unpack[Where]) -> Self:
        """Add a current through one conductor, by a clamp [A]."""
        read = quantity(value)
        return self._take(
            request.CurrentReading(through=through, value=read, meter=meter, load_state=self.label, **where)
        )

    def resistance(
        self,
        first: request.ConductorName,
        second: request.ConductorName,
        value: QuantityLike,
        meter: str,
        *,
        supply: Literal["isolated"],
        over_range: bool | None = None,
        **where: Unpack[Where],
    ) -> Self:
        """Add a resistance between two conductors [ohm]; `supply` states that the circuit was isolated."""
        reading = request.ResistanceReading(
            between=(first, second), value=quantity(value), meter=meter, load_state=self.label, supply=supply,
            over_range=over_range, **where,
        )  # fmt: skip
        return self._take(reading)

    def _take(self, reading: request.Reading) -> Self:
        self._readings.append(reading)
        return self


class Visit:
    """What a technician writes down at one appliance: the supply, the meters, and readings by load state.

    Nothing is checked but what would be lost on the way; the service tells every fault of a reading set at once.

    Parameters
    ----------
    reference : str, optional
        The caller's own; comes back in the answer.
    details : VisitDetails, optional
        Site, appliance, who took the readings and when: for the head of the note.
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
        details: request.VisitDetails | None = None,
        supply: request.Supply | None = None,
        appliance: request.ApplianceKind | None = None,
        base_rates: Mapping[str, float] | None = None,
    ) -> None:
        self._head = request.ReadingSet(
            reference=reference,
            visit=details,
            supply=supply,
            appliance=None if appliance is None else request.Appliance(kind=appliance),
            readings=(),
            base_rates=None if base_rates is None else dict(base_rates),
        )
        self._observations: list[request.ObservationCode | request.Observation] = []
        self._meters: dict[str, request.Meter] = {}
        self._states: dict[str, request.LoadState] = {}
        self._readings: list[request.Reading] = []

    def meter(self, label: str, meter: request.Meter) -> str:
        """Add a meter and give its label."""
        if self._meters.setdefault(label, meter) != meter:
            raise ValueError(f"there is another meter {label!r} on this visit")
        return label

    def disconnected(self, label: str = "disconnected") -> ReadingsUnderLoad:
        """Readings with the appliance not plugged in."""
        return self._state(label, "disconnected", ())

    def idle(self, label: str = "idle", *, loads: tuple[request.Load, ...] = ()) -> ReadingsUnderLoad:
        """Readings with the appliance connected and not started."""
        return self._state(label, "idle", loads)

    def running(self, label: str = "running", *, loads: tuple[request.Load, ...] = ()) -> ReadingsUnderLoad:
        """Readings with the appliance running; its loads, where they are known."""
        return self._state(label, "running", loads)

    def test_load(self, label: str = "test_load", *, loads: tuple[request.Load, ...]) -> ReadingsUnderLoad:
        """Readings with a known load in the appliance's place."""
        return self._state(label, "test_load", loads)

    def observed(self, code: request.ObservationCode, *, where: request.LightsWhere | None = None) -> Self:
        """State what was seen or told; of `lights_brighten_and_dim` also where."""
        self._observations.append(code if where is None else request.Observation(code=code, where=where))
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
                self._observations.append(convert(following.observation, request.ObservationCode))
            return self
        read = {"detected": value} if reading.kind == "proximity" else {"value": quantity(value)}
        taken: request.Reading = convert(
            to_builtins(reading) | read | ({"id": reading_id} if reading_id else {}), request.Reading
        )
        if following.meter is not None:
            self.meter(reading.meter, convert(to_builtins(following.meter), request.Meter))
        if following.load_state is not None and reading.load_state not in self._states:
            state: request.LoadState = convert(to_builtins(following.load_state), request.LoadState)
            if state != request.LoadState(kind=state.kind) or reading.load_state != state.kind:
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
        proximity = isinstance(first, request.ProximityReading)
        read = {"detected": bool(value)} if proximity else {"value": quantity(value)}
        self._readings.append(structs.replace(first, id=None, repeats=reading_id, **read))
        return self

    def reading_set(self) -> request.ReadingSet:
        """Give what has been written down so far, as it is sent."""
        return structs.replace(
            self._head,
            meters=dict(self._meters) or None,
            load_states=dict(self._states) or None,
            readings=tuple(self._readings),
            observations=tuple(self._observations) or None,
        )

    def simulation(self, fault: str, **stated: Unpack[Stated]) -> SimulationRequest:
        """Ask what the readings of this visit would have shown with a stated fault; their values are left aside.

        Parameters
        ----------
        fault : str
            One of `names.Fault`; `none_found` is a sound supply.
        **stated
            What else is stated of it, see `Stated`.
        """
        written = to_builtins(self.reading_set())
        circuit = {name: written[name] for name in _CIRCUIT if name in written}
        asked = [{k: v for k, v in reading.items() if k not in _WHAT_IS_READ} for reading in written["readings"]]
        return convert({"fault": fault, **stated, **circuit, "readings": asked}, SimulationRequest)

    def _state(self, label: str, kind: request.LoadStateKind, loads: tuple[request.Load, ...]) -> ReadingsUnderLoad:
        state = request.LoadState(kind=kind, loads=loads or None)
        if (label != kind or loads) and self._states.setdefault(label, state) != state:
            raise ValueError(f"there is another load state {label!r} on this visit")
        return ReadingsUnderLoad(label, self._readings)


def simulated(asked: SimulationRequest, answer: Simulation) -> request.ReadingSet:
    """Put the readings of a simulation with the circuit and meters that they were asked for with, to be assessed.

    Parameters
    ----------
    asked : SimulationRequest
        What was sent.
    answer : Simulation
        What came back.
    """
    return request.ReadingSet(readings=answer.readings, **{name: getattr(asked, name) for name in _CIRCUIT})
