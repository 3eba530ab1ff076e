"""What was found: the place that decides who acts, and every fault that was considered."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import FaultConductor, FaultName, Probability, about


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
    title: Annotated[str, about("The finding in words.", "Service neutral bad")]
    parts: Annotated[
        list[Part],
        about("Narrower places under it, most probable first.", [{"place": "branch_leg", "probability": 0.61}]),
    ]
    degree: Annotated[
        str | None,
        about(
            "`open`, `high_resistance`; null where the readings do not tell, or it has none.", None, words="DegreeCode"
        ),
    ]
    degree_probability: Annotated[
        Probability | None, about("Of that degree, given the place [1]. Null: no degree.", 0.99)
    ]
    fault: FaultName
    conductor: FaultConductor
    location: Annotated[
        str | None,
        about(
            "Where: `upstream_of_<point>`, `between_<point>_and_<point>`. Null: the readings do not tell.",
            "upstream_of_receptacle",
        ),
    ]
    probability: Annotated[
        float,
        Meta(
            ge=0.0,
            le=1.0,
            description="Posterior probability of the place and conductor, all degrees together, 0 to 1 [1].",
            examples=[0.997],
        ),
    ]
    also: Annotated[
        list[FaultPart],
        about("Further faults of the same finding, where two are present at once.", []),
    ] = []


class Candidate(Struct, frozen=True, kw_only=True):
    """A fault that was considered and has at least 0.1 % of the probability."""

    fault: FaultName
    conductor: FaultConductor
    place: PlaceName
    title: Annotated[str, about("The fault in words.", "Open neutral")]
    probability: Annotated[
        float,
        Meta(
            ge=0.0,
            le=1.0,
            description="Posterior probability of the fault at all of its places, 0 to 1 [1]; `place` is the likeliest "
            "of them. Over all faults considered they sum to 1.",
            examples=[0.997],
        ),
    ]
    log_evidence: Annotated[
        float,
        about("Natural logarithm of the marginal likelihood of all readings under this fault [nat].", -6.2),
    ]
    also: Annotated[
        list[FaultPart],
        about("Further faults of the same candidate, where two are present at once.", []),
    ] = []
