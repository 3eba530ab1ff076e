"""The hand-off note as PDF, for whoever must file it. Needs ReportLab, which the service installs."""

from datetime import date
from importlib.util import find_spec

from feedproof.contract.assessment import Assessment


class PdfLibraryMissingError(RuntimeError):
    """The library that writes PDF is not installed."""

    def __init__(self) -> None:
        """Say how to get it."""
        super().__init__("PDF needs a library: pip install 'feedproof[pdf]'")


def is_available() -> bool:
    """Whether the PDF library is installed."""
    return find_spec("reportlab") is not None


def render_pdf(assessment: Assessment, made: date | None = None) -> bytes:
    """The note as PDF on letter paper: the same order and words as the page.

    Parameters
    ----------
    assessment : Assessment
        The answer.
    made : date, optional
        Day that stands on each page; today by UTC where left out.

    Returns
    -------
    bytes
        The same for the same assessment and day: no time, no random identifier. Letters that the embedded font
        lacks are written as their code points.

    Raises
    ------
    PdfLibraryMissingError
        If the library is not installed.
    """
    if not is_available():
        raise PdfLibraryMissingError
    # Here, so that whoever wants no PDF needs no library for it.
    from feedproof.note.pdf.page import pdf_page  # noqa: PLC0415

    return pdf_page(assessment, made)
