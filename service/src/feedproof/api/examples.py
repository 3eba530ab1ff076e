"""Examples in the published document. The scenario, a lakeside campground, is invented."""

from typing import Any

import msgspec

from feedproof.errors import RefusedRequest
from feedproof.parsing import read_request

_SUPPLY: dict[str, Any] = {
    "system": "split_phase_120_240",
    "frequency": 60,
    "equipment_ground": "present",
    "frame_bonded_to_neutral": False,
    "run": {"size": "6 AWG", "material": "copper", "length": "18 m"},
}
_DMM = {
    "kind": "voltmeter",
    "input_impedance": "10 Mohm",
    "accuracy_percent": 0.8,
    "accuracy_counts": 3,
    "resolution": "0.1 V",
}
_LOZ = {
    "kind": "voltmeter",
    "input_impedance": "3 kohm",
    "accuracy_percent": 1.5,
    "accuracy_counts": 3,
    "resolution": "1 V",
}


def _volts(between: str, value: str, meter: str, load_state: str) -> dict[str, Any]:
    return {
        "kind": "voltage",
        "between": between.split("-"),
        "value": value,
        "meter": meter,
        "load_state": load_state,
    }


REQUEST_EXAMPLES: dict[str, tuple[str, dict[str, Any]]] = {
    "low_impedance": (
        "Disconnected range, low-impedance voltmeter",
        {
            "reference": "INVENTED campground, cabin 4, range",
            "supply": _SUPPLY,
            "meters": {"loz": _LOZ},
            "readings": [
                _volts("L1-L2", "247 V", "loz", "disconnected"),
                _volts("L1-N", "7 V", "loz", "disconnected"),
                _volts("L2-N", "7 V", "loz", "disconnected"),
            ],
        },
    ),
    "looks_right": (
        "Disconnected range, high-impedance voltmeter: looks right and proves nothing of the neutral",
        {
            "reference": "INVENTED campground, cabin 4, range",
            "supply": _SUPPLY,
            "meters": {"dmm": _DMM},
            "readings": [
                _volts("L1-L2", "247 V", "dmm", "disconnected"),
                _volts("L1-N", "120 V", "dmm", "disconnected"),
                _volts("L2-N", "120 V", "dmm", "disconnected"),
            ],
        },
    ),
    "every_kind": (
        "Every kind of meter and reading",
        {
            "reference": "INVENTED campground, cabin 12, range",
            "supply": _SUPPLY,
            "meters": {
                "dmm": _DMM,
                "pen": {"kind": "proximity_detector", "threshold": "50 V"},
                "clamp": {"kind": "clamp_ammeter", "accuracy_percent": 2.0, "resolution": "0.01 A"},
                "ohms": {"kind": "ohmmeter", "accuracy_percent": 1.0, "resolution": "0.1 ohm"},
            },
            "load_states": {
                "heating": {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.8 kW"}]},
            },
            "readings": [
                _volts("L1-L2", "243 V", "dmm", "disconnected"),
                {"kind": "proximity", "at": "N", "detected": True, "meter": "pen", "load_state": "idle"},
                {"kind": "current", "through": "N", "value": 4.2, "meter": "clamp", "load_state": "heating"},
                {
                    "kind": "resistance",
                    "between": ["N", "G"],
                    "value": "0.3 ohm",
                    "meter": "ohms",
                    "load_state": "disconnected",
                    "supply": "isolated",
                },
            ],
        },
    ),
    "mobile_home": (
        "A mobile home behind its pedestal: neutral and ground are apart at its own panel",
        {
            "reference": "INVENTED campground, mobile home row, home 3, range",
            "supply": {"receptacle": "14-50R", "fed_from": "sub_panel", "frame_bonded_to_neutral": False},
            "appliance": {"kind": "range"},
            "meters": {"loz": _LOZ | {"proved": {"before": True, "after": True}}},
            "readings": [
                _volts("L1-L2", "241 VAC", "loz", "disconnected"),
                _volts("L1-N", "118 VAC", "loz", "disconnected"),
                _volts("L2-N", "123 VAC", "loz", "disconnected"),
                _volts("N-G", "3 VAC", "loz", "disconnected") | {"id": "neutral off ground"},
                _volts("N-G", "2 VAC", "loz", "disconnected") | {"repeats": "neutral off ground"},
            ],
        },
    ),
    "no_neutral": (
        "A water heater on two legs and ground, and what was seen elsewhere",
        {
            "reference": "INVENTED campground, laundry, water heater",
            "supply": {
                "receptacle": "hardwired",
                "neutral": "absent",
                "equipment_ground": "present",
                "fed_from": "service_panel",
            },
            "appliance": {"kind": "water_heater"},
            "meters": {"dmm": _DMM},
            "readings": [
                _volts("L1-L2", "242.6 V", "dmm", "idle"),
                _volts("L1-G", "97.4 V", "dmm", "idle"),
                _volts("L2-G", "145.1 V", "dmm", "idle"),
            ],
            "observations": ["other_circuits_live", {"code": "lights_brighten_and_dim", "where": "whole_building"}],
        },
    ),
    "plan": (
        "Nothing read yet: what to read first",
        {"reference": "INVENTED campground, cabin 15, range", "supply": _SUPPLY, "readings": []},
    ),
}


SIMULATION_EXAMPLES: dict[str, tuple[str, dict[str, Any]]] = {
    "open_neutral": (
        "An invented open neutral, read disconnected with a low-impedance voltmeter",
        {
            "fault": "open_neutral",
            "supply": _SUPPLY,
            "meters": {"loz": _LOZ},
            "readings": [
                {"kind": "voltage", "between": pair.split("-"), "meter": "loz", "load_state": "disconnected"}
                for pair in ("L1-L2", "L1-N", "L2-N")
            ],
        },
    ),
    "weak_neutral": (
        "An invented joint of 2 ohm in the neutral under load, drawn with a seed",
        {
            "fault": "high_resistance_neutral",
            "resistance": "2 ohm",
            "supply": _SUPPLY,
            "meters": {"dmm": _DMM},
            "load_states": {"one element": {"kind": "running", "loads": [{"between": ["L1", "N"], "power": "1.2 kW"}]}},
            "readings": [
                {"kind": "voltage", "between": ["L1", "N"], "meter": "dmm", "load_state": "one element"},
                {"kind": "voltage", "between": ["L2", "N"], "meter": "dmm", "load_state": "one element"},
            ],
            "seed": 7,
        },
    ),
}


def refused_example() -> list[dict[str, Any]]:
    """What parsing says of a request with two faults."""
    reading = _volts("L1-L2", "5 kV\u00b7A", "dmn", "disconnected")
    try:
        read_request(msgspec.json.encode({"meters": {"dmm": _DMM}, "readings": [reading]}))
    except RefusedRequest as refused:
        return [msgspec.to_builtins(fault) for fault in refused.faults]
    raise AssertionError
