"""Contrast and color blindness, computed.

Relative luminance and contrast: WCAG 2.2, definitions; thresholds 1.4.3 (text, 4.5) and 1.4.11 (graphics, 3).
Color blindness: matrices of Machado, Oliveira and Fernandes (2009) at severity 1.0, from memory.
CIE 1976 L*a*b*, D65: CIE 15, from memory.
"""

import itertools
import math

import pytest

from feedproof.note.palette import DARK, LIGHT, ROLES, Palette

THEMES = {"light": LIGHT, "dark": DARK}

MACHADO = {
    "none": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritan": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}

#: Colors that stand side by side and must be told apart.
APART = [("finding", "sound"), ("first_leg", "second_leg"), ("finding", "ink"), ("danger", "ink")]

Color = tuple[float, float, float]


def linear(color: str) -> Color:
    parts = [int(color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return red, green, blue


def luminance(color: Color) -> float:
    return 0.2126 * color[0] + 0.7152 * color[1] + 0.0722 * color[2]


def contrast(first: str, second: str) -> float:
    low, high = sorted((luminance(linear(first)), luminance(linear(second))))
    return (high + 0.05) / (low + 0.05)


def seen(color: str, kind: str) -> Color:
    rgb = linear(color)
    red, green, blue = (min(max(sum(a * b for a, b in zip(row, rgb, strict=True)), 0.0), 1.0) for row in MACHADO[kind])
    return red, green, blue


def lab(color: Color) -> Color:
    red, green, blue = color
    x = (0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.95047
    y = luminance(color)
    z = (0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.08883
    fx, fy, fz = (v ** (1 / 3) if v > 0.008856 else 7.787 * v + 16 / 116 for v in (x, y, z))
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def test_contrast_of_black_on_white_is_21() -> None:
    # WCAG 2.2: contrast ratios range from 1 to 21.
    assert math.isclose(contrast("#000000", "#ffffff"), 21.0)
    assert math.isclose(contrast("#777777", "#ffffff"), 4.48, abs_tol=0.01)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", ["ink", "muted", "first_leg", "second_leg", "danger"])
def test_text_is_readable(theme: str, role: str) -> None:
    palette = THEMES[theme]
    assert contrast(getattr(palette, role), palette.paper) >= 4.5
    if role in {"ink", "muted", "danger"}:
        assert contrast(getattr(palette, role), palette.panel) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", ["rule", "finding", "sound", "first_leg", "second_leg", "danger", "ink", "muted"])
def test_graphics_stand_out(theme: str, role: str) -> None:
    palette = THEMES[theme]
    assert contrast(getattr(palette, role), palette.paper) >= 3.0


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("kind", MACHADO)
@pytest.mark.parametrize(("first", "second"), APART)
def test_pairs_stay_apart_for_every_eye(theme: str, kind: str, first: str, second: str) -> None:
    palette = THEMES[theme]
    one, other = (lab(seen(getattr(palette, role), kind)) for role in (first, second))
    assert math.dist(one, other) >= 15.0


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("first", "second"), APART[:2])
def test_pairs_stay_apart_in_gray_print(theme: str, first: str, second: str) -> None:
    palette = THEMES[theme]
    one, other = (lab(linear(getattr(palette, role)))[0] for role in (first, second))
    assert abs(one - other) >= 15.0


@pytest.mark.parametrize("theme", THEMES)
def test_every_role_has_a_color_of_its_own(theme: str) -> None:
    palette: Palette = THEMES[theme]
    colors = [getattr(palette, role) for role in ROLES]
    assert all(len(color) == 7 and color.startswith("#") for color in colors)
    assert all(a != b for a, b in itertools.combinations(colors, 2))
