"""Weighed hypotheses of small reading sets, for what is read off them."""

from feedproof.inference.weigh import Weighed, draw
from feedproof.readings import ReadingSet
from support.internals.engine import fitted, posed


def weighed(readings: ReadingSet, fault: str, conductor: str | None = None, *, limit: int = 2048) -> Weighed:
    """Give one fault's draws on a reading set.

    Parameters
    ----------
    readings : ReadingSet
        Whose canonical form is not turned.
    fault : str
        Name; the first hypothesis without a second fault is taken.
    conductor : str, optional
        Where several carry it.
    limit : int
        Most draws [1].
    """
    case = posed(readings)
    state = next(h for h in case.states if h.fault == fault and not h.also and conductor in {None, h.conductor})
    return draw(fitted(state, case.oriented(state)), limit=limit, enough=400.0)
