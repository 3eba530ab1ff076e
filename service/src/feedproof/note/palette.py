"""Colors by what they mean, for light paper and for a dark screen.

Chosen for this service: every text color reaches a contrast of 4.5 and every line color of 3 against the paper
behind it (WCAG 2.2, 1.4.3 and 1.4.11), the pairs that must be told apart differ in lightness as well as in hue, so
that they stay apart in gray print and with any of the three kinds of color blindness, and no meaning hangs on
color alone: each also has its own shape, hatching or place. Tests compute all of it. The legs are violet and rose,
which mark no conductor: not blue (a neutral, IEC 60445), orange (the high leg, NEC 110.15), white, gray or green.
"""

from msgspec import Struct


class Palette(Struct, frozen=True, kw_only=True):
    """One set of colors, as #rrggbb."""

    paper: str
    """Background."""
    panel: str
    """Background of a block that stands out."""
    ink: str
    """Text, and whatever was measured."""
    muted: str
    """Text of lesser weight, axes."""
    rule: str
    """Thin lines that carry meaning."""
    faint: str
    """Grid lines and tracks, decoration only."""
    first_leg: str
    """L1; a round end."""
    second_leg: str
    """L2; a square end."""
    finding: str
    """What belongs to the finding; filled."""
    sound: str
    """What belongs to a sound supply; hatched."""
    danger: str
    """Bar beside a danger; always with the word."""


LIGHT = Palette(
    paper="#ffffff",
    panel="#f2f4f1",
    ink="#17211c",
    muted="#4b5a52",
    rule="#74857c",
    faint="#d5ddd8",
    first_leg="#54299b",
    second_leg="#c4357f",
    finding="#164a58",
    sound="#2e8b80",
    danger="#a8230f",
)

DARK = Palette(
    paper="#111815",
    panel="#1d2723",
    ink="#e9efeb",
    muted="#aebbb4",
    rule="#7f9087",
    faint="#35423c",
    first_leg="#a588e8",
    second_leg="#fbc3df",
    finding="#8fd0e3",
    sound="#3f9a8c",
    danger="#ff9a86",
)

ROLES: tuple[str, ...] = Palette.__struct_fields__
