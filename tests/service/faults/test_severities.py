"""The prior of a severity: what its pieces hold, and how they meet."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from feedproof.faults.places import Site, Span
from feedproof.faults.severities import log_density, pieces, working
from feedproof.faults.sites import sites
from feedproof.readings import Supply

EVERY: tuple[Site, ...] = sites(Supply(), frozenset({"receptacle", "appliance_terminals"}), ((0, True),), 0.1, None)
LAWS = sorted({spans for site in EVERY for spans in site.spans}, key=repr)


@pytest.mark.parametrize("spans", LAWS, ids=lambda spans: f"{spans[0].fault} {spans[0].share:.2g}")
def test_each_piece_holds_its_share(spans: tuple[Span, ...]) -> None:
    for span, (low, high, a, b) in zip(spans, pieces(spans), strict=True):
        assert (low, high) == (span.low, span.high)
        assert quad(lambda s, a=a, b=b: math.exp(a + b * s), low, high)[0] == pytest.approx(span.share, rel=1e-9)


@pytest.mark.parametrize("spans", [s for s in LAWS if len(s) > 1], ids=lambda spans: str(spans[0].fault))
def test_a_joint_gets_worse_without_a_step_where_its_name_changes(spans: tuple[Span, ...]) -> None:
    (_, edge, a, b), (_, _, c, d) = pieces(spans)
    if spans[0].slope is None:
        assert a + b * edge == pytest.approx(c + d * edge, abs=1e-6)
    else:
        assert (b, d) == (spans[0].slope, spans[1].slope)


def test_the_density_is_that_of_the_piece_and_none_outside() -> None:
    spans = next(s for s in LAWS if len(s) == 2 and s[0].slope is None)
    (low, edge, a, b), (_, high, c, d) = pieces(spans)
    for s, expected in ((low + 1.0, a + b * (low + 1.0)), (high - 1.0, c + d * (high - 1.0))):
        assert log_density((spans,), (s,)) == pytest.approx(expected)
        assert log_density((spans, spans), (s, s)) == pytest.approx(2.0 * expected)
    assert log_density((spans,), (low - 1.0,)) == -math.inf
    assert low < edge < high


def test_working_units_cover_the_range() -> None:
    for spans in LAWS:
        middle, scale = working(spans)
        ends = (np.array([spans[0].low, spans[-1].high]) - middle) / scale
        assert ends == pytest.approx([-1.0 / 0.7, 1.0 / 0.7])
