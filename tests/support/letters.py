"""Letters of a PDF as they stand on paper."""

import math

from pypdf import PdfReader


def letter_sizes(document: PdfReader) -> set[float]:
    """Give the height of every letter that is printed [pt]."""
    sizes: set[float] = set()

    def note(text: str, current: list[float], matrix: list[float], _: object, size: float) -> None:
        if text.strip():
            # Through both matrices, each of which may shrink them.
            sizes.add(size * math.hypot(matrix[2], matrix[3]) * math.hypot(current[2], current[3]))

    for page in document.pages:
        page.extract_text(visitor_text=note)
    assert sizes
    return sizes
