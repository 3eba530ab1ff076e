import math

from hypothesis import given
from hypothesis import strategies as st

from feedproof.note.scene import SMALL, arrow_head, diamond, elided, hatching, rectangle, wrapped

SIZE = st.floats(1.0, 300.0)


@given(SIZE, SIZE, st.floats(2.0, 9.0))
def test_hatching_stays_inside_its_rectangle_and_slants(width: float, height: float, step: float) -> None:
    for line in hatching(10.0, 20.0, width, height, "sound", step):
        for x, y in ((line.x1, line.y1), (line.x2, line.y2)):
            assert 10.0 - 1e-6 <= x <= 10.0 + width + 1e-6
            assert 20.0 - 1e-6 <= y <= 20.0 + height + 1e-6
        assert math.isclose(line.x1 - line.x2, line.y2 - line.y1, abs_tol=1e-6)


def test_hatching_fills() -> None:
    assert len(hatching(0.0, 0.0, 40.0, 8.0, "sound", 4.0)) == 11


@given(st.text(max_size=400), SIZE)
def test_elided_text_fits(text: str, width: float) -> None:
    room = max(int(width / (SMALL * 0.56)), 4)
    cut = elided(text, width, SMALL)
    assert len(cut) <= room
    assert cut == text or cut.endswith("…")


@given(st.text(max_size=400), SIZE)
def test_wrapped_text_fits_and_loses_nothing_silently(text: str, width: float) -> None:
    lines = wrapped(text, width, SMALL, 2)
    room = max(int(width / (SMALL * 0.56)), 4)
    assert 1 <= len(lines) <= 2
    assert all(len(line) <= room for line in lines)
    if not any(line.endswith("…") for line in lines):
        assert " ".join(lines) == text


def test_shapes() -> None:
    assert rectangle(1.0, 2.0, 3.0, 4.0).points == ((1.0, 2.0), (4.0, 2.0), (4.0, 6.0), (1.0, 6.0))
    assert diamond(0.0, 0.0, 2.0, "ink").points == ((0.0, -2.0), (2.0, 0.0), (0.0, 2.0), (-2.0, 0.0))
    assert arrow_head(9.0, 0.0, 4.0, "ink", right=True).points[1][0] == 5.0
    assert arrow_head(9.0, 0.0, 4.0, "ink", right=False).points[1][0] == 13.0
