"""A visit, written down in the words of the trade and turned into a reading set.

>>> visit = Visit("cabin-12/range")
>>> loz = visit.voltmeter("loz", input_impedance="3 kohm")
>>> unplugged = visit.disconnected()
>>> unplugged.voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz).voltage("L2", "N", 7, loz).taken
3
>>> visit.reading_set().readings[1].value
7.0
"""

from collections.abc import Mapping
from typing import Self

from msgspec import convert, structs, to_builtins

from feedproof_sdk._quantities import QuantityLike, on_wire, on_wire_if_given
from feedproof_sdk._under_load import ReadingsUnderLoad
from feedproof_sdk.types.assessment import NextReading
from feedproof_sdk.types.request import (
    Appliance,
    ApplianceKind,
    ClampAmmeter,
    ConductorName,
    CurrentReading,
    EquipmentGround,
    FedFrom,
    LightsWhere,
    Load,
    LoadState,
    LoadStateKind,
    Material,
    Meter,
    NeutralPresence,
    Observation,
    ObservationCode,
    Ohmmeter,
    Proved,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ReceptacleName,
    ResistanceReading,
    Run,
    SourceKind,
    Supply,
    SupplySystem,
    VoltageReading,
    Voltmeter,
)
from feedproof_sdk.types.simulation import (
    Asked,
    AskedCurrent,
    AskedProximity,
    AskedResistance,
    AskedVoltage,
    Simulation,
    SimulationRequest,
)

_UNITS = {"voltage": "volt", "current": "ampere", "resistance": "ohm"}


