import math
from itertools import pairwise

import msgspec
import pytest

from feedproof.contract.assessment import Assessment, ConductorResistance, FaultPart, NeutralToEarth
from feedproof.note.pictures import all_pictures, alone, faults, resistance, run, standing, strip
from feedproof.note.scene import WIDTH, Circle, Line, Polygon, Scene, Text
from support.assessments import CASES, everything, nothing_found, open_neutral, plan, wye


def texts(scene: Scene | None) -> list[str]:
    assert scene is not None
    return [shape.text for shape in scene.shapes if isinstance(shape, Text)]


def filled(scene: Scene | None, role: str) -> list[Polygon]:
    assert scene is not None
    return [shape for shape in scene.shapes if isinstance(shape, Polygon) and shape.fill == role]


def left(shape: Polygon) -> float:
    return min(x for x, _ in shape.points)


def right(shape: Polygon) -> float:
    return max(x for x, _ in shape.points)


def center(shape: Polygon) -> float:
    return (left(shape) + right(shape)) / 2.0


def neutrals(scene: Scene | None) -> list[Polygon]:
    """Give the diamonds, with their fill: the marks of the neutral."""
    assert scene is not None
    return [
        shape
        for shape in scene.shapes
        if isinstance(shape, Polygon) and len(shape.points) == 4 and shape.points[0][0] == shape.points[2][0]
    ]


def one_neutral(
    value: float, low: float, high: float, bound: str = "two_sided", angle: float | None = 0.0
) -> Assessment:
    answer = open_neutral()
    entry = answer.neutral_to_ground[0]
    limit = {"at_least": low, "at_most": high}.get(bound)
    changed = msgspec.structs.replace(
        entry, value=value, low=low, high=high, bound=bound, angle=angle, limit=limit, load_state="elsewhere"
    )
    return msgspec.structs.replace(answer, neutral_to_ground=[changed], neutral_to_earth=[])


def shifted_service(first: float, second: float) -> Assessment:
    """Give a service neutral that has moved: leg readings apart, neutral to ground at 0 V."""
    answer = open_neutral()
    state = answer.neutral_to_ground[0].load_state
    entry = msgspec.structs.replace(
        answer.neutral_to_ground[0], value=0.0, low=0.0, high=0.3, angle=None, display="0 V", during_reading=None
    )
    off = abs(first - second) / 2.0
    earth = NeutralToEarth(
        value=off, low=off - 2.0, high=off + 2.0, unit="V", bound="two_sided", limit=None, told_by="readings",
        display=f"{off:g} V", title="Neutral and grounded frames to earth", load_state=state,
    )  # fmt: skip
    sample = answer.evidence[0]
    assert sample.identity is not None
    read = [
        msgspec.structs.replace(
            sample,
            reading=index,
            observed=msgspec.structs.replace(sample.observed, value=volts),
            identity=msgspec.structs.replace(sample.identity, conductors=[leg, "N"], load_state=state),
        )
        for index, (leg, volts) in enumerate((("L1", first), ("L2", second)))
    ]
    finding = msgspec.structs.replace(answer.finding, place="service_neutral", title="Service neutral bad")
    assert answer.supply is not None
    legs = [msgspec.structs.replace(leg, voltage=(first + second) / 2.0) for leg in answer.supply.legs]
    return msgspec.structs.replace(
        answer,
        finding=finding,
        neutral_to_ground=[entry],
        neutral_to_earth=[earth],
        evidence=read,
        supply=msgspec.structs.replace(answer.supply, legs=legs),
    )


