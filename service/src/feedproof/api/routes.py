"""Every route, in the order of the published document."""

from litestar.handlers import HTTPRouteHandler

from feedproof.api.assessments import assess_for_screen, assess_reading_set, render_note
from feedproof.api.batches import assess_batch
from feedproof.api.catalogues import HANDLERS as CATALOGUES
from feedproof.api.docs import lead_to_docs, show_asset, show_docs, show_document
from feedproof.api.health import live, ready, show_metrics
from feedproof.api.problems import describe_problem
from feedproof.api.simulations import simulate_readings

VERSIONED: tuple[HTTPRouteHandler, ...] = (
    assess_reading_set,
    assess_for_screen,
    render_note,
    assess_batch,
    simulate_readings,
    *CATALOGUES,
)
"""Under the version's path; a key may be asked for."""

OPEN: tuple[HTTPRouteHandler, ...] = (describe_problem, show_docs, show_document, live, ready, show_metrics)
"""Always open."""

UNPUBLISHED: tuple[HTTPRouteHandler, ...] = (lead_to_docs, show_asset)
"""Parts of a page, and the way to it."""

ROUTES = (*VERSIONED, *OPEN)
