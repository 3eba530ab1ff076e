"""A reading set in canonical form: sorted, named by number, in one orientation of the legs.

Labels and order in a request carry no meaning, and neither does which leg is called L1. So the readings are
brought into one form before anything is computed; two requests that say the same give the same bytes.
"""

from typing import Any, Literal, NamedTuple, TypeVar, cast

import msgspec
from msgspec import Struct

from feedproof.inference.outcome import Likeness
from feedproof.readings import (
    CONDUCTORS,
    LOADED_STATES,
    Conductor,
    CurrentReading,
    Load,
    LoadState,
    LoadStateKind,
    Meter,
    Point,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Supply,
)
from feedproof.remembered import remembered

Kind = Literal["voltage", "current", "resistance", "proximity", "neutral", "neutral_during", "earth"]
"""The last three are asked for, never read: the neutral to the panel's grounded point, undisturbed, and while a
voltmeter is across the stated pair; and to the transformer's grounded point."""

MaybeConductor = TypeVar("MaybeConductor", Conductor, Conductor | None)

_PLACE: dict[str, int] = {name: k for k, name in enumerate((*CONDUCTORS, "metalwork"))}
_MIRROR: dict[str | None, Any] = {None: None, "L1": "L2", "L2": "L1", "N": "N", "G": "G", "metalwork": "metalwork"}


class SceneReading(Struct, frozen=True, kw_only=True, cache_hash=True):
    """One reading, or one quantity asked for (then `value` is None)."""

    kind: Kind
    conductors: tuple[Conductor, ...]
    """Two for a voltage or a resistance, one for a current or proximity."""
    point: Point
    state: int
    """Index into the scene's states."""
    meter: int
    """Index into the scene's meters; −1: no meter, the undisturbed quantity."""
    value: float | None = None
    over_range: bool = False


def undisturbed(kind: Kind, conductor: Conductor, point: Point, state: int) -> SceneReading:
    """A quantity to be asked for, as it is with no meter connected."""
    return SceneReading(kind=kind, conductors=(conductor,), point=point, state=state, meter=-1)


class SceneState(Struct, frozen=True, kw_only=True, cache_hash=True):
    """One load state without its label."""

    kind: LoadStateKind
    loads: tuple[Load, ...] = ()

    @property
    def loaded(self) -> bool:
        """Whether what is connected takes the appliance's current, or a test load's in its place."""
        return self.kind in LOADED_STATES


class Scene(Struct, frozen=True, kw_only=True, cache_hash=True):
    """Everything that the inference needs of a reading set, and nothing else."""

    supply: Supply
    meters: tuple[Meter, ...]
    states: tuple[SceneState, ...]
    readings: tuple[SceneReading, ...]
    observations: tuple[tuple[str, str], ...] = ()
    """(code, where or nothing), sorted."""


class Canonical(Struct, frozen=True, kw_only=True):
    """A scene with the way back to the request."""

    scene: Scene
    mirrored: bool
    """The scene's L1 is the request's L2."""
    order: tuple[int, ...]
    """Index in the request of each of the scene's readings."""
    state_names: tuple[str, ...]
    meter_names: tuple[str, ...]

    def turned(self, conductor: MaybeConductor) -> MaybeConductor:
        """A conductor of the request as the scene calls it, or the other way round; None stays None."""
        return _MIRROR[conductor] if self.mirrored else conductor


def mirror(conductor: Conductor) -> Conductor:
    """The same conductor after the legs have been exchanged."""
    return _MIRROR[conductor]


def _ordered(conductors: tuple[Conductor, ...]) -> tuple[Conductor, ...]:
    return tuple(sorted(conductors, key=_PLACE.__getitem__)) if len(conductors) > 1 else conductors


def without_values(scene: Scene) -> Scene:
    """The arrangement alone: what was asked, not what was read."""
    readings = tuple(msgspec.structs.replace(r, value=None, over_range=False) for r in scene.readings)
    return _known(msgspec.structs.replace(scene, readings=readings))


@remembered(4 * 2**20)
def _known(scene: Scene) -> Scene:
    """The first of equal scenes: what hangs on an arrangement is then found without comparing every field again."""
    return scene


def mirror_load(load: Load) -> Load:
    """A load after the legs have been exchanged."""
    first, second = _ordered((_MIRROR[load.between[0]], _MIRROR[load.between[1]]))
    return msgspec.structs.replace(load, between=(first, second))


def _places(reading: Reading) -> tuple[Kind, tuple[Conductor, ...], float, bool]:
    if isinstance(reading, ProximityReading):
        return "proximity", (reading.at,), 1.0 if reading.detected else 0.0, False
    if isinstance(reading, CurrentReading):
        return "current", (reading.through,), reading.value, False
    if isinstance(reading, ResistanceReading):
        return "resistance", _ordered(reading.between), reading.value, reading.over_range
    # Metalwork is no conductor of this circuit: a reading to it fails where the circuit is built.
    return "voltage", _ordered(cast("tuple[Conductor, Conductor]", reading.between)), reading.value, False


#: Sort key: bytes that are equal for equal values.
_sort_key = msgspec.json.Encoder(order="deterministic").encode


def _pair_key(first: bytes, second: bytes) -> bytes:
    """Sort key of a pair of things whose own keys are at hand."""
    return b"[%b,%b]" % (first, second)


class _OrientedReading(NamedTuple):
    """A reading in one orientation of the legs."""

    reading: Reading
    kind: Kind
    conductors: tuple[Conductor, ...]
    value: float
    over_range: bool
    key: bytes