@pytest.mark.parametrize("name", CASES)
def test_every_shape_lies_in_its_picture(name: str) -> None:
    answer = CASES[name]()
    for scene in (*all_pictures(answer), alone(answer)):
        for shape in scene.shapes:
            if isinstance(shape, Line):
                points = [(shape.x1, shape.y1), (shape.x2, shape.y2)]
            elif isinstance(shape, Polygon):
                points = list(shape.points)
            elif isinstance(shape, Circle):
                points = [(shape.x + sign * shape.radius, shape.y) for sign in (-1, 1)]
            else:
                points = [(shape.x, shape.y)]
            for x, y in points:
                assert -1.0 <= x <= WIDTH + 1.0, shape
                assert -1.0 <= y <= scene.height + 1.0, shape


@pytest.mark.parametrize("name", CASES)
def test_letters_are_eleven_pixels_on_a_phone_of_360(name: str) -> None:
    # 360 CSS pixels less a margin of 16 on both sides show a picture of WIDTH.
    answer = CASES[name]()
    shown = [shape for scene in (*all_pictures(answer), alone(answer)) for shape in scene.shapes]
    assert min(shape.size for shape in shown if isinstance(shape, Text)) * (360.0 - 32.0) / WIDTH >= 11.0


def test_legs_stand_where_they_were_read_and_where_they_stand_against_earth() -> None:
    # 97 V and 145 V: half of their sum is 121 V to earth, half of their difference 24 V is what the neutral has moved.
    scene = standing.draw(shifted_service(97.0, 145.0))
    told = texts(scene)
    assert told.index("L1 97 V") < told.index("to earth")
    assert {"L1 97 V", "L2 145 V", "L1 121 V", "L2 121 V"} <= set(told)
    (mark,) = neutrals(scene)
    # The center of the line is earth; 24 of 242 V toward L1.
    assert math.isclose((WIDTH / 2.0 - center(mark)) / (WIDTH - 68.0), 24.0 / 242.0, abs_tol=0.003)
    assert any(left(bar) < WIDTH / 2.0 - 20.0 for bar in filled(scene, "danger"))
    assert "L1 97 V, L2 145 V" in scene.description


def test_the_other_side_is_mirrored() -> None:
    one, other = (neutrals(standing.draw(shifted_service(*pair)))[0] for pair in ((97.0, 145.0), (145.0, 97.0)))
    assert math.isclose(center(one) + center(other), WIDTH)


def test_a_neutral_at_a_leg_sits_at_that_leg() -> None:
    # Half of 247 V: the legs of an ideal split phase are half the leg-to-leg voltage each.
    scene = standing.draw(one_neutral(123.5, 123.0, 124.0))
    (mark,) = neutrals(scene)
    (leg,) = [shape for shape in scene.shapes if isinstance(shape, Circle)]
    assert math.isclose(center(mark), leg.x, abs_tol=0.01)


def test_an_unknown_side_is_drawn_on_both_and_hollow() -> None:
    scene = standing.draw(one_neutral(60.0, 50.0, 70.0, angle=None))
    marks = neutrals(scene)
    assert len(marks) == 2
    assert {mark.fill for mark in marks} == {"paper"}
    assert math.isclose(center(marks[0]) + center(marks[1]), WIDTH)


def test_a_bound_stands_at_its_limit() -> None:
    at_limit, value = (neutrals(standing.draw(a))[0] for a in (
        one_neutral(100.0, 60.0, 120.0, "at_least"), one_neutral(60.0, 50.0, 70.0)
    ))  # fmt: skip
    assert math.isclose(center(at_limit), center(value))


def test_a_neutral_near_earth_is_solid_only_where_nothing_is_wrong() -> None:
    wrong = standing.draw(one_neutral(0.0, 0.0, 0.5))
    (mark,) = neutrals(wrong)
    assert mark.fill == "paper"
    calm = neutrals(standing.draw(nothing_found()))
    assert {mark.fill for mark in calm} == {"ink"}


def test_a_lost_leg_is_crossed_out_and_has_no_voltage() -> None:
    answer = open_neutral()
    finding = msgspec.structs.replace(answer.finding, place="branch_leg", conductor="L2", fault="open_leg")
    told = texts(standing.draw(msgspec.structs.replace(answer, finding=finding)))
    assert "L2 lost?" in told
    assert not any(text.startswith("L2 1") for text in told)


