"""Projects a request to the contract before the wider world, so that an engine of that time can be judged as baseline.

What it could not say is left out, or said as nearly as it could be:

- `supply.fed_from`, `supply.source`, `supply.receptacle`, `supply.neutral`, `appliance`, `observations`,
  `meters.*.proved`, `readings[].id`, `readings[].repeats`: left out.
- A reading at `sub_panel` or `panel`: left out; the only panel it knew is where neutral and ground are joined.
- A reading to `metalwork`, a load to `G`: left out.
- That an outlet has no neutral could not be said: readings stay as they are, and none of them is to `N`.
- A load's `voltage`: folded into its power, which was taken at nominal.
"""

from typing import Any

_SUPPLY = ("system", "frequency", "equipment_ground", "frame_bonded_to_neutral", "run")
_POINTS = ("service_panel", "receptacle", "appliance_terminals")


def as_first_contract(request: dict[str, Any]) -> dict[str, Any]:
    """The request as the first contract could say it; readings may be fewer, and none is added."""
    out = {k: v for k, v in request.items() if k not in {"appliance", "observations"}}
    out["supply"] = {k: v for k, v in request.get("supply", {}).items() if k in _SUPPLY}
    out["meters"] = {
        name: {k: v for k, v in meter.items() if k != "proved"} for name, meter in request.get("meters", {}).items()
    }
    states = {}
    for name, state in request.get("load_states", {}).items():
        loads = [load for load in state.get("loads", ()) if "G" not in load["between"] and "voltage" not in load]
        states[name] = {"kind": state["kind"], **({"loads": loads} if loads else {})}
    if states:
        out["load_states"] = states
    readings = []
    for reading in request["readings"]:
        if reading.get("point", "receptacle") not in _POINTS or "metalwork" in reading.get("between", ()):
            continue
        readings.append({k: v for k, v in reading.items() if k not in {"id", "repeats"}})
    out["readings"] = readings
    used = {r["load_state"] for r in readings}
    if states:
        out["load_states"] = {name: state for name, state in states.items() if name in used}
    out["meters"] = {name: m for name, m in out["meters"].items() if any(r["meter"] == name for r in readings)}
    return out
