"""The letters that the embedded font has, and what becomes of the others."""

from functools import cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from feedproof.advice.inert import visible

#: Fonts that ReportLab brings along, free to embed; they have the ohm and the degree.
PLAIN, BOLD = "Vera", "VeraBd"


@cache
def glyphs() -> frozenset[int]:
    """Code points of the embedded font, which is registered on the way."""
    plain = TTFont(PLAIN, "Vera.ttf")
    pdfmetrics.registerFont(plain)
    pdfmetrics.registerFont(TTFont(BOLD, "VeraBd.ttf"))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    return frozenset(plain.face.charToGlyph)


def letters(text: str) -> str:
    """The text in letters that the font has; the others, and hidden ones, as code points."""
    known = glyphs()
    return "".join(c if ord(c) in known else f"<U+{ord(c):04X}>" for c in visible(text))