def _oriented_reading(reading: Reading, *, turned: bool) -> _OrientedReading:
    kind, places, value, over = _places(reading)
    conductors = _ordered(tuple(_MIRROR[c] for c in places)) if turned else places
    key = _sort_key((kind, conductors, reading.point, value, over))
    return _OrientedReading(reading, kind, conductors, value, over, key)


def _observed(readings: ReadingSet) -> tuple[tuple[str, str], ...]:
    return tuple(sorted({(o.code, o.where or "") for o in readings.observations}))


def _oriented(readings: ReadingSet, nameless: dict[str, tuple[Meter, bytes]], turned: bool) -> tuple[bytes, Canonical]:
    """One orientation of the legs in canonical order, and a key to compare it by."""

    def loads(state: LoadState) -> tuple[Load, ...]:
        found = [mirror_load(x) if turned else mirror_load(mirror_load(x)) for x in state.loads]
        return tuple(sorted(found, key=_sort_key))

    taken = [_oriented_reading(r, turned=turned) for r in readings.readings]
    states = {name: SceneState(kind=state.kind, loads=loads(state)) for name, state in readings.load_states.items()}
    in_state: dict[str, list[bytes]] = {name: [] for name in states}
    for t in taken:
        in_state[t.reading.load_state].append(_pair_key(t.key, nameless[t.reading.meter][1]))
    # Load states and meters are identified by their content and their readings, never by their label.
    state_key = {
        name: _sort_key((not in_state[name], state.kind, state.loads, sorted(in_state[name])))
        for name, state in states.items()
    }
    state_content = {name: _sort_key(key) for name, key in state_key.items()}
    with_meter: dict[str, list[bytes]] = {name: [] for name in nameless}
    for t in taken:
        with_meter[t.reading.meter].append(_pair_key(t.key, state_content[t.reading.load_state]))
    meter_key = {
        name: _sort_key((not with_meter[name], meter, sorted(with_meter[name])))
        for name, (meter, _) in nameless.items()
    }
    state_names = sorted(states, key=lambda n: state_key[n])
    meter_names = sorted(nameless, key=lambda n: meter_key[n])
    state_number = {name: k for k, name in enumerate(state_names)}
    meter_number = {name: k for k, name in enumerate(meter_names)}
    drafts = []
    for index, t in enumerate(taken):
        reading = SceneReading(
            kind=t.kind,
            conductors=t.conductors,
            point=t.reading.point,
            state=state_number[t.reading.load_state],
            meter=meter_number[t.reading.meter],
            value=t.value,
            over_range=t.over_range,
        )
        drafts.append((_sort_key(reading), index, reading))
    drafts.sort(key=lambda draft: draft[:2])
    scene = Scene(
        supply=readings.supply,
        meters=tuple(nameless[n][0] for n in meter_names),
        states=tuple(states[n] for n in state_names),
        readings=tuple(d[2] for d in drafts),
        observations=_observed(readings),
    )
    canonical = Canonical(
        scene=scene,
        mirrored=turned,
        order=tuple(d[1] for d in drafts),
        state_names=tuple(state_names),
        meter_names=tuple(meter_names),
    )
    return _sort_key(scene), canonical


def canonical_form(readings: ReadingSet) -> Canonical:
    """Bring a reading set into its canonical form.

    Parameters
    ----------
    readings : ReadingSet
        In SI units.

    Returns
    -------
    Canonical
        The lesser of the two orientations of the legs. A single-phase supply is never turned.
    """
    meters = {name: msgspec.structs.replace(meter, name="") for name, meter in readings.meters.items()}
    nameless = {name: (meter, _sort_key(meter)) for name, meter in meters.items()}
    upright = _oriented(readings, nameless, turned=False)
    if readings.supply.one_leg:
        return upright[1]
    return min(upright, _oriented(readings, nameless, turned=True), key=lambda pair: pair[0])[1]


def as_given(readings: ReadingSet) -> Canonical:
    """A reading set as a scene in its own order and orientation.

    Parameters
    ----------
    readings : ReadingSet
        In SI units; a load state or a meter need not be used by any reading.

    Returns
    -------
    Canonical
        Never turned.
    """
    states, meters = tuple(readings.load_states), tuple(readings.meters)
    return Canonical(
        scene=Scene(
            supply=readings.supply,
            meters=tuple(readings.meters.values()),
            states=tuple(SceneState(kind=s.kind, loads=s.loads) for s in readings.load_states.values()),
            readings=tuple(
                SceneReading(
                    kind=kind,
                    conductors=conductors,
                    point=r.point,
                    state=states.index(r.load_state),
                    meter=meters.index(r.meter),
                    value=value,
                    over_range=over_range,
                )
                for r in readings.readings
                for kind, conductors, value, over_range in [_places(r)]
            ),
            observations=_observed(readings),
        ),
        mirrored=False,
        order=tuple(range(len(readings.readings))),
        state_names=states,
        meter_names=meters,
    )


def likeness(readings: ReadingSet) -> Likeness:
    """What makes a reading set like another to the inference, for callers that have many.

    Parameters
    ----------
    readings : ReadingSet
        In SI units.

    Returns
    -------
    Likeness
        Both parts hashable.
    """
    canonical = canonical_form(readings)
    rates = tuple(sorted((readings.base_rates or {}).items()))
    return Likeness(
        arrangement=without_values(canonical.scene),
        content=(canonical.scene, canonical.mirrored, readings.base_rates is None, rates),
    )
