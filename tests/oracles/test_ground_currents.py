"""Current on the equipment ground in ngspice: a neutral that is joined to it or exchanged with it, and no leak.

Dryers that run, with the unbalanced current of their loads somewhere on neutral and ground; common practice, no source.
The ground wire has the size that the breaker asks for.
"""

import json
from typing import Any

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request
from support.trade.situations import situations

STRAP = "between_receptacle_and_appliance_terminals"


def answered(seed: int, **stated: object) -> dict[str, Any]:
    """Assess a drawn case of neutral and ground."""
    request = situations("neutral_ground", seed).request
    request["supply"] |= stated
    taken = read_request(json.dumps(request).encode())
    answer: dict[str, Any] = json.loads(msgspec.json.encode(assess(taken.reading_set, taken.assumptions)))
    return answer


@pytest.mark.parametrize("seed", [23, 43, 55, 59])
def test_a_ground_that_carries_all_of_it_is_exchanged_with_the_neutral_in_the_cord(seed: int) -> None:
    answer = answered(seed)
    assert answer["finding"]["place"] == "transposed"
    assert answer["determination"] == "probable"
    assert (answer["disposition"], answer["refer_to"]) == ("repair_and_retest", ["technician"])
    assert "current_on_ground" in {caution["code"] for caution in answer["cautions"]}


@pytest.mark.parametrize("seed", [17, 41, 45, 65])
def test_a_ground_that_shares_it_is_joined_to_the_neutral_at_the_outlet(seed: int) -> None:
    answer = answered(seed)
    assert answer["finding"]["place"] == "joined"
    assert "electrician" in answer["refer_to"]


@pytest.mark.parametrize("seed", [26, 58])
def test_a_strap_that_is_stated_beside_a_ground_is_the_fault(seed: int) -> None:
    answer = answered(seed)
    assert answer["finding"]["place"] == "joined"
    assert answer["determination"] == "established"
    assert (answer["disposition"], answer["refer_to"]) == ("repair_and_retest", ["technician"])


@pytest.mark.parametrize("seed", [26, 58])
def test_without_that_word_a_strap_is_still_what_is_most_probable_or_next_to_it(seed: int) -> None:
    answer = answered(seed, frame_bonded_to_neutral=None)
    shares = {c["place"]: c["probability"] for c in answer["candidates"]}
    assert shares["joined"] >= 0.2
    assert shares["none"] <= 0.05
