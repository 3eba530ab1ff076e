"""The hand-off note as PDF, for whoever must file it."""

from datetime import date

from feedproof.contract.assessment import Assessment


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
    """
    # Here, so that a service that is asked for no PDF does not load the library.
    from feedproof.note.pdf.page import pdf_page  # noqa: PLC0415

    return pdf_page(assessment, made)