def test_a_wye_is_a_plane() -> None:
    scene = standing.draw(wye())
    assert "Voltages to the panel's ground, as phasors" in texts(scene)
    legs = [shape for shape in scene.shapes if isinstance(shape, Line) and shape.stroke in {"first_leg", "second_leg"}]
    first, second = legs
    turn = math.degrees(math.atan2(first.y1 - first.y2, first.x2 - first.x1))
    other = math.degrees(math.atan2(second.y1 - second.y2, second.x2 - second.x1))
    assert math.isclose(turn, 0.0, abs_tol=1e-6)
    assert math.isclose(other, -120.0, abs_tol=1e-6)
    rings = [s for s in scene.shapes if isinstance(s, Circle) and s.stroke == "finding"]
    assert len(rings) == 2


def test_nothing_estimated_is_said() -> None:
    assert "These readings give no estimate of the neutral." in texts(standing.draw(plan()))
    empty = msgspec.structs.replace(wye(), neutral_to_ground=[])
    assert "These readings give no estimate of the neutral." in texts(standing.draw(empty))
    assert standing.draw(msgspec.structs.replace(open_neutral(), supply=None)).title


def test_states_alike_are_drawn_once_and_more_than_fit_are_counted() -> None:
    answer = one_neutral(60.0, 50.0, 70.0)
    entry = answer.neutral_to_ground[0]
    alike = [msgspec.structs.replace(entry, load_state=f"s{k}", value=60.0 + 0.1 * k) for k in range(5)]
    assert len(neutrals(standing.draw(msgspec.structs.replace(answer, neutral_to_ground=alike)))) == 1
    unlike = [msgspec.structs.replace(entry, load_state=f"s{k}", value=20.0 * k) for k in range(1, 6)]
    told = texts(standing.draw(msgspec.structs.replace(answer, neutral_to_ground=unlike)))
    assert any(text.startswith("and 2 more") for text in told)


def crosses(scene: Scene) -> list[Line]:
    return [s for s in scene.shapes if isinstance(s, Line) and s.stroke == "danger" and s.x1 != s.x2 and s.y1 != s.y2]


#: From the transformer: which comes before which on the line.
ALONG = ["service_neutral", "feeder_neutral", "branch_neutral", "cord_neutral"]


def test_trouble_stands_in_the_order_of_the_run() -> None:
    answer = open_neutral()
    sample = answer.candidates[0]
    candidates = [msgspec.structs.replace(sample, place=place, probability=0.25) for place in ALONG]
    scene = run.draw(msgspec.structs.replace(answer, candidates=candidates, determination="undetermined"))
    boxes = [s for s in scene.shapes if isinstance(s, Polygon) and s.stroke == "danger" and s.fill is None]
    assert [center(box) for box in boxes] == sorted({center(box) for box in boxes})
    assert len(boxes) == 4
    assert not crosses(scene)
    assert texts(scene).count("?") == 4


def test_both_faults_of_a_pair_are_marked() -> None:
    answer = open_neutral()
    live = msgspec.structs.replace(
        answer.candidates[0],
        fault="open_ground",
        conductor="G",
        place="ground",
        also=[FaultPart(fault="leak_to_ground", conductor="L2")],
    )
    told = texts(run.draw(msgspec.structs.replace(answer, candidates=[live])))
    assert any(text.startswith("1  Equipment ground open") for text in told)
    assert any(text.startswith("2  Appliance leaks to ground") for text in told)
    assert "?" not in told


