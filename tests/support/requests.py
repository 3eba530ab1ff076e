"""A complete request of the invented campground, and what parsing makes of it when parts of it are changed."""

import json
from copy import deepcopy
from typing import Any

import pytest

from feedproof.contract.problem import RequestFault
from feedproof.errors import RefusedRequest
from feedproof.parsing import Admitted, read_request

READING: dict[str, Any] = {
    "kind": "voltage",
    "between": ["L1", "N"],
    "value": "120 V",
    "meter": "dmm",
    "load_state": "disconnected",
    "point": "receptacle",
}
PROVED = {"before": True, "after": True}
DMM: dict[str, Any] = {
    "kind": "voltmeter",
    "input_impedance": "10 Mohm",
    "input_capacitance": "100 pF",
    "accuracy_percent": 0.8,
    "accuracy_counts": 3,
    "resolution": "0.1 V",
    "proved": PROVED,
}
REQUEST: dict[str, Any] = {
    "reference": "INVENTED lakeside campground, cabin 12",
    "supply": {
        "system": "split_phase_120_240",
        "frequency": 60,
        "equipment_ground": "present",
        "frame_bonded_to_neutral": False,
        "neutral": "present",
        "fed_from": "service_panel",
        "source": "utility",
        "run": {"size": "6 AWG", "material": "copper", "length": "18 m"},
    },
    "appliance": {"kind": "range"},
    "meters": {"dmm": DMM, "pen": {"kind": "proximity_detector", "threshold": "50 V", "proved": PROVED}},
    "load_states": {
        "heating": {
            "kind": "running",
            "loads": [{"between": ["L1", "L2"], "power": "4.8 kW", "tolerance_percent": 10}],
        }
    },
    "readings": [READING],
}


def admit(document: object) -> Admitted:
    """Parse a document."""
    return read_request(json.dumps(document).encode())


def faults(document: object) -> list[RequestFault]:
    """Give the faults of a document that is refused."""
    with pytest.raises(RefusedRequest) as refused:
        admit(document)
    return refused.value.faults


def changed(**changes: object) -> dict[str, Any]:
    """Give the request with values replaced; `a__0__b` is the path a, 0, b."""
    document = deepcopy(REQUEST)
    for path, value in changes.items():
        *way, last = path.split("__")
        place: Any = document
        for step in way:
            place = place[int(step) if step.isdigit() else step]
        place[last] = value
    return document
