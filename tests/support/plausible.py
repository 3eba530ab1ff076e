"""Requests such as people send, drawn: a supply, meters at hand, and readings of figures that occur or nearly so."""

from typing import Any

from hypothesis import strategies as st

METERS: dict[str, dict[str, Any]] = {
    "dmm": {
        "kind": "voltmeter",
        "input_impedance": "10 Mohm",
        "accuracy_percent": 0.8,
        "accuracy_counts": 3,
        "resolution": "0.1 V",
    },
    "loz": {"kind": "voltmeter", "input_impedance": "3 kohm", "accuracy_percent": 1.5, "accuracy_counts": 3},
    "clamp": {"kind": "clamp_ammeter"},
    "pen": {"kind": "proximity_detector"},
}
#: Voltages that sound and faulty supplies show [V]; each is drawn with some scatter.
FIGURES = (0.0, 2.6, 7.0, 24.0, 60.0, 97.0, 112.0, 117.0, 120.0, 120.0, 122.0, 145.0, 208.0, 230.0, 240.0, 240.0, 247.0)

_PAIRS = (("L1", "L2"), ("L1", "N"), ("L2", "N"), ("N", "G"), ("L1", "G"), ("L2", "G"))
_STATES = ("disconnected", "idle", "heating")

supplies = st.fixed_dictionaries(
    {"system": st.just("split_phase_120_240")},
    optional={
        "equipment_ground": st.sampled_from(["present", "unknown"]),
        "frame_bonded_to_neutral": st.booleans(),
        "fed_from": st.sampled_from(["service_panel", "sub_panel", "unknown"]),
        "source": st.sampled_from(["utility", "generator"]),
        "run": st.just({"size": "6 AWG", "material": "copper", "length": "18 m"}),
    },
)


def _voltage(pair: tuple[str, str], volts: float, meter: str, state: str) -> dict[str, Any]:
    value = round(max(volts, 0.0), 1 if meter == "dmm" else 0)
    return {"kind": "voltage", "between": [*pair], "value": value, "meter": meter, "load_state": state}


voltages = st.builds(
    lambda pair, figure, scatter, meter, state: _voltage(pair, figure * (1.0 + scatter), meter, state),
    st.sampled_from(_PAIRS),
    st.sampled_from(FIGURES),
    st.floats(-0.01, 0.01),
    st.sampled_from(["dmm", "loz"]),
    st.sampled_from(_STATES),
)
others = st.one_of(
    st.builds(
        lambda at, detected, state: {
            "kind": "proximity",
            "at": at,
            "detected": detected,
            "meter": "pen",
            "load_state": state,
        },
        st.sampled_from(["L1", "L2", "N", "G"]),
        st.booleans(),
        st.sampled_from(_STATES),
    ),
    st.builds(
        lambda through, value: {
            "kind": "current",
            "through": through,
            "value": round(value, 2),
            "meter": "clamp",
            "load_state": "heating",
        },
        st.sampled_from(["L1", "L2", "N", "G"]),
        st.sampled_from([0.0, 0.4, 4.0, 19.6]),
    ),
)
readings = st.one_of(voltages, voltages, voltages, others)
observations = st.lists(
    st.sampled_from(
        ["breaker_found_tripped", "lights_brighten_and_dim", "scorched_or_discoloured", "other_circuits_live"]
    ),
    max_size=2,
    unique=True,
)


def _request(supply: dict[str, Any], taken: list[dict[str, Any]], seen: list[str]) -> dict[str, Any]:
    used = {reading["meter"] for reading in taken} or {"dmm", "loz"}
    return {
        "reference": "INVENTED, drawn",
        "supply": supply,
        "meters": {name: METERS[name] for name in sorted(used)},
        "load_states": {"heating": {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.8 kW"}]}},
        "readings": taken,
        "observations": seen,
    }


requests = st.builds(_request, supplies, st.lists(readings, max_size=7), observations)


def with_reading(request: dict[str, Any], reading: dict[str, Any]) -> dict[str, Any]:
    """The request with one reading more."""
    meters = request["meters"] | {reading["meter"]: METERS[reading["meter"]]}
    return request | {"meters": meters, "readings": [*request["readings"], reading]}