def test_of_two_legs_that_are_not_told_apart_neither_is_crossed_through() -> None:
    answer = open_neutral()
    found = msgspec.structs.replace(answer.finding, place="branch_leg", conductor=None)
    legs = [
        msgspec.structs.replace(answer.candidates[0], fault="open_leg", conductor=leg, place="branch_leg")
        for leg in ("L1", "L2")
    ]
    scene = run.draw(msgspec.structs.replace(answer, finding=found, candidates=legs))
    assert not crosses(scene)
    assert texts(scene).count("?") == 2


@pytest.mark.parametrize("location", ["between_panel_and_receptacle", "between_receptacle_and_appliance_terminals"])
def test_exchanged_wires_are_marked_at_the_end_where_they_are(location: str) -> None:
    answer = open_neutral()
    own = {"fault": "neutral_ground_transposed", "conductor": "N", "place": "transposed"}
    found = msgspec.structs.replace(answer.finding, **own, location=location)
    candidate = msgspec.structs.replace(answer.candidates[0], **own)
    scene = run.draw(msgspec.structs.replace(answer, finding=found, candidates=[candidate]))
    (box,) = [s for s in scene.shapes if isinstance(s, Polygon) and s.stroke == "danger" and s.fill is None]
    in_cord = location == "between_receptacle_and_appliance_terminals"
    (outlet,) = [s for s in scene.shapes if isinstance(s, Text) and s.text == "outlet"]
    assert (center(box) > outlet.x + 10.0) == in_cord
    assert ("in cord or appliance" in " ".join(texts(scene))) == in_cord
    # The neutral and the ground, and no leg.
    assert len(crosses(scene)) == 4


def test_what_is_decided_is_crossed_through_on_its_own_wire() -> None:
    scene = run.draw(open_neutral())
    strokes = crosses(scene)
    assert len(strokes) == 2
    (label,) = [s for s in scene.shapes if isinstance(s, Text) and s.text == "N"]
    assert all(min(s.y1, s.y2) < label.y < max(s.y1, s.y2) + 4.0 for s in strokes)


def test_without_readings_no_place_is_marked_and_it_is_said() -> None:
    assert any(text.startswith("Nothing has been read") for text in texts(run.draw(plan())))


def test_bars_are_as_long_as_the_probabilities() -> None:
    scene = faults.draw(open_neutral())
    (finding,) = filled(scene, "finding")
    (track, *_) = filled(scene, "panel")
    share = (right(finding) - left(finding)) / (right(track) - left(track))
    assert math.isclose(share, 0.981, abs_tol=1e-3)
    assert "98 %" in texts(scene)


@pytest.mark.parametrize("share", [0.0026, 0.029])
def test_small_shares_have_bars_of_their_own_length(share: float) -> None:
    answer = open_neutral()
    few = [msgspec.structs.replace(answer.candidates[0], probability=p) for p in (1.0 - share, share)]
    scene = faults.draw(msgspec.structs.replace(answer, candidates=few))
    assert scene is not None
    (bar,) = [s for s in scene.shapes if isinstance(s, Polygon) and s.stroke == "muted"]
    (track, *_) = filled(scene, "panel")
    assert math.isclose((right(bar) - left(bar)) / (right(track) - left(track)), share)


def test_many_faults_are_counted_and_none_draws_nothing() -> None:
    answer = everything()
    many = msgspec.structs.replace(answer, candidates=answer.candidates * 2)
    assert any("more, together" in text for text in texts(faults.draw(many)))
    assert faults.draw(msgspec.structs.replace(answer, candidates=[])) is None


def test_decades_are_equally_long() -> None:
    places = [resistance._x(10.0**exponent) for exponent in range(-2, 9)]
    steps = [b - a for a, b in pairwise(places)]
    assert all(math.isclose(step, steps[0]) for step in steps)
    assert resistance._x(1e-9) == places[0]
    assert resistance._x(1e12) == places[-1]


def one_resistance(**changes: object) -> Scene | None:
    answer = everything()
    entry: ConductorResistance = msgspec.structs.replace(answer.resistances[2], **changes)
    return resistance.draw(msgspec.structs.replace(answer, resistances=[entry], detection_limits=[]))


