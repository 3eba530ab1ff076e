"""Examples in the published document (`data/examples.json`). The scenario, a lakeside campground, is invented."""

import json
from importlib.resources import files
from typing import Any

import msgspec

from feedproof.errors import RefusedRequest
from feedproof.parsing import read_request

Examples = dict[str, tuple[str, dict[str, Any]]]
"""Summary and request, by name."""

_DATA = json.loads(files("feedproof.api").joinpath("data/examples.json").read_bytes())


def _examples(of: str) -> Examples:
    return {name: (example["summary"], example["value"]) for name, example in _DATA[of].items()}


REQUEST_EXAMPLES = _examples("requests")
SIMULATION_EXAMPLES = _examples("simulations")


def refused_example() -> list[dict[str, Any]]:
    """What parsing says of a request with two faults."""
    _, sound = REQUEST_EXAMPLES["looks_right"]
    reading = sound["readings"][0] | {"value": "5 kV\u00b7A", "meter": "dmn"}
    try:
        read_request(msgspec.json.encode({"meters": sound["meters"], "readings": [reading]}))
    except RefusedRequest as refused:
        return [msgspec.to_builtins(fault) for fault in refused.faults]
    raise AssertionError
