"""What was found: the place that decides who acts, and every fault that was considered."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import FaultConductor, FaultName, Probability, about
from feedproof.contract.words import example


class FaultPart(Struct, frozen=True, kw_only=True):
    """A further fault that is present at the same time."""

    fault: FaultName
    conductor: FaultConductor = None


PlaceName = Annotated[
    str,
    about(
        "A place of the tree: `none`; `leg` (`service_leg`, `feeder_leg`, `branch_leg`, `cord_leg`); `neutral`"
        " (`service_neutral`, `feeder_neutral`, `branch_neutral`, `cord_neutral`); `both_legs` (`supply_lost`,"
        " `breaker`); `ground`; `supply_voltage`; `supply_system` (`other_supply_system`, `neutral_not_bonded`);"
        " `connections` (`transposed`, `joined`, `legs_from_same_pole`); `appliance` (`leak_to_ground`); `tester`;"
        " `readings`. The list may grow.",
        "service_neutral",
        words="PlaceCode",
    ),
]


class Part(Struct, frozen=True, kw_only=True):
    """A narrower place under the finding's."""

    place: PlaceName
    probability: Probability


class Finding(Struct, frozen=True, kw_only=True):
    """Where the trouble is, given these readings: what decides who acts.

    The narrowest place of the tree that holds the probability which the determination asks for; how bad it is stands
    under it.
    """

    place: PlaceName
    title: Annotated[str, example("Service neutral bad")]
    """The finding in words."""
    parts: Annotated[list[Part], example([{"place": "branch_leg", "probability": 0.61}])]
    """Narrower places under it, most probable first."""
    degree: Annotated[str | None, example(None, words="DegreeCode")]
    """`open`, `high_resistance`; null where the readings do not tell, or it has none."""
    degree_probability: Annotated[Probability | None, example(0.99)]
    """Of that degree, given the place [1]. Null: no degree."""
    fault: FaultName
    conductor: FaultConductor
    location: Annotated[str | None, example("upstream_of_receptacle")]
    """Where: `upstream_of_<point>`, `between_<point>_and_<point>`. Null: the readings do not tell."""
    probability: Annotated[float, Meta(ge=0.0, le=1.0, examples=[0.997])]
    """Posterior probability of the place and conductor, all degrees together, 0 to 1 [1]."""
    also: Annotated[list[FaultPart], example([])] = []
    """Further faults of the same finding, where two are present at once."""


class Candidate(Struct, frozen=True, kw_only=True):
    """A fault that was considered and has at least 0.1 % of the probability."""

    fault: FaultName
    conductor: FaultConductor
    place: PlaceName
    title: Annotated[str, example("Open neutral")]
    """The fault in words."""
    probability: Annotated[float, Meta(ge=0.0, le=1.0, examples=[0.997])]
    """Posterior probability of the fault at all of its places, 0 to 1 [1]; `place` is the likeliest of them. Over all
    faults considered they sum to 1."""
    log_evidence: Annotated[float, example(-6.2)]
    """Natural logarithm of the marginal likelihood of all readings under this fault [nat]."""
    also: Annotated[list[FaultPart], example([])] = []
    """Further faults of the same candidate, where two are present at once."""