def test_what_is_told_and_what_is_assumed_are_drawn_in_unlike_ink() -> None:
    told, assumed = one_resistance(told_by="readings"), one_resistance(told_by="prior")
    assert told is not None
    assert assumed is not None
    # One solid bar and one pair of hollow ends belong to the key.
    assert (len(filled(told, "finding")), len(filled(assumed, "finding"))) == (2, 1)
    hollow = [sum(isinstance(s, Circle) and s.fill == "paper" for s in scene.shapes) for scene in (told, assumed)]
    assert hollow == [2, 4]
    assert "only assumed" in texts(assumed)
    assert texts(assumed).count("only assumed") == 2


def test_interval_and_sound_range_lie_on_the_scale() -> None:
    scene = one_resistance(value=62.0, low=41.0, high=160.0)
    bar = filled(scene, "finding")[-1]
    assert math.isclose(left(bar), resistance._x(41.0))
    assert math.isclose(right(bar), resistance._x(160.0))
    assert scene is not None
    assert "Sound would be 20 mΩ to 160 mΩ." in scene.description


def test_an_open_conductor_goes_off_the_scale() -> None:
    scene = one_resistance(value=2e6, low=9e3, high=9e8, bound="at_least")
    assert right(filled(scene, "finding")[-1]) > resistance._x(1e8)
    assert "≥ 9 kΩ, 224 W heat" in texts(scene)


@pytest.mark.parametrize("name", CASES)
def test_the_service_neutral_always_has_a_row(name: str) -> None:
    scene = resistance.draw(CASES[name]())
    assert any("eutral of the service" in text for text in texts(scene))


def test_detection_limits_are_flags_or_words() -> None:
    scene = resistance.draw(wye())
    assert "nothing would have shown" in texts(scene)
    flags = [center(shape) for shape in filled(scene, "ink")]
    assert any(math.isclose(x, resistance._x(400.0)) for x in flags)


def test_a_plan_shows_no_estimate_of_resistance() -> None:
    assert texts(resistance.draw(plan())).count("only assumed") == 1  # the key
    assert resistance.draw(msgspec.structs.replace(plan(), detection_limits=[])) is None


@pytest.mark.parametrize(("value", "where"), [(400.0, 1.0), (1.999e9, 2.0)])
def test_a_strip_of_an_over_range_reading_is_a_lower_bound(value: float, where: float) -> None:
    """OL above 400 ohm on insulation of 1 to 1000 Mohm may be anything: it stands at the end of the range."""
    entry = open_neutral().evidence[0]
    seen = msgspec.structs.replace(entry.observed, value=value, unit="ohm", over_range=True)
    sound = msgspec.structs.replace(entry.expected_if_sound, low=1e6, high=1e9)
    assert strip.place(msgspec.structs.replace(entry, observed=seen, expected_if_sound=sound)) == pytest.approx(where)


@pytest.mark.parametrize(("value", "where"), [(118.0, 0.0), (126.0, 1.0), (122.0, 0.5), (97.0, -2.625)])
def test_strips_have_the_sound_range_in_one_place_whatever_the_unit(value: float, where: float) -> None:
    entry = open_neutral().evidence[0]
    for unit, factor in (("V", 1.0), ("ohm", 1e-3), ("A", 40.0)):
        changed = msgspec.structs.replace(
            entry,
            observed=msgspec.structs.replace(entry.observed, value=value * factor, unit=unit),
            expected_if_sound=msgspec.structs.replace(entry.expected_if_sound, low=118.0 * factor, high=126.0 * factor),
        )
        assert math.isclose(strip.place(changed), where, abs_tol=1e-9)
        scene = strip.draw(changed)
        assert all(-1.0 <= x <= strip.WIDTH + 1.0 for s in scene.shapes if isinstance(s, Polygon) for x, _ in s.points)