class Visit:
    """What a technician writes down at one appliance: the supply, the meters, and readings by load state.

    Nothing is checked but what would be lost on the way; the service tells every fault of a reading set at once.

    Parameters
    ----------
    reference : str, optional
        The caller's own; comes back in the answer.
    system : str, optional
        Supply system; left out: `split_phase_120_240`.
    frequency : number, str or quantity, optional
        Line frequency [Hz]; left out: 60 Hz.
    equipment_ground : str, optional
        `present`, `absent` or `unknown`, the default.
    frame_bonded_to_neutral : bool, optional
        Whether the appliance's frame is bonded to its neutral; left out: not known.
    neutral : str, optional
        `present` or `absent`; left out: as the receptacle has it, else `present`.
    fed_from : str, optional
        `service_panel`, `sub_panel`, `sub_panel_bonded` or `unknown`, the default.
    source : str, optional
        `utility`, the default, `generator` or `unknown`.
    receptacle : str, optional
        NEMA WD 6 designation, or `hardwired`: it decides which conductors there are.
    appliance : str, optional
        What it is: `range`, `water_heater` and so on.
    base_rates : mapping of str to float, optional
        Base rate by fault, to stand in for the model's own; a fault left out keeps its published rate.
    """

    def __init__(
        self,
        reference: str | None = None,
        *,
        system: SupplySystem | None = None,
        frequency: QuantityLike | None = None,
        equipment_ground: EquipmentGround | None = None,
        frame_bonded_to_neutral: bool | None = None,
        neutral: NeutralPresence | None = None,
        fed_from: FedFrom | None = None,
        source: SourceKind | None = None,
        receptacle: ReceptacleName | None = None,
        appliance: ApplianceKind | None = None,
        base_rates: Mapping[str, float] | None = None,
    ) -> None:
        self._reference = reference
        self._supply = Supply(
            system=system,
            frequency=on_wire_if_given(frequency, "Hz", "frequency"),
            equipment_ground=equipment_ground,
            frame_bonded_to_neutral=frame_bonded_to_neutral,
            neutral=neutral,
            fed_from=fed_from,
            source=source,
            receptacle=receptacle,
        )
        self._appliance = Appliance(kind=appliance) if appliance is not None else None
        self._observations: list[ObservationCode | Observation] = []
        self._base_rates = dict(base_rates) if base_rates is not None else None
        self._meters: dict[str, Meter] = {}
        self._states: dict[str, LoadState] = {}
        self._readings: list[Reading] = []

    def run(
        self,
        *,
        size: str | None = None,
        material: Material | None = None,
        length: QuantityLike | None = None,
        temperature: QuantityLike | None = None,
    ) -> Self:
        """State the branch circuit's cable: size such as "6 AWG", material, one-way length [m], temperature [degC]."""
        run = Run(
            size=size,
            material=material,
            length=on_wire_if_given(length, "m", "length"),
            temperature=on_wire_if_given(temperature, "degC", "temperature"),
        )
        self._supply = structs.replace(self._supply, run=run)
        return self

    def voltmeter(
        self,
        label: str,
        *,
        input_impedance: QuantityLike | None = None,
        input_capacitance: QuantityLike | None = None,
        accuracy_percent: float | None = None,
        accuracy_counts: float | None = None,
        resolution: QuantityLike | None = None,
        proved: Proved | None = None,
    ) -> str:
        """Add a voltmeter and give its label; input impedance [ohm] of the mode used, left out: 10 Mohm."""
        meter = Voltmeter(
            input_impedance=on_wire_if_given(input_impedance, "ohm", "input_impedance"),
            input_capacitance=on_wire_if_given(input_capacitance, "farad", "input_capacitance"),
            accuracy_percent=accuracy_percent,
            accuracy_counts=accuracy_counts,
            resolution=on_wire_if_given(resolution, "volt", "resolution"),
            proved=proved,
        )
        return self._add_meter(label, meter)

    def proximity_detector(
        self, label: str, *, threshold: QuantityLike | None = None, proved: Proved | None = None
    ) -> str:
        """Add a proximity detector and give its label; threshold [V], left out: 50 V."""
        meter = ProximityDetector(threshold=on_wire_if_given(threshold, "volt", "threshold"), proved=proved)
        return self._add_meter(label, meter)

    def clamp_ammeter(
        self,
        label: str,
        *,
        accuracy_percent: float | None = None,
        accuracy_counts: float | None = None,
        resolution: QuantityLike | None = None,
    ) -> str:
        """Add a clamp and give its label; resolution [A]."""
        meter = ClampAmmeter(
            accuracy_percent=accuracy_percent,
            accuracy_counts=accuracy_counts,
            resolution=on_wire_if_given(resolution, "ampere", "resolution"),
        )
        return self._add_meter(label, meter)

    def ohmmeter(
        self,
        label: str,
        *,
        accuracy_percent: float | None = None,
        accuracy_counts: float | None = None,
        resolution: QuantityLike | None = None,
    ) -> str:
        """Add an ohmmeter, for an isolated circuit only, and give its label; resolution [ohm]."""
        meter = Ohmmeter(
            accuracy_percent=accuracy_percent,
            accuracy_counts=accuracy_counts,
            resolution=on_wire_if_given(resolution, "ohm", "resolution"),
        )
        return self._add_meter(label, meter)

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
        TypeError
            If it is of a kind that this version does not know, or a truth value stands for a quantity.
        """
        reading = following.reading
        if reading is None:
            if value is True and following.observation is not None:
                self._observations.append(convert(following.observation, ObservationCode))
            return self
        sent: dict[str, object] = to_builtins(reading)
        if reading_id is not None:
            sent["id"] = reading_id
        if reading.kind == "proximity":
            sent["detected"] = value
        elif reading.kind in _UNITS and not isinstance(value, bool):
            sent["value"] = on_wire(value, _UNITS[reading.kind], following.title)
        else:
            raise TypeError(f"no {type(value).__name__} can be added to a reading of kind {reading.kind!r}")
        if following.meter is not None:
            self._add_meter(reading.meter, convert(to_builtins(following.meter), Meter))
        if following.load_state is not None and reading.load_state not in self._states:
            state: LoadState = convert(to_builtins(following.load_state), LoadState)
            if state != LoadState(kind=state.kind) or reading.load_state != state.kind:
                self._states[reading.load_state] = state
        self._readings.append(convert(sent, Reading))
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
            If no reading of the visit has that id.
        TypeError
            If a truth value stands for a quantity.
        """
        first = next((reading for reading in self._readings if reading.id == reading_id), None)
        if first is None:
            raise ValueError(f"no reading of this visit has the id {reading_id!r}")
        if isinstance(first, ProximityReading):
            again: Reading = structs.replace(first, id=None, repeats=reading_id, detected=bool(value))
        elif not isinstance(value, bool):
            unit = _UNITS[str(type(first).__struct_config__.tag)]
            again = structs.replace(first, id=None, repeats=reading_id, value=on_wire(value, unit, reading_id))
        else:
            raise TypeError(f"{value} is no quantity, and {reading_id!r} was not read with a proximity detector")
        self._readings.append(again)
        return self

    def reading_set(self) -> ReadingSet:
        """Give what has been written down so far, as it is sent."""
        return ReadingSet(
            reference=self._reference,
            supply=None if self._supply == Supply() else self._supply,
            appliance=self._appliance,
            meters=dict(self._meters) or None,
            load_states=dict(self._states) or None,
            readings=tuple(self._readings),
            observations=tuple(self._observations) or None,
            base_rates=self._base_rates,
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
        return SimulationRequest(
            fault=fault,
            conductor=conductor,
            location=location,
            resistance=on_wire_if_given(resistance, "ohm", "resistance"),
            supply_voltage=on_wire_if_given(supply_voltage, "volt", "supply_voltage"),
            supply=written.supply,
            appliance=written.appliance,
            meters=written.meters,
            load_states=written.load_states,
            readings=tuple(_asked(reading) for reading in written.readings),
            seed=seed,
        )

    def _add_meter(self, label: str, meter: Meter) -> str:
        if self._meters.setdefault(label, meter) != meter:
            raise ValueError(f"there is another meter {label!r} on this visit")
        return label

    def _state(self, label: str, kind: LoadStateKind, loads: tuple[Load, ...]) -> ReadingsUnderLoad:
        state = LoadState(kind=kind, loads=loads or None)
        if (label != kind or loads) and self._states.setdefault(label, state) != state:
            raise ValueError(f"there is another load state {label!r} on this visit")
        return ReadingsUnderLoad(label, self._readings)


def _asked(reading: Reading) -> Asked:
    match reading:
        case VoltageReading():
            return AskedVoltage(
                between=reading.between, meter=reading.meter, load_state=reading.load_state, point=reading.point
            )
        case ProximityReading():
            return AskedProximity(
                at=reading.at, meter=reading.meter, load_state=reading.load_state, point=reading.point
            )
        case CurrentReading():
            return AskedCurrent(
                through=reading.through, meter=reading.meter, load_state=reading.load_state, point=reading.point
            )
        case ResistanceReading():
            return AskedResistance(
                between=reading.between, meter=reading.meter, load_state=reading.load_state, point=reading.point
            )


def simulated(asked: SimulationRequest, answer: Simulation) -> ReadingSet:
    """Put the readings of a simulation with the meters and load states that they were asked for with.

    Parameters
    ----------
    asked : SimulationRequest
        What was sent.
    answer : Simulation
        What came back.

    Returns
    -------
    ReadingSet
        For `assess`.
    """
    return ReadingSet(
        supply=asked.supply,
        appliance=asked.appliance,
        meters=asked.meters,
        load_states=asked.load_states,
        readings=answer.readings,
    )


def load(
    first: ConductorName,
    second: ConductorName,
    *,
    power: QuantityLike | None = None,
    voltage: QuantityLike | None = None,
    resistance: QuantityLike | None = None,
    reactance: QuantityLike | None = None,
    tolerance_percent: float | None = None,
) -> Load:
    """Make a known load between two conductors.

    Parameters
    ----------
    first, second : str
        `L1`, `L2` or `N`; a leg and `G` is a leak to the frame.
    power : number, str or quantity, optional
        Rated power [W]; or else `resistance`.
    voltage : number, str or quantity, optional
        Rated voltage that the power is stated at [V]; left out: the system's nominal one.
    resistance : number, str or quantity, optional
        Series resistance [ohm].
    reactance : number, str or quantity, optional
        Series reactance, inductive positive [ohm]; only with `resistance`.
    tolerance_percent : float, optional
        Limit of error of its impedance [%].
    """
    return Load(
        between=(first, second),
        power=on_wire_if_given(power, "watt", "power"),
        voltage=on_wire_if_given(voltage, "volt", "voltage"),
        resistance=on_wire_if_given(resistance, "ohm", "resistance"),
        reactance=on_wire_if_given(reactance, "ohm", "reactance"),
        tolerance_percent=tolerance_percent,
    )


__all__ = ["ReadingsUnderLoad", "Visit", "load", "simulated"]
