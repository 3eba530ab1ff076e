"""Answers of any place, disposition and set of cautions: to hold that none of them looks calmer than it is."""

from typing import get_args

import msgspec
from hypothesis import strategies as st

from feedproof.advice.places import PARENTS, TOPS
from feedproof.contract.assessment import Assessment, Determination, Disposition
from support.assessments import CASES

PLACES = sorted({*TOPS, *PARENTS})


@st.composite
def answers(draw: st.DrawFn) -> Assessment:
    """Draw one of the composed answers with another finding, outcome, neutral and dangers."""
    answer = CASES[draw(st.sampled_from(sorted(CASES)))]()
    place = draw(st.sampled_from(PLACES))
    conductor = draw(st.sampled_from(["L1", "L2"])) if place.endswith("leg") else "N" if "neutral" in place else None
    # A place that is a fault never heads an answer that found none: the composer holds that, and so does this.
    allowed = [each for each in get_args(Disposition) if place == "none" or each != "no_supply_fault_found"]
    cautions = [
        msgspec.structs.replace(caution, severity=draw(st.sampled_from(["danger", "warning", "notice"])))
        for caution in answer.cautions
    ]
    volts = draw(st.floats(0.0, 140.0))
    angle = draw(st.sampled_from([0.0, 180.0, None]))
    return msgspec.structs.replace(
        answer,
        finding=msgspec.structs.replace(answer.finding, place=place, conductor=conductor),
        candidates=[
            msgspec.structs.replace(candidate, place=place, conductor=conductor) if index == 0 else candidate
            for index, candidate in enumerate(answer.candidates)
        ],
        disposition=draw(st.sampled_from(allowed)),
        determination=draw(st.sampled_from(get_args(Determination))),
        cautions=cautions,
        neutral_to_ground=[
            msgspec.structs.replace(entry, value=volts, low=0.9 * volts, high=1.1 * volts, angle=angle)
            for entry in answer.neutral_to_ground
        ],
    )
