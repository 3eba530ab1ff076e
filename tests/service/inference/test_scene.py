"""Canonical form: order, labels and which leg is called L1 carry no meaning."""

import itertools

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedproof.inference import infer, likeness
from feedproof.inference.scene import (
    SceneReading,
    canonical_form,
    mirror,
    without_values,
)
from feedproof.readings import (
    CONDUCTORS,
    CurrentReading,
    Load,
    LoadState,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Terminal,
    VoltageReading,
)
from support.outcomes import DMM, volts
from support.proof_cases import CASES, of_system, visit

SWAP: dict[Terminal, Terminal] = {"L1": "L2", "L2": "L1", "N": "N", "G": "G", "metalwork": "metalwork"}


def swapped_reading(reading: Reading) -> Reading:
    if isinstance(reading, VoltageReading | ResistanceReading):
        a, b = reading.between
        return msgspec.structs.replace(reading, between=(SWAP[a], SWAP[b]))
    if isinstance(reading, CurrentReading):
        return msgspec.structs.replace(reading, through=SWAP[reading.through])
    return msgspec.structs.replace(reading, at=SWAP[reading.at])


def mirrored(reading: SceneReading) -> SceneReading:
    """A reading of a scene after the legs have been exchanged."""
    conductors = sorted((SWAP[c] for c in reading.conductors), key=[*SWAP].index)
    return msgspec.structs.replace(reading, conductors=tuple(conductors))


def swapped(readings: ReadingSet) -> ReadingSet:
    """The same visit by someone who calls the other leg L1."""

    def load(x: Load) -> Load:
        return msgspec.structs.replace(x, between=(SWAP[x.between[0]], SWAP[x.between[1]]))

    return msgspec.structs.replace(
        readings,
        readings=tuple(swapped_reading(r) for r in readings.readings),
        load_states={
            name: msgspec.structs.replace(state, loads=tuple(load(x) for x in state.loads))
            for name, state in readings.load_states.items()
        },
    )


def relabelled(readings: ReadingSet) -> ReadingSet:
    """The same visit with other labels, entered in another order."""
    meter = {name: f"m{k}" for k, name in enumerate(sorted(readings.meters, reverse=True))}
    state = {name: f"s{k}" for k, name in enumerate(sorted(readings.load_states, reverse=True))}
    return msgspec.structs.replace(
        readings,
        meters={meter[n]: msgspec.structs.replace(m, name=meter[n]) for n, m in reversed(readings.meters.items())},
        load_states={
            state[n]: msgspec.structs.replace(s, name=state[n]) for n, s in reversed(readings.load_states.items())
        },
        readings=tuple(
            msgspec.structs.replace(r, meter=meter[r.meter], load_state=state[r.load_state]) for r in readings.readings
        ),
    )


@pytest.mark.parametrize("name", CASES)
def test_labels_do_not_matter(name: str) -> None:
    assert canonical_form(relabelled(CASES[name])).scene == canonical_form(CASES[name]).scene


@pytest.mark.parametrize("name", CASES)
def test_the_names_of_the_legs_do_not_matter(name: str) -> None:
    first, second = canonical_form(CASES[name]), canonical_form(swapped(CASES[name]))
    if CASES[name].supply.system == "single_phase_120":
        assert not second.mirrored
        return
    assert first.scene == second.scene
    alike = {mirrored(r) for r in first.scene.readings} == set(first.scene.readings)
    assert first.mirrored != second.mirrored or alike


@given(st.sampled_from(sorted(CASES)), st.randoms(use_true_random=False))
def test_order_does_not_matter(name: str, random: object) -> None:
    case = CASES[name]
    shuffled = list(case.readings)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert canonical_form(msgspec.structs.replace(case, readings=tuple(shuffled))).scene == canonical_form(case).scene


