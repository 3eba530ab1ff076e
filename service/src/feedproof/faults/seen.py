"""What a person may have seen beside the readings, and how much it speaks for each place."""

import math

#: How probable an observation is: at the places named, and (under "") anywhere else; our own judgment.
OBSERVED: dict[tuple[str, str], dict[str, float]] = {
    ("breaker_found_tripped", ""): {
        "breaker": 0.6,
        "branch_leg": 0.05,
        "leak_to_ground": 0.2,
        "joined": 0.03,
        "": 0.01,
    },
    ("lights_brighten_and_dim", ""): {"service_neutral": 0.5, "feeder_neutral": 0.5, "": 0.01},
    ("lights_brighten_and_dim", "same_panel"): {"service_neutral": 0.05, "feeder_neutral": 0.5, "": 0.005},
    ("lights_brighten_and_dim", "whole_building"): {"service_neutral": 0.5, "feeder_neutral": 0.02, "": 0.005},
    ("other_circuits_live", ""): {"supply_lost": 0.01, "service_leg": 0.5, "feeder_leg": 0.6, "": 0.95},
    ("other_circuits_dead", ""): {"supply_lost": 0.8, "service_leg": 0.4, "feeder_leg": 0.3, "": 0.02},
    ("scorched_or_discoloured", ""): {
        "branch_leg": 0.2,
        "branch_neutral": 0.2,
        "cord_leg": 0.3,
        "cord_neutral": 0.3,
        "": 0.03,
    },
    ("works_when_moved", ""): {
        "cord_leg": 0.3,
        "cord_neutral": 0.3,
        "branch_leg": 0.1,
        "branch_neutral": 0.1,
        "": 0.02,
    },
    ("ground_fault_breaker_tripped", ""): {
        "leak_to_ground": 0.5,
        "transposed": 0.1,
        "joined": 0.3,
        "breaker": 0.1,
        "": 0.02,
    },
}


def seen(place: str, observations: tuple[tuple[str, str], ...]) -> float:
    """Logarithm of how probable it was to see that [nat]."""
    return sum(math.log(OBSERVED[o].get(place, OBSERVED[o][""])) for o in observations)
