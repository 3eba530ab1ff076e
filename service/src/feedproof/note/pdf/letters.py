"""The letters that the embedded fonts have, and what becomes of the others."""

from feedproof.advice.inert import visible

#: Code points that the fonts of the library have without a gap: Latin, Greek and Cyrillic letters, punctuation,
#: letterlike signs, arrows, signs of mathematics and technical ones, shapes. A test sets every one of them.
RANGES = (
    (0x20, 0x7E),
    (0xA0, 0x2FF),
    (0x38E, 0x3A1),
    (0x3A3, 0x482),
    (0x1E00, 0x1F15),
    (0x2010, 0x2027),
    (0x202F, 0x2040),
    (0x2074, 0x208E),
    (0x20A0, 0x20BF),
    (0x2100, 0x211E),
    (0x2126, 0x2151),
    (0x2190, 0x23FF),
    (0x2460, 0x262F),
)
_KNOWN = frozenset(code for first, last in RANGES for code in range(first, last + 1))


def letters(text: str) -> str:
    """The text in letters that the fonts have; the others, and hidden ones, as code points."""
    return "".join(c if ord(c) in _KNOWN else f"<U+{ord(c):04X}>" for c in visible(text))