@pytest.mark.parametrize("name", CASES)
def test_the_way_back_to_the_request(name: str) -> None:
    """Through order, names and orientation each reading of the scene is the request's own."""
    case = CASES[name]
    found = canonical_form(case)
    assert sorted(found.order) == list(range(len(case.readings)))
    for reading, index in zip(found.scene.readings, found.order, strict=True):
        own = case.readings[index]
        assert found.state_names[reading.state] == own.load_state
        assert found.meter_names[reading.meter] == own.meter
        assert msgspec.structs.replace(case.meters[own.meter], name="") == found.scene.meters[reading.meter]
        places = (
            own.between
            if isinstance(own, VoltageReading | ResistanceReading)
            else (own.through if isinstance(own, CurrentReading) else own.at,)
        )
        assert {SWAP[c] if found.mirrored else c for c in reading.conductors} == set(places)
        assert reading.point == own.point
        if not isinstance(own, ProximityReading):
            assert reading.value == own.value


def test_mirroring_twice_changes_nothing() -> None:
    assert [mirror(mirror(c)) for c in CONDUCTORS] == list(CONDUCTORS)


def test_the_direction_of_the_probes_does_not_matter() -> None:
    forth, back = (visit(volts(a, b, 120.0)) for a, b in (("L1", "N"), ("N", "L1")))  # type: ignore[arg-type]
    assert canonical_form(forth).scene == canonical_form(back).scene


def test_values_and_meters_do_matter() -> None:
    """The control: what a reading says, where and with what, is kept."""
    plain = visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.0))
    others = [
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.1)),
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.0, "loz")),
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.0, state="idle")),
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.0, point="service_panel")),
        visit(volts("L1", "L2", 240.0), volts("L1", "G", 120.0)),
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 120.0), supply=of_system("wye_120_208")),
    ]
    scenes = [canonical_form(x).scene for x in (plain, *others)]
    assert all(a != b for a, b in itertools.combinations(scenes, 2))


def test_two_states_of_one_kind_are_told_apart_by_what_was_read_in_them() -> None:
    states = {name: LoadState(name=name, kind="idle") for name in ("before", "after")}
    taken = (volts("L1", "N", 120.0, state="before"), volts("L1", "N", 95.0, state="after"))
    first = ReadingSet(meters={"dmm": DMM}, load_states=states, readings=taken)
    renamed = tuple(
        msgspec.structs.replace(r, load_state={"before": "after", "after": "before"}[r.load_state]) for r in taken
    )
    second = msgspec.structs.replace(first, readings=renamed)
    assert canonical_form(first).scene == canonical_form(second).scene
    together = msgspec.structs.replace(
        first, readings=tuple(msgspec.structs.replace(r, load_state="before") for r in taken)
    )
    assert canonical_form(first).scene != canonical_form(together).scene


def test_without_values_only_the_arrangement_is_left() -> None:
    first, second = (
        without_values(canonical_form(visit(volts("L1", "N", v), volts("L1", "L2", 240.0))).scene) for v in (120.0, 7.0)
    )
    assert first == second
    assert all(r.value is None for r in first.readings)


def test_a_set_without_readings_has_a_scene() -> None:
    found = canonical_form(ReadingSet())
    assert found.scene.readings == ()
    assert found.order == ()


def test_equal_scenes_are_one_key() -> None:
    reading = SceneReading(kind="voltage", conductors=("L1", "N"), point="receptacle", state=0, meter=0)
    again = SceneReading(kind="voltage", conductors=("L1", "N"), point="receptacle", state=0, meter=0)
    assert len({reading, again}) == 1


def test_alike_is_what_differs_in_labels_and_order_alone() -> None:
    own = CASES["bad neutral under a known load"]
    other = relabelled(msgspec.structs.replace(own, readings=own.readings[::-1]))
    assert likeness(other) == likeness(own)
    assert infer(other).candidates == infer(own).candidates
    first, *rest = own.readings
    moved = msgspec.structs.replace(own, readings=(msgspec.structs.replace(first, value=239.0), *rest))
    assert likeness(moved).arrangement == likeness(own).arrangement
    for changed in (moved, msgspec.structs.replace(own, base_rates={"open_neutral": 1.0}), swapped(own)):
        assert likeness(changed).content != likeness(own).content
    assert likeness(msgspec.structs.replace(own, readings=own.readings[1:])).arrangement != likeness(own).arrangement
