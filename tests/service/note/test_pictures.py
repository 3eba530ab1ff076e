import math
from itertools import pairwise

import msgspec
import pytest

from feedproof.contract.assessment import Assessment, ConductorResistance, Evidence
from feedproof.note.pictures import all_pictures, faults, neutral, readings, resistance
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


def one_neutral(
    value: float, low: float, high: float, bound: str = "two_sided", angle: float | None = 0.0
) -> Assessment:
    answer = open_neutral()
    entry = answer.neutral_to_ground[0]
    changed = msgspec.structs.replace(entry, value=value, low=low, high=high, bound=bound, angle=angle)
    return msgspec.structs.replace(answer, neutral_to_ground=[changed])


@pytest.mark.parametrize("name", CASES)
def test_every_shape_lies_in_its_picture(name: str) -> None:
    for scene in all_pictures(CASES[name]()):
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
def test_every_picture_says_in_words_what_it_shows(name: str) -> None:
    for scene in all_pictures(CASES[name]()):
        assert scene.title
        assert len(scene.description) > 20


def test_a_neutral_at_a_leg_sits_at_that_leg() -> None:
    # Half of 247 V: the legs of an ideal split phase are half the leg-to-leg voltage each.
    scene = neutral.draw(one_neutral(123.5, 123.0, 124.0))
    (mark,) = filled(scene, "ink")
    (leg,) = [shape for shape in scene.shapes if isinstance(shape, Circle)]
    assert math.isclose(center(mark), leg.x, abs_tol=0.01)
    assert "toward L1" in scene.description


def test_a_neutral_at_ground_sits_in_the_middle() -> None:
    (mark,) = filled(neutral.draw(one_neutral(0.0, 0.0, 0.5)), "ink")
    assert math.isclose(center(mark), WIDTH / 2.0)


def test_sides_are_mirrored() -> None:
    one, other = (filled(neutral.draw(one_neutral(60.0, 50.0, 70.0, angle=angle)), "ink")[0] for angle in (0.0, 180.0))
    assert math.isclose(center(one) + center(other), WIDTH)
    assert center(one) < WIDTH / 2.0


def test_an_unknown_side_is_drawn_on_both_and_hollow() -> None:
    scene = neutral.draw(one_neutral(60.0, 50.0, 70.0, angle=None))
    assert not filled(scene, "ink")
    assert len(filled(scene, "paper")) == 2
    assert len(filled(scene, "finding")) == 2


def test_near_the_middle_an_unknown_side_is_one_mark() -> None:
    scene = neutral.draw(one_neutral(1.5, 0.1, 20.0, angle=None))
    (mark,) = filled(scene, "ink")
    assert math.isclose(center(mark), WIDTH / 2.0)
    assert not filled(scene, "paper")
    assert len(filled(scene, "finding")) == 2


def test_a_resistance_that_was_not_measured_has_no_interval_of_its_own() -> None:
    answer = everything()
    scene = resistance.draw(msgspec.structs.replace(answer, resistances=answer.resistances[1:2]))
    assert "not measured" in texts(scene)
    assert len(filled(scene, "finding")) == 1  # the key


def test_the_interval_is_as_wide_as_the_numbers() -> None:
    (bar,) = filled(neutral.draw(one_neutral(60.0, 40.0, 80.0)), "finding")
    (narrow,) = filled(neutral.draw(one_neutral(60.0, 50.0, 70.0)), "finding")
    assert math.isclose(right(bar) - left(bar), 2.0 * (right(narrow) - left(narrow)))


def test_one_sided_bounds_have_no_mark_and_go_on() -> None:
    at_least = neutral.draw(one_neutral(100.0, 60.0, 120.0, "at_least"))
    assert len(filled(at_least, "finding")) == 2
    assert not filled(at_least, "ink")
    assert "≥ 60 V" in texts(at_least)
    at_most = neutral.draw(one_neutral(2.0, 0.0, 5.0, "at_most"))
    assert len(filled(at_most, "finding")) == 1
    assert "≤ 5 V" in texts(at_most)


def test_a_wye_is_a_plane() -> None:
    scene = neutral.draw(wye())
    assert "Voltages to ground as phasors" in texts(scene)
    legs = [shape for shape in scene.shapes if isinstance(shape, Line) and shape.stroke in {"first_leg", "second_leg"}]
    assert len(legs) == 2
    first, second = legs
    turn = math.degrees(math.atan2(first.y1 - first.y2, first.x2 - first.x1))
    other = math.degrees(math.atan2(second.y1 - second.y2, second.x2 - second.x1))
    assert math.isclose(turn, 0.0, abs_tol=1e-6)
    assert math.isclose(other, -120.0, abs_tol=1e-6)
    (mark,) = filled(scene, "ink")
    assert center(mark) > first.x1
    rings = [s for s in scene.shapes if isinstance(s, Circle) and s.stroke == "finding"]
    assert len(rings) == 2


def test_numbers_of_marks_in_one_place_stay_apart() -> None:
    answer = wye()
    entry = answer.neutral_to_ground[0]
    # Three load states, and in each the neutral at nearly the same place.
    entries = [msgspec.structs.replace(entry, value=entry.value + k, load_state=f"s{k}") for k in range(3)]
    scene = neutral.draw(msgspec.structs.replace(answer, neutral_to_ground=entries))
    shown = [
        shape for shape in scene.shapes if isinstance(shape, Text) and shape.text in {"1", "2", "3"} and shape.x > 6.0
    ]
    assert len(shown) == 3
    for first, second in pairwise(sorted(shown, key=lambda shape: shape.y)):
        assert second.y - first.y >= 11.0 or abs(second.x - first.x) >= 11.0


def test_nothing_estimated_is_said() -> None:
    assert "These readings give no estimate." in texts(neutral.draw(plan()))
    empty = msgspec.structs.replace(wye(), neutral_to_ground=[])
    assert "These readings give no estimate of the neutral." in texts(neutral.draw(empty))


def test_an_answer_without_supply_draws_the_usual_leg() -> None:
    assert neutral.draw(msgspec.structs.replace(open_neutral(), supply=None)).title


def test_more_load_states_than_fit_are_counted() -> None:
    answer = everything()
    many = msgspec.structs.replace(answer, neutral_to_ground=answer.neutral_to_ground * 3)
    assert any(text.startswith("and 4 more") for text in texts(neutral.draw(many)))


def test_bars_are_as_long_as_the_probabilities() -> None:
    scene = faults.draw(open_neutral())
    (finding,) = filled(scene, "finding")
    (track, *_) = filled(scene, "panel")
    share = (right(finding) - left(finding)) / (right(track) - left(track))
    assert math.isclose(share, 0.981, abs_tol=1e-3)
    assert "98 %" in texts(scene)


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
    assert "≥ 9 kΩ, 224 W of heat" in texts(scene)


def test_detection_limits_are_flags_or_words() -> None:
    scene = resistance.draw(wye())
    assert "nothing would have shown" in texts(scene)
    assert "no estimate" in texts(scene)
    flags = [center(shape) for shape in filled(scene, "ink")]
    assert any(math.isclose(x, resistance._x(400.0)) for x in flags)


def test_a_plan_shows_no_estimate_of_resistance() -> None:
    assert texts(resistance.draw(plan())).count("no estimate") == 3
    assert resistance.draw(msgspec.structs.replace(plan(), detection_limits=[])) is None


def test_readings_are_drawn_on_one_scale_for_a_unit() -> None:
    answer = open_neutral()
    scene = readings.draw(answer)
    marks = [center(shape) for shape in filled(scene, "ink")][1:]
    low, high = sorted(marks)
    assert math.isclose((low - 6.0) / (high - 6.0), 3.7 / 247.0, rel_tol=1e-6)
    assert "247 V" in texts(scene)


def test_no_readings_no_picture() -> None:
    assert readings.draw(plan()) is None
    assert len(all_pictures(plan())) == 3


def test_a_sound_finding_has_no_second_band() -> None:
    assert not filled(readings.draw(nothing_found()), "finding")
    assert "under the finding" not in texts(readings.draw(nothing_found()))


def test_more_readings_than_fit_are_counted() -> None:
    answer = everything()
    many = msgspec.structs.replace(answer, evidence=answer.evidence * 2)
    assert any(text == "and 10 more in the table" for text in texts(readings.draw(many)))


def test_a_reading_without_identity_still_shows() -> None:
    answer = open_neutral()
    bare: list[Evidence] = [msgspec.structs.replace(entry, identity=None) for entry in answer.evidence]
    scene = readings.draw(msgspec.structs.replace(answer, evidence=bare))
    assert "1  reading 1" in texts(scene)
